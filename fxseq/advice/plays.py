"""How often and how a press script plays a clip: the soundings by which ways of storing it are
judged.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.advice.loss import Ear
from fxseq.clips import PreparedClip, decode
from fxseq.player import ClipSamples, Sounding, alone
from fxseq.runs import Performance
from fxseq.table.limits import UNITY_GAIN

_MOST = 3
"""Soundings that stand for all of a clip: a short, a usual and a long one. The total is measured
on the whole run.
"""
_LONGEST_S = 8.0
"""Length of a held loop that stands for the rest. [s]"""
_UNIT_STEP = 65536
_PITCH_BITS = 12


@dataclass(frozen=True, eq=False)
class Play:
    """A sounding that stands for some.

    samples: that the board gives of it, at full gain, with the clip as it is meant, shape (n,).
    gain: of those that it stands for, in the mean, as a factor. pressure: at the ear, with that
    gain. [Pa] weight: how many such last as long as all that it stands for. count: how many these
    are.
    """

    sounding: Sounding
    samples: NDArray[np.int32]
    gain: float
    pressure: NDArray[np.float64]
    weight: float
    count: int

    @classmethod
    def whole(cls, clip: PreparedClip, ear: Ear, board_rate_hz: int) -> "Play":
        """A clip from begin to end, once."""
        count = len(clip.samples)
        sounding = Sounding(0, 0, 0, count, _UNIT_STEP, UNITY_GAIN, False, None, 0, 0)
        samples = clip.samples.astype(np.int32)
        return cls(sounding, samples, 1.0, ear.pressure(samples, board_rate_hz), 1.0, 1)

    def of(self, stored: PreparedClip, board_rate_hz: int) -> NDArray[np.int32]:
        """What the board gives of it with the clip as it is stored; shape (n,)."""
        pitch = self.sounding.step * (1 << _PITCH_BITS) // _UNIT_STEP
        step = round(stored.rate_hz * _UNIT_STEP / board_rate_hz) * pitch >> _PITCH_BITS
        return _sound(_samples(stored), self.sounding, step, len(self.samples))

    def heard(self, ear: Ear, board_rate_hz: int) -> float:
        """Loudness over time of all that it stands for. [sone s]"""
        return self.weight * ear.loudness(self.pressure, board_rate_hz)

    def lost(self, stored: PreparedClip, ear: Ear, board_rate_hz: int) -> float:
        """Loudness over time of what is lost of all that it stands for, with the clip as it is
        stored. [sone s]
        """
        error = self.gain * (self.samples - self.of(stored, board_rate_hz))
        return self.weight * ear.lost(self.pressure, error, board_rate_hz)


def plays_of(performance: Performance, name: str, ear: Ear) -> list[Play]:
    """What stands for all soundings of a clip in a run, whose clips are stored plain at the
    board's rate; empty where there are none.
    """
    prop = performance.prop
    rate_hz = performance.rate_hz
    samples = _samples(prop.clips[name])
    index = prop.compiled.names.clips.index(name)
    until = performance.played.until_frame * prop.compiled.table.samples_per_frame
    longest = round(_LONGEST_S * rate_hz)
    of_clip = [sounding for sounding in performance.played.soundings if sounding.clip == index]
    heard = [sounding for sounding in of_clip if sounding.begin < min(sounding.end, until)]
    found = []
    for group in _groups(heard):
        lengths = [min(sounding.end, until) - sounding.begin for sounding in group]
        middle = len(group) // 2
        shown = _sound(samples, group[middle], group[middle].step, min(lengths[middle], longest))
        gain = math.sqrt(sum(sounding.gain**2 for sounding in group) / len(group)) / UNITY_GAIN
        pressure = ear.pressure(gain * shown, rate_hz)
        found.append(
            Play(group[middle], shown, gain, pressure, sum(lengths) / len(shown), len(group))
        )
    return found


def _groups(soundings: Iterable[Sounding]) -> list[list[Sounding]]:
    """At most so many groups of soundings that are alike in length and pitch."""
    ordered = sorted(soundings, key=lambda sounding: (sounding.end - sounding.begin, sounding.step))
    if not ordered:
        return []
    places = np.array_split(np.arange(len(ordered)), min(_MOST, len(ordered)))
    return [[ordered[place] for place in group] for group in places]


def _samples(clip: PreparedClip) -> ClipSamples:
    start = clip.loop and clip.loop[0]
    return ClipSamples(decode(clip.data, clip.coding, len(clip.samples), start), start)


def _sound(clip: ClipSamples, sounding: Sounding, step: int, count: int) -> NDArray[np.int32]:
    begin = sounding.begin
    return alone(clip, sounding, step, UNITY_GAIN, begin, begin + count)
