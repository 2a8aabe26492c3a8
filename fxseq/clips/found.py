"""Bytes that took long to find, kept in the user's cache folder under what was asked for, so that
they are found once.

A cache that cannot be read or written is no fault: the work is done again.
"""

import hashlib
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from platformdirs import user_cache_path

_MOST_BYTES = 64 * 2**20
_DIGEST_BYTES = 32


def cached(key: bytes, compute: Callable[[], bytes]) -> bytes:
    """Return what is kept under a key, or else what `compute` returns, which is then kept."""
    path = user_cache_path("fxseq") / hashlib.sha256(key).hexdigest()
    answer = _read(path)
    if answer is None:
        answer = compute()
        with suppress(OSError):
            _write(path, answer)
            _thin_out(path.parent)
    return answer


def _read(path: Path) -> bytes | None:
    """An answer that is whole; one that was used is the last to go."""
    try:
        kept_bytes = path.read_bytes()
        os.utime(path)
    except OSError:
        return None
    digest = kept_bytes[:_DIGEST_BYTES]
    answer = kept_bytes[_DIGEST_BYTES:]
    if hashlib.sha256(answer).digest() != digest:
        return None
    return answer


def _write(path: Path, answer: bytes) -> None:
    """Whole or not at all: two programs may look for the same."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent)
    with os.fdopen(handle, "wb") as file:
        file.write(hashlib.sha256(answer).digest() + answer)
    os.replace(name, path)


def _thin_out(folder: Path) -> None:
    """Delete what was used longest ago, until the rest is within limits."""
    files = sorted(
        ((file.stat().st_mtime, file.stat().st_size, file) for file in folder.iterdir()),
        reverse=True,
    )
    together = 0
    for _, size, file in files:
        together += size
        if together > _MOST_BYTES:
            file.unlink(missing_ok=True)
