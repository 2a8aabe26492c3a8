"""Edits that are not saved yet, kept in a file of this user's own, so that a bench that ends
does not lose them.
"""

import hashlib
import time
from pathlib import Path
from typing import NamedTuple

from fxseq.bench.desk import Desk, Version
from fxseq.sequence import Document, Fault, FxError, write_whole


class Found(NamedTuple):
    """The text that an earlier run has left. at: when, on this machine's clock. is_older: the
    prop file has been written to since.
    """

    text: str
    at: str
    is_older: bool


class Unsaved:
    """Follows a desk, change by change. What an earlier run has left is not touched until the
    maker has decided about it.
    """

    def __init__(self, desk: Desk, folder: Path) -> None:
        """folder: where such files are kept; made when it is needed."""
        self._desk = desk
        path = desk.path.resolve()
        self.path = (
            folder / f"{path.stem}_{hashlib.sha256(str(path).encode()).hexdigest()[:16]}.toml"
        )
        self.found = self._look()
        self.is_kept = self.found is None

    def _look(self) -> Found | None:
        """Raises nothing: what cannot be read is no help to anybody."""
        try:
            text = Document.read(self.path).text
            left_s = self.path.stat().st_mtime
            is_older = self._desk.path.stat().st_mtime > left_s
        except (FxError, OSError):
            return None
        if time.localtime(left_s)[:3] == time.localtime()[:3]:
            form = "%H:%M"
        else:
            form = "%Y-%m-%d %H:%M"
        if text == self._desk.now.text:
            return None
        return Found(text, time.strftime(form, time.localtime(left_s)), is_older)

    def follow(self) -> None:
        """Keep the desk's text while it is not saved; `is_kept` says whether that could be done."""
        self.is_kept = self.found is None
        if not self.is_kept:
            return
        try:
            if self._desk.dirty:
                self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                write_whole(self.path, self._desk.now.text.encode())
            else:
                self.path.unlink(missing_ok=True)
        except (FxError, OSError):
            self.is_kept = False

    def take(self) -> Version:
        """Have what was found on the desk, as one step that can be undone. Raises FxError with
        its faults; it stays then.
        """
        version = self._desk.take_up(self._left().text)
        self.found = None
        return version

    def drop(self) -> None:
        """Forget what was found. Raises FxError where there is nothing."""
        self._left()
        self.found = None

    def _left(self) -> Found:
        if self.found is None:
            raise FxError(Fault(str(self._desk.path), "there are no edits of an earlier run"))
        return self.found
