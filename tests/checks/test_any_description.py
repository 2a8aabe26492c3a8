"""Any description that the file format accepts gives figures and texts: no exception, no NaN,
nothing negative that cannot be.

Supplies, lights, speaker, amplifier and day are drawn from the bounds that the schema itself
states, half of the time to their ends.
"""

import json
import math
import re
import warnings
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.checks import CHECKS, findings, findings_without_playing, run_time_text
from fxseq.runs import Performance, in_numbers, load_prop, perform, wiring_of
from fxseq.sequence import SequenceError
from fxseq.sequence import model as m

Values = dict[str, Any]
RATE_HZ = 8000
LEAST = 1e-9
"""Where a number may be 0 or has to be above something."""
NO_FIGURE = re.compile(r"(?<![A-Za-z])(nan|NaN|inf|Infinity|None|True|False)(?![A-Za-z])")
_OF_CELLS = ("cell", "cells_in_series", "cells_in_parallel", "cell_capacity_mah")
_OF_WALL = ("outlet", "tolerance_percent")
_OF_FREE_AIR = (
    "chamber_ml",
    "q_electrical",
    "equivalent_volume_ml",
    "moving_mass_g",
    "compliance_mm_per_n",
    "force_factor_tm",
)


def of_schema(schema: Values) -> st.SearchStrategy[Any] | None:
    """What a key of the schema allows; None where it is neither a number nor a word of a list."""
    schema = next(
        (part for part in schema.get("anyOf", [schema]) if part.get("type") != "null"), schema
    )
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    if schema.get("type") not in ("number", "integer"):
        return None
    low = schema.get("minimum", schema.get("exclusiveMinimum"))
    high = schema.get("maximum", schema.get("exclusiveMaximum"))
    if schema["type"] == "integer":
        return st.integers(low, high)
    low = low * (1 + LEAST) + LEAST if "exclusiveMinimum" in schema else low
    least = max(low, LEAST)
    even = (
        st.floats(math.log(least), math.log(high)).map(
            lambda drawn: min(max(float(f"{math.exp(drawn):.4g}"), low), high)
        )
        if low >= 0
        else st.floats(low, high)
    )
    return st.one_of(even, st.sampled_from([float(low), float(high)]))


@cache
def keys_of(model: type[m.Part]) -> dict[str, st.SearchStrategy[Any]]:
    """What each key of a part allows."""
    found = {
        key: of_schema(schema) for key, schema in model.model_json_schema()["properties"].items()
    }
    return {key: strategy for key, strategy in found.items() if strategy is not None}


@st.composite
def part(
    draw: st.DrawFn, model: type[m.Part], *needed: str, left_out: tuple[str, ...] = ()
) -> Values:
    """Needed keys, and some others."""
    return {
        key: draw(strategy)
        for key, strategy in keys_of(model).items()
        if key not in left_out and (key in needed or draw(st.integers(0, 2)) == 0)
    }


@st.composite
def supplies(draw: st.DrawFn) -> Values:
    kind = draw(st.sampled_from(["cells", "wall"]))
    drawn = draw(
        part(
            m.Supply,
            "voltage_v",
            "maximum_current_ma",
            left_out=("kind", *(_OF_WALL if kind == "cells" else _OF_CELLS)),
        )
    )
    if kind == "cells" and "cell" not in drawn:
        drawn = {key: value for key, value in drawn.items() if key not in _OF_CELLS}
    if drawn.get("outlet"):
        drawn["voltage_v"] = 5.0
    if "resettable_fuse_ma" in drawn:
        drawn.pop("fuse_ma", None)
    if "fuse_ma" not in drawn or not (drawn.get("cell") or drawn.get("internal_resistance_ohm")):
        drawn.pop("fuse_melting_a2s", None)
    return {
        **drawn,
        "kind": kind,
        "minimum_v": min(drawn.get("minimum_v", 0.0), drawn["voltage_v"]),
    }


@st.composite
def second_points(draw: st.DrawFn, volts: float, current_ma: float) -> Values:
    """From what a junction adds to half of a resistor's slope, close to the first point and far
    from it.
    """
    at_ma = min(
        max(current_ma * draw(st.sampled_from([1e-3, 0.5, 0.79, 1.21, 2.0, 1e3])), 0.005), 10_000
    )
    ratio = at_ma / current_ma
    share = draw(st.sampled_from([1e-9, 0.5, 1 - 1e-9]))
    junction_v = volts + 0.026 * math.log(ratio)
    resistor_v = volts * 2 * ratio / (1 + ratio)
    point = {
        "forward_voltage_v": junction_v + share * (resistor_v - junction_v),
        "current_ma": at_ma,
    }
    rise_v = point["forward_voltage_v"] - volts
    more_a = (at_ma - current_ma) / 1000
    least = max(
        (rise_v - min(volts, point["forward_voltage_v"]) / 8 * math.log(ratio)) / more_a, 0.0
    )
    most = min((rise_v - 0.026 * math.log(ratio)) / more_a, 1000.0)
    if least < most and draw(st.booleans()):
        point["series_ohm"] = draw(
            st.sampled_from([least + 1e-6 * (most - least), most - 1e-6 * (most - least)])
        )
    return point


