"""Clips that were made ready, kept for as long as nothing that shapes them changes: a fade that
is turned must not encode sounds again.
"""

from collections.abc import Hashable, Iterable
from pathlib import Path

from fxseq.clips import PreparedClip
from fxseq.runs import prepare_clips
from fxseq.sequence import Sequence

MOST_KEPT = 256
"""Clips, so that undo finds those of some steps ago."""


class ClipShelf:
    """Prepares clips as `fxseq.checks.prepare_clips` does, each once."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, PreparedClip] = {}

    def prepare(
        self, names: Iterable[str], sequence: Sequence, folder: Path
    ) -> dict[str, PreparedClip]:
        """Clips by name. Raises ClipError with the faults of all."""
        keys = {name: _key(name, sequence, folder) for name in names}
        missing = [name for name, key in keys.items() if key not in self._kept]
        if missing:
            fresh = prepare_clips(missing, sequence, folder)
            self._kept |= {keys[name]: fresh[name] for name in missing}
        found = {name: self._kept[key] for name, key in keys.items()}
        while len(self._kept) > max(MOST_KEPT, len(keys)):
            del self._kept[next(iter(self._kept))]
        return found


def _key(name: str, sequence: Sequence, folder: Path) -> Hashable:
    """All that the clip is made from: its keys, its file, those of the clips that it is matched
    to, the board's rate and the speaker.
    """
    board = sequence.board
    chain = []
    next_name = name
    while next_name is not None:
        clip = sequence.clips[next_name]
        chain.append((next_name, clip, _stamp(folder / clip.file)))
        next_name = clip.match_to
    return board.sample_rate_hz, board.flash_for_table_bytes, sequence.speaker, tuple(chain)


def _stamp(path: Path) -> tuple[int, int] | None:
    """What changes when somebody writes to the file; None where there is none."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size
