"""A recording or a photo that was dropped on the page becomes a file beside the prop file. Its
name must be a plain word, and is made free here.
"""

import io
import math
import re
import warnings
from collections.abc import Iterator
from itertools import count
from pathlib import Path as FilePath

import soundfile

from fxseq.bench.body import Refused
from fxseq.bench.desk import Changes, Desk, Version
from fxseq.bench.view import prop_view
from fxseq.clips import MOST_FRAMES
from fxseq.sequence import ClipError, Fault
from fxseq.sequence.quantities import quantity

FOLDER = "clips"
"""Where recordings go if the folder is there, else they lie beside the prop file itself."""
LONGEST_S = 600
MOST_CHANNELS = 8
HIGHEST_RATE_HZ = 192_000
_SUFFIXES = {
    "WAV": ".wav",
    "WAVEX": ".wav",
    "AIFF": ".aiff",
    "FLAC": ".flac",
    "OGG": ".ogg",
    "MP3": ".mp3",
}
MOST_PIXELS = 50_000_000
MOST_LETTERS = 40
_PICTURES = {"PNG": ".png", "JPEG": ".jpg", "WEBP": ".webp"}
_ALIKE = 0.01
"""Part by which the shape of a photo may differ from that of the plane without being seen."""
_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")
_DEVICE = re.compile(r"con|prn|aux|nul|com[0-9]|lpt[0-9]")
"""Names that Windows takes for devices, whatever the suffix. Source: Microsoft, Naming Files,
Paths, and Namespaces, from memory.
"""


def add_recording(desk: Desk, name: str, data: bytes) -> Version:
    """Write the recording and add a clip of that name, or with a number where it is taken.
    Raises FxError, and leaves no file then.
    """
    suffix = _suffix(name, data)
    clips = desk.now.prop.sequence.clips
    root = _root(desk)
    for free, target in _free_files(
        desk, FOLDER if (root / FOLDER).is_dir() else "", name, suffix, data
    ):
        if free not in clips:
            file = _name_in_file(desk, target)
            return desk.bring_in(target, data, [(("clips", free), {"file": file})])
        if (root / clips[free].file).resolve() == target and target.exists():
            raise Refused(
                422,
                Fault(
                    name,
                    f"this recording is already the clip '{free}'",
                    "",
                    "Use that clip in an effect.",
                ),
            )
    raise AssertionError("numbers do not end")


def replace_recording(desk: Desk, clip: str, name: str, data: bytes) -> Version:
    """Write the recording and have the clip made from it; all that is said of the clip stays, but
    not where the other recording came from. Raises FxError, and leaves no file then.
    """
    if clip not in desk.now.prop.sequence.clips:
        raise Refused(422, Fault("clip", f"there is nothing called '{clip}'"))
    suffix = _suffix(name, data)
    folder = FOLDER if (_root(desk) / FOLDER).is_dir() else ""
    _, target = next(iter(_free_files(desk, folder, name, suffix, data)))
    changes: Changes = [(("clips", clip, "file"), _name_in_file(desk, target))]
    if desk.now.prop.sequence.clips[clip].source is not None:
        changes.append((("clips", clip, "source"), None))
    return desk.bring_in(target, data, changes)


def add_picture(desk: Desk, name: str, data: bytes) -> Version:
    """Write the photo and have it drawn under the lamps, on a plane of its shape that holds the
    present one. Raises FxError, leaves no file then.
    """
    suffix, shape = picture_shape(name, data)
    plane = prop_view(desk.now)["picture"]
    width_mm, height_mm = _grown(plane["width_mm"], plane["height_mm"], shape)
    _, target = next(iter(_free_files(desk, "", name, suffix, data)))
    sizes = [(("picture", "width_mm"), width_mm), (("picture", "height_mm"), height_mm)]
    image = (("picture", "image"), _name_in_file(desk, target))
    return desk.bring_in(target, data, [*sizes, image])


