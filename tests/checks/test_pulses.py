"""Rails within pulses of dimmed light."""

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fxseq.checks import findings
from fxseq.power.circuits import resistance_ohm
from fxseq.runs import Performance

Values = dict[str, Any]
Played = Callable[..., Performance]


@pytest.fixture
def dimmed(values: Values) -> Values:
    """Ten strings at a quarter of their full light, from a source of 10 V and 1 ohm that is to
    stay above 8 V.
    """
    del values["amplifier"], values["speaker"], values["changeover"]
    values["board"] |= {"dimming_hz": 1000, "channels": 10, "current_ma": 0}
    values["groups"]["lamp"] |= {
        "channels": 10,
        "leds": 10,
        "current_ma": 300,
        "switch": "driver",
        "leds_in_series": 1,
    }
    values["fades"]["flash"] = {"segments": [{"shape": "step", "to_percent": 57, "length_ms": 500}]}
    values["supplies"] = {
        "bench": {
            "kind": "wall",
            "voltage_v": 10.0,
            "internal_resistance_ohm": 1.0,
            "maximum_current_ma": 5000,
            "minimum_v": 8.0,
            "tolerance_percent": 0,
        }
    }
    return values


def text(run: Performance) -> list[str]:
    return [finding.figure for finding in findings(run) if finding.check == "power.pulses"]


def test_a_pulse_takes_the_rail_as_low_as_full_light(dimmed: Values, played: Played) -> None:
    # 10 V less 1 ohm times 3 A: 7 V within the pulse, though a quarter of that on average leaves
    # more than 9 V.
    run = played(dimmed)
    assert run.load.rail.lowest.typical > 9
    assert text(run) == [
        "7.00 V during the pulses of dimmed light, fresh; 7.00 V with a worst-case supply"
    ]


def test_a_capacitor_that_outlasts_the_pulses_makes_a_mean_of_them(
    dimmed: Values, played: Played
) -> None:
    finding = next(
        finding for finding in findings(played(dimmed)) if finding.check == "power.pulses"
    )
    assert "5000 uF" in finding.remedy  # 5 / (1000 Hz * 1 ohm)
    assert finding.limit == "8 V"
    dimmed["supplies"]["bench"]["bulk_capacitor_uf"] = 5000
    assert text(played(dimmed)) == []


def test_channels_that_are_dark_take_nothing_in_a_pulse(dimmed: Values, played: Played) -> None:
    dimmed["effects"]["spark"]["lights"] = []
    assert text(played(dimmed)) == []


def test_the_named_capacitor_keeps_the_rail_up_in_a_circuit(
    tmp_path: Path, dimmed: Values, played: Played
) -> None:
    """ngspice: 3 A for a quarter of each millisecond from 10 V and 1 ohm, without and with the
    capacitor.
    """
    ohms = resistance_ohm(played(dimmed).supply[1]).typical
    lowest = []
    for capacitor in ("", "c1 r 0 5000u ic=9.25"):
        deck = tmp_path / "pulses.cir"
        deck.write_text(
            f"pulses\nv1 e 0 10\nr0 e r {ohms}\ni1 r 0 pulse(0 3 0 1u 1u 0.25m"
            f" 1m)\n{capacitor}\n.control\ntran 2u 40m 0 2u uic\nmeas tran low min v(r) from=10m"
            " to=40m\nquit\n.endc\n.end\n"
        )
        out = subprocess.run(
            ["ngspice", "-b", str(deck)], capture_output=True, text=True, check=True
        ).stdout
        lowest.append(
            float(
                next(
                    line.split("=")[1].split()[0]
                    for line in out.splitlines()
                    if line.startswith("low ")
                )
            )
        )
    assert lowest[0] == pytest.approx(7.0, rel=0.005)
    assert lowest[1] == pytest.approx(9.25, abs=0.1)
