"""Sequences of every kind, made by hypothesis."""

import math
from typing import Any

from hypothesis import strategies as st

from fxseq.sequence.titles import visible

NAMES = st.from_regex(r"[a-z][a-z0-9_]{0,7}", fullmatch=True)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=80)
TITLES = TEXTS.map(visible)
PERCENT = st.floats(0, 100)
COLOURS = st.sampled_from(["red", "amber", "warm_white"])


def some(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers within a range, whole ones among them."""
    return st.floats(low, high) | st.integers(math.ceil(low), math.floor(high))


def keys(needed: dict[str, Any], optional: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Tables with all of the needed keys and some of the optional ones."""
    return st.fixed_dictionaries(needed, optional=optional)


def named(parts: st.SearchStrategy[Any], least: int = 0) -> st.SearchStrategy[dict[str, Any]]:
    return st.dictionaries(NAMES, parts, min_size=least, max_size=3)


@st.composite
def boards(draw: st.DrawFn) -> dict[str, Any]:
    rate_hz = draw(st.integers(4000, 48000))
    samples = draw(st.integers(max(4, math.ceil(rate_hz / 4000)), min(256, rate_hz // 500)))
    optional = {
        "pwm_bits": st.integers(8, 16),
        "voices": st.integers(1, 16),
        "when_voices_run_out": st.sampled_from(["oldest", "same_clip"]),
        "current_ma": some(0, 2000),
        "pin_v": some(1, 12),
        "random_seed": st.integers(1, 2**32 - 1),
        "carries_names": st.booleans(),
    }
    return draw(
        keys(
            {
                "channels": st.just(60),
                "sample_rate_hz": st.just(rate_hz),
                "samples_per_frame": st.just(samples),
            },
            optional,
        )
    )


@st.composite
def supplies(draw: st.DrawFn) -> dict[str, Any]:
    voltage_v = draw(st.floats(1, 60))
    kind = draw(st.sampled_from(["cells", "wall"]))
    needed = {
        "kind": st.just(kind),
        "voltage_v": st.just(voltage_v),
        "maximum_current_ma": some(1, 20_000),
    }
    of_cells = {
        "cell": st.sampled_from(["alkaline_aa", "li_ion"]),
        "cells_in_series": st.integers(1, 40),
        "cell_capacity_mah": some(1, 100_000),
    }
    own = {"tolerance_percent": some(0, 30)} if kind == "wall" else {}
    rows = draw(st.sampled_from([{}, of_cells])) if kind == "cells" else {}
    return draw(
        keys(
            needed | rows,
            own
            | {
                "minimum_v": st.floats(0, voltage_v),
                "internal_resistance_ohm": some(0, 100),
                "bulk_capacitor_uf": some(0, 1000),
                "fuse_ma": some(1, 40_000),
            },
        )
    )


SPEAKERS = keys(
    {
        "diameter_mm": some(6, 500),
        "impedance_ohm": some(1, 600),
        "resonance_hz": some(11, 5000),
        "sensitivity_db": some(30, 130),
        "rated_power_w": st.floats(0.1, 1000),
    },
    {
        "q_total": st.floats(0.2, 20),
        "sensitivity_spread_db": some(0, 20),
        "sensitivity_voltage_v": some(1, 10),
        "excursion_mm": some(1, 10),
        "grille": keys(
            {"holes": st.integers(1, 100), "hole_mm": some(1, 10), "thickness_mm": some(1, 10)}, {}
        ),
    },
) | keys(
    {"part": st.sampled_from(["28 mm, 8 ohm", "40 mm, 4 ohm"])},
    {
        "chamber_ml": some(1, 1000),
        "coil_ohm": some(1, 8),
        "moving_mass_g": some(1, 10),
        "q_mechanical": some(1, 10),
    },
)
AMPLIFIERS = keys(
    {"gain_db": some(-40, 60), "full_scale_input_v": st.floats(0.1, 10)},
    {"output": st.just("single"), "kind": st.just("class_ab")},
)
POINTS = st.tuples(some(0, 100), some(0, 100)).map(list)


@st.composite
def selectors(draw: st.DrawFn) -> dict[str, Any]:
    positions = draw(st.lists(NAMES, min_size=2, max_size=4, unique=True))
    return draw(keys({"positions": st.just(positions)}, {"start": st.sampled_from(positions)}))


@st.composite
def counters(draw: st.DrawFn) -> dict[str, Any]:
    maximum = draw(st.integers(1, 65_535))
    return draw(keys({"maximum": st.just(maximum)}, {"start": st.integers(0, maximum)}))


@st.composite
def groups(draw: st.DrawFn, counter_names: list[str]) -> dict[str, Any]:
    """Groups one after the other on the board, inside a picture of 100 mm by 100 mm."""
    made = {}
    first = 0
    for name in draw(st.lists(NAMES, max_size=3, unique=True)):
        first += draw(st.integers(0, 5))
        channels = draw(st.integers(1, 5))
        leds = channels * draw(st.integers(1, 3))
        needed = {
            "first_channel": st.just(first),
            "channels": st.just(channels),
            "leds": st.just(leds),
            "colour": COLOURS,
            "forward_voltage_v": st.floats(1, 60),
            "current_ma": some(1, 5000),
        }
        gauge = {"gauge": st.sampled_from(counter_names)} if counter_names else {}
        ring = keys(
            {"centre_mm": st.just([50, 50.0]), "radius_mm": some(1, 50)},
            {"first_at_deg": some(-360, 360)},
        )
        line = keys({"from_mm": POINTS, "to_mm": POINTS}, {})
        listed = st.lists(POINTS, min_size=leds, max_size=leds)
        places = draw(
            st.sampled_from([{}, {"ring_mm": ring}, {"line_mm": line}, {"places_mm": listed}])
        )
        made[name] = draw(
            keys(
                needed | places,
                {
                    "size_mm": some(1, 50),
                    "merge": st.just("latest"),
                    "leds_in_series": st.just(1),
                    "switch": st.sampled_from(["pin", "driver"]),
                    "forward_voltage_max_v": st.just(60),
                    **gauge,
                },
            )
        )
        if draw(st.booleans()):
            made[name]["second_point"] = {
                "forward_voltage_v": 1.2 * made[name]["forward_voltage_v"],
                "current_ma": 2 * made[name]["current_ma"],
            }
        first += channels
    return made


@st.composite
def clips(draw: st.DrawFn) -> dict[str, Any]:
    start_ms = draw(some(0, 1000))
    length_ms = draw(some(10, 1000))
    cuts = st.sampled_from(
        [
            {},
            {"start_ms": start_ms},
            {"start_ms": start_ms, "end_ms": start_ms + length_ms},
            {"start_cue": 3},
        ]
    )
    loops = st.sampled_from(
        ["file", "whole", "find", {}, {"start_ms": 1.5}, {"start_ms": 0, "end_ms": 9}]
    )
    levels = st.sampled_from([{}, {"peak_to_dbfs": -1.5}, {"rms_to_dbfs": -20}])
    optional = {
        "channel": st.sampled_from(["left", "right"]),
        "fade_in_ms": some(0, 4),
        "fade_out_ms": some(0, 4),
        "remove_dc": st.booleans(),
        "gain_db": some(-60, 18),
        "rate_hz": st.integers(2000, 48_000),
        "coding": st.just("pcm16"),
        "loop": loops,
        "high_pass_hz": some(10, 2000),
        "limit_to_dbfs": some(-30, 0),
        "fitted": st.sampled_from([{}, {"rate_hz": 8000}, {"coding": "qoa", "rate_hz": 11_025}]),
    }
    return draw(keys({"file": TEXTS}, optional)) | draw(cuts) | draw(levels)


PLAIN = keys(
    {"to_percent": PERCENT | st.just("ambient"), "length_ms": some(1, 5000)},
    {"shape": st.sampled_from(["step", "ease", "decay"])},
)
FLICKER = keys(
    {
        "shape": st.just("flicker"),
        "to_percent": some(50, 100),
        "low_percent": some(0, 50),
        "every_ms": some(1, 10_000),
        "length_ms": some(1, 5000),
    },
    {},
)
FADES = keys(
    {"segments": st.lists(PLAIN | FLICKER, min_size=1, max_size=4)},
    {"from_percent": PERCENT, "loop": st.booleans()},
)


def one_of(
    names: list[str], needed: dict[str, Any], key: str, optional: dict[str, Any]
) -> st.SearchStrategy[list[Any]]:
    """Lists of parts that refer to one of the names, empty if there are no names."""
    return (
        st.lists(keys({key: st.sampled_from(names), **needed}, optional), max_size=3)
        if names
        else st.just([])
    )


def effects(values: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    looped = [name for name, clip in values["clips"].items() if "loop" in clip]
    once = {"at_ms": some(0, 9000), "gain_db": some(-60, 18)}
    sounds = one_of(list(values["clips"]), {}, "clip", once)
    sounds |= one_of(looped, {"loop": st.just(True)}, "clip", {"release_ms": some(0, 10_000)})
    fades = {"fade": st.sampled_from(list(values["fades"]))} if values["fades"] else {}
    lights = one_of(
        list(values["groups"]) if fades else [],
        fades,
        "group",
        {"stagger_ms": some(-10_000, 10_000)},
    )
    change = st.integers(-65_535, -1) | st.integers(1, 65_535)
    counts = one_of(
        list(values["counters"]), {"change": change}, "counter", {"at_ms": some(0, 9000)}
    )
    optional = {
        "sounds": sounds,
        "lights": lights,
        "counts": counts,
        "length_ms": some(1, 9000),
        "pitch_spread_percent": some(0, 24),
    }
    return keys({}, optional)


@st.composite
def triggers(draw: st.DrawFn, values: dict[str, Any]) -> dict[str, Any]:
    effect = st.sampled_from(list(values["effects"]))
    shots = {"effects": st.lists(effect, min_size=1, max_size=4)}
    stay = {"begin": effect, "during": effect, "end": effect}
    when = {
        name: (
            st.sampled_from(part["positions"])
            | st.lists(st.sampled_from(part["positions"]), min_size=1, max_size=3)
        )
        for name, part in values["selectors"].items()
    }
    any_mode = {"when": keys({}, when)}
    asked = {"input": st.sampled_from(list(values["inputs"]))}
    needs = {"needs": st.sampled_from(list(values["counters"]))} if values["counters"] else {}
    pressed = any_mode | {"after_held_ms": some(0, 9000)} | needs
    rates = {
        "rate_per_s": st.floats(0.1, 50),
        "ramp_shots": st.integers(1, 255),
        "ramp_to_rate_per_s": st.floats(0.1, 50),
    }
    repeat = {
        "first_delay_ms": some(0, 900),
        "burst": st.integers(1, 9),
        "limit": st.integers(9, 99),
        "choice": st.just("random"),
    }
    mode = draw(st.sampled_from(["once", "repeat", "while_held", "on_off", "always"]))
    needed, optional = {
        "once": (asked | shots, pressed),
        "repeat": (asked | shots | rates, pressed | repeat),
        "while_held": (asked | {"begin": effect}, pressed | stay),
        "on_off": (asked | {"end": effect}, pressed | stay),
        "always": ({"during": effect}, any_mode | stay),
    }[mode]
    return draw(
        keys(
            {"mode": st.just(mode)} | needed,
            {key: value for key, value in optional.items() if key not in needed},
        )
    )


@st.composite
def sequence_values(draw: st.DrawFn) -> dict[str, Any]:
    """The values of a valid file."""
    values: dict[str, Any] = {"format": 1, "title": draw(TITLES), "board": draw(boards())}
    values |= draw(
        keys(
            {},
            {
                "revision": TEXTS.map(lambda text: text[:20]),
                "amplifier": AMPLIFIERS,
                "speaker": SPEAKERS,
                "listening": keys({}, {"hand_m": some(1, 100)}),
                "scripts": st.dictionaries(NAMES, keys({"presses": TEXTS}, {}), max_size=2),
                "changeover": st.just("diodes"),
                "regulator": keys(
                    {"kind": st.sampled_from(["linear", "step_down"]), "output_v": some(12, 60)},
                    {
                        "feeds": st.just(["board", "lights"]),
                        "dropout_v": some(0, 10),
                        "maximum_heat_w": some(1, 100),
                    },
                ),
                "day": keys({}, {"hours": some(1, 24), "held_s_an_hour": some(0, 3600)}),
            },
        )
    )
    values["picture"] = draw(
        keys(
            {"width_mm": st.just(100), "height_mm": st.just(100)},
            {"outline_mm": st.lists(POINTS), "image": TEXTS},
        )
    )
    values["supplies"] = draw(named(supplies()))
    values["inputs"] = draw(
        named(keys({}, {"kind": st.just("low_battery"), "lockout_ms": some(0, 1000)}), least=1)
    )
    values["selectors"] = draw(named(selectors()))
    values["counters"] = draw(named(counters()))
    values["groups"] = draw(groups(list(values["counters"])))
    values["clips"] = draw(named(clips()))
    values["fades"] = draw(named(FADES))
    values["effects"] = draw(named(effects(values), least=1))
    values["triggers"] = draw(named(triggers(values)))
    return values
