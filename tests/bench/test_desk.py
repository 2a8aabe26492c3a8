"""The desk alone: any edits, undone and redone, give back every byte; a save keeps remarks;
nothing is overwritten unseen.
"""

import shutil
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from fxseq.bench import Desk, OutsideChange
from fxseq.runs import load_prop
from fxseq.sequence import FxError, SequenceError

DEMO = Path(__file__).parents[2] / "demo_assets"


@pytest.fixture
def desk(prop_file: Path) -> Desk:
    return Desk(prop_file)


def remarks(text: str) -> list[str]:
    """All remarks of a TOML text without `#` in its strings, as the demo is."""
    return [line.split("#", 1)[1] for line in text.splitlines() if "#" in line]


@pytest.mark.quick
def test_an_edit_changes_its_line_alone(desk: Desk) -> None:
    before = desk.now.text.splitlines()
    desk.edit([(("fades", "flash", "segments", 1, "length_ms"), 500)])
    after = desk.now.text.splitlines()
    different = [(one, other) for one, other in zip(before, after, strict=True) if one != other]
    assert different == [
        (
            '    { shape = "decay", to_percent = 0, length_ms = 380 },',
            '    { shape = "decay", to_percent = 0, length_ms = 500 },',
        )
    ]


def test_what_is_compiled_is_what_loading_the_saved_file_gives(desk: Desk) -> None:
    desk.edit(
        [(("triggers", "storm_signal", "rate_per_s"), 8.5), (("clips", "hum", "gain_db"), -3)]
    )
    desk.edit([(("speaker", "resonance_hz"), 600), (("clips", "bell", "coding"), "ima_adpcm")])
    desk.save()
    assert load_prop(desk.path).compiled.data == desk.now.prop.compiled.data


@pytest.mark.quick
def test_a_save_keeps_remarks(desk: Desk) -> None:
    before = remarks(desk.path.read_text())
    desk.edit([(("groups", "lens", "current_ma"), 18)])
    desk.edit([(("effects", "flare_c", "lights", 0, "stagger_ms"), 5)])
    desk.save()
    assert remarks(desk.path.read_text()) == before and len(before) > 20
    assert not desk.dirty


def test_windows_line_ends_and_mark_stay(small_file: Path) -> None:
    text = "\ufeff" + small_file.read_text().replace("\n", "\r\n")
    small_file.write_bytes(text.encode())
    desk = Desk(small_file)
    desk.edit([(("title",), "Second light")])
    desk.save()
    assert small_file.read_bytes() == text.replace("First light", "Second light", 1).encode()


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("triggers", "flare", "rate_per_s"), 3),
        (("board", "voices"), 0),
        (("nothing", "here"), 1),
        (("effects", "flare_a", "sounds", 9, "gain_db"), 0),
        (("effects", "flare_a", "sounds", 0, "clip"), "none"),
        (("title",), None),
        (("title", "deeper"), 1),
        (("clips", "hum", "end_ms"), 1e6),
        (("effects", "flare_a", "counts"), [1, None]),
        (("fades", "flash", "segments"), []),
    ],
)
def test_a_bad_edit_changes_nothing(desk: Desk, path: tuple[str | int, ...], value: object) -> None:
    before = desk.now
    with pytest.raises(FxError) as error:
        desk.edit([(("board", "voices"), 3), (path, value)])
    assert error.value.faults and desk.now is before and not desk.dirty and not desk.can_undo


def test_an_edit_after_a_bad_one_holds_no_trace_of_it(desk: Desk) -> None:
    before = desk.now.text
    with pytest.raises(FxError):
        desk.edit([(("board", "voices"), 99)])
    desk.edit([(("title",), "Other")])
    assert desk.now.text == before.replace('The Squall Lantern"', 'Other"', 1)


def test_an_edit_that_says_what_is_so_is_no_step(desk: Desk) -> None:
    desk.edit([(("triggers", "storm_signal", "rate_per_s"), 7)])
    assert desk.now.revision == 1 and not desk.can_undo


def test_the_edits_of_one_gesture_are_one_step(desk: Desk) -> None:
    start = desk.now.text
    for rate in (8, 9, 10):
        desk.edit([(("triggers", "storm_signal", "rate_per_s"), rate)], "drag 1")
    desk.edit([(("triggers", "storm_signal", "rate_per_s"), 11)], "drag 2")
    assert desk.undo().prop.sequence.triggers["storm_signal"].rate_per_s == 10
    assert desk.undo().text == start and not desk.can_undo


