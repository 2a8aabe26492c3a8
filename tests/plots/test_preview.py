"""The picture of a run."""

from functools import cache

import numpy as np
import pytest
from drawn import DEMO, SOUND_PARTS, flashing, in_turn, once, overlapping, played, written

from fxseq.hazards import COLOUR_RGB
from fxseq.player import Script
from fxseq.plots import preview_figure
from fxseq.plots.columns import MOST_COLUMNS
from fxseq.plots.presses import press_lanes
from fxseq.runs import Performance, load_prop, perform

COLOURS = list(COLOUR_RGB)
TEN = [f"a_name_as_long_as_a_name_may_be_{index:08d}" for index in range(10)]
AMPLIFIED = SOUND_PARTS.format(gain_db=20)

RUNS = {
    "no_sound": lambda: played(flashing(["lamp"]), "tap button @0.5"),
    "no_groups": lambda: played(
        flashing([], sound=True, head=AMPLIFIED), "tap button @0.5, set volume 50 @0.7"
    ),
    "not_described": lambda: played(flashing(["lamp"], sound=True), "tap button @0.5"),
    "silent": lambda: played(flashing([], sound=True, head=AMPLIFIED), "end @1"),
    "ten_groups": lambda: played(
        flashing(TEN, sound=True, head=AMPLIFIED.replace(".cells", "." + "b" * 40)),
        "hold button @0.5..1",
    ),
    "long_title": lambda: played(
        flashing(["lamp"], title="The Lamp with the Name " * 3 + "that ends"), "end @2"
    ),
    "tenth_of_a_second": lambda: perform(load_prop(DEMO), Script([], 105)),
    "one_frame": lambda: perform(load_prop(DEMO), Script([], 1)),
    "ten_minutes": lambda: played(
        flashing(["lamp"], sound=True, head=AMPLIFIED), "tap button @0.5, tap button @300, end @600"
    ),
}


@cache
def run_of(name: str) -> Performance:
    return RUNS[name]()


@pytest.mark.parametrize(("name", "theme"), in_turn(["demo", *RUNS]))
def test_no_text_overlaps_another_or_leaves_the_figure(demo: Performance, name: str, theme: str):
    assert overlapping(once(preview_figure, demo if name == "demo" else run_of(name), theme)) == []


@pytest.mark.parametrize(("name", "theme"), in_turn(["demo", *RUNS]))
def test_every_axis_has_its_unit(demo: Performance, name: str, theme: str):
    run = demo if name == "demo" else run_of(name)
    figure = once(preview_figure, run, theme)
    units = {
        axes.get_title(loc="left").split(":")[0].split(" (")[0]: axes.get_ylabel()
        for axes in figure.axes
    }
    expected = {
        "Presses and shots": "",
        "Sound": "% of full scale",
        "Sound level at the hand": "dB(A) re 20 µPa",
        "Light of each group": "L* (0 to 100)",
        "Current": "mA",
    }
    assert units.items() <= expected.items()
    assert [axes.get_xlabel() for axes in figure.axes] == [""] * (len(figure.axes) - 1) + [
        "time (s)"
    ]
    assert {axes.get_xlim() for axes in figure.axes} == {(0, run.duration_s)}


def headings(run: Performance) -> list[str]:
    return [axes.get_title(loc="left") for axes in once(preview_figure, run, "light").axes]


def test_what_is_not_there_is_not_drawn():
    assert [heading[:5] for heading in headings(run_of("no_sound"))] == ["Press", "Light", "Curre"]
    assert [heading[:11] for heading in headings(run_of("no_groups"))] == [
        "Presses and",
        "Sound: samp",
        "Sound level",
        "Current: me",
    ]


def test_a_level_that_cannot_be_known_is_said_to_be_missing():
    run = RUNS["not_described"]()
    assert not any("level" in heading for heading in headings(run))
    texts = [text for text, _ in written(preview_figure(run))]
    assert any(
        "no level at the hand, as the file does not describe: amplifier, speaker, supply" in text
        for text in texts
    )


@pytest.mark.quick
def test_title_says_which_prop_how_long_and_from_what(demo: Performance):
    texts = [text for text, _ in written(once(preview_figure, demo, "light"))]
    assert "The Squall Lantern: preview" in texts
    assert "11 s, 25 shots, supply 'cells', 6.4 V fresh, at most 1000 mA" in texts


def test_level_is_that_of_the_report(demo: Performance):
    level = demo.heard.levels.at["hand"]
    assert (
        f"Sound level at the hand (0.6 m), A-weighted, fast: highest {level.lafmax_db:.1f} dB(A),"
        " band ±4 dB" in headings(demo)
    )


def axes_of(run: Performance, heading: str):
    return next(
        axes
        for axes in once(preview_figure, run, "light").axes
        if axes.get_title(loc="left").startswith(heading)
    )


def drawn_heights(artist) -> np.ndarray:
    return artist.get_paths()[0].vertices[:, 1]


def test_drawn_samples_reach_both_peaks(demo: Performance):
    heights = drawn_heights(axes_of(demo, "Sound: samples").collections[0])
    samples = demo.played.samples.astype(float) * 100 / 32768
    assert heights.max() == pytest.approx(samples.max(), abs=1e-9)
    assert heights.min() == pytest.approx(samples.min(), abs=1e-9)


def test_drawn_level_and_band_reach_the_highest_level(demo: Performance):
    band, line = (drawn_heights(artist) for artist in axes_of(demo, "Sound level").collections)
    # The report takes its own way to the highest level: half a millisecond's blocks, a running
    # average, single precision.
    assert line.max() == pytest.approx(demo.heard.levels.at["hand"].lafmax_db, abs=0.05)
    assert band.max() == pytest.approx(line.max() + demo.heard.levels.uncertainty_db)


