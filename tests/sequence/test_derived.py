"""What follows from the description alone."""

import pytest

from fxseq.sequence import (
    Board,
    Clip,
    Counter,
    Fade,
    Group,
    Line,
    Picture,
    Ring,
    Segment,
    Selector,
    Sequence,
    all_led_places_mm,
    channels_of,
    clip_rate_hz,
    fade_length_ms,
    frame_rate_hz,
    led_places_mm,
    leds_per_channel,
    loads,
    start_count,
    start_position,
)

PICTURE = Picture(width_mm=100, height_mm=50)


def group(leds: int, **keys: object) -> Group:
    return Group(
        first_channel=3, leds=leds, colour="amber", forward_voltage_v=2.1, current_ma=20, **keys
    )


def test_frame_rate_is_samples_over_samples():
    assert frame_rate_hz(Board(channels=1, sample_rate_hz=22050, samples_per_frame=21)) == 1050


def test_channels_and_leds_of_a_group():
    lens = group(6, channels=3)
    assert list(channels_of(lens)) == [3, 4, 5]
    assert leds_per_channel(lens) == 2


def test_selector_starts_at_its_first_position_unless_told():
    assert start_position(Selector(positions=["slow", "storm"])) == "slow"
    assert start_position(Selector(positions=["slow", "storm"], start="storm")) == "storm"


def test_counter_starts_full_unless_told():
    assert start_count(Counter(maximum=12)) == 12
    assert start_count(Counter(maximum=12, start=0)) == 0


def test_clip_has_the_rate_of_the_board_unless_told():
    board = Board(channels=1, sample_rate_hz=22050)
    assert clip_rate_hz(Clip(file="a.wav"), board) == 22050
    assert clip_rate_hz(Clip(file="a.wav", rate_hz=8000), board) == 8000


def test_length_of_a_fade_is_that_of_its_segments():
    assert (
        fade_length_ms(
            Fade(
                segments=[
                    Segment(to_percent=100, length_ms=45),
                    Segment(to_percent=0, length_ms=380.5),
                ]
            )
        )
        == 425.5
    )


def test_written_places_are_kept():
    assert led_places_mm(group(2, places_mm=[(1, 2), (3, 4)]), PICTURE) == [(1, 2), (3, 4)]


def test_ring_runs_clockwise_from_its_angle_with_y_down():
    ring = Ring(centre_mm=(50, 25), radius_mm=10, first_at_deg=-90)
    places = led_places_mm(group(4, ring_mm=ring), PICTURE)
    top = (50, 15)
    right = (60, 25)
    bottom = (50, 35)
    left = (40, 25)
    assert [
        (pytest.approx(x, abs=1e-9), pytest.approx(y, abs=1e-9))
        for x, y in (top, right, bottom, left)
    ] == places


def test_line_has_leds_at_both_ends():
    line = Line(from_mm=(0, 10), to_mm=(30, 40))
    inner = [(pytest.approx(10), pytest.approx(20)), (pytest.approx(20), pytest.approx(30))]
    assert led_places_mm(group(4, line_mm=line)) == [(0, 10), *inner, (30, 40)]


def test_single_led_sits_in_the_middle_of_its_line():
    assert led_places_mm(group(1, line_mm=Line(from_mm=(0, 10), to_mm=(30, 40)))) == [(15, 25)]


def test_leds_without_places_are_spread_over_the_picture():
    assert led_places_mm(group(4), PICTURE) == [(12.5, 25), (37.5, 25), (62.5, 25), (87.5, 25)]


def three_groups(picture: str) -> Sequence:
    names = {"low": "", "placed": "places_mm = [[7, 8]]\n", "high": ""}
    text = "".join(
        f"[groups.{name}]\nfirst_channel = {index}\nleds = 1\nsize_mm = 4\ncolour ="
        f" 'red'\nforward_voltage_v = 2\ncurrent_ma = 9\n{places}"
        for index, (name, places) in enumerate(names.items())
    )
    return loads(f"format = 1\ntitle = 'Rows'\nboard = {{ channels = 3 }}\n{picture}\n{text}")


def test_groups_without_places_lie_in_rows_that_placing_another_leaves_alone():
    with_picture = three_groups("picture = { width_mm = 40, height_mm = 80 }")
    assert all_led_places_mm(with_picture) == {
        "low": [(20, 20)],
        "placed": [(7, 8)],
        "high": [(20, 60)],
    }
    assert all_led_places_mm(three_groups("")) == {
        "low": [(12, 12)],
        "placed": [(7, 8)],
        "high": [(12, 36)],
    }


def test_leds_without_places_and_picture_stand_two_diameters_apart():
    assert led_places_mm(group(3, size_mm=5)) == [(5, 0), (15, 0), (25, 0)]
