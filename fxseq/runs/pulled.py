"""What is on a board, as a prop file again, and what differs between it and a prop at hand."""

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from fxseq.link import Board
from fxseq.link.messages import table_crc
from fxseq.runs.prop import Prop
from fxseq.sequence import Fault, FxError, LinkError, Sequence, loads
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.differences import Difference, differences, same_things
from fxseq.table import BadNames, BadTable, Called, Names, Table, Use, called_in, decode
from fxseq.table.uncompile import Uncompiled, compiles_to, numbered, uncompile


@dataclass(frozen=True)
class Pulled:
    """A table from a board, and its prop file. called: names that the table carries. part: the
    ready-made board of the file. is_same: whether the file compiles to that table. why_not: what
    the file cannot say, where it does not.
    """

    board: Board
    data: bytes
    table: Table
    called: Called | None
    part: str | None
    file: Uncompiled
    is_same: bool
    why_not: tuple[Fault, ...] = ()

    @property
    def names(self) -> Names | None:
        """What the table's things are called, where it says so."""
        return self.called.names if self.called else None

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
    try:
        called, faults = called_in(table), ()
    except BadNames as bad:
        called, faults = None, (Fault(where, f"the names in its table cannot be used: {bad}"),)
    own = board.name.removeprefix("fxseq ")
    is_joined = any(joint.use != Use.COUNTS for joint in table.joints)
    parts = sorted(board_parts(), key=lambda part: part != own) if is_joined else [None]
    first, *others = parts
    read = partial(_tried, board, data, table, called)
    found = read(first)
    tries = map(read, others)
    best = found if found.is_same else next((one for one in tries if one.is_same), found)
    return replace(best, why_not=best.why_not + faults)


def _tried(
    board: Board, data: bytes, table: Table, called: Called | None, part: str | None
) -> Pulled:
    names = called.names if called else None
    title = called.title if called else f"Pulled from {board.name or 'a board'}"
    file = uncompile(table, title, part, names, called and called.revision)
    found = Pulled(board, data, table, called, part, file, False)
    try:
        return replace(found, is_same=compiles_to(file.text, table, names))
    except FxError as error:
        return replace(found, why_not=error.faults)


def changed_since(found: Pulled, prop: Prop) -> tuple[list[Difference], list[str]]:
    """What is other on the board than in the prop's own table: what its file says, and the clips
    that sound otherwise. Things go by the names that the board's table carries; where it carries
    none, by those of the prop's things that are most like them.

    Both tables are made files by the same rules, so what no table holds makes no difference. Raises
    FxError where the board's table says what no file can say.
    """
    own = prop.compiled
    called = Called(prop.sequence.title, prop.sequence.revision, own.names)
    part = prop.sequence.board.part
    other = found.called or replace(
        called, names=_most_like(own.table, part, own.names, found.table, found.part)
    )
    old = _described(own.table, part, called)
    new = _described(found.table, found.part, other)
    return differences(old, new), _other_clips(own.table, own.names, found.table, other.names)


def _described(table: Table, part: str | None, called: Called | None) -> Sequence:
    if called is None:
        return loads(uncompile(table, "Numbered", part).text, "prop.toml")
    text = uncompile(table, called.title, part, called.names, called.revision).text
    return loads(text, "prop.toml")


def _most_like(
    old: Table, old_part: str | None, names: Names, new: Table, new_part: str | None
) -> Names:
    """Names for a table that carries none: those of the things that it has of the old one."""
    sides = (old, old_part), (new, new_part)
    same = same_things(*(_by_number(table, part) for table, part in sides))

    def named(kind: str) -> tuple[str, ...]:
        known: tuple[str, ...] = getattr(names, f"{kind}s")
        numbers = range(1, len(getattr(new, f"{kind}s")) + 1)
        olds = (same.get(f"{kind}s", {}).get(f"{kind}_{number}") for number in numbers)
        return tuple(
            known[int(one.removeprefix(f"{kind}_")) - 1]
            if one
            else numbered(f"{kind}_{number}", known)
            for number, one in zip(numbers, olds, strict=True)
        )

    selectors = named("selector")
    positions = dict(zip(names.selectors, names.positions, strict=True))
    return Names(
        inputs=named("input"),
        selectors=selectors,
        positions=tuple(positions.get(name, ()) for name in selectors),
        counters=named("counter"),
        groups=named("group"),
        fades=named("fade"),
        segments=(),
        clips=named("clip"),
        effects=named("effect"),
        triggers=named("trigger"),
    )


def _by_number(table: Table, part: str | None) -> dict[str, Any]:
    """Values of a prop file without names; a clip's file is its sound."""
    values = _described(table, part, None).model_dump()
    for clip, keys in zip(table.clips, values["clips"].values(), strict=True):
        keys["file"] = (clip.data, clip.samples)
    return values


def _other_clips(old: Table, old_names: Names, new: Table, new_names: Names) -> list[str]:
    before = dict(zip(old_names.clips, old.clips, strict=True))
    return [
        f"clip '{name}': its sound is another one"
        for name, clip in zip(new_names.clips, new.clips, strict=True)
        if name in before
        and (clip.data, clip.samples) != (before[name].data, before[name].samples)
    ]
