"""Sounds for the page: clips as recorded, and how the board's samples come out of the speaker,
as the page can do it while it plays.
"""

import base64
import io
import math
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from fxseq.acoustics import (
    REFERENCE_PRESSURE_PA,
    clipping_voltage_v,
    full_scale_v,
    power_db,
    pressure_pa,
    settled_after_s,
    speaker_response,
)
from fxseq.bench.meters import without_tail
from fxseq.clips import read
from fxseq.clips.shaping import quantised
from fxseq.power import fresh_v
from fxseq.runs import Prop, condition_clips, conditioned
from fxseq.sequence import Clip

LONGEST_S = 0.25
"""Longest impulse response; a speaker in a prop is at rest long before."""
_QUIET_DB = 80.0
"""What comes after the response has lost so much of its energy is left out."""
_POINTS = 4096


def listening(prop: Prop) -> dict[str, Any]:
    """How samples sound through this amplifier and speaker at the hand; None where they or a supply
    are not described.

    rate_hz: of samples and impulse. gain_v_per_unit: volts for a sample of full scale, 1. clip_v:
    volts at which the amplifier clips on the fresh supply. impulse: response of the speaker to a
    sample of one volt, in units of a full-scale output: the loudest sine that the amplifier can
    give comes out with an amplitude of 1. level_at_full_scale_db: level of a sine of that amplitude
    at the hand. [dB re 20 uPa]
    """
    sequence = prop.sequence
    supply = prop.supply()
    rate_hz = sequence.board.sample_rate_hz
    amplifier = sequence.amplifier
    speaker = sequence.speaker
    place = sequence.listening
    if amplifier is None or supply is None:
        return dict.fromkeys(("gain_v_per_unit", "clip_v", "impulse", "level_at_full_scale_db")) | {
            "rate_hz": rate_hz
        }
    clip_v = float(
        clipping_voltage_v(
            amplifier, fresh_v(supply[1]).typical, speaker.impedance_ohm if speaker else math.inf
        )
    )
    found = {"rate_hz": rate_hz, "gain_v_per_unit": full_scale_v(amplifier), "clip_v": clip_v}
    if speaker is None:
        return {**found, "impulse": None, "level_at_full_scale_db": None}
    frequencies_hz = np.linspace(0, rate_hz / 2, _POINTS)[1:]
    most_pa = clip_v * float(
        np.abs(speaker_response(speaker, place.hand_m, place.space)(frequencies_hz)).max()
    )
    click_v = np.zeros(math.ceil(min(settled_after_s(speaker), LONGEST_S) * rate_hz) + 1)
    click_v[0] = 1.0
    impulse = pressure_pa(click_v, rate_hz, speaker, place.hand_m, place.space) / most_pa
    level_db = float(power_db(most_pa**2 / 2 / REFERENCE_PRESSURE_PA**2))
    return {
        **found,
        "impulse": without_tail(impulse, _QUIET_DB).tolist(),
        "level_at_full_scale_db": level_db,
    }


def made_clip(name: str, prop: Prop) -> dict[str, Any]:
    """A clip as the board plays it, beside what was read and cut for it.

    before, after: their figures. done: what was done, in words. wav: what the board puts out, a
    loop three times, in base64. first_ms, from_ms: where the cut and the sound begin in the file;
    once_ms: how long the sound is, a loop once. Raises ClipError.
    """
    folder = prop.path.parent
    ready = prop.clips.get(name)
    if ready is None:
        clip = condition_clips([name], prop.sequence, folder)[name]
    else:
        clip = conditioned(ready, prop.sequence, folder)
    values = clip.as_dict()
    return {
        **{key: values[key] for key in ("before", "after", "bytes", "coding", "loop_ms")},
        "done": clip.text,
        "first_ms": clip.first_ms,
        "from_ms": clip.first_ms + clip.prepared.conditioning.trimmed_ms[0],
        "once_ms": clip.after.duration_ms,
        "wav": base64.b64encode(_wav(quantised(clip.played)[0], clip.board_rate_hz)).decode(),
    }


def _wav(samples: NDArray[Any], rate_hz: int) -> bytes:
    data = io.BytesIO()
    soundfile.write(data, samples, rate_hz, format="WAV", subtype="PCM_16")
    return data.getvalue()


def recording_wav(name: str, clip: Clip, folder: Path) -> bytes:
    """The whole recording of a clip in the channel that it uses, as a WAV of one channel and 16
    bit. Raises ClipError.
    """
    whole = read(
        name, clip.model_copy(update={"start_ms": 0.0, "end_ms": None, "start_cue": None}), folder
    )
    return _wav(whole.samples.clip(-1, 1), whole.rate_hz)
