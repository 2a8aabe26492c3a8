"""What an effect looks like on its strip, and how it is heard alone."""

import base64

import pytest

from fxseq.bench import Desk
from fxseq.bench.effect_strip import audition, effect_view
from fxseq.bench.things import carry_out
from fxseq.player import Player, Press, PressKind, TraceKind
from fxseq.sequence import FxError
from fxseq.table.decode import decode


@pytest.fixture
def desk(prop_file) -> Desk:
    return Desk(prop_file)


def test_a_clip_is_drawn_with_its_peaks_and_its_loop(desk: Desk):
    shown = effect_view("arc_up", desk.now)
    hum = shown["clips"]["hum"]
    made = desk.now.prop.clips["hum"]
    assert hum["duration_ms"] == pytest.approx(1000 * len(made.samples) / made.rate_hz)
    assert hum["loop_ms"][1] == pytest.approx(hum["duration_ms"])
    assert min(hum["peaks"]) == int(made.samples.min()) * 127 // 32768
    assert max(hum["peaks"]) == int(made.samples.max()) * 127 // 32768
    assert shown["frame_ms"] == pytest.approx(1000 * 21 / 22050)


def test_an_effect_that_nothing_starts_is_shown_too(desk: Desk):
    desk.edit([(("effects", "spare"), {"sounds": [{"clip": "bell"}]})])
    desk.edit([(("effects", "low_cells", "sounds"), None)])
    assert "bell" not in desk.now.prop.clips
    assert effect_view("spare", desk.now)["clips"]["bell"]["duration_ms"] > 100


def test_an_audition_begins_the_effect_in_the_prop_s_own_table(desk: Desk):
    before = desk.now
    desk.edit([(("effects", "spare"), {"sounds": [{"clip": "clunk", "at_ms": 20}]})])
    for name in ("spare", "arc_up", "storm_a"):
        heard = audition(name, desk)
        table = decode(base64.b64decode(heard["table"]))
        own = desk.now.prop.compiled.table
        assert table.triggers[: len(own.triggers)] == own.triggers or name == "spare"
        button = heard["button"]
        assert button == len(table.inputs) - 1
        presses = [
            Press(10, PressKind.PRESS, button),
            Press(10 + heard["hold_frames"], PressKind.RELEASE, button),
        ]
        begun = [
            heard["effects"][event.index]
            for event in Player(table).play(presses, 4000).trace
            if event.kind == TraceKind.EFFECT and event.frame >= 10
        ]
        assert begun == [name]
    assert desk.now.revision == before.revision + 1, "an audition changes nothing"


def test_what_goes_on_by_itself_is_held_for_a_while(desk: Desk):
    frames_a_second = 1050
    assert audition("arc_up", desk)["hold_frames"] == 2 * frames_a_second
    assert audition("storm_a", desk)["hold_frames"] < frames_a_second / 2


def test_what_is_no_effect_is_refused(desk: Desk):
    for ask in (lambda: effect_view("none", desk.now), lambda: audition("none", desk)):
        with pytest.raises(FxError, match="none"):
            ask()


def test_a_place_gets_a_fade_of_its_own(desk: Desk):
    before = desk.now.text
    carry_out({"do": "own", "path": ["effects", "flare_b", "lights", 0, "fade"]}, desk)
    fades, effects = desk.now.prop.sequence.fades, desk.now.prop.sequence.effects
    assert effects["flare_b"].lights[0].fade == "flash_2"
    assert effects["flare_a"].lights[0].fade == "flash"
    assert fades["flash_2"] == fades["flash"]
    desk.undo()
    assert desk.now.text == before
    with pytest.raises(FxError):
        carry_out({"do": "own", "path": ["effects", "flare_b", "sounds", 0, "clip"]}, desk)


def test_each_of_two_quick_clicks_gives_a_row_with_what_it_needs(desk: Desk) -> None:
    before = desk.now.text
    order = {
        "do": "append",
        "path": ["effects", "low_cells", "counts"],
        "value": {"counter": "puffs", "change": -1},
        "changes": [{"path": ["counters", "puffs"], "value": {"maximum": 3}}],
    }
    for _ in range(2):
        carry_out(order, desk)
    effect = desk.now.prop.sequence.effects["low_cells"]
    assert [count.counter for count in effect.counts] == ["puffs", "puffs"]
    desk.undo()
    desk.undo()
    assert desk.now.text == before


def test_a_segment_is_split_in_the_middle_of_a_list_and_remarks_stay(desk: Desk):
    before = desk.now.text
    path = ["fades", "short_flash", "segments"]
    carry_out(
        {
            "do": "insert",
            "path": [*path, 1],
            "value": {"shape": "step", "to_percent": 60, "length_ms": 10},
            "changes": [{"path": [*path, 0, "length_ms"], "value": 15}],
        },
        desk,
    )
    lengths = [each.length_ms for each in desk.now.prop.sequence.fades["short_flash"].segments]
    assert lengths == [15, 10, 95]
    added = set(desk.now.text.splitlines()) - set(before.splitlines())
    assert len(added) <= 3 and desk.now.text.count("#") == before.count("#")
    desk.undo()
    assert desk.now.text == before
    with pytest.raises(FxError):
        carry_out({"do": "insert", "path": [*path, 9], "value": {}, "changes": []}, desk)
