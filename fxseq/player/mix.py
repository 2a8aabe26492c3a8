"""Soundings to samples: interpolated, faded, summed, falling where cut, scaled by the volume,
saturated (SPEC 6.1).
"""

import numpy as np
from numpy.typing import NDArray

from fxseq.clips import decode as decode_clip
from fxseq.player.voices import FADE_GROUP, FULL_FACTOR, Sounding
from fxseq.table import Table

Samples = NDArray[np.int32]

FULL_VOLUME = 256
VOLUME_STEP = 4
_TAIL_MOST = (1 << 20) - 1


class ClipSamples:
    """Decoded samples of one clip."""

    def __init__(self, samples: NDArray[np.int16], loop_start: int | None) -> None:
        self.samples = samples.astype(np.int32)
        self._loop_start = loop_start

    def first(self, count: int, looped: bool) -> Samples:
        """Its first `count` samples: of a looped sound as often round as it takes, of another
        with silence behind the last.
        """
        missing = count - len(self.samples)
        if missing <= 0:
            return self.samples[:count]
        behind = (
            np.resize(self.samples[self._loop_start :], missing)
            if looped
            else np.zeros(missing, dtype=np.int32)
        )
        return np.concatenate((self.samples, behind))


def alone(
    clip: ClipSamples,
    sounding: Sounding,
    step: int,
    gain: int,
    first: int,
    last: int,
) -> Samples:
    """What a sounding adds at board samples first..last - 1, with a clip, a step and a gain in
    place of its own.
    """
    raw = _interpolated(clip, step, sounding.looped, first - sounding.begin, last - sounding.begin)
    gains: int | Samples = gain
    if sounding.released_at is not None and last > sounding.released_at:
        gains = faded(gain, sounding, np.arange(first, last) - sounding.released_at)
    return (raw * np.asarray(gains, dtype=np.int32)) >> 12


def faded(gain: int, sounding: Sounding, gone: NDArray[np.integer]) -> Samples:
    """Gain of a sound that has been let go, `gone` samples afterwards; below 0 is before."""
    in_frame = gone % sounding.samples_per_frame
    group_begin = np.maximum(gone - in_frame % FADE_GROUP, 0)
    return (gain * (FULL_FACTOR - group_begin * sounding.loss >> 16) >> 15).astype(np.int32)


def _interpolated(clip: ClipSamples, step: int, looped: bool, first: int, last: int) -> Samples:
    """Samples first..last - 1 of a clip at a step."""
    if step == 65536:
        return clip.first(last, looped)[first:]
    position = np.arange(first, last, dtype=np.int64) * step
    place = position >> 16
    part = (position >> 8 & 0xFF).astype(np.int32)
    samples = clip.first(int(place[-1]) + 2, looped)
    here = samples[place]
    there = samples[1:][place]
    return here + ((there - here) * part >> 8)


class Mixer:
    """Renders soundings, stretch after stretch."""

    def __init__(self, table: Table) -> None:
        self._table = table
        self._clips = [
            ClipSamples(
                decode_clip(clip.data, clip.coding.text, clip.samples, clip.loop_start),
                clip.loop_start,
            )
            for clip in table.clips
        ]
        self._tail = 0
        self._volume = self._volume_wanted = FULL_VOLUME

    def mix(
        self, soundings: list[Sounding], volumes: list[tuple[int, int]], low: int, high: int
    ) -> tuple[NDArray[np.int16], int]:
        """Samples of frames low..high - 1, and how many of them were saturated.

        volumes: (frame, volume) in order, the wanted volume from that frame on.
        """
        size = self._table.samples_per_frame
        start = low * size
        end = high * size
        total = np.zeros(end - start, dtype=np.int32)
        for sounding in soundings:
            first = max(sounding.begin, start)
            last = min(sounding.end, end)
            if first < last:
                total[first - start : last - start] += self._values(sounding, first, last)
        self._add_tails(total, start, soundings)
        scaled = self._apply_volume(total, volumes, low, high)
        samples = np.clip(scaled, -32768, 32767).astype(np.int16)
        return samples, int(np.count_nonzero(samples != scaled))

    def _values(self, sounding: Sounding, first: int, last: int) -> Samples:
        """What one sounding adds at board samples first..last - 1."""
        clip = self._clips[sounding.clip]
        return alone(clip, sounding, sounding.step, sounding.gain, first, last)

    def _add_tails(self, total: Samples, start: int, soundings: list[Sounding]) -> None:
        """Where a sounding was cut, let its last value fall to zero instead of jumping there."""
        cuts = sorted(
            (item for item in soundings if item.cut_at is not None and item.cut_at >= start),
            key=lambda item: item.cut_order,
        )
        done = start
        for sounding in cuts:
            at = sounding.cut_at
            self._fall(total[done - start : at - start])
            done = at
            last = int(self._values(sounding, at - 1, at)[0]) if at > sounding.begin else 0
            self._tail = min(max(self._tail + last, -_TAIL_MOST), _TAIL_MOST)
        self._fall(total[done - start :])

    def _fall(self, total: Samples) -> None:
        """Add the tail to as many samples as these, while there is any of it."""
        tail = self._tail
        for place in range(len(total)):
            if tail == 0:
                break
            tail -= (tail >> 5) + (tail > 0)
            total[place] += tail
        self._tail = tail

    def _apply_volume(
        self, total: Samples, volumes: list[tuple[int, int]], low: int, high: int
    ) -> Samples:
        if not volumes and self._volume == self._volume_wanted == FULL_VOLUME:
            return total
        steps = np.empty(high - low, dtype=np.int32)
        at = low
        for frame, wanted in [*volumes, (high, self._volume_wanted)]:
            self._ramp_volume(steps[at - low : frame - low])
            at = frame
            self._volume_wanted = wanted if frame < high else self._volume_wanted
        return total * np.repeat(steps, self._table.samples_per_frame) >> 8

    def _ramp_volume(self, steps: NDArray[np.int32]) -> None:
        """Fill frames of equal wanted volume; the volume moves VOLUME_STEP a frame."""
        if len(steps):
            way = self._volume_wanted - self._volume
            moved = np.minimum(VOLUME_STEP * np.arange(1, len(steps) + 1), abs(way))
            steps[:] = self._volume + np.sign(way) * moved
            self._volume = int(steps[-1])
