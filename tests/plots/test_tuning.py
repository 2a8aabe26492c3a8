"""The picture of a sweep."""

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import pytest
from drawn import in_turn, overlapping, written

from fxseq.advice import Break, Limit, RatePoint, TuneReport
from fxseq.plots import picture_bytes, tune_figure
from fxseq.plots.theme import THEMES

if TYPE_CHECKING:
    from matplotlib.figure import Figure

GOOD = RatePoint(
    1.0, 70.0, 75.0, 0.0, 0.0, 0, 0.9, 30.0, 1.0, 100.0, 600.0, (), 5.9, 0.05, 0.15, 65.0, 1.0, 0.3
)
LIMITS = {
    Limit.LIGHT: 0.2,
    Limit.SOUND: 6.0,
    Limit.FLASHES: 3.0,
    Limit.CLIPPING: 0.001,
    Limit.SATURATION: 0.001,
    Limit.VOICES: 0.0,
    Limit.CURRENT: 1000.0,
    Limit.RAIL: 4.4,
    Limit.SPEAKER_POWER: 1.0,
    Limit.EXCURSION: 0.5,
    Limit.DOSE: 85.0,
    Limit.RESISTOR_HEAT: 2.5,
}


def point(rate_per_s: float, *broken: Limit, **values: float | None) -> RatePoint:
    return replace(GOOD, rate_per_s=rate_per_s, flashes_per_s=rate_per_s, broken=broken, **values)


def report(
    *points: RatePoint, present_per_s: float = 7.0, despite: frozenset[Limit] = frozenset()
) -> TuneReport:
    """Each limit breaks at the first of the points that breaks it."""
    first: dict[Limit, Break] = {}
    below: float | None = None
    for each in points:
        first = {limit: Break(limit, each.rate_per_s, below, None) for limit in each.broken} | first
        below = each.rate_per_s
    breaks = sorted(first.values(), key=lambda each: each.rate_per_s)
    return TuneReport("storm_signal", present_per_s, points, tuple(breaks), LIMITS, despite)


USUAL = report(
    point(1),
    point(2),
    point(3),
    point(4, Limit.FLASHES),
    point(5, Limit.FLASHES, Limit.LIGHT, light_fall=0.15),
    point(6, Limit.FLASHES, Limit.LIGHT, Limit.VOICES, light_fall=0.1, cut_sounds=4),
)
EVERYTHING = report(point(1), point(2, *Limit))
WHOLE = report(*USUAL.points, point(7, *Limit, light_fall=0.1, cut_sounds=4))
"""As usual, and at the fastest rate every limit breaks, so that every panel is drawn."""
REPORTS = {
    "usual": USUAL,
    "whole": WHOLE,
    "decided": replace(USUAL, despite=frozenset([Limit.FLASHES])),
    "all_good": report(point(1), point(2)),
    "none_good": report(point(5, *Limit)),
    "one_rate": report(point(2), present_per_s=2.0),
    "nothing_known": replace(
        report(
            point(
                1,
                **dict.fromkeys(
                    (
                        "laeq_db",
                        "lafmax_db",
                        "light_fall",
                        "sound_fall_db",
                        "lowest_v",
                        "speaker_w",
                        "excursion_mm",
                        "day_dba",
                        "resistor_w",
                    )
                ),
            )
        ),
        limits={},
    ),
    "everything_breaks": EVERYTHING,
    "long_name": replace(USUAL, trigger="a_name_as_long_as_a_name_may_be_for_sure"),
}


@cache
def _drawn(name: str) -> "Figure":
    return tune_figure(REPORTS[name])


def drawn(of: TuneReport) -> "Figure":
    """Each of the reports above is drawn but once."""
    name = next((name for name, report in REPORTS.items() if report is of), None)
    return _drawn(name) if name else tune_figure(of)


def texts(of: TuneReport) -> list[str]:
    return [text for text, _ in written(drawn(of))]


def panel(of: TuneReport, heading: str):
    return next(axes for axes in drawn(of).axes if axes.get_title(loc="left").startswith(heading))


@pytest.mark.parametrize(("name", "theme"), in_turn(REPORTS))
def test_no_text_overlaps_another_or_leaves_the_figure(name: str, theme: str):
    assert (
        overlapping(_drawn(name) if theme == "light" else tune_figure(REPORTS[name], theme)) == []
    )


def test_every_axis_has_its_unit():
    axes = [axes for axes in drawn(EVERYTHING).axes if axes.axison][1:]
    units = [
        "dB(A) re 20 µPa", "dB(A) over 8 h", "depth, 0 to 1", "dB", "flashes / s",
        "number of sounds", "% of samples", "mA", "V", "W, mean", "W, hottest second",
        "mm from rest",
    ]  # fmt: skip
    assert [each.get_ylabel() for each in axes] == units
    assert [each.get_xlabel() for each in axes] == [""] * 10 + ["rate (shots / s)"] * 2


def test_the_fastest_good_rate_that_of_the_file_and_what_is_kept_are_named():
    whole = " ".join(texts(USUAL))
    assert "'storm_signal' keeps every limit up to 3 shots a second" in whole
    assert (
        "The file has 7 shots a second. Kept up to 6 a second: sound, clipping, saturation,"
        " current," in whole
    )


def lanes(of: TuneReport):
    return drawn(of).axes[0]


def test_each_limit_that_breaks_has_a_lane_from_its_first_rate_on():
    shown = lanes(USUAL)
    assert [label.get_text() for label in shown.get_yticklabels()] == [
        "flashes, the eye",
        "light, the eye",
        "voices, the sound",
    ]
    assert [bar.get_x() for bar in shown.patches[1::2]] == [4, 5, 6]
    assert [note for note in texts(USUAL) if note.strip().startswith("from ")] == [
        "  from 4 a second",
        "  from 5 a second",
        "  from 6 a second",
    ]


