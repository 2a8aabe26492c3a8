"""Soundings to samples: interpolated, faded, summed, ramped where cut, scaled by the volume,
saturated (SPEC 6.1).
"""

import numpy as np
from numpy.typing import NDArray

from fxseq.clips import decode as decode_clip
from fxseq.player.voices import Sounding
from fxseq.table import Table

Samples = NDArray[np.int32]

FULL_FADE = 32768
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


def _shift_toward_zero(value: Samples, bits: int) -> Samples:
    """value / 2**bits, rounded toward zero, without leaving 32 bits."""
    return value + ((value >> 31) & ((1 << bits) - 1)) >> bits


def alone(clip: ClipSamples, sounding: Sounding, step: int, first: int, last: int) -> Samples:
    """A sounding by itself before its gain, at board samples first..last - 1, with a clip in
    place of its own, at a step in place of its own.
    """
    raw = _interpolated(clip, step, sounding.looped, first - sounding.begin, last - sounding.begin)
    if sounding.released_at is not None and last > sounding.released_at:
        fade_from = max(first, sounding.released_at)
        gone = np.arange(
            fade_from - sounding.released_at, last - sounding.released_at, dtype=np.int64
        )
        factor = (FULL_FADE - gone * FULL_FADE // sounding.fall).astype(np.int32)
        raw[fade_from - first :] = _shift_toward_zero(raw[fade_from - first :] * factor, 15)
    return raw


def _interpolated(clip: ClipSamples, step: int, looped: bool, first: int, last: int) -> Samples:
    """Samples first..last - 1 of a clip at a step."""
    if step == 65536:
        return clip.first(last, looped)[first:].copy()
    position = np.arange(first, last, dtype=np.int64) * step
    place = position >> 16
    part = (position & 0xFFFF).astype(np.int32) >> 1
    samples = clip.first(int(place[-1]) + 2, looped)
    here = samples[place]
    there = samples[1:][place]
    return here + _shift_toward_zero((there - here) * part, 15)


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
        self._tail_at = 0
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
        raw = alone(self._clips[sounding.clip], sounding, sounding.step, first, last)
        return _shift_toward_zero(raw * np.int32(sounding.gain), 12)

    def _add_tails(self, total: Samples, start: int, soundings: list[Sounding]) -> None:
        """Where a sounding was cut, let its last value fall to zero instead of jumping there."""
        cuts = sorted(
            (item for item in soundings if item.cut_at is not None and item.cut_at >= start),
            key=lambda item: item.cut_order,
        )
        for sounding in cuts:
            at = sounding.cut_at
            self._add_tail(total, start, at)
            left = self._tail_left(at)
            last = int(self._values(sounding, at - 1, at)[0]) if at > sounding.begin else 0
            self._tail = min(max(left + last, -_TAIL_MOST), _TAIL_MOST)
            self._tail_at = at
        self._add_tail(total, start, start + len(total))

    def _tail_left(self, at: int) -> int:
        """What the tail was worth at the sample before `at`."""
        ramp = self._table.cut_ramp
        gone = at - self._tail_at
        return _divide(self._tail * (ramp - gone), ramp) if gone < ramp else 0

    def _add_tail(self, total: Samples, start: int, until: int) -> None:
        """Add the tail's samples from where it began, or from `start`, up to `until`."""
        ramp = self._table.cut_ramp
        low = max(start, self._tail_at)
        high = min(until, self._tail_at + ramp)
        if self._tail and low < high:
            left = ramp - 1 - np.arange(low - self._tail_at, high - self._tail_at, dtype=np.int64)
            value = np.abs(self._tail) * left // ramp
            total[low - start : high - start] += (value if self._tail > 0 else -value).astype(
                np.int32
            )

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
        return _shift_toward_zero(total * np.repeat(steps, self._table.samples_per_frame), 8)

    def _ramp_volume(self, steps: NDArray[np.int32]) -> None:
        """Fill frames of equal wanted volume; the volume moves VOLUME_STEP a frame."""
        if len(steps):
            way = self._volume_wanted - self._volume
            moved = np.minimum(VOLUME_STEP * np.arange(1, len(steps) + 1), abs(way))
            steps[:] = self._volume + np.sign(way) * moved
            self._volume = int(steps[-1])


def _divide(value: int, by: int) -> int:
    """value / by, rounded toward zero."""
    return value // by if value >= 0 else -(-value // by)