@st.composite
def groups(draw: st.DrawFn, first_channel: int, channels: int) -> Values:
    drawn = draw(
        part(
            m.Group,
            "colour",
            "forward_voltage_v",
            "current_ma",
            left_out=("leds", "channels", "first_channel", "leds_in_series", "shared_resistor"),
        )
    )
    if draw(st.booleans()):
        drawn |= {
            "forward_voltage_v": draw(st.sampled_from([1.9, 2.1, 3.2])),
            "current_ma": draw(st.sampled_from([1.0, 20.0, 350.0])),
        }
    for key, bound in (("forward_voltage_min_v", min), ("forward_voltage_max_v", max)):
        if key in drawn:
            drawn[key] = bound(drawn[key], drawn["forward_voltage_v"])
    if draw(st.booleans()):
        drawn["second_point"] = draw(second_points(drawn["forward_voltage_v"], drawn["current_ma"]))
    drawn.pop("resistor_ohm" if drawn.get("switch") == "driver" else "driver_reference_v", None)
    return {
        **drawn,
        "first_channel": first_channel,
        "channels": channels,
        "leds": channels * draw(st.sampled_from([1, 2, 3, 12, 60])),
    }


@st.composite
def regulators(draw: st.DrawFn, pin_v: float) -> Values:
    drawn = draw(part(m.Regulator, "kind", "output_v"))
    drawn.pop(
        (
            "dropout_v"
            if drawn["kind"] == "step_up"
            else "efficiency_percent" if drawn["kind"] in ("linear", "low_dropout") else ""
        ),
        None,
    )
    feeds = draw(
        st.lists(st.sampled_from(["board", "amplifier", "lights"]), min_size=1, unique=True)
    )
    return {
        **drawn,
        "feeds": (
            feeds
            if pin_v <= drawn["output_v"]
            else [name for name in feeds if name != "board"] or ["lights"]
        ),
    }


@st.composite
def speakers(draw: st.DrawFn) -> Values:
    if draw(st.booleans()):
        left_out = (
            "part",
            "free_resonance_hz",
            "sensitivity_voltage_v",
            "q_mechanical",
            *_OF_FREE_AIR,
        )
        return draw(
            part(
                m.Speaker,
                "diameter_mm",
                "impedance_ohm",
                "rated_power_w",
                "resonance_hz",
                "sensitivity_db",
                left_out=left_out,
            )
        )
    needed = (
        "diameter_mm",
        "impedance_ohm",
        "rated_power_w",
        "free_resonance_hz",
        draw(st.sampled_from(["moving_mass_g", "compliance_mm_per_n"])),
        draw(st.sampled_from(["q_total", "q_electrical", "force_factor_tm"])),
    )
    drawn = draw(
        part(
            m.Speaker,
            *needed,
            left_out=("part", "resonance_hz", "sensitivity_voltage_v", "sensitivity_power_w"),
        )
    )
    if draw(st.booleans()):
        drawn["grille"] = draw(part(m.Speaker.model_fields["grille"].annotation.__args__[0], "holes", "hole_mm", "thickness_mm"))  # type: ignore[union-attr]
    return drawn