def test_a_gesture_that_is_given_up_is_no_step_and_one_that_goes_on_is(desk: Desk) -> None:
    start = desk.now.text
    for rate in (8, 7):
        desk.edit([(("triggers", "storm_signal", "rate_per_s"), rate)], "drag 1")
    assert desk.now.text == start and not desk.can_undo
    for rate in (8, 9):
        desk.edit([(("triggers", "storm_signal", "rate_per_s"), rate)], "drag 1")
    assert desk.undo().text == start and not desk.can_undo


def test_an_edit_ends_what_can_be_redone(desk: Desk) -> None:
    desk.edit([(("board", "voices"), 3)])
    desk.undo()
    desk.edit([(("board", "voices"), 2)])
    assert not desk.can_redo
    with pytest.raises(FxError, match="nothing to redo"):
        desk.redo()


def test_there_is_nothing_to_undo_at_first(desk: Desk) -> None:
    with pytest.raises(FxError, match="nothing to undo"):
        desk.undo()


def test_every_change_is_a_new_revision(desk: Desk) -> None:
    revisions = [
        desk.now.revision,
        desk.edit([(("board", "voices"), 3)]).revision,
        desk.undo().revision,
        desk.redo().revision,
    ]
    assert revisions == [1, 2, 3, 4]


def test_a_key_that_is_taken_out_has_its_default(desk: Desk) -> None:
    desk.edit([(("board", "voices"), None)])
    desk.edit([(("board", "random_seed"), None)])  # is not there at all
    assert "voices" not in tomllib.loads(desk.now.text)["board"]


def test_a_file_changed_outside_is_not_overwritten(desk: Desk) -> None:
    desk.edit([(("board", "voices"), 3)])
    theirs = desk.path.read_text() + "# theirs\n"
    desk.path.write_text(theirs)
    assert desk.changed_outside
    with pytest.raises(OutsideChange):
        desk.save()
    assert desk.path.read_text() == theirs and desk.dirty


def test_reading_again_keeps_the_edits_one_undo_away(desk: Desk) -> None:
    mine = desk.edit([(("board", "voices"), 3)]).text
    desk.path.write_text(desk.path.read_text() + "# theirs\n")
    desk.reload()
    assert desk.now.text.endswith("# theirs\n") and not desk.dirty and not desk.changed_outside
    assert desk.undo().text == mine and desk.dirty
    desk.save()
    assert desk.path.read_text() == mine


def test_a_faulty_file_outside_is_not_taken(desk: Desk) -> None:
    before = desk.now
    desk.path.write_text("format = 1\nboard = {")
    with pytest.raises(SequenceError):
        desk.reload()
    assert desk.now is before and desk.changed_outside


def test_mine_can_be_kept_where_the_file_is_broken(desk: Desk) -> None:
    desk.edit([(("board", "voices"), 3)])
    desk.path.write_text("format = 1\nboard = {")
    difference = desk.difference()
    assert difference[0].startswith("@@") and "-board = {" in difference
    assert "+voices = 3" in [line.split("#")[0].rstrip() for line in difference]
    desk.save(over=True)
    assert desk.path.read_text() == desk.now.text and not desk.changed_outside
    assert desk.difference() == []


def test_a_file_that_is_gone_can_be_saved_again(desk: Desk) -> None:
    desk.path.unlink()
    assert desk.changed_outside
    desk.save()
    assert desk.path.read_text() == desk.now.text and not desk.changed_outside


def test_a_file_that_cannot_be_read_is_not_overwritten(desk: Desk) -> None:
    text = desk.path.read_bytes()
    desk.path.unlink()
    desk.path.mkdir()  # even root cannot read a folder
    with pytest.raises(SequenceError):
        desk.save()
    desk.path.rmdir()
    desk.path.write_bytes(text)


def test_undo_across_a_clip_that_is_gone_changes_nothing(desk: Desk) -> None:
    desk.edit([(("clips", "dry", "gain_db"), -3)])
    (desk.path.parent / "clips" / "dry.wav").unlink()
    desk.edit([(("effects", "dry", "sounds"), [{"clip": "clunk"}])])
    before = desk.now
    with pytest.raises(FxError, match="no such file"):
        desk.undo()
    assert desk.now is before and desk.can_undo


