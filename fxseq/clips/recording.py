"""Reads a sound file: the only module of this floor that opens files."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.encoding import Progress
from fxseq.clips.riff import Marks, scan
from fxseq.sequence.errors import ClipError, Fault
from fxseq.sequence.model import Clip
from fxseq.sequence.quantities import quantity
from fxseq.sequence.suggest import closest

if TYPE_CHECKING:
    import soundfile

LONGEST_CUT_S = 600
MOST_FRAMES = LONGEST_CUT_S * 48_000
"""A file of some hundred kilobytes may unpack to any number of them."""
_BLOCK_FRAMES = 65_536
_TOLD_FROM_FRAMES = 2_000_000
"""Some 40 s of sound, which take a second to make ready."""
_LENGTH_NOT_KNOWN = 2**40
_LARGEST_SAMPLE = 1e6
"""120 dB above full scale: no recording, but what a damaged float file may hold."""
_FORMATS = "WAV, AIFF, FLAC, OGG or MP3"
_OF_TELEPHONES = {"m4a", "mp4", "aac", "m4b", "mov", "3gp", "amr", "wma", "caf"}
"""Common containers whose usual codings libsndfile does not have."""
_EXPORT_AGAIN = "Export it again from the sound editor."
_RAILS = {"PCM_S8": 127 / 128, "PCM_U8": 127 / 128, "ULAW": 32124 / 32768, "ALAW": 32256 / 32768}
"""Largest level that a sample format can hold, where it is not that of 16 bit. The laws: ITU-T
G.711.
"""
_RAIL_16_BIT = 32767 / 32768


@dataclass(frozen=True, eq=False)
class Recording:
    """The part of a sound file that a clip keeps, as one channel.

    samples: shape (n,), float64, full scale 1.0. at_rail: shape (n,), bool: one of the channels
    used was at or beyond the largest level the file can hold. rate_hz: of the file. first_frame:
    where the part begins in the file. marks: cue points and loops, counted in frames of the whole
    file. missing_frames: how many more the header claims than the file holds; 0 where the cut does
    not reach them.
    """

    samples: NDArray[np.float64]
    at_rail: NDArray[np.bool_]
    rate_hz: int
    first_frame: int
    marks: Marks
    missing_frames: int


def fault(name: str, clip: Clip, what: str, allowed: str = "", remedy: str = "") -> Fault:
    """A fault of a clip: its file as the user wrote it, then the clip by its name."""
    return Fault(clip.file, f"clip '{name}': {what}", allowed, remedy)


def read(name: str, clip: Clip, folder: Path, progress: Progress = None) -> Recording:
    """Read the part of `clip.file` that the clip keeps, in the channel it asks for.

    folder: where a relative file name starts, that of the prop file.
    progress: called with frames read and frames in all, where there are many.
    Many channels are mixed to their mean. A part of 10 minutes is the longest.
    Raises ClipError where the file or the cut is at fault.
    """
    import soundfile

    path = folder / clip.file
    marks = _marks(name, clip, path)
    try:
        with soundfile.SoundFile(path) as file:
            return _read_cut(name, clip, file, marks, progress)
    except soundfile.LibsndfileError:
        kind = path.suffix.lower().removeprefix(".")
        if kind in _OF_TELEPHONES:
            what = f"{kind.upper()} files, as phones and video programs write them, cannot be read"
            raise ClipError(
                fault(name, clip, what, _FORMATS, "Open it in a sound editor and export it as WAV.")
            ) from None
        raise ClipError(
            fault(name, clip, "cannot be read as sound, or is damaged", _FORMATS, _EXPORT_AGAIN)
        ) from None


def _marks(name: str, clip: Clip, path: Path) -> Marks:
    """Chunks of the file, once it is sure that there is a file."""
    try:
        if path.is_dir():
            raise ClipError(fault(name, clip, "is a folder", "a sound file", "Name a file in it."))
        if path.exists() and not path.is_file():
            raise ClipError(
                fault(
                    name,
                    clip,
                    "is a device or a pipe",
                    "a sound file",
                    "Name a sound file on disk.",
                )
            )
        if path.suffix.lower() == ".raw":
            raise ClipError(
                fault(
                    name,
                    clip,
                    "a file of raw samples does not say its rate",
                    _FORMATS,
                    _EXPORT_AGAIN,
                )
            )
        with path.open("rb") as file:
            if not file.read(1):
                raise ClipError(fault(name, clip, "the file is empty (0 bytes)", "", _EXPORT_AGAIN))
            return scan(file)
    except FileNotFoundError:
        raise ClipError(
            fault(name, clip, "there is no such file", "", _did_you_mean(path))
        ) from None
    except PermissionError:
        raise ClipError(
            fault(
                name,
                clip,
                "you have no permission to read it",
                "",
                "Change the file's permissions, or copy it.",
            )
        ) from None
    except OSError as error:
        raise ClipError(
            fault(
                name,
                clip,
                f"cannot be read: {error.strerror}",
                "",
                "Copy the file to another disk.",
            )
        ) from None


def _did_you_mean(path: Path) -> str:
    """The file in the same folder that is named most alike, as a question."""
    try:
        names = {
            entry.name.lower(): entry.name for entry in path.parent.iterdir() if entry.is_file()
        }
    except OSError:
        return f"The folder {path.parent.name} is not there either; check the path."
    close = closest(path.name, names)
    if close:
        return f"Did you mean '{names[close]}'?"
    return "Check the path; it starts at the prop file's folder."


def _read_cut(
    name: str, clip: Clip, file: "soundfile.SoundFile", marks: Marks, progress: Progress
) -> Recording:
    if file.frames >= _LENGTH_NOT_KNOWN:
        raise ClipError(
            fault(name, clip, "the file does not say how long it is", "", _EXPORT_AGAIN)
        )
    if file.frames == 0:
        raise ClipError(fault(name, clip, "there is no sound in it (0 samples)", "", _EXPORT_AGAIN))
    if clip.channel == "right" and file.channels == 1:
        raise ClipError(
            fault(name, clip, "channel is right, but the file has only one channel", "mix or left")
        )
    start, stop = _cut(name, clip, file.frames, file.samplerate, marks)
    samples, at_rail = _read_frames(name, clip, file, start, stop, progress)
    missing = stop - start - len(samples)
    if stop == file.frames and marks.missing_share:
        missing += round(file.frames * marks.missing_share / (1 - marks.missing_share))
    return Recording(samples, at_rail, file.samplerate, start, marks, missing)


def _cut(name: str, clip: Clip, frames: int, rate_hz: int, marks: Marks) -> tuple[int, int]:
    """First frame and end of the part to keep. Raises ClipError where it is empty, too long or
    outside the file.
    """
    length = f"the file is {1000 * frames / rate_hz:.0f} ms long"
    start, begins = _start(name, clip, rate_hz, marks)
    stop = frames if clip.end_ms is None else round(clip.end_ms * rate_hz / 1000)
    faults = []
    if start >= frames:
        faults.append(fault(name, clip, f"{begins}, but {length}", "", "Start earlier."))
    if stop > frames:
        faults.append(
            fault(
                name,
                clip,
                f"end_ms is {quantity(clip.end_ms, 'ms')}, but {length}",
                "",
                "End earlier, or leave end_ms out.",
            )
        )
    elif stop <= start < frames:
        faults.append(
            fault(
                name,
                clip,
                f"nothing is left: {begins}, end_ms is {quantity(clip.end_ms, 'ms')}",
                "end_ms after the start",
            )
        )
    elif stop - start > LONGEST_CUT_S * rate_hz:
        what = f"the sound is {(stop - start) / rate_hz / 60:.1f} minutes long"
        faults.append(
            fault(
                name,
                clip,
                what,
                f"up to {LONGEST_CUT_S / 60:.0f} minutes",
                "Cut it with start_ms and end_ms.",
            )
        )
    elif stop - start > MOST_FRAMES:
        what = f"the sound has {(stop - start) / 1e6:.0f} million samples"
        allowed = f"{MOST_FRAMES / 1e6:.1f} million, {LONGEST_CUT_S / 60:.0f} minutes at 48 kHz"
        remedy = "Export it at 48 kHz, or cut it with start_ms and end_ms."
        faults.append(fault(name, clip, what, f"up to {allowed}", remedy))
    if faults:
        raise ClipError(*faults)
    return start, stop


def _start(name: str, clip: Clip, rate_hz: int, marks: Marks) -> tuple[int, str]:
    """First frame to keep, and what put it there."""
    if clip.start_cue is None:
        return round(clip.start_ms * rate_hz / 1000), f"start_ms is {quantity(clip.start_ms, 'ms')}"
    count = len(marks.cues)
    if clip.start_cue > count:
        allowed = f"1 to {count}" if count else "none, the file has no cue points"
        raise ClipError(
            fault(
                name,
                clip,
                f"start_cue is {clip.start_cue}",
                allowed,
                "Set the cue in the sound editor, or use start_ms.",
            )
        )
    start = marks.cues[clip.start_cue - 1]
    return start, f"cue {clip.start_cue} is at {1000 * start / rate_hz:.0f} ms"


def _read_frames(
    name: str,
    clip: Clip,
    file: "soundfile.SoundFile",
    start: int,
    stop: int,
    progress: Progress,
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Samples and rail marks of the channel asked for, read in blocks so that a file of many
    channels takes little memory.
    """
    rail = _RAILS.get(file.subtype, _RAIL_16_BIT)
    samples = np.empty(stop - start)
    at_rail = np.empty(stop - start, bool)
    file.seek(start)
    filled = unusable = 0
    while filled < stop - start:
        block = file.read(
            min(_BLOCK_FRAMES, stop - start - filled), dtype="float64", always_2d=True
        )
        if not len(block):
            break
        used = {"mix": block, "left": block[:, :1], "right": block[:, 1:2]}[clip.channel]
        unusable += np.count_nonzero(~(np.abs(used) <= _LARGEST_SAMPLE).all(axis=1))
        with np.errstate(invalid="ignore", over="ignore"):  # such samples are counted above
            samples[filled : filled + len(block)] = used.mean(axis=1)
        at_rail[filled : filled + len(block)] = (np.abs(used) >= rail).any(axis=1)
        filled += len(block)
        if progress and stop - start >= _TOLD_FROM_FRAMES:
            progress(filled, stop - start)
    if unusable:
        raise ClipError(
            fault(
                name,
                clip,
                f"{unusable} of {filled} samples are not valid (NaN, infinite or far too large)",
                "",
                _EXPORT_AGAIN,
            )
        )
    if not filled:
        raise ClipError(
            fault(name, clip, "there is no sound where the cut begins", "", _EXPORT_AGAIN)
        )
    return samples[:filled], at_rail[:filled]
