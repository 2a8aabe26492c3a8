"""Channels that flash at the same time, in step or not."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.hazards import (
    Channels,
    FlashCount,
    FlashReport,
    LongSequence,
    Transitions,
    flash_report,
    led_rgb,
    general_transitions,
)
from fxseq.hazards.channels import group_transitions, red_places, together
from fxseq.sequence.model import Colour, Group
from tests.checks.judged import flash_findings

RATE_HZ = 1000.0
FULL = 4095
FRAMES = np.arange(6000)
Track = tuple[np.ndarray, np.ndarray]


def group(colour: Colour = "amber", leds: int = 24) -> Group:
    return Group(first_channel=0, leds=leds, colour=colour, forward_voltage_v=2.0, current_ma=20.0)


def track(light: np.ndarray) -> Track:
    """Of a share of full light in every frame."""
    duties = np.round(light * FULL).astype(np.uint16)
    changed = np.append(0, np.flatnonzero(np.diff(duties)) + 1)
    return FRAMES[changed], duties[changed]


def lamp(rate_hz: float, turn: float = 0.0, lit: float = 0.5) -> Track:
    """It flashes so often, begins at that part of a turn, and is lit for that part of each."""
    return track(((FRAMES + 0.01) / RATE_HZ * rate_hz - turn) % 1.0 < lit)


def steady(light: float = 1.0) -> Track:
    return track(np.full(FRAMES.size, light))


def chase(lamps: int, rate_hz: float) -> list[Track]:
    """One lamp is lit at a time, and each of them so often a second."""
    return [lamp(rate_hz, turn=place / lamps, lit=1 / lamps) for place in range(lamps)]


def in_every_frame(tracks: list[Track]) -> np.ndarray:
    """Duties, shape (channels, frames)."""
    return np.stack(
        [duties[np.searchsorted(frames, FRAMES, side="right") - 1] for frames, duties in tracks]
    )


def report(tracks: dict[str, list[Track]], **groups: Group) -> FlashReport:
    lit = {name: in_every_frame(of_group).mean(axis=0) / FULL for name, of_group in tracks.items()}
    parts = {name: groups.get(name, group()) for name in tracks}
    return flash_report(FRAMES / RATE_HZ, lit, parts, Channels(tracks, FULL, 0, RATE_HZ))


def general(tracks: list[Track]) -> FlashCount:
    return report({"lens": tracks}).alone["lens"].general


def one_by_one(tracks: list[Track]) -> FlashCount:
    """Without the sum."""
    return group_transitions(
        Channels({"lens": tracks}, FULL, 0, RATE_HZ), "lens", led_rgb(group())
    )[0].worst_second()


def test_lamps_that_flash_one_after_the_other_are_reported_though_their_sum_is_steady() -> None:
    tracks = {"lens": chase(24, 6.0)}
    assert np.ptp(in_every_frame(tracks["lens"]).sum(axis=0)) <= FULL
    found = flash_findings(report(tracks), {"hand": 8.0})
    assert [(finding.check, finding.subject) for finding in found] == [
        (check, subject)
        for check in ("light.flash", "hazard.long_flashing")
        for subject in ("all groups together", "group 'lens'")
    ]
    assert (
        found[1].figure
        == "6 general flashes within one second, from 0.01 s on, in channels that make up 25% of"
        " its light or more"
    )


def test_slow_chase_is_not_reported() -> None:
    count = general(chase(24, 1.5))
    assert (count.flashes_per_s, count.out_of_step) == (2.0, True)
    assert flash_findings(report({"lens": chase(24, 1.5)}), {"hand": 8.0}) == ()


def longest(tracks: list[Track]) -> LongSequence:
    return report({"lens": tracks}).alone["lens"].longest


def test_slow_chase_that_goes_on_is_reported_though_its_sum_is_steady() -> None:
    # Two flashes a second for nearly 6 s: each lamp goes on or off every 42 or 458 ms, and a
    # quarter of them has begun by 0.25 s.
    found = flash_findings(report({"lens": chase(24, 2.0)}), {"hand": 8.0})
    assert [(finding.check, finding.subject) for finding in found] == [
        ("hazard.long_flashing", subject) for subject in ("all groups together", "group 'lens'")
    ]
    assert (
        found[1].figure
        == "two flashes a second or more for 5.8 s, from 0.10 s on, in channels that make up 25% of"
        " its light or more"
    )
    assert longest(chase(24, 2.0)).out_of_step


def five_a_second(begin_s: float, flashes: int) -> Track:
    """Dark before and after; from the first change to the last it takes 0.1 s less than 0.2 s a
    flash.
    """
    tenth = (FRAMES - round(begin_s * RATE_HZ)) // 100
    return track((tenth >= 0) & (tenth < 2 * flashes) & (tenth % 2 == 0))


def test_the_length_of_flashing_in_step_is_that_of_the_sum() -> None:
    assert longest([five_a_second(0.3, 26)] * 24) == LongSequence(0.3, pytest.approx(5.1))


@pytest.mark.parametrize(("steady_lamps", "length_s"), [(3, 5.1), (4, 0.0)])
def test_what_flashes_for_long_must_hold_a_quarter_of_the_light(
    steady_lamps: int, length_s: float
) -> None:
    assert one_by_one_for(
        [five_a_second(0.3, 26), *[steady()] * steady_lamps]
    ).length_s == pytest.approx(length_s)


@pytest.mark.parametrize(("begin_s", "length_s"), [(2.5, 4.1), (3.0, 4.6), (3.01, 2.7)])
def test_flashing_that_lamps_hand_on_to_each_other_goes_on_until_a_gap(
    begin_s: float, length_s: float
) -> None:
    # The first of them changes last at 3.0 s, the other 1.9 s after it has begun.
    tracks = [five_a_second(0.3, 14), five_a_second(begin_s, 10), *[steady()] * 2]
    assert one_by_one_for(tracks) == LongSequence(0.3, pytest.approx(length_s), out_of_step=True)


def one_by_one_for(tracks: list[Track]) -> LongSequence:
    """Without the sum."""
    return group_transitions(
        Channels({"lens": tracks}, FULL, 0, RATE_HZ), "lens", led_rgb(group())
    )[0].longest_sequence()


def test_halves_that_take_turns_are_reported() -> None:
    # Their sum does not move at all.
    halves = [lamp(5.0, turn=place % 2 / 2) for place in range(24)]
    assert not np.ptp(in_every_frame(halves).sum(axis=0))
    assert (general(halves).flashes_per_s, general(halves).passes) == (5.0, False)


def test_groups_that_take_turns_cancel_in_the_sum_and_are_reported_together() -> None:
    one = [lamp(3.0)]
    other = [lamp(3.0, turn=0.5)]
    assert report({"one": one, "other": other}).together.general == FlashCount(
        6, 0.167, out_of_step=True
    )
    one = [lamp(4.0)]
    other = [lamp(4.0, turn=0.5)]
    assert report({"one": one, "other": other}).together.general.flashes_per_s == 4.0


@pytest.mark.parametrize(("flashing", "flashes"), [(1, 0.0), (5, 0.0), (6, 10.0), (24, 10.0)])
def test_what_flashes_must_hold_a_quarter_of_the_light(flashing: int, flashes: float) -> None:
    # Out of step with each other, so that their sum moves by less than a tenth.
    lens = [lamp(10.0, turn=place / flashing) for place in range(flashing)] + [steady()] * (
        24 - flashing
    )
    assert general(lens).flashes_per_s == flashes


def test_lamps_that_flash_at_different_times_are_no_quarter_of_the_same_second() -> None:
    def burst(begin_s: float) -> Track:
        within = (FRAMES / RATE_HZ >= begin_s) & (FRAMES / RATE_HZ < begin_s + 1)
        return track(within & (FRAMES // 50 % 2 == 0))

    assert one_by_one([burst(1.0), *[steady()] * 3]).flashes_per_s == 10.0
    # An eighth of the light in one second, and another eighth two seconds after it.
    assert one_by_one([burst(1.0), burst(4.0), *[steady()] * 6]) == FlashCount(0, None)
    # Seconds that meet in part: what both have in the same one.
    assert one_by_one([burst(1.0), burst(1.5), *[steady()] * 6]).flashes_per_s == 7.5
    assert one_by_one([burst(1.0), burst(1.025), *[steady()] * 6]).flashes_per_s == 10.0


def test_channels_that_share_a_track_weigh_by_their_number() -> None:
    quick = lamp(8.0)
    slow = lamp(1.0)
    assert one_by_one([quick, *[slow] * 3]).flashes_per_s == 8.0
    assert one_by_one([quick, *[slow] * 4]).flashes_per_s == 1.0
    assert one_by_one([quick, *[slow] * 4, quick]).flashes_per_s == 8.0


def test_flicker_of_small_depth_is_none() -> None:
    # Lightness 12 to 26 %, which is 1.4 to 4.8 % of full light, now here, now there.
    random = np.random.default_rng(1)
    wick = [
        track(np.repeat(random.uniform(0.014, 0.048, FRAMES.size // 50), 50)) for _ in range(24)
    ]
    assert general(wick) == FlashCount(0, None)


@pytest.mark.parametrize(
    ("colour", "flashes"), [("red", 5.0), ("orange", 5.0), ("amber", 0.0), ("blue", 0.0)]
)
def test_red_lamps_out_of_step_are_red_flashes(colour: Colour, flashes: float) -> None:
    # Of two lamps of a third each, one is always lit: the sum stays red. Orange is not far enough
    # from white, which is taken for dark.
    tracks = {"eyes": [lamp(5.0), lamp(5.0, turn=0.5), steady()]}
    found = report(tracks, eyes=group(colour)).alone["eyes"].red
    assert (found.flashes_per_s, found.out_of_step) == (flashes, flashes > 0)


def test_dim_red_lamps_are_red_flashes_as_well() -> None:
    dim = [
        track(in_every_frame([lamp(5.0, turn=place / 2)])[0] * 0.01 / FULL) for place in range(2)
    ]
    lights = report({"eyes": [*dim, steady(0.01)]}, eyes=group("red")).alone["eyes"]
    assert (lights.general.flashes_per_s, lights.red.flashes_per_s) == (0.0, 5.0)


def test_time_begins_at_the_first_frame() -> None:
    frames, duties = lamp(6.0)
    later = Channels({"lens": [(frames + 700, duties)]}, FULL, 700, RATE_HZ)
    at_once = Channels({"lens": [(frames, duties)]}, FULL, 0, RATE_HZ)
    counts = [
        group_transitions(each, "lens", led_rgb(group()))[0].worst_second()
        for each in (later, at_once)
    ]
    assert counts[0] == counts[1]


def test_no_light_has_no_transition() -> None:
    assert together([], []).worst_second() == FlashCount(0, None)
    assert together([], []).longest_sequence() == LongSequence(0.0, 0.0)
    assert red_places(np.zeros(5), led_rgb(group("red"))).size == 0


lights = st.lists(
    st.tuples(st.lists(st.integers(0, 60), unique=True, max_size=25), st.integers(1, 8)),
    min_size=1,
    max_size=6,
)


@given(lights)
def test_worst_second_is_that_of_a_plain_search(lights: list[tuple[list[int], int]]) -> None:
    """Every second that begins at a transition, and every number of transitions, tried one by
    one. Times are twentieths of a second.
    """
    weight = sum(number for _, number in lights)

    def holds(start: int) -> int:
        """The most transitions that a quarter of the light each has."""
        counts = [
            (sum(start <= at < start + 20 for at in times), number) for times, number in lights
        ]
        return max(
            count
            for count in range(26)
            if 4 * sum(number for each, number in counts if each >= count) >= weight
        )

    starts = [at for times, _ in lights for at in times]
    expected = max(map(holds, starts), default=0)
    times_s = np.array([at / 20 for times, _ in lights for at in sorted(times)])
    owner = np.repeat(np.arange(len(lights)), [len(times) for times, _ in lights])
    count = Transitions(
        times_s, owner, np.array([number / weight for _, number in lights])
    ).worst_second()
    assert count.transitions == expected
    assert count.at_s is None if not expected else holds(round(count.at_s * 20)) == expected


@given(lights)
def test_longest_sequence_is_that_of_a_plain_search(lights: list[tuple[list[int], int]]) -> None:
    """Every twentieth of a second looked at one by one, and each light by the function for one."""
    weight = sum(number for _, number in lights)

    def flashes(times: list[int], at: int) -> bool:
        """Whether a light is within a stretch from this twentieth of a second to the next."""
        times = sorted(times)
        runs = [run for run in range(len(times) - 4) if times[run + 4] - times[run] <= 20]
        return any(
            times[first] <= at < times[last + 4]
            for first in runs
            for last in runs
            if first <= last
            and all(
                any(0 < later - run <= 4 for later in runs) for run in runs if first <= run < last
            )
        )

    enough = [
        4 * sum(number for times, number in lights if flashes(times, at)) >= weight
        for at in range(61)
    ]
    expected = max(
        (len(run) for run in "".join("x" if each else " " for each in enough).split()), default=0
    )
    times_s = np.array([at / 20 for times, _ in lights for at in sorted(times)])
    owner = np.repeat(np.arange(len(lights)), [len(times) for times, _ in lights])
    found = Transitions(
        times_s, owner, np.array([number / weight for _, number in lights])
    ).longest_sequence()
    assert found.length_s == pytest.approx(expected / 20)
    begin = round(found.start_s * 20)
    assert all(enough[begin : begin + expected])


@given(st.lists(st.lists(st.integers(0, FULL), min_size=1, max_size=40), min_size=1, max_size=5))
def test_each_channel_is_counted_as_it_is_alone(duties: list[list[int]]) -> None:
    tracks = [(np.arange(len(each)) * 40, np.array(each, dtype=np.uint16)) for each in duties]
    counted, _ = group_transitions(
        Channels({"lens": tracks}, FULL, 0, RATE_HZ), "lens", led_rgb(group())
    )
    for owner, (frames, light) in enumerate(tracks):
        assert (
            counted.times_s[counted.owner == owner].tolist()
            == general_transitions(frames / RATE_HZ, light / FULL).tolist()
        )


def steps(light: Callable[[int], bool], at: list[int]) -> Track:
    """Changes at these frames, the first value before them."""
    return np.array([0, *at]), np.array(
        [light(number) for number in range(len(at) + 1)], dtype=np.uint16
    ) * np.uint16(FULL)


@pytest.mark.parametrize(("changes", "passes"), [(6, True), (7, False)])
def test_a_pattern_of_seven_changes_fails_in_channels_that_cancel(
    changes: int, passes: bool
) -> None:
    # G19: light-dark-light-dark-light-dark-light-dark is the least that fails; one half begins
    # light, the other dark.
    at = [100 + 100 * number for number in range(changes)]
    count = general(
        [steps(lambda number: number % 2 == 0, at), steps(lambda number: number % 2 == 1, at)]
    )
    assert (count.transitions, count.passes, count.out_of_step) == (changes, passes, True)
