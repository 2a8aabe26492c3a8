"""Damage with a CRC that fits: both readers refuse it for the same reason at the same byte, or
both take it (SPEC 1 R1, 4).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mutations import records_end
from raw_table import read_by_both, reseal, seal, with_byte
from strategies import often, tables

from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape
from fxseq.table import (
    ChangeCount,
    ClipRecord,
    Coding,
    CounterRecord,
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
    decode,
    encode,
)

SMALL = Table(
    4000,
    4,
    6,
    8,
    2,
    VoiceRule.SAME_CLIP,
    3,
    77,
    (InputRecord(InputKind.BUTTON, 200),),
    (SelectorRecord(3, 1),),
    (CounterRecord(300, 5),),
    (GroupRecord(0, 3, Merge.LATEST), GroupRecord(4, 2, Merge.HIGHEST, 0)),
    (
        FadeCurve(
            (
                FadeSegment(Shape.STEP, 0, 1799),
                FadeSegment(Shape.FLICKER, 300, 23130, 5140, 10922),
                FadeSegment(Shape.EASE, 5, AMBIENT),
            ),
            1,
        ),
    ),
    (
        ClipRecord(Coding.PCM16, 65536, 40, bytes(range(100, 180)), 3),
        ClipRecord(Coding.MULAW, 40000, 9, bytes(range(9))),
    ),
    (
        EffectRecord(
            (PlayClip(0, 0, 300, 20), StartFade(3, 0, 0, -2, True), ChangeCount(3, 0, -7)),
            400,
            9,
            8,
        ),
        EffectRecord(()),
    ),
    (
        TriggerRecord(Mode.ONCE, Shots((1, 0), True), 0, 6, ((0, 5),), 0, 1),
        TriggerRecord(
            Mode.REPEAT,
            Shots((0,), period=700, first=9, burst=3, limit=7, ramp_shots=4, ramp_period=300),
            0,
        ),
        TriggerRecord(Mode.ALWAYS, Stay(0, 1, 1), hold=2),
    ),
)
"""Every kind of record and every option once."""

WHOLE = encode(SMALL)
RECORDS_END = records_end(WHOLE)


def taken(data: bytes) -> Table | None:
    """What both readers take the bytes for, which `encode` writes back as an equal table; None
    where both refuse them alike.
    """
    _, table = read_by_both(data)
    if table is not None:
        written = encode(table)
        assert written == data or decode(written) == table
    return table


def test_the_table_itself_is_taken() -> None:
    assert taken(WHOLE) == SMALL


@pytest.mark.parametrize("at", range(22, RECORDS_END))
def test_every_other_value_of_every_byte_is_judged_alike(at: int) -> None:
    for value in set(range(256)) - {WHOLE[at]}:
        # No byte is without meaning: what is taken is another table.
        assert taken(with_byte(WHOLE, at, value)) != SMALL


def test_byte_of_a_header_is_refused_whatever_else_it_is() -> None:
    for at in (*range(8), 16):
        for value in set(range(256)) - {WHOLE[at]}:
            assert taken(with_byte(WHOLE, at, value)) is None


@pytest.mark.parametrize("repaired", [False, True])
def test_every_truncation_is_refused(repaired: bool) -> None:
    for size in range(len(WHOLE)):
        short = WHOLE[:size]
        if repaired and size >= 54:
            short = seal(short)
        assert taken(short) is None


def test_every_byte_taken_out_or_put_in_is_judged_alike() -> None:
    for at in range(50, len(WHOLE) - 4, 2):
        taken(seal(WHOLE[:at] + WHOLE[at + 2 :]))
        for value in (0, 1, 0x7F, 0x80, 0xFF):
            taken(seal(WHOLE[:at] + bytes([value]) * 2 + WHOLE[at:]))


@st.composite
def damaged(draw: st.DrawFn) -> bytes:
    """A generated table with up to four bytes of its records changed, mostly by little."""
    data = bytearray(encode(draw(tables())))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(22, min(records_end(bytes(data)), len(data)) - 1))
        near = (data[at] ^ 1, data[at] ^ 0x80)
        data[at] = draw(
            st.one_of(
                st.integers(0, 255),
                st.sampled_from((0, 1, 0x7F, 0x80, 0xFF)),
                st.sampled_from(near),
            )
        )
    return reseal(bytes(data))


@often(80)
@given(damaged())
def test_damaged_tables_are_judged_alike(data: bytes) -> None:
    taken(data)


@often(80)
@given(st.binary(min_size=54, max_size=120))
def test_noise_is_judged_alike(noise: bytes) -> None:
    taken(seal(WHOLE[:50] + noise[50:]))
    taken(seal(noise))