def test_what_is_decided_is_said_and_holds_nothing_back():
    assert "  from 4 a second, decided" in texts(REPORTS["decided"])
    assert "'storm_signal' keeps every limit up to 4 shots a second" in texts(REPORTS["decided"])


def test_panels_show_level_current_and_what_breaks():
    shown = [
        axes.get_title(loc="left").partition(":")[0] for axes in drawn(USUAL).axes if axes.axison
    ][1:]
    assert shown == [
        "Sound level at the hand",
        "Fall of lightness between shots",
        "Flashes in the worst second",
        "Sounds cut for lack of a voice",
        "Current",
    ]


def test_panel_of_the_limit_that_breaks_first_is_marked_and_no_other():
    def marked(of: TuneReport) -> list[str]:
        return [
            title
            for axes in drawn(of).axes
            if "breaks first" in (title := axes.get_title(loc="left"))
        ]

    assert marked(USUAL) == ["Flashes in the worst second: breaks first"]
    assert marked(REPORTS["decided"]) == ["Fall of lightness between shots: breaks first"]


def test_every_limit_has_a_panel_that_it_marks():
    marked = {
        limit: [
            axes.get_title(loc="left")
            for axes in tune_figure(report(point(1, limit))).axes
            if "breaks" in axes.get_title(loc="left")
        ]
        for limit in Limit
    }
    assert all(
        len(headings) == 1
        for headings in (
            [one for one in each if one != "What breaks, and from which rate"]
            for each in marked.values()
        )
    )


def test_no_good_rate_is_said():
    assert "'storm_signal': no rate of the sweep keeps every limit" in texts(REPORTS["none_good"])


def test_a_sweep_that_breaks_nothing_has_no_lanes():
    assert "'storm_signal' keeps every limit up to 2 shots a second" in texts(REPORTS["all_good"])
    assert "What breaks, and from which rate" not in texts(REPORTS["all_good"])


def test_nothing_to_measure_is_said():
    assert texts(REPORTS["nothing_known"]).count("nothing to measure") == 1


def test_a_sweep_without_a_rate_is_refused():
    with pytest.raises(ValueError, match="nothing to draw"):
        tune_figure(report())


@pytest.mark.parametrize(
    "heading, values",
    [
        ("Fall of lightness", [0.9, 0.9, 0.9, 0.9, 0.15, 0.1, 0.1]),
        ("Flashes", [1, 2, 3, 4, 5, 6, 7]),
        ("Sounds cut", [0, 0, 0, 0, 0, 4, 4]),
        ("Sound level", [75] * 7),
        ("Level over the day", [65] * 7),
        ("Supply", [5.9] * 7),
        ("Power", [0.05] * 7),
        ("Cone", [0.15] * 7),
        ("Heat", [0.3] * 7),
    ],
)
def test_points_are_drawn_against_the_rate(heading: str, values: list[float]):
    line = panel(WHOLE, heading).lines[0]
    assert list(line.get_xdata()) == [1, 2, 3, 4, 5, 6, 7]
    assert list(line.get_ydata()) == values


def test_points_that_break_a_limit_are_crossed_in_its_panel():
    crosses = {
        heading: list(
            next(
                line for line in panel(WHOLE, heading).lines if line.get_marker() == "x"
            ).get_xdata()
        )
        for heading in ("Flashes", "Fall of lightness", "Fall of sound", "Sounds cut")
    }
    assert crosses == {
        "Flashes": [4, 5, 6, 7],
        "Fall of lightness": [5, 6, 7],
        "Fall of sound": [7],
        "Sounds cut": [6, 7],
    }


@pytest.mark.parametrize(
    "heading, limit",
    [
        ("Flashes", 3),
        ("Fall of lightness", 0.2),
        ("Fall of sound", 6),
        ("Clipped", 0.1),
        ("Sounds cut", 0),
        ("Current", 1000),
        ("Supply", 4.4),
        ("Power", 1),
        ("Cone", 0.5),
        ("Level over the day", 85),
        ("Heat", 2.5),
    ],
)
def test_limits_are_drawn_and_lie_in_view(heading: str, limit: float):
    axes = panel(WHOLE, heading)
    dashed = [
        line.get_ydata()[0]
        for line in axes.lines
        if line.get_linestyle() == "--" and len(line.get_xdata()) == 2
    ]
    assert dashed == pytest.approx([limit])
    assert axes.get_ylim()[0] < limit < axes.get_ylim()[1]


def test_no_limit_is_drawn_where_the_file_has_none():
    without = replace(
        WHOLE, limits={limit: most for limit, most in LIMITS.items() if limit != Limit.EXCURSION}
    )
    assert [line for line in panel(without, "Cone").lines if line.get_linestyle() == "--"] == []


def test_good_range_ends_at_the_fastest_good_rate():
    axes = panel(USUAL, "Flashes")
    shaded = axes.patches[0].get_bbox()
    assert (shaded.x0, shaded.x1) == (axes.get_xlim()[0], 3)
    assert not panel(REPORTS["none_good"], "Flashes").patches


def test_rate_of_the_file_is_marked_and_in_view_even_outside_the_sweep():
    axes = panel(USUAL, "Flashes")
    (dotted,) = [line for line in axes.lines if line.get_linestyle() == ":"]
    assert list(dotted.get_xdata()) == [7, 7]
    assert axes.get_xlim()[0] < 7 < axes.get_xlim()[1]


def test_drawn_twice_gives_the_same_bytes():
    assert picture_bytes(tune_figure(USUAL), "png") == picture_bytes(tune_figure(USUAL), "png")