def _grown(width_mm: float, height_mm: float, shape: float) -> tuple[float, float]:
    """The least plane of that height to width that holds this one; the same one where its shape
    is near enough.
    """
    if abs(height_mm / width_mm / shape - 1) < _ALIKE:
        return width_mm, height_mm
    wider_mm = math.ceil(max(width_mm, height_mm / shape) * 10) / 10
    return wider_mm, math.ceil(wider_mm * shape * 10) / 10


def picture_shape(name: str, data: bytes) -> tuple[str, float]:
    """Suffix of the photo's format, and its height to width as it is seen. Raises Refused where
    it is none, damaged or too large.
    """
    from PIL import Image, ImageOps

    try:
        with (
            warnings.catch_warnings(),
            Image.open(io.BytesIO(data), formats=list(_PICTURES)) as image,
        ):
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            kind = str(image.format)
            pixels = image.width * image.height
            if pixels > MOST_PIXELS:
                raise Refused(
                    422,
                    Fault(
                        name,
                        f"it has {pixels / 1e6:.0f} million pixels",
                        f"up to {MOST_PIXELS / 1e6:.0f}",
                        "Save it smaller.",
                    ),
                )
            width, height = ImageOps.exif_transpose(image).size
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise Refused(
            422,
            Fault(
                name,
                "it cannot be read as a picture, or is damaged",
                "PNG, JPEG or WebP",
                "Export it again.",
            ),
        ) from None
    return _PICTURES[kind], height / width


def _root(desk: Desk) -> FilePath:
    return desk.path.parent.resolve()


def _free_files(
    desk: Desk, folder: str, name: str, suffix: str, data: bytes
) -> Iterator[tuple[str, FilePath]]:
    """The name, then with numbers, each with its file beside the prop file, but for those that
    hold something else. Raises Refused.
    """
    if not _NAME.fullmatch(name) or _DEVICE.fullmatch(name):
        allowed = (
            f"a small letter, then small letters, digits and _, at most {MOST_LETTERS}, and not the"
            " name of a device"
        )
        raise Refused(422, Fault("X-Name", "it is not a usable name", allowed))
    for number in count(1):
        mark = f"_{number}" if number > 1 else ""
        free = name[: MOST_LETTERS - len(mark)] + mark
        target = (_root(desk) / folder / f"{free}{suffix}").resolve()
        if not target.is_relative_to(_root(desk)):
            raise Refused(
                422,
                Fault(
                    FOLDER,
                    "the folder leads out of the prop file's own folder",
                    "",
                    "Make it a folder of its own.",
                ),
            )
        if desk.is_free(target, data):
            yield free, target


def _name_in_file(desk: Desk, target: FilePath) -> str:
    return target.relative_to(_root(desk)).as_posix()


def _suffix(name: str, data: bytes) -> str:
    """That of the recording's format. Raises ClipError where it is no sound, or more than a clip
    can be.
    """
    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            faults = list(_faults(name, file))
            suffix = _SUFFIXES.get(file.format)
            file.read(1)
    except (soundfile.LibsndfileError, RuntimeError):
        suffix = None
        faults = []
    if suffix is None:
        raise ClipError(
            Fault(
                name,
                "it cannot be read as sound, or is damaged",
                "WAV, AIFF, FLAC, OGG or MP3",
                "Export it again.",
            )
        )
    if faults:
        raise ClipError(*faults)
    return suffix


def _faults(name: str, file: soundfile.SoundFile) -> list[Fault]:
    """What its header says that no clip may be."""
    measured = (
        ("channels", file.channels, 1, MOST_CHANNELS, ""),
        ("samples a second", file.samplerate, 2000, HIGHEST_RATE_HZ, ""),
        ("seconds", file.frames / max(file.samplerate, 1), 1e-4, LONGEST_S, "Cut it first."),
        ("million samples", file.frames / 1e6, 0, MOST_FRAMES / 1e6, "Export it at 48 kHz."),
    )
    return [
        Fault(
            name,
            f"it has {quantity(value)} {what}",
            f"{quantity(least)} to {quantity(most)}",
            remedy,
        )
        for what, value, least, most, remedy in measured
        if not least <= value <= most
    ]
