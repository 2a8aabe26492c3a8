"""A recording that was dropped on the page becomes a file beside the sequence. Its name is made here; nothing of the page's goes into a path."""
import io
import re
from pathlib import Path

import soundfile

from fxseq.bench.body import Refused
from fxseq.bench.desk import Desk, Version
from fxseq.sequence import ClipError, Fault, FxError, write_whole

FOLDER = "clips"
"""Where recordings go if the folder is there, else they lie beside the sequence itself."""
LONGEST_S, MOST_CHANNELS, HIGHEST_RATE_HZ = 600, 8, 192_000
_SUFFIXES = {"WAV": ".wav", "WAVEX": ".wav", "AIFF": ".aiff", "FLAC": ".flac", "OGG": ".ogg", "MP3": ".mp3"}
_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")
_DEVICE = re.compile(r"con|prn|aux|nul|com[0-9]|lpt[0-9]")
"""Names that Windows takes for devices, whatever the suffix. Source: Microsoft, Naming Files, Paths, and Namespaces, from memory."""


def add_recording(desk: Desk, name: str, data: bytes) -> Version:
    """Write the recording and add the clip. Raises FxError, and leaves no file behind, where either cannot be."""
    if not _NAME.fullmatch(name) or _DEVICE.fullmatch(name):
        allowed = "a small letter, then small letters, digits and _, at most 40, and no name of a device"
        raise Refused(422, Fault("X-Name", "it is no usable name of a clip", allowed))
    suffix = _suffix(name, data)
    folder = desk.path.parent.resolve()
    target = (folder / FOLDER / name if (folder / FOLDER).is_dir() else folder / name).with_suffix(suffix).resolve()
    if not target.is_relative_to(folder):
        raise Refused(422, Fault(FOLDER, "the folder leads out of that of the sequence", "", "Make it a folder of its own."))
    if target.exists() and target.read_bytes() != data:
        raise Refused(409, Fault(target.name, "there is another recording of that name beside the sequence", "", "Give it another name."))
    is_new = not target.exists()
    if is_new:
        write_whole(target, data)
    try:
        return desk.add_clip(name, target.relative_to(folder).as_posix())
    except FxError:
        if is_new:
            target.unlink(missing_ok=True)
        raise


def _suffix(name: str, data: bytes) -> str:
    """That of the recording's format. Raises ClipError where it is no sound, or more than a clip can be."""
    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            faults = list(_faults(name, file))
            suffix = _SUFFIXES.get(file.format)
            file.read(1)
    except (soundfile.LibsndfileError, RuntimeError):
        suffix, faults = None, []
    if suffix is None:
        raise ClipError(Fault(name, "it cannot be read as sound, or is damaged", "WAV, AIFF, FLAC, OGG or MP3", "Export it again."))
    if faults:
        raise ClipError(*faults)
    return suffix


def _faults(name: str, file: soundfile.SoundFile) -> list[Fault]:
    """What its header says that no clip may be."""
    measured = (
        ("channels", file.channels, 1, MOST_CHANNELS, ""), ("samples a second", file.samplerate, 2000, HIGHEST_RATE_HZ, ""),
        ("seconds", file.frames / max(file.samplerate, 1), 1e-4, LONGEST_S, "Cut it first."),
    )
    return [Fault(name, f"it has {value:g} {what}", f"{least:g} to {most:g}", remedy)
            for what, value, least, most, remedy in measured if not least <= value <= most]
