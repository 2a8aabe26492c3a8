"""The prop that is being edited: text, undo and redo, the prop compiled from it, and what is on
disk. Knows no network and no clock.
"""

import difflib
from collections import deque
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from fxseq.bench.brought import Brought
from fxseq.clips import PreparedClip
from fxseq.runs import Prop, make_prop, prepare_clips, prop_of
from fxseq.sequence import Document, Fault, FxError, Sequence, SequenceError, loads, write_whole
from fxseq.sequence.paths import Path, place_name
from fxseq.sequence.reading import read_bytes

MOST_KEPT = 256
"""Clips, so that undo finds those of some steps ago."""
MOST_UNDONE = 1000
"""Steps that can be undone."""
Changes = Iterable[tuple[Path, Any]]
_READ_AGAIN = "Read it again. One undo then brings your edits back."


class OutsideChange(FxError):
    """The file on disk is not the one that was read: somebody else has changed it."""


@dataclass(frozen=True, eq=False)
class Version:
    """One state of the prop. revision: counts up with every change, undo and redo included."""

    revision: int
    text: str
    prop: Prop


class ClipShelf:
    """Clips that were made ready, kept for as long as nothing that shapes them changes: a fade that
    is turned must not encode sounds again.

    Prepares clips as `prepare_clips` does, each once.
    """

    def __init__(self) -> None:
        self._kept: dict[Hashable, PreparedClip] = {}

    def prepare(
        self, names: Iterable[str], sequence: Sequence, folder: FilePath
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


def _key(name: str, sequence: Sequence, folder: FilePath) -> Hashable:
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


def _stamp(path: FilePath) -> tuple[int, int] | None:
    """What changes when somebody writes to the file; None where there is none."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size


class Desk:
    """A prop file open for editing. What it holds always compiles: a change with a fault changes
    nothing.

    Not for several threads at a time; `now` may be read from any.
    """

    def __init__(self, path: FilePath) -> None:
        """Read and compile the file. Raises FxError with its faults."""
        self.path = path
        self._shelf = ClipShelf()
        self._brought = Brought()
        self._undo: deque[str] = deque(maxlen=MOST_UNDONE)
        self._redo: list[str] = []
        self._gesture = ""
        text = Document.read(path).text
        self._on_disk = text.encode()
        self._now = Version(1, text, self._compile(text, loads(text, str(path))))
        self._document: Document | None = None
        self._saved_files = self._named(self._now.prop.sequence)

    @property
    def now(self) -> Version:
        """The present state."""
        return self._now

    @property
    def dirty(self) -> bool:
        """Whether there is something to save."""
        return self._now.text.encode() != self._on_disk

    @property
    def can_undo(self) -> bool:
        """Whether there is a step back."""
        return bool(self._undo)

    @property
    def can_redo(self) -> bool:
        """Whether there is a step forward again."""
        return bool(self._redo)

    @property
    def changed_outside(self) -> bool:
        """Whether the file on disk is another one than was read or saved last; a file that is
        gone counts as that.
        """
        try:
            return self._disk() != self._on_disk
        except SequenceError:
            return True

    def compile(self, sequence: Sequence) -> Prop:
        """A prop of this folder, without going to it, and whether or not its board could play it in
        time. Raises FxError with every fault of its clips and its table.
        """
        return make_prop(self.path, sequence, self._shelf.prepare)

    def edit(self, changes: Changes, gesture: str = "") -> Version:
        """Set values at paths, all or none; None takes a key out.

        gesture: changes in a row that give the same word, such as those of one slider under a
        finger, are undone in one step. Raises FxError with every fault of the text, its clips and
        its table; nothing is changed then.
        """
        document = self._document or Document(self.path, self._now.text.encode())
        self._document = None
        for path, value in changes:
            self._change(document, path, value)
        text = document.text
        sequence = loads(text, str(self.path))
        self._forbid_new_files(sequence)
        is_same_step = bool(gesture) and gesture == self._gesture and self.can_undo
        version = self._take(text, sequence, keep=not is_same_step)
        self._gesture = gesture
        if is_same_step and self._undo[-1] == text:
            # Given up: there is nothing to be undone.
            self._undo.pop()
            self._gesture = ""
        self._document = document
        return version

    def is_free(self, target: FilePath, data: bytes) -> bool:
        """Whether a file with this in it may be brought in there."""
        return self._brought.is_free(target, data)

    def bring_in(self, target: FilePath, data: bytes, changes: Changes) -> Version:
        """Write a file beside the prop file, unless it is there, and set values at paths that
        may name it. Undo takes the file away again. Raises FxError; nothing is changed then, and
        there is no new file.
        """
        document = Document(self.path, self._now.text.encode())
        for path, value in changes:
            self._change(document, path, value)
        text = document.text
        self._brought.add(target, data)
        try:
            return self._take(text, loads(text, str(self.path)))
        finally:
            self._tidy()

    def rework(self, change: Callable[[str], str]) -> Version:
        """Change the text as a whole, without its mark and with plain line ends, as one step.
        Raises FxError; nothing is changed then.
        """
        document = Document(self.path, self._now.text.encode())
        document.rework(change)
        sequence = loads(document.text, str(self.path))
        self._forbid_new_files(sequence)
        return self._take(document.text, sequence)

    def take_up(self, text: str) -> Version:
        """Go to a text of an earlier run, as one step that can be undone. Raises FxError with
        its faults; nothing is changed then.
        """
        return self._take(text, loads(text, str(self.path)))

    def undo(self) -> Version:
        """One step back. Raises FxError where there is none, or where a clip of that time is
        gone.
        """
        if not self._undo:
            raise FxError(Fault(str(self.path), "there is nothing to undo"))
        return self._step(self._undo, self._redo)

    def redo(self) -> Version:
        """One step forward again. Raises FxError as `undo` does."""
        if not self._redo:
            raise FxError(Fault(str(self.path), "there is nothing to redo"))
        return self._step(self._redo, self._undo)

    def save(self, over: bool = False) -> None:
        """Write the file, whole or not at all. Raises OutsideChange, and writes nothing, where
        somebody else has changed it, unless it is to be written over that.
        """
        found = None if over else self._disk()
        if found is not None and found != self._on_disk:
            raise OutsideChange(
                Fault(
                    str(self.path),
                    "another program has changed the file since it was read",
                    "",
                    _READ_AGAIN,
                )
            )
        data = self._now.text.encode()
        write_whole(self.path, data)
        self._on_disk = data
        self._saved_files = self._named(self._now.prop.sequence)
        self._tidy()

    def difference(self) -> list[str]:
        """Lines by which what is on disk and what is on the desk differ, with two around them:
        `-` only on disk, `+` only here.
        """
        theirs = (self._disk() or b"").decode(errors="replace").splitlines()
        lines = difflib.unified_diff(theirs, self._now.text.splitlines(), lineterm="", n=2)
        return list(lines)[2:]

    def copy_to(self, name: str) -> FilePath:
        """Write what is on the desk to a file of this name beside the prop file, which stays the
        one that is edited. Raises FxError where there is one already.
        """
        target = self.path.with_name(f"{name}.toml")
        if target.exists():
            fault = Fault(target.name, "there is already such a file", "", "Choose another name.")
            raise FxError(fault)
        write_whole(target, self._now.text.encode())
        self._brought.leave(self._named(self._now.prop.sequence))
        return target

    def reload(self) -> Version:
        """Read the file again, as one step that can be undone. Raises FxError with its faults;
        nothing is changed then.
        """
        text = Document.read(self.path).text
        version = self.take_up(text)
        self._on_disk = text.encode()
        self._saved_files = self._named(version.prop.sequence)
        return version

    def _disk(self) -> bytes | None:
        """What is on disk; None where there is no file, over which nothing can be lost. Raises
        SequenceError.
        """
        if not self.path.exists():
            return None
        return read_bytes(self.path)

    def _change(self, document: Document, path: Path, value: Any) -> None:
        try:
            if value is None:
                document.remove(path)
            else:
                document.set(path, value)
        except (TypeError, ValueError) as error:
            raise SequenceError(
                Fault(str(self.path), f"{place_name(path)} cannot be set to that ({error})")
            ) from None

    def _named(self, sequence: Sequence) -> set[FilePath]:
        """All files that the sequence speaks of."""
        return {(self.path.parent / name).resolve() for name in _files(sequence)}

    def _tidy(self) -> None:
        """Put brought-in files aside that neither the desk nor the saved file speaks of."""
        self._brought.put_aside(self._named(self._now.prop.sequence) | self._saved_files)

    def _forbid_new_files(self, sequence: Sequence) -> None:
        """An edit turns what is there; it must not make the bench read other files of this
        machine.
        """
        more = _files(sequence) - _files(self._now.prop.sequence)
        if more:
            remedy = (
                "Drop a recording on the page, or name the file in the prop file and read that"
                " again."
            )
            raise SequenceError(
                *(
                    Fault(
                        str(self.path),
                        f"the file '{name}' does not belong to this prop",
                        "",
                        remedy,
                    )
                    for name in sorted(more)
                )
            )

    def _compile(self, text: str, sequence: Sequence) -> Prop:
        return prop_of(self.path, text, sequence, self._shelf.prepare)

    def _take(self, text: str, sequence: Sequence, keep: bool = True) -> Version:
        """Go to another text. keep: the present one is a step that undo comes back to."""
        if text == self._now.text:
            return self._now
        version = Version(self._now.revision + 1, text, self._compile(text, sequence))
        if keep:
            self._undo.append(self._now.text)
        self._redo.clear()
        self._now = version
        self._gesture = ""
        self._document = None
        self._tidy()
        return version

    def _step(self, source: "deque[str] | list[str]", other: "deque[str] | list[str]") -> Version:
        text = source[-1]
        sequence = loads(text, str(self.path))
        self._brought.bring_back(self._named(sequence))
        try:
            version = Version(self._now.revision + 1, text, self._compile(text, sequence))
            source.pop()
            other.append(self._now.text)
            self._now = version
            self._gesture = ""
            self._document = None
            return version
        finally:
            self._tidy()


def _files(sequence: Sequence) -> set[str]:
    """Names of all files that the sequence speaks of."""
    files = {clip.file for clip in sequence.clips.values()}
    if sequence.picture and sequence.picture.image:
        files.add(sequence.picture.image)
    return files