@st.composite
def descriptions(draw: st.DrawFn) -> Values:
    """A prop of two groups and two sounds, tapped and held, with everything else as it comes."""
    board = draw(
        part(
            m.Board,
            left_out=(
                "sample_rate_hz",
                "samples_per_frame",
                "channels",
                "voices",
                "when_voices_run_out",
                "flash_for_table_bytes",
                "random_seed",
            ),
        )
    )
    drawn = {
        "format": 1,
        "title": "Any",
        "board": {**board, "sample_rate_hz": RATE_HZ, "samples_per_frame": 8, "channels": 3},
        "supplies": {
            "one": draw(supplies()),
            **({"two": draw(supplies())} if draw(st.booleans()) else {}),
        },
        "inputs": {"lever": {}},
        "groups": {"lens": draw(groups(0, 2)), "wick": draw(groups(2, 1))},
        "clips": {"beep": {"file": "beep.wav", "coding": "pcm16"}},
        "fades": {
            "flash": {
                "segments": [
                    {"shape": "step", "to_percent": 100, "length_ms": 60},
                    {"shape": "decay", "to_percent": 0, "length_ms": 120},
                ]
            }
        },
        "effects": {
            "spark": {"sounds": [{"clip": "beep"}], "lights": [{"group": "lens", "fade": "flash"}]},
            "roar": {
                "sounds": [{"clip": "beep"}],
                "lights": [{"group": "wick", "fade": "flash"}],
                "length_ms": 250,
            },
        },
        "triggers": {
            "fire": {"mode": "once", "input": "lever", "effects": ["spark"]},
            "hold": {
                "mode": "while_held",
                "input": "lever",
                "after_held_ms": 200,
                "during": "roar",
            },
        },
        "listening": draw(part(m.Listening)),
        "scripts": {"run": {"presses": "tap lever @0.2, hold lever @0.6..1.6"}},
    }
    changeover = draw(st.sampled_from([None, "switch", "diodes"]))
    regulator = draw(st.none() | regulators(board.get("pin_v", 3.3)))
    for key, value in (
        ("changeover", changeover),
        ("regulator", regulator),
        ("day", draw(st.none() | part(m.Day))),
        ("speaker", draw(st.none() | speakers())),
        (
            "amplifier",
            draw(
                st.none() | part(m.Amplifier, "gain_db", "full_scale_input_v", left_out=("part",))
            ),
        ),
    ):
        if value is not None:
            drawn[key] = value
    return drawn


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Holds the clip."""
    made = tmp_path_factory.mktemp("any")
    tone = 0.9 * np.sin(2 * np.pi * 700 * np.arange(800) / RATE_HZ)
    soundfile.write(made / "beep.wav", tone, RATE_HZ, subtype="PCM_16")
    return made


def runs(values: Values, folder: Path) -> Iterator[Performance]:
    """The prop on each of its supplies; none where parts of it contradict each other, which the
    file format says.
    """
    path = folder / "any.toml"
    path.write_text(tomlkit.dumps(values), encoding="utf-8")
    try:
        prop = load_prop(path)
    except SequenceError:
        return
    for name in prop.sequence.supplies:
        yield perform(prop, prop.script()[0], name)


def texts(run: Performance) -> Iterator[str]:
    """What is said of a run."""
    for finding in findings(run):
        yield from (
            finding.subject,
            finding.figure,
            finding.limit,
            finding.source,
            finding.remedy,
            CHECKS[finding.check].formula_with(dict(finding.inputs)),
            *dict(finding.inputs).values(),
        )
    if run.run_time is not None:
        yield run_time_text(run.run_time)


_MAY_BE_BELOW_0 = ("_db", "_lufs", "_dbtp", "o_ms")
"""Levels, and how far sound is ahead of light."""


def figures(value: Any, name: str = "") -> Iterator[tuple[str, float]]:
    """Every number in plain values, with its key."""
    if isinstance(value, dict) and set(value) == {"value", "unit"}:
        yield f"{name}_{value['unit'].partition(' ')[0]}".lower(), value["value"]
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from figures(inner, key)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from figures(inner, name)
    elif isinstance(value, int | float):
        yield name, value


@settings(max_examples=60, derandomize=True, deadline=None)
@given(values=descriptions())
def test_any_description_gives_figures_and_texts(values: Values, folder: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for run in runs(values, folder):
            assert not [text for text in texts(run) if NO_FIGURE.search(text)]
            plain = [
                in_numbers(run),
                wiring_of(run.prop.sequence).as_dict(),
                [finding.as_dict() for finding in findings_without_playing(run.prop)],
            ]
            json.dumps(plain, allow_nan=False)
            assert not [
                (key, figure)
                for key, figure in figures(plain)
                if figure < 0 and not key.endswith(_MAY_BE_BELOW_0)
            ]


@settings(max_examples=25, derandomize=True, deadline=None)
@given(values=descriptions())
def test_bounds_of_the_tolerance_are_in_order(values: Values, folder: Path) -> None:
    for run in runs(values, folder):
        if run.run_time is not None and run.run_time.hours is not None:
            hours = run.run_time.hours
            assert 0 <= hours.low <= hours.typical <= hours.high
        if run.load.rail is not None and not math.isnan(run.load.rail.lowest.low):
            lowest = run.load.rail.lowest
            assert 0 <= lowest.low <= lowest.typical + 1e-6 <= lowest.high + 2e-6


@settings(max_examples=20, derandomize=True, deadline=None)
@given(values=descriptions(), more_ma=st.sampled_from([1.0, 30.0, 200.0]))
def test_a_board_that_takes_more_never_helps(values: Values, more_ma: float, folder: Path) -> None:
    """Neither the rail nor the run time gains; a collapsed rail counts as the lowest."""
    before_ma = min(values["board"].get("current_ma", 0.0), 1000.0)
    kept = [
        [
            (
                np.nan_to_num(run.load.rail.lowest.typical),
                run.run_time.hours.typical if run.run_time and run.run_time.hours else math.nan,
            )
            for run in runs({**values, "board": {**values["board"], "current_ma": amount}}, folder)
            if run.load.rail is not None
        ]
        for amount in (before_ma, before_ma + more_ma)
    ]
    for (less_v, less_h), (more_v, more_h) in zip(*kept, strict=True):
        assert more_v <= less_v + 1e-6
        assert not more_h > less_h * (1 + 1e-6)
