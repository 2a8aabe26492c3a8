"""Files that were brought in on the page. They lie beside the prop file for as long as anything
names them, so that undo takes a dropped recording away again, and redo brings it back.
"""

import shutil
import tempfile
import weakref
from collections.abc import Collection
from pathlib import Path

from fxseq.sequence import Fault, FxError, write_whole


class Brought:
    """Brought-in files of one run of the bench, by their whole paths; what was there before is
    not touched. What is put aside is gone when the bench ends.
    """

    def __init__(self) -> None:
        self._paths: list[Path] = []
        self._folder: Path | None = None

    def is_free(self, path: Path, data: bytes) -> bool:
        """Whether this may be written there: nothing else is, nor could undo bring it back."""
        places = [path]
        if path in self._paths:
            places.append(self._aside(path))
        return all(not place.exists() or place.read_bytes() == data for place in places)

    def add(self, path: Path, data: bytes) -> None:
        """Write a file, unless it is there. Raises FxError."""
        if path.exists():
            return
        write_whole(path, data)
        if path not in self._paths:
            self._paths.append(path)

    def put_aside(self, named: Collection[Path]) -> None:
        """Move away what is not named. What cannot be moved stays."""
        for path in self._paths:
            if path not in named and path.is_file():
                _move(path, self._aside(path))

    def bring_back(self, named: Collection[Path]) -> None:
        """Put back what is named and has been put aside. Raises FxError."""
        for path in self._paths:
            if path not in named or path.exists() or not self._aside(path).exists():
                continue
            if not _move(self._aside(path), path):
                raise FxError(Fault(path.name, "it cannot be put back beside the prop file"))

    def leave(self, named: Collection[Path]) -> None:
        """Never move these again: something else names them, too."""
        self._paths = [path for path in self._paths if path not in named]

    def _aside(self, path: Path) -> Path:
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="fxseq_"))
            weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        return self._folder / path.name


def _move(path: Path, to: Path) -> bool:
    try:
        shutil.move(path, to)
    except OSError:
        return False
    return True
