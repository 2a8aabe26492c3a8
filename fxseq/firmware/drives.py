"""Boot drives: a board that waits for its program shows itself as a small USB drive, and takes what
is copied there. Its file INFO_UF2.TXT says which chip it is (Microsoft, UF2 file format).
"""

import os
import re
import string
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from fxseq.sequence.errors import Fault, OutputError

INFO = "INFO_UF2.TXT"
_LOOK_EVERY_S = 0.5
_GONE_WITHIN_S = 15.0
_OCTAL = re.compile(r"\\([0-7]{3})")


@dataclass(frozen=True)
class BootDrive:
    """A drive that waits for a program. chip: the line `Board-ID` of its file."""

    path: Path
    chip: str


def boot_drives() -> list[BootDrive]:
    """Those that are there now."""
    found = []
    for place in _mounted():
        try:
            text = (place / INFO).read_text("ascii", errors="replace")
        except OSError:
            continue
        chip = re.search(r"^Board-ID: *(.+?)\s*$", text, re.MULTILINE)
        found.append(BootDrive(place, chip[1] if chip else ""))
    return found


def wait_for_drive(chip: str, wait_s: float) -> BootDrive | None:
    """The drive of a board with this chip, as soon as there is one; None where none came in
    time.
    """
    until = time.monotonic() + wait_s
    while True:
        for drive in boot_drives():
            if drive.chip == chip:
                return drive
        if time.monotonic() >= until:
            return None
        time.sleep(_LOOK_EVERY_S)


def copy_to(drive: BootDrive, name: str, data: bytes) -> None:
    """Copy a program there, and wait until the board has taken it: then the drive goes. Raises
    OutputError.
    """
    try:
        with open(drive.path / name, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        # The board starts as soon as it has the last block, also before the file is closed.
        if _stays(drive):
            raise OutputError(
                Fault(
                    str(drive.path),
                    f"the program cannot be copied there ({error.strerror})",
                    "",
                    "Plug the board in again with its button held, and try once more.",
                )
            ) from None
    until = time.monotonic() + _GONE_WITHIN_S
    while _stays(drive):
        if time.monotonic() >= until:
            raise OutputError(
                Fault(
                    str(drive.path),
                    "the program was copied, but the board did not start it: its drive is still"
                    " there",
                    "",
                    "Eject the drive. If that does not help, try another cable and once more.",
                )
            )
        time.sleep(_LOOK_EVERY_S)


def _stays(drive: BootDrive) -> bool:
    try:
        return (drive.path / INFO).exists()
    except OSError:
        return False


def _mounted() -> Iterator[Path]:
    """Where drives may be, by the habits of the system."""
    if sys.platform == "win32":
        yield from (Path(f"{letter}:\\") for letter in string.ascii_uppercase[3:])
    elif sys.platform == "darwin":
        yield from Path("/Volumes").iterdir()
    else:
        yield from _mounts(Path("/proc/mounts"))


def _mounts(table: Path) -> Iterator[Path]:
    """Places of the system's table; blanks in them stand as three octal digits (fstab(5))."""
    for line in table.read_text("utf-8", errors="surrogateescape").splitlines():
        device, place, *_ = line.split(" ")
        if device.startswith("/dev/"):
            yield Path(_OCTAL.sub(lambda code: chr(int(code[1], 8)), place))
