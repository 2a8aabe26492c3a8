"""Sound against light, and sound against the hand, by published limits.

ITU-R BT.1359-1 (1998), extract read: sound is noticed from about 45 ms before the picture and 125
ms after it, and is not acceptable from about 90 ms before and 185 ms after. Latency of instruments:
Jack, Mehrabi, Stockman and McPherson, abstract read.
"""

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest
import soundfile
import tomlkit

from fxseq.acoustics import SPEED_OF_SOUND_M_PER_S
from fxseq.checks import findings, findings_without_playing
from fxseq.checks.timing import EVEN_MS, FELT_MS, NOTICED_MS, TOLERATED_MS, UNEVEN_MS, UNFELT_MS
from fxseq.runs import Prop, load_prop, perform
from fxseq.sequence import Finding, Weight

NOTE, WARNING, _ = Weight


def test_limits_are_the_published_ones() -> None:
    assert (NOTICED_MS, TOLERATED_MS) == ((-125.0, 45.0), (-185.0, 90.0))
    # A wait of 10 ms was rated no worse than none; 20 ms, and 10 ms that varied by 3 ms either way,
    # were rated worse.
    assert (UNFELT_MS, FELT_MS, UNEVEN_MS) == (10.0, 20.0, 2 * 3.0)
    # Half of that range: a choice, no source.
    assert EVEN_MS == 3.0


def test_sound_takes_29_ms_for_10_m() -> None:
    # As a handbook page puts it.
    assert 1000 * 10 / SPEED_OF_SOUND_M_PER_S == pytest.approx(29, abs=0.5)


def prop(
    folder: Path,
    sound_ms: float = 0,
    light_ms: float = 0,
    away_m: float = 0.05,
    silences_ms: tuple[float, ...] = (0,),
) -> Prop:
    """One with effects that take turns, a click after so much silence and a flash each, heard at
    one distance. A frame is a millisecond.
    """
    clips = {
        f"click_{number}": {"file": f"click_{number}.wav", "coding": "pcm16"}
        for number in range(len(silences_ms))
    }
    for clip, silence_ms in zip(clips, silences_ms, strict=True):
        click = np.concatenate([np.zeros(round(16 * silence_ms)), np.tile([0.5, -0.5], 500), [0.0]])
        soundfile.write(folder / f"{clip}.wav", click, 16_000, subtype="PCM_16")
    values = {
        "format": 1,
        "title": "Timing",
        "board": {"sample_rate_hz": 16_000, "samples_per_frame": 16, "channels": 1},
        "listening": {"hand_m": away_m, "audience_m": away_m},
        "inputs": {"lever": {}},
        "groups": {
            "lamp": {
                "first_channel": 0,
                "leds": 1,
                "colour": "amber",
                "forward_voltage_v": 2.0,
                "current_ma": 10,
            }
        },
        "clips": clips,
        "fades": {
            "flash": {
                "segments": [
                    {"shape": "step", "to_percent": 100, "length_ms": 100},
                    {"shape": "step", "to_percent": 0},
                ]
            }
        },
        "effects": {
            f"cue_{clip}": {
                "sounds": [{"clip": clip, "at_ms": sound_ms}],
                "lights": [{"group": "lamp", "fade": "flash", "at_ms": light_ms}],
            }
            for clip in clips
        },
        "triggers": {
            "fire": {"mode": "once", "input": "lever", "effects": [f"cue_{clip}" for clip in clips]}
        },
    }
    path = folder / "timing.toml"
    path.write_text(tomlkit.dumps(values), encoding="utf-8")
    return load_prop(path)


def of(found: Iterable[Finding], check: str) -> list[Weight]:
    return [finding.weight for finding in found if finding.check == check]


@pytest.mark.parametrize(
    ("sound_ms", "light_ms", "weight"),
    [
        (0, 44, []),
        (0, 46, [NOTE]),
        (0, 89, [NOTE]),
        (0, 91, [WARNING]),
        (124, 0, []),
        (126, 0, [NOTE]),
        (184, 0, [NOTE]),
        (186, 0, [WARNING]),
    ],
)
def test_offset_is_weighed_by_both_limits(
    tmp_path: Path, sound_ms: float, light_ms: float, weight: list[Weight]
) -> None:
    # At 5 cm sound takes 0.15 ms.
    assert (
        of(findings_without_playing(prop(tmp_path, sound_ms, light_ms)), "sound.offset") == weight
    )


@pytest.mark.parametrize(
    ("away_m", "weight"), [(42.5, []), (43.5, [NOTE]), (63.0, [NOTE]), (64.0, [WARNING])]
)
def test_distance_alone_can_be_too_much(
    tmp_path: Path, away_m: float, weight: list[Weight]
) -> None:
    # 125 ms are 42.9 m at 343 m/s, 185 ms are 63.5 m.
    assert of(findings_without_playing(prop(tmp_path, away_m=away_m)), "sound.offset") == weight


@pytest.mark.parametrize(
    ("silence_ms", "weight"), [(9.0, []), (9.1, [NOTE]), (19.0, [NOTE]), (19.1, [WARNING])]
)
def test_wait_of_95_presses_in_100_is_held_against_10_and_20_ms(
    tmp_path: Path, silence_ms: float, weight: list[Weight]
) -> None:
    # A constant 10 ms was rated no worse than none, 20 ms were (Jack and others, as above). 95
    # presses in 100 wait 0.95 ms for the frame or less.
    late = prop(tmp_path, silences_ms=(silence_ms,))
    assert of(findings(perform(late, late.script("tap lever @1")[0])), "sound.delay") == weight


@pytest.mark.parametrize(
    ("later_ms", "weight"), [(2.2, []), (2.3, [NOTE]), (5.1, [NOTE]), (5.3, [WARNING])]
)
def test_wait_that_changes_is_held_against_3_and_6_ms(
    tmp_path: Path, later_ms: float, weight: list[Weight]
) -> None:
    # 10 ms that varied by 3 ms either way were rated worse than 10 ms. Of two clips by turns, the
    # fifth and the ninety-fifth press in 100 wait 0.8 ms longer apart than one begins after the
    # other.
    assert (
        of(
            findings_without_playing(prop(tmp_path, silences_ms=(5.0, 5.0 + later_ms))),
            "sound.jitter",
        )
        == weight
    )
