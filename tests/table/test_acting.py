"""What triggers start in one frame, as the bound on the work of a frame has it, against the player:
random tables whose effects are all alike, so that only their number counts, under random hands.
"""

from collections import Counter
from dataclasses import replace
from random import Random

import pytest

from fxseq.player import Player, Press, PressKind, TraceKind
from fxseq.table import (
    CounterRecord,
    EffectRecord,
    InputKind,
    InputRecord,
    Mode,
    SelectorRecord,
    Shots,
    Stay,
    Table,
    TriggerRecord,
    VoiceRule,
)
from fxseq.table.frame_work import FrameWork

EMPTY = Table(8000, 4, 1, 8, 1, VoiceRule.OLDEST, 0, 1)
LENGTHS = (0, 1, 3)
RUNS = 150
FRAMES = 500
INPUTS = 2


def random_trigger(chance: Random) -> TriggerRecord:
    mode = chance.choice(list(Mode))
    some = (None, *range(len(LENGTHS)))
    action: Shots | Stay = Stay(*(chance.choice(some) for _ in range(3)))
    if not mode.stays:
        action = Shots((0,))
    if mode == Mode.REPEAT:
        burst = chance.choice((1, 1, 2, 5))
        period = chance.choice((256, 300, 768))
        action = replace(action, period=period, burst=burst, limit=chance.choice((0, burst)))
    needs = chance.choice((None, None, 0, 1))
    conditions = [(selector, chance.randrange(1, 8)) for selector in (0, 1) if chance.randrange(2)]
    return TriggerRecord(
        mode,
        action,
        None if mode == Mode.ALWAYS else chance.randrange(INPUTS),
        chance.choice((0, 0, 2, 5)),
        tuple(conditions),
        needs,
        None if needs is None else chance.choice(some),
    )


def random_table(chance: Random) -> Table:
    """Of two counters, one is and stays at 0."""
    return replace(
        EMPTY,
        inputs=tuple(InputRecord(InputKind.BUTTON, chance.choice((0, 1, 4))) for _ in range(INPUTS)),
        selectors=(SelectorRecord(3, 0),) * 2,
        counters=(CounterRecord(1, 0), CounterRecord(1, 1)),
        effects=tuple(EffectRecord((), length) for length in LENGTHS),
        triggers=tuple(random_trigger(chance) for _ in range(chance.choice((1, 2, 2, 3)))),
    )


def random_hands(chance: Random) -> list[Press]:
    """Something in every third frame, and sometimes all at once."""
    presses = []
    for frame in range(FRAMES):
        together = chance.random() < 0.1
        for index in range(INPUTS):
            if together or chance.random() < 0.15:
                kind = chance.choice((PressKind.PRESS, PressKind.RELEASE))
                presses.append(Press(frame, kind, index))
            if together or chance.random() < 0.05:
                presses.append(Press(frame, PressKind.SELECT, index, chance.randrange(3)))
    return presses


def most_started(table: Table, chance: Random) -> int:
    """Effects in one frame behind the first."""
    played = Player(table).play(random_hands(chance), FRAMES)
    started = Counter(event.frame for event in played.trace if event.kind == TraceKind.EFFECT)
    return max((count for frame, count in started.items() if frame > 0), default=0)


@pytest.mark.quick
def test_no_frame_starts_more_than_the_bound_and_most_bounds_are_met() -> None:
    met = 0
    for seed in range(RUNS):
        chance = Random(seed)
        table = random_table(chance)
        bound = FrameWork(table, "cortex_m").starts()["effect"]
        most = most_started(table, chance)
        assert most <= bound, f"seed {seed}"
        met += most == bound
    assert met > 0.4 * RUNS
