"""Each finding, provoked by its cause alone and absent without it."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fxseq import checks
from fxseq.runs import Performance, Prop
from fxseq.sequence import Finding, Weight

Values = dict[str, Any]
Played = Callable[..., Performance]
NOTE, WARNING, FAULT = Weight
PRACTICE = "common practice, no source"
SLOW_TAPS = ", ".join(f"tap lever @{1 + 0.45 * tap:.2f}" for tap in range(16))
QUICK_TAPS = ", ".join(f"tap lever @{1 + 0.2 * tap:.1f}" for tap in range(5))


def findings(performance: Performance) -> list[Finding]:
    """All but the caution that every wall adaptor gets."""
    return [
        finding for finding in checks.findings(performance) if finding.check != "hazard.adaptor"
    ]


def findings_without_playing(prop: Prop) -> list[Finding]:
    """The same of the description alone."""
    return [
        finding
        for finding in checks.findings_without_playing(prop)
        if finding.check != "hazard.adaptor"
    ]


def only(run: Performance) -> Finding:
    found = findings(run)
    assert len(found) == 1, found
    return found[0]


@pytest.mark.quick
def test_the_small_prop_has_none(values: Values, played: Played) -> None:
    assert findings(played(values)) == []
    assert findings_without_playing(played(values).prop) == []


def test_a_table_beyond_the_boards_flash_names_the_largest_clips(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    for name, samples in (("short", 100), ("long", 900)):
        write_sound(f"{name}.wav", np.tile([0.01, -0.01], samples // 2))
        values["clips"][name] = {"file": f"{name}.wav", "coding": "mulaw"}
        values["effects"]["spark"]["sounds"].append({"clip": name, "at_ms": 200})
    size = len(played(values).prop.compiled.data)
    values["board"]["flash_for_table_bytes"] = size
    assert [finding.check for finding in findings(played(values))] == ["clip.long"]
    values["board"]["flash_for_table_bytes"] = size - 7
    assert findings(played(values))[0] == Finding(
        "table.flash",
        FAULT,
        "table",
        f"{size} bytes",
        f"{size - 7} bytes of memory for the table",
        "the board in the prop file",
        "Cut 'beep' and 'long', store clips as mulaw instead of pcm16, or lower their rate_hz: the"
        " table is 7 bytes too large.",
    )


def test_a_table_without_clips_beyond_the_boards_flash_needs_fewer_parts(
    values: Values, played: Played
) -> None:
    values["effects"]["spark"] = {
        "lights": [{"group": "lamp", "fade": "flash", "at_ms": 1000 * at} for at in range(60)]
    }
    values["clips"] = {}
    size = len(played(values).prop.compiled.data)
    assert size > 256
    values["board"]["flash_for_table_bytes"] = 256
    found = only(played(values))
    assert (found.check, found.remedy) == (
        "table.flash",
        f"Leave out effects or fades: the table is {size - 256} bytes too large.",
    )


def test_a_frame_that_may_be_late_is_a_warning(values: Values, played: Played) -> None:
    """Four buttons with an effect each, which may be pressed in one frame."""
    values["effects"]["spark"]["sounds"] = []
    values["inputs"] = {f"button{at}": {} for at in range(4)}
    values["triggers"] = {
        f"fire{at}": {"mode": "once", "input": f"button{at}", "effects": ["spark"]}
        for at in range(4)
    }

    def work(clock_mhz: float) -> list[Finding]:
        values["board"]["processor"] = {"kind": "cortex_m", "clock_mhz": clock_mhz}
        found = findings(played(values, "tap button0 @1"))
        return [finding for finding in found if finding.check == "table.work"]

    (warning,) = work(4)
    assert (warning.weight, warning.subject, warning.limit) == (WARNING, "trigger 'fire0'", "90%")
    told = dict(warning.inputs)
    taken = sum(int(told[part]) for part in ("sound", "light", "starts"))
    assert float(told["share"].split()[0]) == pytest.approx(100 * taken / int(told["there"]), 1e-3)
    just_enough_mhz = 4 * taken / int(told["there"]) / 0.9
    assert len(work(0.999 * just_enough_mhz)) == 1
    assert work(1.001 * just_enough_mhz) == []


def test_nothing_is_late_on_a_board_without_a_trigger(values: Values, played: Played) -> None:
    values["triggers"] = {}
    values["board"]["processor"] = {"kind": "cortex_m", "clock_mhz": 0.01}
    found = findings_without_playing(played(values, "").prop)
    assert "table.work" not in {finding.check for finding in found}


@pytest.mark.parametrize(
    ("kind", "part"),
    [
        ("clip", {"file": "gone.wav"}),
        ("fade", {"segments": [{"to_percent": 0, "length_ms": 9}]}),
        ("input", {}),
        ("counter", {"maximum": 3}),
        ("selector", {"positions": ["a", "b"]}),
        ("effect", {"sounds": [{"clip": "beep"}]}),
        (
            "group",
            {
                "first_channel": 1,
                "leds": 1,
                "colour": "red",
                "forward_voltage_v": 1.75,
                "current_ma": 5,
            },
        ),
    ],
)
def test_a_part_that_nothing_uses_is_noted(
    values: Values, played: Played, kind: str, part: Values
) -> None:
    values["groups"]["lamp"]["channels"] = 1
    values.setdefault(f"{kind}s", {})["spare"] = part
    assert only(played(values)) == Finding(
        "sequence.unused",
        NOTE,
        f"{kind} 'spare'",
        "nothing that a trigger reaches uses it",
        "",
        PRACTICE,
        "Use it, or delete it.",
    )


def test_parts_count_as_used_in_each_of_their_uses(values: Values, played: Played) -> None:
    values["counters"] = {
        "shown": {"maximum": 3},
        "needed": {"maximum": 3},
        "changed": {"maximum": 3},
    }
    values["selectors"] = {"ring": {"positions": ["a", "b"]}}
    values["groups"]["lamp"] |= {"channels": 1}
    values["groups"]["gauge"] = {**values["groups"]["lamp"], "first_channel": 1, "gauge": "shown"}
    values["effects"]["spark"]["counts"] = [{"counter": "changed", "change": -1}]
    values["effects"] |= {
        name: {"sounds": [{"clip": "beep"}]} for name in ("begin", "during", "end", "empty")
    }
    values["triggers"]["fire"] |= {"when": {"ring": "a"}, "needs": "needed", "empty": "empty"}
    values["triggers"]["stay"] = {
        "mode": "while_held",
        "input": "lever",
        "after_held_ms": 500,
        "begin": "begin",
        "during": "during",
        "end": "end",
    }
    assert findings(played(values)) == []


def glowing(values: Values, ends_with: list[Values]) -> Values:
    """The lamp glows on the ambient layer, and a flash takes it over."""
    values["groups"]["lamp"]["merge"] = "latest"
    values["fades"]["glow"] = {"segments": [{"to_percent": 30, "length_ms": 500}]}
    values["effects"]["glow"] = {"layer": "ambient", "lights": [{"group": "lamp", "fade": "glow"}]}
    values["triggers"]["glow"] = {"mode": "always", "during": "glow"}
    values["fades"]["flash"]["segments"] = [
        {"shape": "step", "to_percent": 100, "length_ms": 100},
        *ends_with,
    ]
    return values


def test_a_flash_that_ends_dark_over_ambient_light_is_a_jump(
    values: Values, played: Played
) -> None:
    assert only(
        played(glowing(values, [{"shape": "decay", "to_percent": 0, "length_ms": 200}]))
    ) == Finding(
        "light.jump",
        WARNING,
        "effect 'spark', fade 'flash' on group 'lamp'",
        "ends at 0 % and then jumps to the ambient light",
        "no jump",
        PRACTICE,
        'End the fade with a segment of to_percent = "ambient".',
    )


@pytest.mark.parametrize(
    "change", ["to ambient", "highest", "nothing below", "never ends", "ambient alone"]
)
def test_a_flash_without_a_jump_is_none(values: Values, played: Played, change: str) -> None:
    glowing(
        values,
        [
            {
                "shape": "decay",
                "to_percent": "ambient" if change == "to ambient" else 0,
                "length_ms": 200,
            }
        ],
    )
    if change == "highest":
        values["groups"]["lamp"]["merge"] = "highest"
    if change == "nothing below":
        values["effects"]["glow"] = {"sounds": [{"clip": "beep", "gain_db": -12}]}
        del values["fades"]["glow"]
    if change == "never ends":
        values["fades"]["flash"]["loop"] = True
    if change == "ambient alone":
        values["fades"]["glow"]["segments"].append({"to_percent": 0, "length_ms": 500})
        values["fades"]["flash"]["segments"][-1]["to_percent"] = "ambient"
    assert "light.jump" not in {
        finding.check for finding in findings(played(values, "tap lever @2"))
    }


def held(values: Values, **trigger: str) -> Values:
    values["fades"] |= {
        "pulse": {
            "segments": [
                {"to_percent": 60, "length_ms": 900},
                {"to_percent": 20, "length_ms": 900},
            ],
            "loop": True,
        }
    }
    values["fades"] |= {"off": {"segments": [{"to_percent": 0, "length_ms": 50}]}}
    values["effects"] |= {
        name: {"lights": [{"group": "lamp", "fade": fade}]}
        for name, fade in (("burn", "pulse"), ("stop", "off"))
    }
    values["triggers"]["hold"] = {"mode": "while_held", "input": "lever", **trigger}
    if "end" not in trigger:
        del values["effects"]["stop"], values["fades"]["off"]
    return values


@pytest.mark.parametrize("part", ["begin", "during"])
def test_a_held_light_that_loops_without_an_end_is_endless(
    values: Values, played: Played, part: str
) -> None:
    assert only(played(held(values, **{part: "burn"}), "hold lever @1..2")) == Finding(
        "light.endless",
        WARNING,
        "trigger 'hold', group 'lamp'",
        "effect 'burn' loops a fade that nothing ends",
        "an end effect of the trigger that takes over the group",
        PRACTICE,
        "Give the trigger an end effect with a fade on this group.",
    )


def test_a_held_light_that_its_end_takes_over_is_not_endless(
    values: Values, played: Played
) -> None:
    assert findings(played(held(values, during="burn", end="stop"), "hold lever @1..2")) == []


@pytest.mark.parametrize(
    "missing", [["amplifier"], ["speaker"], ["supplies"], ["amplifier", "speaker", "supplies"]]
)
def test_parts_that_are_not_described_are_noted_where_there_is_sound(
    values: Values, played: Played, missing: list[str]
) -> None:
    for part in missing:
        del values[part]
    assert only(played(values)) == Finding(
        "sequence.undescribed",
        NOTE,
        ", ".join(missing),
        "not described, so level and amplifier current cannot be given",
        source="the prop file, where it is missing",
        remedy="Describe them; `fxseq new` writes a file that shows how.",
    )
    values["clips"], values["effects"]["spark"]["sounds"] = {}, []
    assert findings(played(values)) == []


def test_sounds_that_are_cut_are_counted_and_named(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", 0.01 * np.ones(16000))
    assert findings(played(values, "tap lever @1, tap lever @1.5")) == []
    assert only(played(values, "tap lever @1, tap lever @1.5, tap lever @1.8")) == Finding(
        "sound.voices",
        WARNING,
        "voices",
        "1 of 3 sounds are cut short ('beep')",
        "2 voices",
        "the board in the prop file",
        "Shorten the clips, repeat more slowly, or use more voices.",
    )


def test_effects_beyond_the_boards_places_are_counted_and_named(
    values: Values, played: Played
) -> None:
    del values["effects"]["spark"]["lights"], values["groups"], values["fades"]
    values["effects"]["spark"]["sounds"] = [{"clip": "beep", "at_ms": 3000}]
    values["board"]["voices"] = 16
    taps = [f"tap lever @{1 + 0.1 * tap:.1f}" for tap in range(14)]
    assert findings(played(values, ", ".join(taps[:12]))) == []
    assert only(played(values, ", ".join(taps))) == Finding(
        "effect.places",
        WARNING,
        "'spark'",
        "2 effects could not be finished",
        "12 effects or staggered fades at once",
        "firmware_spec/SPEC.md 5.5 R3",
        "Shorten the timelines or staggers, or repeat more slowly.",
    )


@pytest.mark.parametrize(("sounding_ms", "weight"), [(1, NOTE), (100, WARNING)])
def test_voices_beyond_full_scale_weigh_by_their_share(
    values: Values,
    played: Played,
    write_sound: Callable[..., None],
    sounding_ms: int,
    weight: Weight,
) -> None:
    write_sound("beep.wav", np.concatenate([[0], np.tile([0.75] * 4 + [-0.75] * 4, 2 * sounding_ms), [0]]))
    assert findings(played(values)) == []
    values["effects"]["spark"]["sounds"] *= 2
    assert only(played(values)) == Finding(
        "sound.saturated",
        weight,
        "sum of the voices",
        f"{sounding_ms / 3060:.2%} of the samples are at full scale",
        "0.1 % of the samples",
        PRACTICE,
        "Lower gain_db of the sounds that play together, or the level of their clips.",
    )


@pytest.mark.quick
@pytest.mark.parametrize(
    ("check", "weight", "change"),
    [
        ("clip.dc", WARNING, lambda values: None),
        ("light.flash", WARNING, lambda values: values["scripts"]["run"].update(presses=QUICK_TAPS)),
        (
            "light.red_flash",
            WARNING,
            lambda values: values.update(
                groups={"lamp": values["groups"]["lamp"] | {"colour": "red"}},
                scripts={"run": {"presses": QUICK_TAPS}},
            ),
        ),
        (
            "power.supply_current",
            WARNING,
            lambda values: values["supplies"]["wall"].update(maximum_current_ma=30),
        ),
        (
            "power.supply_current",
            FAULT,
            lambda values: values["supplies"]["wall"].update(maximum_current_ma=5),
        ),
        ("sound.clipping", WARNING, lambda values: values["amplifier"].update(gain_db=30)),
        (
            "hazard.hearing",
            FAULT,
            lambda values: values["speaker"].update(sensitivity_db=125, sensitivity_power_w=0.01),
        ),
        (
            "hazard.hearing_ceiling",
            FAULT,
            lambda values: values["speaker"].update(sensitivity_db=125, sensitivity_power_w=0.01),
        ),
        ("hazard.toy_level", NOTE, lambda values: values["speaker"].update(sensitivity_db=110)),
        ("hazard.flicker", WARNING, lambda values: values["board"].update(dimming_hz=490)),
        (
            "hazard.eye",
            NOTE,
            lambda values: values["groups"]["lamp"].update(current_ma=350, colour="white"),
        ),
        ("hazard.lithium", NOTE, lambda values: values["supplies"]["cells"].update(cell="li_ion")),
        ("sound.bits", NOTE, lambda values: values["board"].update(sound_bits=8)),
        ("sound.excursion", WARNING, lambda values: values["speaker"].update(excursion_mm=0.01)),
        ("sound.generic", NOTE, lambda values: values.update(speaker={"part": "40 mm, 8 ohm"})),
        ("sound.chamber", NOTE, lambda values: values.update(speaker={"part": "40 mm, 8 ohm"})),
        (
            "sound.small_chamber",
            WARNING,
            lambda values: values.update(speaker={"part": "28 mm, 8 ohm", "chamber_ml": 0.1}),
        ),
        ("sound.moving_mass", WARNING, lambda values: values["speaker"].update(sensitivity_db=40)),
        ("sound.free_air", NOTE, lambda values: values["speaker"].update(sensitivity_baffle=False)),
        (
            "sound.parameters",
            WARNING,
            lambda values: values.update(
                speaker={
                    "part": "40 mm, 8 ohm",
                    "chamber_ml": 50,
                    "moving_mass_g": 1.0,
                    "compliance_mm_per_n": 1.0,
                    "free_resonance_hz": 380,
                }
            ),
        ),
        (
            "hazard.long_flashing",
            WARNING,
            lambda values: values["scripts"]["run"].update(presses=SLOW_TAPS),
        ),
        (
            "sound.speaker_power",
            WARNING,
            lambda values: values["speaker"].update(rated_power_w=0.001),
        ),
    ],
)
def test_findings_of_the_floors_below_are_passed_on(
    values: Values,
    played: Played,
    write_sound: Callable[..., None],
    check: str,
    weight: Weight,
    change: Callable[[Values], object],
) -> None:
    values["scripts"] = {"run": {"presses": "tap lever @1"}}
    assert findings(played(values, None)) == []
    if check == "clip.dc":
        write_sound("beep.wav", np.full(1600, 0.02))
    change(values)
    found = {finding.check: finding.weight for finding in findings(played(values, None))}
    assert found[check] == weight


def on_cells(values: Values, minimum_v: float, gain_db: float) -> Values:
    """The tone peaks at half of 1 V and the gain; the amplifier loses 0.5 V of what the cells
    have.
    """
    values["supplies"]["cells"] |= {"minimum_v": minimum_v, "maximum_current_ma": 2000}
    values["amplifier"]["gain_db"] = gain_db
    return values


@pytest.mark.parametrize(("minimum_v", "noted"), [(2.6, False), (2.4, True)])
def test_sound_that_clips_on_flat_cells_alone_is_noted(
    values: Values, played: Played, minimum_v: float, noted: bool
) -> None:
    # 12 dB: 1.99 V, which 2.49 V leaves whole.
    found = [
        finding
        for finding in findings(played(on_cells(values, minimum_v, 12.0), supply="cells"))
        if finding.check.startswith("sound.")
    ]
    assert [(finding.check, finding.weight) for finding in found] == [
        ("sound.flat_supply", NOTE)
    ] * noted
    assert all(
        finding.figure.startswith("at 2.4 V, the lowest of its supply, it clips at ")
        and "quieter" in finding.figure
        for finding in found
    )


def test_cells_at_which_the_amplifier_is_silent_are_told(values: Values, played: Played) -> None:
    (found,) = [
        finding
        for finding in findings(played(on_cells(values, 0.4, 0.0), supply="cells"))
        if finding.check == "sound.flat_supply"
    ]
    assert found.figure.endswith("and is silent")


def test_what_clips_on_fresh_cells_is_told_as_clipping_alone(
    values: Values, played: Played
) -> None:
    found = {
        finding.check for finding in findings(played(on_cells(values, 2.0, 20.0), supply="cells"))
    }
    assert "sound.clipping" in found and "sound.flat_supply" not in found


def test_speaker_is_judged_by_the_freshest_supply_without_the_lights(
    values: Values, played: Played
) -> None:
    # Clipped at 3 V less what 2 ohm take of it, and at 3 V with nothing on them: the rating lies
    # between the two.
    values["supplies"]["cells"]["internal_resistance_ohm"] = 2.0
    sagged = played(on_cells(values, 0.0, 20.0), supply="cells")
    highest_w = sagged.heard.levels_on(3.0).speaker_highest_power_w
    assert sagged.heard.levels.speaker_highest_power_w < 0.95 * highest_w
    values["speaker"]["rated_power_w"] = 0.98 * highest_w
    assert "sound.speaker_power" in {
        finding.check for finding in findings(played(values, supply="cells"))
    }
    values["speaker"]["rated_power_w"] = 1.02 * highest_w
    assert "sound.speaker_power" not in {
        finding.check for finding in findings(played(values, supply="cells"))
    }


def test_the_heaviest_come_first(values: Values, played: Played) -> None:
    values["inputs"]["spare"] = {}
    values["supplies"]["wall"]["maximum_current_ma"] = 5
    values["speaker"]["rated_power_w"] = 0.001
    assert [finding.weight for finding in findings(played(values))] == [
        FAULT,
        WARNING,
        WARNING,
        NOTE,
    ]
    assert [finding.check for finding in findings_without_playing(played(values).prop)] == [
        "power.line_current",
        "sequence.unused",
    ]


def test_findings_without_playing_are_those_of_the_description(
    values: Values, build: Callable[[Values], Prop]
) -> None:
    prop = build(glowing(values, [{"to_percent": 0, "length_ms": 200}]))
    assert [finding.check for finding in findings_without_playing(prop)] == ["light.jump"]


@pytest.mark.parametrize(
    ("silence_ms", "weights"), [(0, []), (8, []), (10, [NOTE]), (25, [WARNING])]
)
def test_sound_that_comes_late_after_a_press_is_told(
    values: Values,
    played: Played,
    write_sound: Callable[..., None],
    silence_ms: int,
    weights: list[Weight],
) -> None:
    # 10 ms were rated no worse than none, 20 ms were: Jack, Mehrabi, Stockman and McPherson
    # (abstract). A frame of 1 ms comes on top.
    write_sound("beep.wav", np.concatenate([np.zeros(16 * silence_ms), np.tile([0.4, -0.4], 800)]))
    values["scripts"] = {"run": {"presses": "tap lever @1"}}
    assert [
        finding.weight
        for finding in findings(played(values, None))
        if finding.check == "sound.delay"
    ] == weights


def test_every_wall_adaptor_gets_its_caution(values: Values, played: Played) -> None:
    found = [
        finding for finding in checks.findings(played(values)) if finding.check == "hazard.adaptor"
    ]
    assert [(finding.weight, finding.subject) for finding in found] == [(NOTE, "supply 'wall'")]


def test_hours_a_day_and_space_count_for_hearing(values: Values, played: Played) -> None:
    values["speaker"] |= {"sensitivity_db": 125, "sensitivity_power_w": 0.01}

    def daily_level(**listening: object) -> str:
        values["listening"] = listening
        [found] = [
            finding
            for finding in findings(played(values))
            if finding.check == "hazard.hearing" and "hand" in finding.subject
        ]
        return found.figure.split("while it plays, ")[1].split(" dB(A)")[0]

    whole_day = float(daily_level())
    # Half the time, 3 dB less; full space, 6 dB less.
    assert float(daily_level(hours_a_day=4)) == pytest.approx(whole_day - 3.0, abs=0.11)
    assert float(daily_level(space="full")) == pytest.approx(whole_day - 6.0, abs=0.11)


@pytest.mark.parametrize(
    ("percent", "bits", "least"),
    [
        (1, 8, "1.8"),
        (1.8, 8, ""),
        (0.1, 12, "0.12"),
        (0.12, 12, ""),
        (0.006, 16, "0.0076"),
        (0.0076, 16, ""),
        (0, 8, ""),
    ],
)
def test_a_level_that_the_dimming_cannot_show_is_said(
    values: Values, build: Callable[..., Prop], percent: float, bits: int, least: str
) -> None:
    # CIE 1976: L* = 1 is Y = 1 / 903.3, 0.28 of 255 steps; L* = 1.8 is 0.51. L* = 0.1 is 0.45 of
    # 4095, 0.006 0.44 of 65535.
    values["board"]["pwm_bits"] = bits
    values["fades"]["flash"]["segments"][1]["to_percent"] = percent
    found = [
        finding
        for finding in checks.findings_without_playing(build(values))
        if finding.check == "light.dark"
    ]
    assert [finding.limit for finding in found] == (
        [f"{least} % is the lowest level that lights"] if least else []
    )
