"""One run through either player, in one form, and the small tables that the worked examples
start from.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

import plain_player

from fxseq.player import Player, Press, PressKind, duties
from fxseq.table import EffectRecord, InputKind, InputRecord, Table, VoiceRule, encode

Event = tuple[int, int, int, int]


class Result(NamedTuple):
    """What a run gave. duties: one list a frame; trace: (frame, kind, index, value)."""

    samples: list[int]
    duties: list[list[int]]
    trace: list[Event]
    saturated: int


def play_plain(table: Table, presses: Iterable[Press], until_frame: int) -> Result:
    """The second player, from the bytes of the table."""
    return Result(
        *plain_player.play(encode(table), [tuple(press) for press in presses], until_frame)
    )


def play_reference(
    table: Table, presses: Sequence[Press], until_frame: int, cuts: Iterable[int] = ()
) -> Result:
    """The reference player; `cuts` are the frames at which the run is split into calls of
    `play`.
    """
    player = Player(table)
    result = Result([], [], [], 0)
    for end in sorted({*(cut for cut in cuts if 0 < cut < until_frame), until_frame}):
        played = player.play([press for press in presses if player.frame <= press.frame < end], end)
        result = Result(
            result.samples + played.samples.tolist(),
            result.duties + duties(played).tolist(),
            result.trace
            + [(event.frame, int(event.kind), event.index, event.value) for event in played.trace],
            result.saturated + played.saturated,
        )
    return result


Play = Callable[[Table, Sequence[Press], int], Result]
PLAYERS: dict[str, Play] = {"reference": play_reference, "plain": play_plain}


def told(result: Result, *names: str) -> list[tuple[int, str, int, int]]:
    """The trace with names for kinds; only those of `names`, if any are given."""
    name_of = {kind: name for name, kind in plain_player.EVENT_KINDS.items()}
    return [
        (frame, name_of[kind], index, value)
        for frame, kind, index, value in result.trace
        if not names or name_of[kind] in names
    ]


def frames_of(result: Result, name: str) -> list[int]:
    """The frames at which events of one kind stand."""
    return [frame for frame, *_ in told(result, name)]


def small_table(**fields: object) -> Table:
    """A board of 4 samples a frame, one channel of 16 bits, one voice, one switch without
    lock-out and effect 0, which does nothing.
    """
    plain = Table(
        4000,
        4,
        1,
        16,
        1,
        VoiceRule.OLDEST,
        0,
        1,
        inputs=(InputRecord(InputKind.BUTTON, 0),),
        effects=(EffectRecord(()),),
    )
    return replace(plain, **fields)


def held(start: int, end: int, index: int = 0) -> list[Press]:
    """Contact `index` closed from frame `start` to `end`."""
    return [Press(start, PressKind.PRESS, index), Press(end, PressKind.RELEASE, index)]
