"""Several supplies on one prop: what flows between them, and which feeds over diodes. Against
ngspice where a circuit can be drawn.
"""

import re
from pathlib import Path
from typing import Any

import pytest

from fxseq.power import circuits
from fxseq.power.parts import parts
from fxseq.sequence.finding import Finding
from fxseq.sequence.model import Sequence
from tests.checks.judged import circuit_findings
from tests.published.ngspice import simulate

CELLS = {
    "kind": "cells",
    "voltage_v": 6.4,
    "maximum_current_ma": 1000,
    "cell": "alkaline_aa",
    "cells_in_series": 4,
    "internal_resistance_ohm": 0.8,
}
WALL = {
    "kind": "wall",
    "voltage_v": 5.0,
    "maximum_current_ma": 1000,
    "internal_resistance_ohm": 0.1,
}


def found(
    check: str,
    changeover: str | None = None,
    cells: dict[str, Any] | None = None,
    wall: dict[str, Any] | None = None,
    board_ma: float = 20,
    **top: Any,
) -> list[Finding]:
    described = Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 1, "current_ma": board_ma},
            "changeover": changeover,
            "supplies": {"cells": {**CELLS, **(cells or {})}, "wall": {**WALL, **(wall or {})}},
            **top,
        }
    )
    return [
        finding
        for finding in circuit_findings(described, circuits(described))
        if finding.check == check
    ]


def milliamperes(finding: Finding, symbol: str) -> float:
    return float(dict(finding.inputs)[symbol].split()[0])


def test_joined_directly_an_adaptor_charges_flat_cells(tmp_path: Path) -> None:
    """Textbook III, "Diode switching": diodes keep the line from overcharging the battery. 5.25
    V into four cells at their end of 0.8 V each.
    """
    seen = simulate(tmp_path, "v1 a 0 5.25\nr1 a b 0.1\nr2 b c 0.8\nv2 c 0 3.2", "op\nprint i(v2)")
    (finding,) = found("power.back_feed")
    assert milliamperes(finding, "I") == pytest.approx(seen["i(v2)"], rel=5e-3)
    assert (
        finding.figure
        == "the file does not say what keeps them apart: up to 2.3 A would flow from 'wall' into"
        " 'cells'"
    )


def test_what_flows_is_that_of_the_worst_pair_and_never_without_bound() -> None:
    # Fresh cells of 6.4 V into the adaptor at its lowest, 4.75 V, over 0.05 ohm of wires at the
    # least (common practice, no source).
    (finding,) = found(
        "power.back_feed",
        cells={"minimum_v": 5.0, "internal_resistance_ohm": 0.01},
        wall={"internal_resistance_ohm": 0.0},
    )
    assert milliamperes(finding, "I") == pytest.approx((6.4 - 4.75) / 0.05, rel=0.01)
    assert "from 'cells' into 'wall'" in finding.figure


@pytest.mark.parametrize("changeover", ["switch", "diodes"])
def test_what_is_parted_does_not_flow(changeover: str) -> None:
    assert found("power.back_feed", changeover) == []


@pytest.mark.parametrize(
    ("fresh_v", "board_ma"), [(6.4, 20.0), (4.80, 20.0), (4.76, 300.0), (4.75, 5.0)]
)
def test_share_of_fresh_cells_beside_an_adaptor_over_diodes(
    tmp_path: Path, fresh_v: float, board_ma: float
) -> None:
    """Cells of no kind, of this voltage and 0.8 ohm, beside 4.75 V and 0.1 ohm: the generic
    Schottky diode in each.
    """
    deck = (
        f"v1 a 0 {fresh_v}\nr1 a b 0.8\nd1 b r s\nv2 c 0 4.75\nr2 c d 0.1\nd2 d r s\ni1 r 0"
        f" {board_ma}m\n.model s d(is=1e-6 n=1.05 rs=0.08)"
    )
    seen = simulate(tmp_path, deck, "op\nprint i(v1) i(v2)")
    plain = {"cell": None, "cells_in_series": 1, "voltage_v": fresh_v}
    (finding,) = found("power.cells_first", "diodes", plain, board_ma=board_ma)
    assert float(dict(finding.inputs)["k"]) == pytest.approx(
        seen["i(v1)"] / (seen["i(v1)"] + seen["i(v2)"]), abs=2e-3
    )
    assert milliamperes(finding, "Icells") == pytest.approx(-1000 * seen["i(v1)"], rel=1e-2)


def test_cells_stop_feeding_where_they_have_come_down_to_the_adaptor() -> None:
    (finding,) = found("power.cells_first", "diodes")
    share = int(re.search(r"until they are (\d+)% used up", finding.figure)[1]) / 100
    # At half of the current each, 10 mA over 0.8 and 0.1 ohm: the cells are 7 mV above the 4.75 V,
    # 1.19 V each.
    cell = parts().cells["alkaline_aa"]
    depth = next(
        depth for depth, volts in zip(cell.depth[1:], cell.open_v[1:], strict=True) if volts < 1.19
    )
    assert cell.depth[cell.depth.index(depth) - 1] <= share <= depth


def test_an_idle_converter_shares_too_and_a_prop_that_takes_nothing_counts_as_a_milliampere() -> (
    None
):
    (finding,) = found(
        "power.cells_first",
        "diodes",
        board_ma=50,
        regulator={"kind": "step_up", "output_v": 9.0, "own_current_ma": 0},
    )
    assert milliamperes(finding, "I") == pytest.approx(0.05 * 9 / 0.8 / 6.1 * 1000, rel=0.02)
    (finding,) = found("power.cells_first", "diodes", board_ma=0)
    assert milliamperes(finding, "I") == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize(("changeover", "wall_v"), [("switch", 5.0), (None, 5.0), ("diodes", 7.0)])
def test_cells_that_are_parted_or_lower_do_not_come_first(
    changeover: str | None, wall_v: float
) -> None:
    assert found("power.cells_first", changeover, wall={"voltage_v": wall_v}) == []
