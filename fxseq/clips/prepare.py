"""From a clip of the prop file to the samples that go into the table."""
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.clips import shaping
from fxseq.clips.coding import Coding
from fxseq.clips.encoding import Progress, encode
from fxseq.clips.examine import Conditioning, Shaped, examine
from fxseq.clips.high_pass import high_passed, high_passed_loop
from fxseq.clips.limiter import limiter_gain, loop_limiter_gain
from fxseq.clips.loop_finder import SHORTEST_SOUND_S, find_loop, joined
from fxseq.clips.loudest import Hearing, loudest
from fxseq.clips.recording import Recording, fault, read
from fxseq.sequence.derived import clip_rate_hz
from fxseq.sequence.errors import ClipError, Fault
from fxseq.sequence.finding import Finding
from fxseq.sequence.model import Board, Clip, Loop
from fxseq.sequence.quantities import quantity

SHORTEST_LOOP = 32
"""Samples. Bringing a shorter loop to a whole number of samples would move its pitch by more than 1.6 %."""
_FULL_SCALE = 32768
_TRIM_MARGIN_S = 0.001

Weighting = Callable[[int], Sequence[float]]
Span = tuple[int, int]


def _alike(rate_hz: int) -> Sequence[float]:
    return (1.0,)


def _all_heard(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    return np.ones(len(frequencies_hz), complex)


@dataclass(frozen=True, eq=False)
class PreparedClip:
    """A clip ready for the table.

    samples: shape (n,), int16, read-only; nothing after the end of a loop.
    rate_hz: samples a second at which the clip sounds as recorded.
    coding: how the table stores it.
    data: its bytes there.
    loop: (start, end) in samples, end exclusive; None without a loop.
    findings: what to tell the maker about it.
    loudest: RMS of its loudest 125 ms as it is heard, as an amplitude (see `loudest`); before coding.
    conditioning: what was trimmed, found and limited.
    """

    name: str
    samples: NDArray[np.int16]
    rate_hz: int
    coding: Coding
    data: bytes
    loop: Span | None
    findings: tuple[Finding, ...]
    loudest: float = 0.0
    conditioning: Conditioning = Conditioning()


def prepare(
    name: str, clip: Clip, board: Board, folder: Path, weighting: Weighting = _alike, hearing: Hearing = _all_heard,
    matched: PreparedClip | None = None, progress: Progress = None,
) -> PreparedClip:
    """Read, cut, trim, take off the mean, high-pass, find the loop, resample, fade, level or match, gain, limit and round a clip, in this order.

    folder: where the clip's file name starts, that of the prop file.
    weighting: the weighting of coding errors at a rate [Hz], as `encode` takes it; all alike unless given.
    hearing: what becomes of samples on their way to an ear, by which loudness is measured; all alike unless given.
    matched: the clip of `clip.match_to`. progress: as `read` and `encode` take it.
    Raises ClipError with every fault found.

    The same WAV, AIFF or FLAC file gives the same samples on every machine: all steps are float64, and the rounding at the end hides
    the last bits in which machines differ (`shaping.quantised`). OGG and MP3 are decoded in ways that differ by a step now and then.
    """
    faults = _setting_faults(name, clip, board)
    try:
        recording = read(name, clip, folder, progress)
    except ClipError as error:
        raise ClipError(*faults, *error.faults) from None
    kept = trimmed(recording, clip)
    loop, loop_faults = _loop(name, clip, kept)
    faults += loop_faults + _fade_faults(name, clip, kept, loop) + _corner_faults(name, clip, board, kept)
    if faults:
        raise ClipError(*faults)
    shaped = _shape(name, clip, board, kept, loop, hearing, matched)
    shaped = replace(shaped, conditioning=replace(shaped.conditioning, trimmed_ms=_trimmed_ms(recording, kept)))
    shaped.samples.setflags(write=False)
    findings = examine(name, clip, board, recording, shaped)
    data = encode(shaped.samples, clip.coding, shaped.loop and shaped.loop[0], weighting(shaped.rate_hz), progress)
    level = loudest(shaped.samples / _FULL_SCALE, shaped.rate_hz, hearing, shaped.loop)
    return PreparedClip(name, shaped.samples, shaped.rate_hz, clip.coding, data, shaped.loop, findings, level, shaped.conditioning)


def trimmed(recording: Recording, clip: Clip) -> Recording:
    """The recording without the silence before and behind the sound, if the clip asks for that; silence alone stays as it is."""
    if clip.trim_below_dbfs is None:
        return recording
    # A constant offset is no sound, and is gone soon where the mean is removed.
    swing = recording.samples - recording.samples.mean() if clip.remove_dc else recording.samples
    part = shaping.sounding(swing, clip.trim_below_dbfs, round(_TRIM_MARGIN_S * recording.rate_hz))
    first = recording.first_frame + (part.start or 0)
    return replace(recording, samples=recording.samples[part], at_rail=recording.at_rail[part], first_frame=first)


def _trimmed_ms(recording: Recording, kept: Recording) -> tuple[float, float]:
    before = kept.first_frame - recording.first_frame
    behind = len(recording.samples) - before - len(kept.samples)
    return 1000 * before / recording.rate_hz, 1000 * behind / recording.rate_hz


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


def _fade_faults(name: str, clip: Clip, recording: Recording, loop: Span | None) -> list[Fault]:
    """Fades that take more than there is, or would make a loop swell at every turn."""
    kept_ms, fades_ms = 1000 * len(recording.samples) / recording.rate_hz, clip.fade_in_ms + clip.fade_out_ms
    if loop and clip.fade_in_ms > 1000 * loop[0] / recording.rate_hz:
        what = f"the fade-in of {quantity(clip.fade_in_ms, 'ms')} reaches into the loop"
        return [fault(name, clip, what, f"up to {1000 * loop[0] / recording.rate_hz:.0f} ms, the loop's start")]
    if clip.loop == "find" and clip.fade_in_ms > kept_ms / 2:
        what = f"the fade-in of {quantity(clip.fade_in_ms, 'ms')} leaves too little to find a loop in"
        return [fault(name, clip, what, f"up to {kept_ms / 2:.0f} ms, half of the clip")]
    if fades_ms > kept_ms:
        return [fault(name, clip, f"the fades take {quantity(fades_ms, 'ms')} together", f"up to the {kept_ms:.0f} ms that the cut keeps")]
    return []


def _corner_faults(name: str, clip: Clip, board: Board, recording: Recording) -> list[Fault]:
    """A high-pass that would leave nothing."""
    highest_hz = min(recording.rate_hz, clip_rate_hz(clip, board)) / 2
    if clip.high_pass_hz is None or clip.high_pass_hz < highest_hz:
        return []
    what = f"high_pass_hz is {clip.high_pass_hz:g} Hz, and no sound is left above that"
    return [fault(name, clip, what, f"below {highest_hz:g} Hz, half of the rate")]


def _loop(name: str, clip: Clip, recording: Recording) -> tuple[Span | None, list[Fault]]:
    """The loop in frames of the recording, before resampling; None where there is none or none yet."""
    frames, rate_hz = len(recording.samples), recording.rate_hz
    if clip.loop is None:
        return None, []
    if clip.loop == "find":
        what, allowed = f"{1000 * frames / rate_hz:.0f} ms are too short to find a loop in", f"{1000 * SHORTEST_SOUND_S:.0f} ms or more"
        return None, [fault(name, clip, what, allowed)] if frames < SHORTEST_SOUND_S * rate_hz else []
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


def _inside(name: str, clip: Clip, recording: Recording, start: int, end: int) -> tuple[Span | None, list[Fault]]:
    """The loop, or a fault where it is not inside the cut."""
    frames, rate_hz = len(recording.samples), recording.rate_hz
    if 0 <= start < end <= frames:
        return (start, end), []
    what = f"the loop is from {1000 * start / rate_hz:.0f} to {1000 * end / rate_hz:.0f} ms of the cut clip"
    return None, [fault(name, clip, what, f"inside 0 to {1000 * frames / rate_hz:.0f} ms, end after start", "Move the loop or the cut.")]


def _shape(
    name: str, clip: Clip, board: Board, recording: Recording, loop: Span | None, hearing: Hearing, matched: PreparedClip | None,
) -> Shaped:
    """All steps from the trimmed recording to 16-bit samples."""
    rate_hz, found = clip_rate_hz(clip, board), None
    samples, loop = _cleaned(clip, recording, loop)
    if clip.loop == "find":
        found = find_loop(samples, recording.rate_hz, round(clip.fade_in_ms * recording.rate_hz / 1000))
        samples, loop = joined(samples, found), (found.start, found.end)
    samples, loop = _at_rate(name, clip, samples, loop, recording.rate_hz, rate_hz)
    fade_in, fade_out = (round(ms * rate_hz / 1000) for ms in (clip.fade_in_ms, clip.fade_out_ms))
    samples = shaping.faded(samples, min(fade_in, len(samples)), min(fade_out, len(samples)))
    samples = samples * (_level_gain(clip, samples, rate_hz, loop, hearing, matched) * shaping.amplitude(clip.gain_db))
    samples, limited_db = _limited(clip, samples, rate_hz, loop)
    rounded, over = shaping.quantised(samples)
    return Shaped(rounded, rate_hz, loop, over, Conditioning(found_loop=found, limited_db=limited_db))


def _cleaned(clip: Clip, recording: Recording, loop: Span | None) -> tuple[shaping.Samples, Span | None]:
    """Without mean and without what is below the corner."""
    samples = recording.samples
    if clip.remove_dc:
        samples = samples - samples.mean()
    if clip.high_pass_hz is None:
        return samples, loop
    if loop is None:
        return high_passed(samples, recording.rate_hz, clip.high_pass_hz), None
    return high_passed_loop(samples, loop, recording.rate_hz, clip.high_pass_hz)


def _at_rate(
    name: str, clip: Clip, samples: shaping.Samples, loop: Span | None, file_hz: int, rate_hz: int,
) -> tuple[shaping.Samples, Span | None]:
    if loop is None:
        return shaping.resample(samples, file_hz, rate_hz), None
    samples, loop = shaping.resample_loop(samples, loop, file_hz, rate_hz)
    if loop[1] - loop[0] < SHORTEST_LOOP:
        what, allowed = f"the loop is {loop[1] - loop[0]} samples long at {rate_hz} Hz", f"{SHORTEST_LOOP} samples or more"
        raise ClipError(fault(name, clip, what, allowed, "Make the loop longer, for example several periods."))
    return samples, loop


def _level_gain(
    clip: Clip, samples: shaping.Samples, rate_hz: int, loop: Span | None, hearing: Hearing, matched: PreparedClip | None,
) -> float:
    """Factor to the level asked for, or to that of the clip to match."""
    if clip.match_to is None:
        return shaping.gain_to(samples, clip.peak_to_dbfs, clip.rms_to_dbfs)
    if matched is None:
        raise ValueError(f"clip '{clip.match_to}' is needed to match to")
    return shaping.ratio(matched.loudest, loudest(samples, rate_hz, hearing, loop))


def _limited(clip: Clip, samples: shaping.Samples, rate_hz: int, loop: Span | None) -> tuple[shaping.Samples, float]:
    """Behind the limiter, and the most it turned down. [dB]"""
    if clip.limit_to_dbfs is None:
        return samples, 0.0
    threshold = shaping.amplitude(clip.limit_to_dbfs)
    gain = limiter_gain(samples, rate_hz, threshold) if loop is None else loop_limiter_gain(samples, loop, rate_hz, threshold)
    return samples * gain, shaping.level_db(1 / float(gain.min()))
