"""A prop that stands for weeks: frame numbers do not show that they wrap (SPEC 5.1 R3).

2^31 frames are 24.9 days at a frame of 1 ms. Most of them are left out, by setting the number of
the next frame; nothing is under way in them.
"""

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from c_host import FIRMWARE, SANITIZED
from plain_player import EVENT_KINDS, PlainPlayer
from plain_reader import read
from running import Event, small_table

from fxseq.player import Player, Press, PressKind
from fxseq.table import (
    EffectRecord,
    InputKind,
    InputRecord,
    Mode,
    Shots,
    Stay,
    Table,
    TriggerRecord,
    encode,
)

WEEKS = (2**30 + 9, 2**31 - 50, 2**31 + 50, 2**31 + 2**30, 2**32 - 3, 2**32 + 100, 2**33 + 7)
"""Frames in which input 0 is tapped; input 1 is closed all the time."""


def standing() -> Table:
    """Input 0 fires; input 1 and power-up hold open a while_held, an on_off and an always, with
    holds of 0, 3 and 5 frames.
    """
    action = Stay(begin=0, end=0)
    return small_table(
        inputs=(InputRecord(InputKind.BUTTON, 8), InputRecord(InputKind.BUTTON, 0)),
        effects=(EffectRecord(()),),
        triggers=(
            TriggerRecord(Mode.ONCE, Shots((0,)), 0),
            TriggerRecord(Mode.WHILE_HELD, action, 1),
            TriggerRecord(Mode.ON_OFF, action, 1, hold=3),
            TriggerRecord(Mode.ALWAYS, action, hold=5),
        ),
    )


def expected() -> list[Event]:
    """At power-up three of them begin and none ends; every tap is a press with a shot, and a
    release 8 frames later.
    """
    kind = EVENT_KINDS
    begun = [(0, kind["PRESS"], 1, 0)]
    for frame, trigger in ((0, 1), (3, 2), (5, 3)):
        begun += [(frame, kind["START"], trigger, 0), (frame, kind["EFFECT"], 0, trigger)]
    for frame in WEEKS:
        begun += [
            (frame, kind["PRESS"], 0, 0),
            (frame, kind["SHOT"], 0, 0),
            (frame, kind["EFFECT"], 0, 0),
            (frame + 8, kind["RELEASE"], 0, 0),
        ]
    return begun


def stand_reference(table: Table) -> list[Event]:
    player = Player(table)
    trace = player.play([Press(0, PressKind.PRESS, 1)], 9).trace
    for frame in WEEKS:
        player.frame = frame
        trace += player.play(
            [Press(frame, PressKind.PRESS, 0), Press(frame, PressKind.RELEASE, 0)], frame + 10
        ).trace
    return [tuple(map(int, event)) for event in trace]


def stand_plain(table: Table) -> list[Event]:
    player = PlainPlayer(read(encode(table)))
    for first in (0, *WEEKS):
        player.frame_number = first
        player.play_frame([(first, 0, 0, 0), (first, 1, 0, 0)] if first else [(0, 0, 1, 0)])
        for _ in range(9):
            player.play_frame([])
    return player.trace


@pytest.mark.parametrize("stand", [stand_reference, stand_plain])
def test_what_was_left_alone_for_weeks_still_works(stand: Callable[[Table], list[Event]]) -> None:
    assert stand(standing()) == expected()


def test_player_in_c_left_alone_for_weeks_still_works(tmp_path: Path) -> None:
    sources = [*sorted((FIRMWARE / "player").glob("fxp*.c")), Path(__file__).with_name("weeks.c")]
    command = [
        "gcc",
        "-std=c99",
        "-Wall",
        "-Wextra",
        "-Werror",
        *SANITIZED.split(),
        f"-I{FIRMWARE / 'player'}",
        *sources,
        "-o",
        tmp_path / "weeks",
    ]
    subprocess.run(command, check=True)
    done = subprocess.run(
        [tmp_path / "weeks", *map(str, WEEKS)],
        input=encode(standing()),
        capture_output=True,
        check=True,
    )
    trace = [tuple(map(int, line.split())) for line in done.stdout.decode().splitlines()]
    assert trace == [(frame % 2**32, *what) for frame, *what in expected()]
