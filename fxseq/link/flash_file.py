"""Flash memory in a file, with the rules of flash: erased by the page to FF, written once in
between, reads what is there.

Every operation is one positioned write to the file, so a process that dies at any time leaves what
real flash would leave: whole operations, and at worst one that is cut short.
"""

import os
from pathlib import Path
from types import TracebackType
from typing import Self

from fxseq.link.slots import ERASED, FlashError


class FlashFile:
    """Flash of `pages` pages of `page_bytes` bytes. A new file is erased flash; an old one keeps
    its content and must have this size.
    """

    def __init__(self, path: Path, pages: int, page_bytes: int) -> None:
        """Raises FlashError where the file has another size, OSError where it cannot be opened
        or made.
        """
        self.pages = pages
        self.page_bytes = page_bytes
        if not path.exists():
            _make_erased(path, pages * page_bytes)
        self._file = path.open("r+b", buffering=0)
        size = path.stat().st_size
        if size != pages * page_bytes:
            self.close()
            raise FlashError(
                f"{path} has {size} bytes; flash of {pages} pages of {page_bytes} bytes has"
                f" {pages * page_bytes}"
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def erase(self, page: int) -> None:
        """Set a page to FF."""
        if not 0 <= page < self.pages:
            raise FlashError(f"page {page} of {self.pages}")
        self._put(page * self.page_bytes, bytes([ERASED]) * self.page_bytes)

    def write(self, offset: int, data: bytes) -> None:
        """Write to erased bytes."""
        if set(self.read(offset, len(data))) - {ERASED}:
            raise FlashError(f"bytes {offset} to {offset + len(data) - 1} are not erased")
        self._put(offset, data)

    def read(self, offset: int, size: int) -> bytes:
        """Bytes offset..offset + size - 1."""
        if not 0 <= offset <= offset + size <= self.pages * self.page_bytes:
            raise FlashError(f"bytes {offset} to {offset + size - 1} are outside the flash")
        self._file.seek(offset)
        return self._file.read(size)

    def _put(self, offset: int, data: bytes) -> None:
        self._file.seek(offset)
        self._file.write(data)


def _make_erased(path: Path, size: int) -> None:
    """A file of FF, whole or not at all."""
    beside = path.with_name(f"{path.name}.{os.getpid()}.new")
    with beside.open("wb") as file:
        file.write(bytes([ERASED]) * size)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, path)
