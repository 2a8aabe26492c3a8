"""Every worked and every INVALID block of SPEC sections 2 and 3. The bytes are looked up in the text, so that it cannot drift away."""

from pathlib import Path

import pytest
from raw_table import BOARD, assemble, number, verdict

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.table import (
    ChangeCount, ClipRecord, Coding, CounterRecord, EffectRecord, GroupRecord, InputKind, InputRecord, Merge, Mode, PlayClip,
    SelectorRecord, Shots, StartFade, Table, TriggerRecord, VoiceRule, decode,
)
from fxseq.table.encode import number as encoded_number

SPEC = (Path(__file__).parents[2] / "firmware_spec" / "SPEC.md").read_text()

COUNTER, GROUP, FADE = bytes.fromhex("0C 0C"), bytes.fromhex("00 18 00"), bytes.fromhex("00 00 00 FF")
MULAW_CLIP, MULAW_DATA = bytes.fromhex("01 80 80 04 A0 1F 00"), bytes(4000)


def quoted(text: str) -> bytes:
    """The bytes of a passage of SPEC, which must be there, backticks and all."""
    assert text in SPEC, f"SPEC does not say {text}"
    return bytes.fromhex(text.replace("`", ""))


def body(text: str) -> bytes:
    """The body of a record that SPEC gives as size and body."""
    size, content = quoted(text)[0], quoted(text)[1:]
    assert size == len(content)
    return content


@pytest.mark.parametrize(("text", "value"), [("`05`", 5), ("`80 01`", 128), ("`E5 8E 26`", 624485)])
def test_worked_numbers(text: str, value: int) -> None:
    assert encoded_number(value) == number(value) == quoted(text)


def test_number_in_a_longer_form_is_refused() -> None:
    raw = assemble(inputs=[b"\0" + quoted("`85 00`")])
    assert verdict(raw.data) == ("BAD_NUMBER", raw.at["inputs"][0] + 1)


def test_worked_board() -> None:
    assert quoted("`A2 AC 01 15 2A 0C 04 00 58 01 00 00 00`") == BOARD
    assert decode(assemble().data) == Table(22050, 21, 42, 12, 4, VoiceRule.OLDEST, 88, 1)


def test_board_without_voices_is_refused() -> None:
    assert verdict(assemble(BOARD[:6] + b"\0" + BOARD[7:]).data) == ("BAD_VALUE", 13 + 6)


def test_worked_input() -> None:
    assert decode(assemble(inputs=[body("`02` `00 15`")]).data).inputs == (InputRecord(InputKind.BUTTON, 21),)


def test_input_of_kind_two_is_refused() -> None:
    raw = assemble(inputs=[body("`02` `02 15`")])
    assert verdict(raw.data) == ("BAD_VALUE", raw.at["inputs"][0])


def test_worked_selector() -> None:
    assert decode(assemble(selectors=[body("`02` `02 00`")]).data).selectors == (SelectorRecord(2, 0),)


def test_selector_that_starts_beyond_its_positions_is_refused() -> None:
    raw = assemble(selectors=[body("`02` `02 02`")])
    assert verdict(raw.data) == ("BAD_VALUE", raw.at["selectors"][0] + 1)


def test_worked_counter() -> None:
    assert decode(assemble(counters=[body("`02` `0C 0C`")]).data).counters == (CounterRecord(12, 12),)


def test_counter_that_starts_above_its_maximum_is_refused() -> None:
    raw = assemble(counters=[body("`02` `0C 0D`")])
    assert verdict(raw.data) == ("BAD_VALUE", raw.at["counters"][0] + 1)


def test_worked_group() -> None:
    assert decode(assemble(groups=[body("`03` `00 18 00`")]).data).groups == (GroupRecord(0, 24, Merge.HIGHEST),)


def test_group_that_overlaps_the_one_before_is_refused() -> None:
    raw = assemble(groups=[body("`03` `00 18 00`"), body("`03` `17 01 00`")])
    assert verdict(raw.data) == ("BAD_VALUE", raw.at["groups"][1])


def test_worked_fade() -> None:
    content = body("`08 00 00 00 FF 03 96 02 00`")
    assert content == quoted("`00 00 00 FF 03 96 02 00`")
    segments = (FadeSegment(Shape.STEP, 0, 255), FadeSegment(Shape.DECAY, 278, 0))
    assert decode(assemble(fades=[content]).data).fades == (FadeCurve(segments),)


def test_fade_that_loops_without_length_is_refused() -> None:
    raw = assemble(fades=[body("`04` `01 00 00 FF`")])
    assert verdict(raw.data) == ("BAD_VALUE", raw.at["fades"][0])


def test_worked_clip() -> None:
    raw = assemble(clip_data=MULAW_DATA, clips=[body("`07` `01 80 80 04 A0 1F 00`")])
    assert decode(raw.data).clips == (ClipRecord(Coding.MULAW, 65536, 4000, MULAW_DATA),)


def test_clip_with_a_byte_too_few_is_refused_at_its_place() -> None:
    raw = assemble(clip_data=MULAW_DATA[:-1], clips=[MULAW_CLIP])
    assert verdict(raw.data) == ("BAD_DATA", raw.at["clips"][0] + 6)


def effect_raw(content: bytes) -> tuple[bytes, int]:
    """A table with one effect, and enough for it to refer to; and where its body begins."""
    raw = assemble(
        clip_data=MULAW_DATA, counters=[COUNTER], groups=[GROUP], fades=[FADE, FADE], clips=[MULAW_CLIP], effects=[content]
    )
    return raw.data, raw.at["effects"][0]


def test_worked_effect() -> None:
    content = quoted("`0A` `00` `00 00` `09 00 01 04` `02 00 01`")
    assert content[0] == len(content) - 1
    steps = (PlayClip(0, 0, 4096), StartFade(0, 0, 1, 2), ChangeCount(0, 0, -1))
    assert decode(effect_raw(content[1:])[0]).effects == (EffectRecord(steps),)


def test_step_of_kind_three_is_refused() -> None:
    data, at = effect_raw(b"\0" + quoted("`03`"))
    assert verdict(data) == ("BAD_VALUE", at + 1)


def test_worked_trigger() -> None:
    raw = assemble(inputs=[b"\0\0"], effects=[b"\0", b"\0"], triggers=[body("`04` `00 00 00 01`")])
    assert decode(raw.data).triggers == (TriggerRecord(Mode.SINGLE, Shots((0, 1)), 0),)


def test_trigger_of_mode_five_is_refused() -> None:
    raw = assemble(inputs=[b"\0\0"], effects=[b"\0"], triggers=[body("`03` `05 00 00`")])
    assert verdict(raw.data) == ("BAD_VALUE", raw.at["triggers"][0])


def test_no_example_of_the_text_is_left_out() -> None:
    layout = SPEC[SPEC.index("## 2 Notation") : SPEC.index("## 4 Reasons")]
    # One of each in 2.2 and in 3.1 to 3.9; here they are tests that begin with test_worked and tests that end with is_refused.
    assert layout.count("Worked:") == 10 and layout.count("INVALID:") == 10
