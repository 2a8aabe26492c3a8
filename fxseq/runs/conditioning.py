"""A clip before and after: the recording as it was read and cut, and what the board plays."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import heard_response
from fxseq.acoustics.decibels import known, power_db
from fxseq.clips import PreparedClip, decode, loudest, read
from fxseq.runs.prop import prepare_clips
from fxseq.sequence import model as m

TURNS = 3
"""Times that a loop is played, so that its seam is heard."""
_FULL_SCALE = 32768


@dataclass(frozen=True, eq=False)
class Sounding:
    """A sound by itself: samples of shape (n,), full scale 1. loudest: as `PreparedClip` has it."""

    samples: NDArray[np.float64]
    rate_hz: float
    loudest: float

    @property
    def duration_ms(self) -> float:
        """How long it is."""
        return 1000 * len(self.samples) / self.rate_hz

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; a level is None for silence. The RMS of a sine at full
        scale is -3 dBFS.
        """
        square = np.square(self.samples)
        levels = {
            "peak_dbfs": square.max(),
            "rms_dbfs": square.mean(),
            "loudest_dbfs": self.loudest**2,
        }
        return {
            "rate_hz": round(self.rate_hz),
            "duration_ms": round(self.duration_ms, 2),
            **{key: known(round(float(power_db(value)), 2)) for key, value in levels.items()},
        }


@dataclass(frozen=True, eq=False)
class Conditioned:
    """A clip before and after. before: as read and cut; after: as the table holds it, decoded, each
    loop once.

    played: what the board puts out at its rate, a loop TURNS times; shape (n,), full scale 1.
    first_ms: where `before` begins in its file. [ms]
    """

    clip: m.Clip
    prepared: PreparedClip
    before: Sounding
    after: Sounding
    played: NDArray[np.float64]
    board_rate_hz: int
    first_ms: float

    @property
    def done(self) -> dict[str, Any]:
        """What was done where that shows only when it is done: plain values, only of those steps
        that the clip asks for.
        """
        done = self.prepared.conditioning
        before_hz = self.before.rate_hz
        values: dict[str, Any] = {}
        if self.clip.trim_below_dbfs is not None:
            values |= dict(
                zip(
                    ("trimmed_before_ms", "trimmed_behind_ms"),
                    (round(cut_ms, 2) for cut_ms in done.trimmed_ms),
                    strict=True,
                )
            )
        if done.found_loop:
            places = (done.found_loop.start, done.found_loop.end, done.found_loop.join)
            start_ms, end_ms, join_ms = (round(1000 * place / before_hz, 2) for place in places)
            values["loop_found"] = {
                "start_ms": start_ms,
                "end_ms": end_ms,
                "cross_fade_ms": join_ms,
                "match": round(done.found_loop.match, 3),
            }
        if self.clip.limit_to_dbfs is not None:
            values["limited_db"] = round(done.limited_db, 2)
        return values

    @property
    def text(self) -> list[str]:
        """What was done, in words."""
        done = self.done
        words = []
        if "trimmed_before_ms" in done:
            words.append(
                f"trimmed by {done['trimmed_before_ms']:.0f} ms before and"
                f" {done['trimmed_behind_ms']:.0f} ms behind the sound"
            )
        if "loop_found" in done:
            loop = done["loop_found"]
            span = f"loop found from {loop['start_ms']:.0f} to {loop['end_ms']:.0f} ms"
            words.append(
                f"{span}, match {loop['match']:.2f}, cross-fade {loop['cross_fade_ms']:.0f} ms"
            )
        if "limited_db" in done:
            words.append(f"peaks turned down by up to {done['limited_db']:.1f} dB")
        return words

    def as_dict(self) -> dict[str, Any]:
        """The clip in numbers, in plain values for `--json`."""
        loop = self.prepared.loop and [
            round(1000 * place / self.prepared.rate_hz, 2) for place in self.prepared.loop
        ]
        return {
            "before": self.before.as_dict(),
            "after": self.after.as_dict(),
            "coding": self.prepared.coding,
            "bytes": len(self.prepared.data),
            "loop_ms": loop,
            **self.done,
        }


def condition_clips(
    names: Iterable[str], sequence: m.Sequence, folder: Path
) -> dict[str, Conditioned]:
    """The clips of these names. Raises ClipError with the faults of all, and of those that they
    are matched to.
    """
    names = list(dict.fromkeys(names))
    prepared = prepare_clips(names, sequence, folder)
    return {name: conditioned(prepared[name], sequence, folder) for name in names}


def conditioned(prepared: PreparedClip, sequence: m.Sequence, folder: Path) -> Conditioned:
    """A clip of the sequence that has been made ready. Raises ClipError."""
    clip = sequence.clips[prepared.name]
    ear = heard_response(sequence.speaker)
    recording = read(prepared.name, clip, folder)
    before = Sounding(
        recording.samples, recording.rate_hz, loudest(recording.samples, recording.rate_hz, ear)
    )
    stored = stored_samples(prepared)
    after = Sounding(
        stored, prepared.rate_hz, loudest(stored, prepared.rate_hz, ear, prepared.loop)
    )
    board_hz = sequence.board.sample_rate_hz
    first_ms = 1000 * recording.first_frame / recording.rate_hz
    played = as_played(prepared, board_hz)
    return Conditioned(clip, prepared, before, after, played, board_hz, first_ms)


def stored_samples(prepared: PreparedClip) -> NDArray[np.float64]:
    """What the table gives back, each loop once; shape (n,), full scale 1."""
    return (
        decode(
            prepared.data,
            prepared.coding,
            len(prepared.samples),
            prepared.loop and prepared.loop[0],
        )
        / _FULL_SCALE
    )


def as_played(prepared: PreparedClip, board_hz: int) -> NDArray[np.float64]:
    """What the board puts out at its rate, a loop TURNS times, with straight lines between the
    samples; shape (n,), full scale 1.
    """
    stored = stored_samples(prepared)
    turns = [stored[slice(*prepared.loop)]] * (TURNS - 1) if prepared.loop else []
    samples = np.concatenate([stored, *turns])
    count = max(round(len(samples) * board_hz / prepared.rate_hz), 1)
    return np.interp(
        np.arange(count) * (prepared.rate_hz / board_hz), np.arange(len(samples)), samples
    )
