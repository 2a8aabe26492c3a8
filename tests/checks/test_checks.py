"""Every check explains itself, with numbers that hold when they are put into its formula."""

import ast
import importlib
import math
import operator
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest

from fxseq import checks
from fxseq.checks import CHECKS, Check
from fxseq.checks.check import Scope, check, checks_of, put
from fxseq.checks.circuits import shared_by
from fxseq.checks.scopes import RUN
from fxseq.hazards import Exposure
from fxseq.power.diodes import SideBySide, diode_from_point
from fxseq.runs import Performance, load_prop, perform
from fxseq.sequence import Finding, Weight, loads
from fxseq.sequence.finding import Kind
from tests.checks.judged import hearing_findings, pwm_findings, toy_findings

Values = dict[str, Any]
Played = Callable[..., Performance]
PACKAGE = Path(checks.__file__).parents[1]
SOURCES = {path: path.read_text(encoding="utf-8") for path in sorted(PACKAGE.rglob("*.py"))}
SUBJECTS = [path for path, text in SOURCES.items() if re.search(r"^@check\(", text, re.MULTILINE)]


# ---- what the code can make, read off the code ----


def checks_in(path: Path) -> dict[str, Check[Any]]:
    """The checks of a module, by the names that they have there."""
    module = importlib.import_module(
        ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
    )
    return {
        name: value
        for name, value in vars(module).items()
        if isinstance(value, Check) and value in checks_of(module)
    }


def makes(path: Path) -> Iterator[tuple[str, frozenset[str]]]:
    """Each place where a finding is made: the name of its check there, and the symbols that it
    gives a value.
    """
    for call in ast.walk(ast.parse(SOURCES[path])):
        if (
            isinstance(call, ast.Call)
            and isinstance(call.func, ast.Attribute)
            and call.func.attr == "finding"
        ):
            given = next(
                (keyword.value for keyword in call.keywords if keyword.arg == "inputs"),
                call.args[5] if len(call.args) > 5 else ast.Dict([], []),
            )
            keys = INPUTS.get(ast.unparse(given)) or [ast.literal_eval(key) for key in given.keys]
            yield ast.unparse(call.func.value), frozenset(keys)


INPUTS = {"inputs": ["t", "tlow", "thigh", "tday"], "unknown": ["t", "tlow", "thigh", "tday"]}
"""Values that stand under a name before they are given."""


