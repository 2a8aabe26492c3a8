"""From a clip of the sequence file to the samples that go into the table."""
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.clips import shaping
from fxseq.clips.coding import Coding
from fxseq.clips.encoding import encode
from fxseq.clips.examine import Shaped, examine
from fxseq.clips.recording import Recording, fault, read
from fxseq.sequence.derived import clip_rate_hz
from fxseq.sequence.errors import ClipError, Fault
from fxseq.sequence.finding import Finding
from fxseq.sequence.model import Board, Clip, Loop

SHORTEST_LOOP = 32
"""Samples. Bringing a shorter loop to a whole number of samples would move its pitch by more than 1.6 %."""

Weighting = Callable[[int], Sequence[float]]


def _alike(rate_hz: int) -> Sequence[float]:
    return (1.0,)


@dataclass(frozen=True, eq=False)
class PreparedClip:
    """A clip ready for the table.

    samples: shape (n,), int16, read-only; nothing after the end of a loop.
    rate_hz: samples a second at which the clip sounds as recorded.
    coding: how the table stores it.
    data: its bytes there.
    loop: (start, end) in samples, end exclusive; None without a loop.
    findings: what to tell the maker about it.
    """

    name: str
    samples: NDArray[np.int16]
    rate_hz: int
    coding: Coding
    data: bytes
    loop: tuple[int, int] | None
    findings: tuple[Finding, ...]


def prepare(name: str, clip: Clip, board: Board, folder: Path, weighting: Weighting = _alike) -> PreparedClip:
    """Read, cut, resample, fade, level and round a clip, in this order.

    folder: where the clip's file name starts, that of the sequence file.
    weighting: the weighting of coding errors at a rate [Hz], as `encode` takes it; all alike unless given.
    Raises ClipError with every fault found.

    The same WAV, AIFF or FLAC file gives the same samples on every machine: all steps are float64, and the rounding at the end hides
    the last bits in which machines differ (`shaping.quantised`). OGG and MP3 are decoded in ways that differ by a step now and then.
    """
    faults = _setting_faults(name, clip, board)
    try:
        recording = read(name, clip, folder)
    except ClipError as error:
        raise ClipError(*faults, *error.faults) from None
    file_loop, loop_faults = _loop(name, clip, recording)
    faults += loop_faults + _fade_faults(name, clip, recording, file_loop)
    if faults:
        raise ClipError(*faults)
    shaped = _shape(name, clip, clip_rate_hz(clip, board), recording, file_loop)
    shaped.samples.setflags(write=False)
    findings = examine(name, clip, board, recording, shaped)
    data = encode(shaped.samples, clip.coding, shaped.loop and shaped.loop[0], weighting(shaped.rate_hz))
    return PreparedClip(name, shaped.samples, shaped.rate_hz, clip.coding, data, shaped.loop, findings)


def _setting_faults(name: str, clip: Clip, board: Board) -> list[Fault]:
    """Settings that cannot be right, whatever the file holds."""
    faults = []
    if clip.rate_hz and clip.rate_hz > board.sample_rate_hz:
        allowed, remedy = f"up to the board's {board.sample_rate_hz} Hz", "A higher rate takes flash and cannot be heard."
        faults.append(fault(name, clip, f"rate_hz is {clip.rate_hz} Hz", allowed, remedy))
    if clip.peak_to_dbfs is not None and clip.rms_to_dbfs is not None:
        faults.append(fault(name, clip, "both peak_to_dbfs and rms_to_dbfs are set", "one of them"))
    if clip.loop and clip.fade_out_ms:
        remedy = "Leave it out; the sound's release_ms ends a loop."
        faults.append(fault(name, clip, "fade_out_ms is set, but a clip with a loop has no end", "", remedy))
    return faults


def _fade_faults(name: str, clip: Clip, recording: Recording, loop: tuple[int, int] | None) -> list[Fault]:
    """Fades that take more than there is, or would make a loop swell at every turn."""
    kept_ms, fades_ms = 1000 * len(recording.samples) / recording.rate_hz, clip.fade_in_ms + clip.fade_out_ms
    if loop and clip.fade_in_ms > 1000 * loop[0] / recording.rate_hz:
        what = f"the fade-in of {clip.fade_in_ms:g} ms reaches into the loop"
        return [fault(name, clip, what, f"up to {1000 * loop[0] / recording.rate_hz:.0f} ms, the loop's start")]
    if fades_ms > kept_ms:
        return [fault(name, clip, f"the fades take {fades_ms:g} ms together", f"up to the {kept_ms:.0f} ms that the cut keeps")]
    return []


def _loop(name: str, clip: Clip, recording: Recording) -> tuple[tuple[int, int] | None, list[Fault]]:
    """The loop in frames of the recording, before resampling."""
    frames, rate_hz = len(recording.samples), recording.rate_hz
    if clip.loop is None:
        return None, []
    if clip.loop == "whole":
        return (0, frames), []
    if isinstance(clip.loop, Loop):
        end = frames if clip.loop.end_ms is None else round(clip.loop.end_ms * rate_hz / 1000)
        return _inside(name, clip, recording, round(clip.loop.start_ms * rate_hz / 1000), end)
    if not recording.marks.loops:
        remedy = "Set the loop in the sound editor and export as WAV, or give start_ms and end_ms."
        return None, [fault(name, clip, "loop is file, but the file has no loop", "a smpl chunk with a forward loop", remedy)]
    start, end = recording.marks.loops[0]
    return _inside(name, clip, recording, start - recording.first_frame, end - recording.first_frame)


def _inside(name: str, clip: Clip, recording: Recording, start: int, end: int) -> tuple[tuple[int, int] | None, list[Fault]]:
    """The loop, or a fault where it is not inside the cut."""
    frames, rate_hz = len(recording.samples), recording.rate_hz
    if 0 <= start < end <= frames:
        return (start, end), []
    what = f"the loop is from {1000 * start / rate_hz:.0f} to {1000 * end / rate_hz:.0f} ms of the cut clip"
    return None, [fault(name, clip, what, f"inside 0 to {1000 * frames / rate_hz:.0f} ms, end after start", "Move the loop or the cut.")]


def _shape(name: str, clip: Clip, rate_hz: int, recording: Recording, file_loop: tuple[int, int] | None) -> Shaped:
    """All steps from the recording to 16-bit samples."""
    samples, loop = recording.samples, None
    if clip.remove_dc:
        samples = samples - samples.mean()
    if file_loop:
        samples, loop = shaping.resample_loop(samples, file_loop, recording.rate_hz, rate_hz)
        if loop[1] - loop[0] < SHORTEST_LOOP:
            what, allowed = f"the loop is {loop[1] - loop[0]} samples long at {rate_hz} Hz", f"{SHORTEST_LOOP} samples or more"
            raise ClipError(fault(name, clip, what, allowed, "Make the loop longer, for example several periods."))
    else:
        samples = shaping.resample(samples, recording.rate_hz, rate_hz)
    fade_in, fade_out = (round(ms * rate_hz / 1000) for ms in (clip.fade_in_ms, clip.fade_out_ms))
    samples = shaping.faded(samples, min(fade_in, len(samples)), min(fade_out, len(samples)))
    gain = shaping.gain_to(samples, clip.peak_to_dbfs, clip.rms_to_dbfs) * shaping.amplitude(clip.gain_db)
    rounded, over = shaping.quantised(samples * gain)
    return Shaped(rounded, rate_hz, loop, over)
