"""What is on a board, as a prop file again, and what differs between it and a prop at hand."""

from dataclasses import dataclass

from fxseq.link import Board
from fxseq.link.messages import table_crc
from fxseq.runs.prop import Prop
from fxseq.sequence import Fault, FxError, LinkError, loads
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.differences import Difference, differences
from fxseq.table import BadTable, Names, Table, decode
from fxseq.table.uncompile import Uncompiled, compiles_to, uncompile


@dataclass(frozen=True)
class Pulled:
    """A table from a board, and its prop file. part: the ready-made board of the file. is_same:
    whether the file compiles to that table. why_not: what the file cannot say, where it does not.
    """

    board: Board
    data: bytes
    table: Table
    part: str | None
    file: Uncompiled
    is_same: bool
    why_not: tuple[Fault, ...] = ()

    @property
    def mark(self) -> str:
        """The table's CRC, by which it is known."""
        return f"{table_crc(self.data):08x}"


def pulled(board: Board, data: bytes, where: str) -> Pulled:
    """The prop file of what was read from a board.

    A board does not say for which ready-made one its table is: of those that there are, the one
    counts that the file compiles with. Raises LinkError for a table that this fxseq cannot read.
    """
    try:
        table = decode(data)
    except BadTable as bad:
        raise LinkError(Fault(where, f"the board's table cannot be read: {bad}")) from None
    own = board.name.removeprefix("fxseq ")
    parts = sorted(board_parts(), key=lambda part: part != own) if table.joints else [None]
    first, *others = parts
    found = _tried(board, data, table, first)
    tries = (_tried(board, data, table, part) for part in others)
    return found if found.is_same else next((one for one in tries if one.is_same), found)


def _tried(board: Board, data: bytes, table: Table, part: str | None) -> Pulled:
    file = uncompile(table, f"Pulled from {board.name or 'a board'}", part)
    try:
        return Pulled(board, data, table, part, file, compiles_to(file.text, table))
    except FxError as error:
        return Pulled(board, data, table, part, file, False, error.faults)


def changed_since(found: Pulled, prop: Prop) -> tuple[list[Difference], list[str]]:
    """What is other on the board than in the prop's own table: what its file says, and the clips
    that sound otherwise, each by the name that the prop has for what comes at its turn.

    Both tables are made files by the same rules, so what no table holds makes no difference. Raises
    FxError where the board's table says what no file can say.
    """
    own = prop.compiled
    sides = (own.table, prop.sequence.board.part), (found.table, found.part)
    old, new = (
        loads(uncompile(table, "The prop", part, own.names).text, "prop.toml")
        for table, part in sides
    )
    return differences(old, new), _other_clips(own.table, found.table, own.names)


def _other_clips(old: Table, new: Table, names: Names) -> list[str]:
    return [
        f"clip '{name}': its sound is another one"
        for name, one, other in zip(names.clips, old.clips, new.clips, strict=False)
        if (one.data, one.samples) != (other.data, other.samples)
    ]