def short(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


def test_findings_are_made_by_checks_alone() -> None:
    made_elsewhere = [
        short(path)
        for path, text in SOURCES.items()
        if re.search(r"\bFinding\(", text) and "class Finding" not in text
    ]
    assert made_elsewhere == ["checks/check.py"]


def test_no_floor_but_that_of_the_checks_judges() -> None:
    judging = {
        short(path).split("/")[0]
        for path, text in SOURCES.items()
        if re.search(r"\bWeight\.|@check\(|\.finding\(", text)
    }
    assert judging - {"cli", "advice"} == {"checks"}


@pytest.mark.parametrize("path", SUBJECTS, ids=short)
def test_every_check_of_a_module_makes_its_findings_there(path: Path) -> None:
    made = {name for name, _ in makes(path)} - {"rule"}
    aliased = {"dropout_played"} | (
        {"flash", "red_flash"} if "rule.finding" in SOURCES[path] else set()
    )
    assert made <= set(checks_in(path)) <= made | aliased


@pytest.mark.parametrize("path", SUBJECTS, ids=short)
def test_every_finding_gives_each_symbol_a_value(path: Path) -> None:
    known = checks_in(path)
    for name, symbols in makes(path):
        for one in (known["flash"], known["red_flash"]) if name == "rule" else (known[name],):
            assert symbols == set(one.symbols), one.id


def test_all_checks_are_gathered_each_once() -> None:
    ids = [
        one.id
        for path in SUBJECTS
        for name, one in checks_in(path).items()
        if name != "dropout_played"
    ]
    assert len(ids) == len(set(ids))
    assert list(CHECKS) == sorted(ids)


def test_a_limit_is_a_number_of_the_description_and_goes_with_a_figure() -> None:
    sequence = loads(FULL, "full.toml")
    numbers = {
        one.id: one.limit(sequence, sequence.supplies["wall"])
        for one in CHECKS.values()
        if one.limit
    }
    assert numbers == {
        "hazard.hearing": 85,
        "light.flash": 3,
        "light.red_flash": 3,
        "power.rail": 4,
        "power.supply_current": 900,
        "sound.clipping": 0.001,
        "sound.excursion": 0.4,
        "sound.saturated": 0.001,
        "sound.speaker_power": 0.5,
        "sound.voices": 0,
    }
    assert {id for id in numbers if CHECKS[id].measure is None} == {
        "light.flash",
        "light.red_flash",
        "sound.saturated",
    }


FULL = """
format = 1
title = "Full"
[board]
channels = 1
[supplies.wall]
kind = "wall"
voltage_v = 5.0
minimum_v = 4.0
maximum_current_ma = 900
[speaker]
diameter_mm = 28
impedance_ohm = 8
resonance_hz = 800
q_total = 1.1
sensitivity_db = 88
rated_power_w = 0.5
excursion_mm = 0.4
"""


# ---- what is told of a check ----


@pytest.mark.parametrize("one", CHECKS.values(), ids=CHECKS)
def test_what_is_told_of_a_check_is_whole(one: Check[Any]) -> None:
    assert re.fullmatch(r"[a-z]+\.[a-z_]+", one.id)
    assert one.question.endswith("?") and "\n" not in one.question and len(one.question) <= 90
    for text in (one.rule, one.confidence):
        assert text.endswith(".") and not set("{}") & set(text) and "  " not in text
    assert one.source and not set("{}") & set(one.source)
    assert set(re.findall(r"{(\w+)}", one.formula)) <= set(one.symbols)
    assert all(one.symbols.values())


@pytest.mark.parametrize("one", CHECKS.values(), ids=CHECKS)
def test_the_kind_of_a_source_is_that_which_the_source_says(one: Check[Any]) -> None:
    assert one.kind in get_args(Kind)
    if one.kind in ("common practice", "from memory"):
        assert one.kind in one.source
    if one.source == "common practice, no source":
        assert one.kind == "common practice"


@pytest.mark.parametrize(
    "check",
    ["hazard.lithium", "hazard.adaptor", "power.touch", "power.back_feed", "hazard.hearing"],
)
def test_a_caution_defers_to_rules_and_licensed_practice(check: str) -> None:
    text = CHECKS[check].rule + CHECKS[check].confidence
    assert re.search(r"licensed|local codes|rules", text)


def test_a_formula_takes_values_in_place_of_symbols() -> None:
    one = check(
        RUN, "a.b", "", "", "", "arithmetic", "", "{P} = {U} * {I}", {"P": "", "U": "", "I": ""}
    )(lambda run: ())
    assert one.formula_with({}) == "P = U * I"
    assert one.formula_with({"U": "5 V", "I": "2 A"}) == "P = 5 V * 2 A"


def test_checks_that_share_a_scope_are_put_to_one_thing_after_the_other() -> None:
    scope = Scope[list[str], str](lambda source: source)

    def asked(id: str) -> Check[str]:
        return check(scope, id, "", "", "", "arithmetic", "")(
            lambda thing: [one[id].finding(Weight.NOTE, thing, "")]
        )

    one = {id: asked(id) for id in ("a.first", "a.second")}
    found = [(finding.subject, finding.check) for finding in put(one.values(), ["x", "y"])]
    assert found == [("x", "a.first"), ("x", "a.second"), ("y", "a.first"), ("y", "a.second")]


# ---- numbers put in ----

_UNITS = {"mJ": 1e-3, "mA": 1e-3, "ms": 1e-3, "%": 1e-2, "mm": 1e-3, "cm": 1e-2, "uF": 1e-6}
_ROUNDED = {"rel_tol": 0.03, "abs_tol": 6e-5}
"""Figures are shown with two or three digits, shares with two decimals of a percent."""
_RELATIONS = {
    "=": lambda left, right: math.isclose(left, right, **_ROUNDED),
    ">": operator.gt,
    "<": operator.lt,
    ">=": operator.ge,
    "<=": operator.le,
}


def number(text: str) -> float:
    """A side of a formula with values put in, in SI units."""
    text = (
        text.replace("dB(A)", "dB")
        .replace("dB(C)", "dB")
        .replace("/cm^2", "")
        .replace(" cm^2", "")
        .replace(" A^2 s", "")
        .replace("^", "**")
    )
    text = text.replace("%/Hz", "%")
    text = re.sub(r"\|(.*?)\|", r"abs(\1)", text)
    text = re.sub(
        r"(-?[\d.]+(?:e[+-]?\d+)?+) ?(%|[A-Za-z]+)",
        lambda found: f"({found[1]} * {_UNITS.get(found[2], 1)})",
        text,
    )
    return float(eval(text, {"log10": math.log10, "abs": abs}))


def assert_holds(finding: Finding) -> None:
    """Every relation of the formula is true of the finding's numbers, as far as they are
    rounded.
    """
    formula = CHECKS[finding.check].formula_with(dict(finding.inputs))
    for part in filter(None, formula.split("; ")):
        sides = re.split(r" (=|>=|<=|>|<) ", part)
        for left, relation, right in zip(sides[::2], sides[1::2], sides[2::2], strict=False):
            assert _RELATIONS[relation](number(left), number(right)), f"{finding.check}: {part}"


IN_WORDS = {"power.forward_voltage", "sound.parameters", "clip.silent"}
"""Formulas that hold words beside numbers, or may: 'outside', a relation of the data sheet,
silence.
"""


def wired(**group: object) -> Callable[[Values], object]:
    return lambda values: values["groups"]["lamp"].update(group)


CAUSES: dict[str, Callable[[Values], object]] = {
    "clip.long": lambda values: values["board"].update(flash_for_table_bytes=4000),
    "clip.decoding": lambda values: values["board"].update(
        processor={"kind": "avr", "clock_mhz": 8}
    ),
    "hazard.eye": wired(current_ma=350, colour="white"),
    "hazard.flicker": lambda values: values["board"].update(dimming_hz=490),
    "hazard.long_flashing": (
        lambda values: values["scripts"]["run"].update(
            presses=", ".join(f"tap lever @{1 + 0.45 * tap:.2f}" for tap in range(16))
        )
    ),
    "hazard.toy_level": lambda values: values["speaker"].update(sensitivity_db=110),
    "light.flash": (
        lambda values: values["scripts"]["run"].update(
            presses=", ".join(f"tap lever @{1 + 0.2 * tap:.1f}" for tap in range(5))
        )
    ),
    "power.adaptor_margin": lambda values: values["supplies"]["wall"].update(maximum_current_ma=50),
    "power.amplifier_heat": (
        lambda values: values["amplifier"].update(maximum_heat_w=0.01, gain_db=20)
    ),
    "power.back_feed": lambda values: values.pop("changeover"),
    "power.dropout": lambda values: values.update(regulator={"kind": "linear", "output_v": 3.3}),
    "power.fuse": lambda values: values["supplies"]["wall"].update(fuse_ma=5),
    "power.inrush": (
        lambda values: values["supplies"]["wall"].update(
            fuse_ma=500, fuse_melting_a2s=0.01, internal_resistance_ohm=0.2, bulk_capacitor_uf=1000
        )
    ),
    "power.pwm_rate": (
        lambda values: values["board"].update(
            dimming_hz=8000, pwm_bits=12, processor={"kind": "avr", "clock_mhz": 16}
        )
    ),
    "power.regulator_current": lambda values: values.update(
        board={**values["board"], "current_ma": 60},
        regulator={"kind": "low_dropout", "output_v": 3.3, "maximum_current_ma": 50},
    ),
    "power.regulator_heat": lambda values: values.update(
        board={**values["board"], "current_ma": 60},
        regulator={"kind": "low_dropout", "output_v": 3.3, "maximum_heat_w": 0.1},
    ),
    "power.step_up": lambda values: values.update(regulator={"kind": "step_up", "output_v": 4.5}),
    "power.switch_current": wired(
        switch="transistor", current_ma=150, leds_in_series=1, size_mm=10
    ),
    "power.cells_first": lambda values: values.update(
        changeover="diodes",
        supplies={
            "wall": {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 500},
            "cells": {"kind": "cells", "voltage_v": 6.0, "maximum_current_ma": 500},
        },
    ),
    "power.chip_current": lambda values: (
        values["board"].update(channels=12),
        wired(switch="pin", channels=12, leds=12, current_ma=5)(values),
    ),
    "power.driver_headroom": wired(switch="driver", leds_in_series=2),
    "power.driver_heat": lambda values: (
        wired(switch="driver", current_ma=90)(values),
        values["supplies"].pop("cells"),
    ),
    "power.led_current": wired(current_ma=45),
    "power.led_dark": wired(switch="pin", colour="blue", forward_voltage_v=3.9),
    "power.pack_voltage": (
        lambda values: values["supplies"]["cells"].update(cell="alkaline_aa", cells_in_series=4)
    ),
    "power.board_voltage": lambda values: (
        values["board"].update(part="pico"),
        values["supplies"]["cells"].update(cell="alkaline_aa", cells_in_series=4),
    ),
    "power.cell_current": (
        lambda values: values["supplies"]["cells"].update(
            cell="alkaline_aa", cells_in_series=2, maximum_current_ma=3000
        )
    ),
    "power.led_heat": wired(
        current_ma=350, colour="white", forward_voltage_v=3.3, leds_in_series=1
    ),
    "light.dark": lambda values: values["fades"]["flash"]["segments"][1].update(to_percent=1),
    "power.pin_current": wired(switch="pin", leds=4),
    "power.led_dim": wired(leds_in_series=2, forward_voltage_v=1.7, switch="transistor"),
    "power.line_current": lambda values: values["supplies"]["wall"].update(maximum_current_ma=50),
    "power.line_wire": wired(current_ma=700, leds=4, size_mm=10, leds_in_series=1),
    "power.outlet_capacitor": (
        lambda values: values["supplies"]["wall"].update(outlet="usb", bulk_capacitor_uf=100)
    ),
    "power.outlet_current": (
        lambda values: values["supplies"]["wall"].update(outlet="usb", maximum_current_ma=3000)
    ),
    "power.rail": (
        lambda values: values["supplies"].pop("wall")
        and values["supplies"]["cells"].update(internal_resistance_ohm=10, minimum_v=2.9)
    ),
    "power.resistor_heat": wired(current_ma=2000, leds=2),
    "power.shared_resistor": wired(leds_in_series=1, shared_resistor=True),
    "power.supply_current": lambda values: values["supplies"]["wall"].update(maximum_current_ma=5),
    "power.touch": lambda values: values["supplies"]["wall"].update(voltage_v=48),
    "sound.bits": lambda values: values["board"].update(sound_bits=8),
    "sound.clipping": lambda values: values["amplifier"].update(gain_db=30),
    "sound.excursion": lambda values: values["speaker"].update(excursion_mm=0.01),
    "sound.speaker_power": lambda values: values["speaker"].update(rated_power_w=0.001),
    "sound.flat_supply": lambda values: (
        values["supplies"].pop("wall"),
        values["supplies"]["cells"].update(minimum_v=0.9),
    ),
    "sound.free_air": lambda values: values["speaker"].update(sensitivity_baffle=False),
    "sound.moving_mass": lambda values: values["speaker"].update(sensitivity_db=40),
    "sound.no_voltage": lambda values: values["amplifier"].update(lost_voltage_v=9.0),
    "sound.offset": lambda values: values["effects"]["spark"]["lights"][0].update(at_ms=200),
    "sound.saturated": (
        lambda values: values["effects"]["spark"].update(
            sounds=[{"clip": "beep", "gain_db": 0}] * 3
        )
    ),
    "table.flash": lambda values: values["board"].update(flash_for_table_bytes=256),
    "table.work": lambda values: values["board"].update(
        processor={"kind": "cortex_m", "clock_mhz": 5}
    ),
}


@pytest.mark.parametrize("check", CAUSES)
def test_the_numbers_of_a_finding_hold_when_put_in(
    values: Values, played: Played, check: str
) -> None:
    values["scripts"] = {"run": {"presses": "tap lever @1"}}
    CAUSES[check](values)
    found = checks.findings(played(values, None))
    assert check in {finding.check for finding in found}
    for finding in found:
        if finding.check not in IN_WORDS:
            assert_holds(finding)


def square(samples: int, peak: float = 0.5) -> np.ndarray:
    return np.tile([peak, -peak], samples // 2)


@pytest.mark.parametrize(
    ("check", "sound"),
    [
        ("clip.dc", 0.3 + np.zeros(1600)),
        ("clip.starts_with_jump", 0.3 + np.zeros(1600)),
        ("clip.ends_with_jump", 0.3 + np.zeros(1600)),
        ("clip.clipped_source", np.concatenate([[0], np.repeat(square(100, 0.99997), 8), [0]])),
        ("clip.clipped_by_gain", np.concatenate([[0], square(1600, 0.9), [0]])),
        ("clip.leading_silence", np.concatenate([np.zeros(1000), square(600), [0]])),
        ("sound.delay", np.concatenate([np.zeros(1000), square(600), [0]])),
    ],
)
def test_the_numbers_of_a_bad_sound_hold_when_put_in(
    values: Values,
    played: Played,
    write_sound: Callable[..., None],
    check: str,
    sound: np.ndarray,
) -> None:
    write_sound("beep.wav", sound)
    values["clips"]["beep"]["gain_db"] = 3 if check == "clip.clipped_by_gain" else 0
    found = checks.findings(played(values))
    assert check in {finding.check for finding in found}
    for finding in found:
        assert_holds(finding)


def test_the_numbers_of_uneven_waits_hold_when_put_in(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("late.wav", np.concatenate([np.zeros(160), square(600), [0]]))
    values["clips"]["late"] = {"file": "late.wav", "coding": "pcm16"}
    values["effects"]["other"] = {"sounds": [{"clip": "late"}]}
    values["triggers"]["fire"]["effects"] = ["spark", "other"]
    (found,) = [
        finding for finding in checks.findings(played(values)) if finding.check == "sound.jitter"
    ]
    assert_holds(found)


def test_the_numbers_of_a_days_dose_hold_when_put_in() -> None:
    # 95 dB(A) for 2 h: LEX 95 + 10 lg(2/8) = 89.0 dB(A); NIOSH allows 0.79 h at 95 dB(A) (table
    # 1-1: 47 min), so 252 % of a day's dose.
    loud = Exposure("hand", 0.5, 95.0, 114.0, 139.0, 3.5, 2.0)
    found = {finding.check: finding for finding in (*hearing_findings(loud), *toy_findings([loud]))}
    assert dict(found["hazard.hearing"].inputs) == {
        "Lday": "89.0 dB(A)",
        "L": "95.0 dB(A)",
        "s": "3.5 dB",
        "h": "2 h",
        "T": "0.794 h",
        "D": "252 %",
    }
    assert {
        "hazard.hearing",
        "hazard.hearing_ceiling",
        "hazard.impulse",
        "hazard.toy_level",
    } == set(found)
    for finding in found.values():
        assert_holds(finding)


@pytest.mark.parametrize("frequency_hz", [50.0, 490.0, 1500.0])
def test_the_numbers_of_flicker_hold_when_put_in(frequency_hz: float) -> None:
    (finding,) = pwm_findings(frequency_hz)
    assert_holds(finding)


def test_the_numbers_of_a_shared_resistor_hold_when_put_in() -> None:
    pair = SideBySide(tuple((diode_from_point(volts, 0.02, 1.5, 6.0), 1) for volts in (1.9, 2.1)))
    (finding,) = shared_by("group 'lamp'", pair.shares_a(5.0, 100.0), "Part them.")
    assert_holds(finding)


def test_findings_of_the_demo_name_the_source_of_their_check() -> None:
    prop = load_prop(PACKAGE.parent / "demo_assets" / "squall_lantern.toml")
    found = checks.findings(perform(prop, prop.script(None)[0]))
    assert found
    for finding in found:
        assert finding.source.startswith(CHECKS[finding.check].source)
        assert_holds(finding)


def test_where_the_figures_of_a_part_come_from_is_kept_apart_from_the_source_of_the_limit(
    values: Values, played: Played
) -> None:
    values["groups"]["lamp"]["forward_voltage_v"] = 3.4
    (finding,) = [
        one
        for one in checks.findings_without_playing(played(values).prop)
        if one.check == "power.forward_voltage"
    ]
    assert finding.source == "generic parts of this program"
    assert (
        finding.part_source
        == "typical: bulbs; spread as of red, with which it shares its semiconductor; SPICE"
    )
    assert dict(finding.inputs)["Vf"] == "3.4 V"


SMALL_BOARD = """
format = 1
title = "x"
board = { part = "nano" }
groups.lens = { channels = 7, leds = 7, colour = "amber", current_ma = CURRENT, switch = "pin" }
supplies.adaptor = { kind = "wall", voltage_v = 5, minimum_v = 4.5, maximum_current_ma = 500 }
"""


@pytest.mark.parametrize(
    ("current_ma", "found"),
    [(12, {}), (22, {"power.pin_current": "20 mA"}), (28, {"power.pin_current": "20 mA", "power.chip_current": "200 mA"})],
)  # fmt: skip
def test_currents_of_a_ready_made_board_are_judged_by_the_data_sheet_of_its_chip(
    tmp_path: Path, current_ma: int, found: dict[str, str]
) -> None:
    file = tmp_path / "prop.toml"
    file.write_text(SMALL_BOARD.replace("CURRENT", str(current_ma)))
    findings = [
        one
        for one in checks.findings_without_playing(load_prop(file))
        if one.check in ("power.pin_current", "power.chip_current")
    ]
    assert {one.check: one.limit for one in findings} == found
    assert all("ATmega328P data sheet" in one.part_source for one in findings)
