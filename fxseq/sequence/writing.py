"""Files are written whole or not at all."""

import contextlib
import os
import re
import secrets
import shutil
import time
from pathlib import Path

from fxseq.sequence.errors import Fault, OutputError

_LEFT_S = 60
"""What lies beside a file for longer was left by a program that was killed."""


def write_whole(path: str | Path, data: bytes) -> None:
    """Put the data into the file in one step: whoever reads it, at whatever time, sees all of the
    old or all of the new.

    A file that exists keeps its permissions, and a link keeps pointing to it. Raises OutputError.
    """
    target = Path(os.path.realpath(path))
    try:
        _replace(target, data)
    except OSError as error:
        raise OutputError(
            Fault(str(path), f"the file cannot be written ({error.strerror})")
        ) from None


def _replace(target: Path, data: bytes) -> None:
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    try:
        with open(beside, "xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            shutil.copymode(target, beside)
        os.replace(beside, target)
    finally:
        beside.unlink(missing_ok=True)
    with contextlib.suppress(OSError):
        _clear_away(target)


def _clear_away(target: Path) -> None:
    """What writes of this file have left that were killed."""
    left = re.compile(rf"\.{re.escape(target.name)}\.[0-9a-f]{{8}}")
    for path in target.parent.iterdir():
        if left.fullmatch(path.name) and time.time() - path.stat().st_mtime > _LEFT_S:
            path.unlink(missing_ok=True)