def test_drawn_current_reaches_the_peak(demo: Performance):
    together = next(
        line for line in axes_of(demo, "Current").lines if line.get_label() == "together"
    )
    assert together.get_ydata().max() == pytest.approx(demo.load.draw.peak_ma)


def test_drawn_light_is_lightness_in_the_colour_of_the_group():
    run = played(flashing(["lamp"], colour="blue"), "tap button @0.5")
    axes = axes_of(run, "Light")
    line = next(line for line in axes.lines if line.get_label() == "lamp")
    low = line.get_ydata().min()
    high = line.get_ydata().max()
    assert (low, high) == pytest.approx((-0.41, 0.41))
    face = axes.collections[0].get_facecolor()[0]
    assert face[2] > 0.9 > 0.5 > face[0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["lamp"]


def test_half_lightness_is_drawn_at_half_height():
    run = played(
        flashing(["lamp"]).replace("to_percent = 100", "to_percent = 50"), "tap button @0.5"
    )
    line = next(line for line in axes_of(run, "Light").lines if line.get_label() == "lamp")
    # 50 % is stored in a byte and comes back through a duty of 12 bits: 0.2 % and 0.1 % of
    # lightness.
    assert (line.get_ydata().max() + 0.41) / 0.82 == pytest.approx(0.5, abs=0.004)


def test_clipping_is_marked_where_the_amplifier_clips():
    run = RUNS["no_groups"]()
    axes = axes_of(run, "Sound: samples")
    # 6 V without loss over a gain of 10 at 1 V full scale: the amplifier clips from 60 % of full
    # scale on.
    limits = [line.get_ydata()[0] for line in axes.lines if line.get_linestyle() == "--"]
    assert sorted(limits) == pytest.approx([-60, 60])
    marks = next(line for line in axes.lines if line.get_label() == "_clipping")
    loud_s = np.flatnonzero(np.abs(run.played.samples) > 0.6 * 32768) / run.rate_hz
    column_s = run.duration_s / MOST_COLUMNS
    assert marks.get_xdata().min() == pytest.approx(loud_s.min(), abs=column_s)
    assert marks.get_xdata().max() == pytest.approx(loud_s.max(), abs=column_s)
    assert "clips at" in axes.get_title(loc="left")


def test_no_clipping_is_marked_where_none_is(demo: Performance):
    marks = [
        line for line in axes_of(demo, "Sound: samples").lines if line.get_label() == "_clipping"
    ]
    assert not marks or not len(marks[0].get_xdata())
    assert "does not clip" in axes_of(demo, "Sound: samples").get_title(loc="left")


def test_limit_of_the_supply_is_drawn(demo: Performance):
    axes = axes_of(demo, "Current")
    assert [line.get_ydata()[0] for line in axes.lines if line.get_linestyle() == "--"] == [1000]
    assert axes.get_ylim()[1] > 1000


@pytest.mark.parametrize(
    ("board", "text"),
    [
        ("channels = 1", "amplifier, on top"),
        ("channels = 1, current_ma = 30", "amplifier and board, on top"),
    ],
)
def test_what_the_current_is_made_of_is_named(board: str, text: str):
    sequence = flashing(["lamp"], head=SOUND_PARTS.format(gain_db=0), sound=True).replace(
        "channels = 1", board, 1
    )
    axes = preview_figure(played(sequence, "tap button @0.5")).axes[-1]
    assert text in [each.get_text() for each in axes.get_legend().get_texts()]


def test_a_far_limit_of_the_supply_does_not_flatten_the_current():
    parts = SOUND_PARTS.format(gain_db=0).replace(
        "maximum_current_ma = 500", "maximum_current_ma = 20000"
    )
    axes = axes_of(played(flashing(["lamp"], head=parts), "tap button @0.5"), "Current")
    assert axes.get_ylim()[1] < 100


def test_lanes_tell_what_the_hand_did(demo: Performance):
    lanes = {(lane.name, lane.is_held): lane for lane in press_lanes(demo)}
    lever = lanes["lever", True]
    ring = lanes["ring", False]
    # A press falls into a frame of 0.95 ms.
    spans = [time_s for span in lever.spans for time_s in (span.start_s, span.end_s)]
    assert spans == pytest.approx([0.5, 0.56, 2, 5, 7, 9], abs=0.001)
    assert [span.text for span in lever.spans] == ["0.06 s", "3.00 s", "2.00 s"]
    assert [(span.text, round(span.start_s, 2)) for span in ring.spans] == [
        ("slow", 0),
        ("storm", 4),
    ]


def test_lanes_tell_what_fired(demo: Performance):
    lanes = {lane.name: lane for lane in press_lanes(demo) if lane.note}
    assert list(lanes) == ["flare", "slow_signal", "storm_signal", "refill"]
    assert sum(len(lane.shots_s) for lane in lanes.values()) == len(demo.shots)
    assert lanes["storm_signal"].note == "17 shots, 2 empty ×"
    assert len(lanes["storm_signal"].empty_s) == 2


def test_a_press_that_is_never_let_go_lasts_to_the_end():
    run = played(flashing(["lamp"]), "press button @0.5, end @2")
    (span,) = press_lanes(run)[0].spans
    assert (span.start_s, span.end_s) == (pytest.approx(0.5, abs=0.001), run.duration_s)


def test_volume_has_a_lane_where_it_is_moved():
    lanes = {lane.name: lane for lane in press_lanes(RUNS["no_groups"]())}
    assert [(span.text, round(span.start_s, 2)) for span in lanes["volume"].spans] == [
        ("100 %", 0),
        ("50 %", 0.7),
    ]
    assert "volume" not in {lane.name for lane in press_lanes(RUNS["no_sound"]())}
