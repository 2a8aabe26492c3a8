"""The bound on the work of a frame: dear tables played on the emulated processors stay below it
(tests/speed/worst.py tries many more), and nothing more to do lowers it.
"""

import math
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.table import (
    ClipRecord,
    Coding,
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    Merge,
    Mode,
    PlayClip,
    SelectorRecord,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    VoiceRule,
)
from fxseq.table.frame_work import CYCLES, FrameWork, frame_cycles
from fxseq.table.records import RUNNING_EFFECTS

sys.path.insert(0, str(Path(__file__).parents[1] / "speed"))

from cases import CASES, case_table  # noqa: E402
from worst import Target, dearest, draw, targets  # noqa: E402

KINDS = sorted(CYCLES)
EASE = FadeCurve((FadeSegment(Shape.EASE, 100, 65535),))
FLICKER = FadeCurve((FadeSegment(Shape.FLICKER, 2000, 51400, 12850, 1092),), 0)


def shot(effect: int, conditions: tuple[tuple[int, int], ...] = ()) -> TriggerRecord:
    return TriggerRecord(Mode.ONCE, Shots((effect,)), 0, conditions=conditions)


LIT = shot(0)
TABLE = Table(
    22050,
    21,
    6,
    12,
    2,
    VoiceRule.OLDEST,
    3,
    7,
    (InputRecord(InputKind.BUTTON, 20),),
    (SelectorRecord(2, 0),),
    (),
    (GroupRecord(0, 6, Merge.HIGHEST),),
    (EASE, FLICKER),
    (ClipRecord(Coding.PCM16, 65536, 100, bytes(200)),),
    (EffectRecord((StartFade(0, 0, 0),)), EffectRecord((PlayClip(0, 0, 3000),))),
    (LIT,),
)
"""A press starts a fade on six lights."""


def worst(kind: str, **changed: object) -> float:
    return FrameWork(replace(TABLE, **changed), kind).worst_cycles


# ---- against emulated processors ----

DEAREST = {"cortex_m": 204, "avr": 135}
"""Seeds of tables whose dearest frame comes nearest to the bound, of the first 240."""
KNOWN = {
    "cortex_m": "4 voices, 24 flickers at once over flicker",
    "avr": "2 voices, 6 one by one over flicker",
}


@pytest.fixture(scope="module")
def processors(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Target]:
    return {target.kind: target for target in targets(tmp_path_factory.mktemp("processors"))}


@pytest.mark.parametrize("kind", KINDS)
def test_no_frame_takes_more_than_the_bound_and_the_dearest_comes_near(
    processors: dict[str, Target], kind: str
) -> None:
    target = processors[kind]
    tables = [*draw([DEAREST[kind]], target), case_table(CASES[KNOWN[kind]], target.clock)]
    near, known = (
        taken / FrameWork(table, kind).worst_cycles
        for table, taken in zip(tables, dearest(target, tables), strict=True)
    )
    assert 0.8 < near <= 1
    assert 0.4 < known <= 1


# ---- what may not lower it ----


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("conditions", [(), ((0, 1),), ((0, 2),)])
@pytest.mark.parametrize("effect", [0, 1])
def test_one_more_trigger_never_lowers_it(
    kind: str, effect: int, conditions: tuple[tuple[int, int], ...]
) -> None:
    added = shot(effect, conditions)
    assert worst(kind, triggers=(LIT, added)) > worst(kind)
    assert worst(kind, triggers=(added, LIT)) == worst(kind, triggers=(LIT, added))


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
def test_triggers_of_two_positions_of_a_selector_never_act_together(kind: str) -> None:
    first, second = ((0, 1),), ((0, 2),)
    apart = worst(kind, triggers=(shot(0, first), shot(0, second)))
    together = worst(kind, triggers=(shot(0, first), shot(0, first)))
    assert worst(kind, triggers=(shot(0, first),)) < together
    assert apart < together


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
def test_triggers_of_one_input_that_wait_differently_never_act_together(kind: str) -> None:
    """Of two inputs they do."""
    late = replace(LIT, hold=500)
    other = replace(late, input=1)
    inputs = TABLE.inputs * 2
    apart = worst(kind, triggers=(LIT, late), inputs=inputs)
    assert apart < worst(kind, triggers=(LIT, LIT), inputs=inputs)
    assert worst(kind, triggers=(LIT, other), inputs=inputs) > apart


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
def test_what_a_turned_selector_ends_comes_together_with_what_it_begins(kind: str) -> None:
    staying = TriggerRecord(Mode.WHILE_HELD, Stay(end=0), 0, conditions=((0, 1),))
    begun = TriggerRecord(Mode.WHILE_HELD, Stay(begin=0), 0, conditions=((0, 2),))
    assert FrameWork(replace(TABLE, triggers=(staying, begun)), kind).starts()["effect"] == 2
    assert FrameWork(replace(TABLE, triggers=(begun, begun)), kind).starts()["effect"] == 2
    assert FrameWork(replace(TABLE, triggers=(begun,)), kind).starts()["effect"] == 1


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
def test_no_more_goes_on_than_there_are_places_for(kind: str) -> None:
    """Twenty triggers at one input, at each of which six lights start one by one."""
    group = GroupRecord(0, 6, Merge.HIGHEST)
    effects = (EffectRecord((StartFade(0, 0, 0, 1),)),)
    work = FrameWork(replace(TABLE, groups=(group,), effects=effects, triggers=(LIT,) * 20), kind)
    assert work.starts()["along"] == 20 + RUNNING_EFFECTS


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "changed",
    [
        {"voices": 4},
        {"samples_per_frame": 48},
        {"channels": 12, "groups": (GroupRecord(0, 12, Merge.HIGHEST),)},
        {"effects": (EffectRecord((StartFade(0, 0, 0), StartFade(0, 0, 1))), *TABLE.effects[1:])},
        {"clips": (replace(TABLE.clips[0], step=3 * 65536),)},
        {"clips": (replace(TABLE.clips[0], coding=Coding.IMA_ADPCM),)},
    ],
    ids=lambda changed: next(iter(changed)),
)
def test_more_of_anything_raises_it(kind: str, changed: dict[str, object]) -> None:
    assert worst(kind, **changed) > worst(kind)


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
def test_lights_that_start_one_by_one_are_cheaper_than_all_at_once(kind: str) -> None:
    at_once, one_by_one = (
        worst(
            kind,
            channels=24,
            groups=(GroupRecord(0, 24, Merge.HIGHEST),),
            effects=(EffectRecord((StartFade(0, 0, 0, stagger),)), TABLE.effects[1]),
        )
        for stagger in (0, 2)
    )
    assert one_by_one < at_once


@pytest.mark.quick
def test_it_is_endless_in_a_coding_that_the_processor_cannot_decode() -> None:
    qoa = (replace(TABLE.clips[0], coding=Coding.QOA),)
    assert worst("avr", clips=qoa) == math.inf
    assert worst("cortex_m", clips=qoa) < math.inf


@pytest.mark.quick
@pytest.mark.parametrize("kind", KINDS)
def test_it_is_the_sum_of_its_parts(kind: str) -> None:
    work = FrameWork(TABLE, kind)
    parts = (work.sound(), work.light(), work.starts())
    assert work.worst_cycles == sum(units.cycles for units in parts)


@pytest.mark.quick
def test_frame_has_the_cycles_of_its_samples() -> None:
    # 21 samples of 1 / 22050 s are 1 / 1050 s.
    assert frame_cycles(TABLE, 48e6) == pytest.approx(48e6 / 1050)