def test_a_clip_that_changes_on_disk_is_made_ready_again(desk: Desk) -> None:
    shutil.copy(desk.path.parent / "clips" / "bell.wav", desk.path.parent / "clips" / "dry.wav")
    desk.edit([(("title",), "Other")])
    assert desk.now.prop.compiled.data == load_prop_of_text(desk)


def load_prop_of_text(desk: Desk) -> bytes:
    other = desk.path.with_name("other.toml")
    other.write_bytes(desk.now.text.encode())
    return load_prop(other).compiled.data


EDITS = st.one_of(
    st.tuples(
        st.just(("triggers", "storm_signal", "rate_per_s")),
        st.floats(0.5, 40).map(lambda rate: round(rate, 2)),
    ),
    st.tuples(st.just(("fades", "flash", "segments", 1, "length_ms")), st.integers(0, 2000)),
    st.tuples(st.just(("fades", "glow", "segments", 0, "to_percent")), st.integers(0, 100)),
    st.tuples(
        st.just(("effects", "flare_a", "sounds", 1, "gain_db")), st.integers(-60, 18) | st.none()
    ),
    st.tuples(
        st.just(("effects", "flare_a", "sounds", 0, "gain_db")), st.integers(-60, 18) | st.none()
    ),
    st.tuples(st.just(("board", "voices")), st.integers(-1, 18) | st.none()),
    st.tuples(
        st.just(("title",)),
        st.text(st.characters(exclude_characters="#", exclude_categories=["Cs"]), max_size=10),
    ),
    st.tuples(
        st.just(("groups", "vents", "places_mm")),
        st.lists(
            st.tuples(st.integers(0, 99), st.integers(0, 99)).map(list), min_size=6, max_size=6
        ),
    ),
    st.tuples(st.just(("groups", "vents", "line_mm")), st.none()),
    st.tuples(st.just(("scripts", "show", "presses")), st.just("tap flare @0.5") | st.none()),
)


class Editing(RuleBasedStateMachine):
    """A list of texts with a cursor is what undo and redo must agree with, to the byte."""

    @initialize()
    def open(self) -> None:
        import tempfile

        self.folder = Path(tempfile.mkdtemp(prefix="fxseq_desk_"))
        shutil.copy(DEMO / "squall_lantern.toml", self.folder)
        (self.folder / "clips").symlink_to(DEMO / "clips")
        self.desk = Desk(self.folder / "squall_lantern.toml")
        self.texts = [self.desk.now.text]
        self.at = 0
        self.remarks = remarks(self.desk.now.text)

    @rule(edits=st.lists(EDITS, min_size=1, max_size=3))
    def edit(self, edits: list[tuple[tuple[str | int, ...], object]]) -> None:
        before = self.desk.now
        try:
            self.desk.edit(edits)
        except FxError:
            assert self.desk.now is before
            return
        if self.desk.now.text != before.text:
            self.texts[self.at + 1 :] = [self.desk.now.text]
            self.at += 1

    @rule()
    def undo(self) -> None:
        assert self.desk.can_undo == (self.at > 0)
        if self.at > 0:
            self.at -= 1
            assert self.desk.undo().text == self.texts[self.at]

    @rule()
    def redo(self) -> None:
        assert self.desk.can_redo == (self.at < len(self.texts) - 1)
        if self.at < len(self.texts) - 1:
            self.at += 1
            assert self.desk.redo().text == self.texts[self.at]

    @rule()
    def save(self) -> None:
        self.desk.save()
        assert self.desk.path.read_bytes() == self.texts[self.at].encode()

    @precondition(lambda self: self.at > 0)
    @rule()
    def all_the_way_back(self) -> None:
        while self.desk.can_undo:
            self.desk.undo()
        self.at = 0
        assert self.desk.now.text == self.texts[0]

    def teardown(self) -> None:
        if hasattr(self, "desk"):
            assert remarks(self.desk.now.text) == self.remarks
            shutil.rmtree(self.folder)


Editing.TestCase.settings = settings(
    max_examples=10, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck)
)
TestEditing = Editing.TestCase
