"""Fuses of supplies against what a prop takes, and against what an empty capacitor lets through."""

from typing import Any

import numpy as np
import pytest

from fxseq.power import Steps, wiring_schedule
from fxseq.power.wires import ampacity_a
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Sequence, Supply
from tests.checks.judged import fuse_findings

WALL = {
    "kind": "wall",
    "voltage_v": 5.0,
    "maximum_current_ma": 2000,
    "tolerance_percent": 5,
    "internal_resistance_ohm": 0.2,
}


def text(current_ma: Steps, **fuse: Any) -> list[tuple[str, Weight]]:
    return [
        (finding.check, finding.weight)
        for finding in fuse_findings("wall", Supply(**WALL, **fuse), current_ma)
    ]


def pulse(base_ma: float, peak_ma: float, length_s: float, end_s: float = 20.0) -> Steps:
    return Steps(np.array([0.0, 1.0, 1.0 + length_s]), np.array([base_ma, peak_ma, base_ma]), end_s)


@pytest.mark.parametrize(
    ("current_ma", "weights"), [(370, []), (380, [("power.fuse", Weight.WARNING)])]
)
def test_a_melting_fuse_runs_at_three_quarters(current_ma: float, weights: list[Any]) -> None:
    # A maker's design guide, as quoted: a fuse of 10 A for 7.5 A; so 500 mA for 375.
    assert text(pulse(current_ma, current_ma, 1.0), fuse_ma=500) == weights


@pytest.mark.parametrize(
    ("base_ma", "peak_ma", "length_s", "weights"),
    [
        # A tutorial: trips at about twice what it holds, from 50 ms on.
        (100, 390, 1.0, []),
        (100, 700, 0.02, []),
        (100, 990, 0.1, [("power.fuse", Weight.FAULT)]),
        (210, 210, 1.0, [("power.fuse", Weight.WARNING)]),
        (100, 390, 5.0, [("power.fuse", Weight.WARNING)]),
    ],
)
def test_a_resettable_fuse_holds_and_trips(
    base_ma: float, peak_ma: float, length_s: float, weights: list[Any]
) -> None:
    assert text(pulse(base_ma, peak_ma, length_s), resettable_fuse_ma=200) == weights


def test_a_resettable_fuse_is_told_with_what_it_holds() -> None:
    supply = Supply(**WALL, resettable_fuse_ma=200)
    (finding,) = fuse_findings("wall", supply, pulse(210, 210, 1.0))
    assert finding.figure == "the prop takes 210 mA for ten seconds, and may trip it"
    assert finding.limit == "200 mA with a fuse of 200 mA"
    assert dict(finding.inputs) == {"I": "210 mA", "k": "1", "Ifuse": "200 mA"}


def test_without_a_fuse_in_the_file_nothing_is_said() -> None:
    assert text(pulse(2000, 9000, 5.0), bulk_capacitor_uf=10_000) == []


@pytest.mark.parametrize(
    ("melting_a2s", "bulk_uf", "checks"),
    [(0.07, 1000, []), (0.068, 1000, ["power.inrush"]), (0.068, 900, []), (0.068, 0, [])],
)
def test_inrush_that_melts_a_fuse(melting_a2s: float, bulk_uf: float, checks: list[str]) -> None:
    # V^2 C / (2 R), the highest 5.25 V over 0.2 ohm: 0.0689 A^2 s for 1000 uF.
    assert [
        check
        for check, _ in text(
            pulse(0, 0, 1.0), fuse_ma=500, fuse_melting_a2s=melting_a2s, bulk_capacitor_uf=bulk_uf
        )
    ] == checks


@pytest.mark.parametrize(
    ("fuse", "stands_a"), [({"fuse_ma": 800}, 0.8), ({"resettable_fuse_ma": 500}, 1.0)]
)
def test_the_wire_stands_what_the_stated_fuse_lets_pass(
    fuse: dict[str, float], stands_a: float
) -> None:
    described = {
        "format": 1,
        "title": "Lamp",
        "board": {"channels": 1, "current_ma": 20},
        "supplies": {"wall": {**WALL, **fuse}},
    }
    (line,) = wiring_schedule(Sequence.model_validate(described), {}).lines
    assert line.fuse_a == pytest.approx(next(iter(fuse.values())) / 1000)
    assert line.gauge is not None and ampacity_a(line.gauge) >= stands_a > ampacity_a(
        line.gauge + 2
    )
    assert line.resettable == ("resettable_fuse_ma" in fuse)


def test_a_fuse_that_no_common_wire_stands_is_laid_out_with_none() -> None:
    described = {
        "format": 1,
        "title": "Lamp",
        "board": {"channels": 1},
        "supplies": {"wall": {**WALL, "fuse_ma": 5000}},
    }
    (line,) = wiring_schedule(Sequence.model_validate(described), {}).lines
    assert (line.gauge, line.fuse_a, line.laid_out_a) == (None, None, pytest.approx(3.75))
