"""How the LEDs of a group are wired."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.checks.circuits import shared_by
from fxseq.power.diodes import Diode, SideBySide
from fxseq.power.layout import Layout, Range, Route, Wanted, layout, layouts, longest_driven
from fxseq.power.parts import led, parts
from fxseq.power.switches import Switch
from fxseq.sequence.finding import Weight
from tests.checks.judged import sharing_findings

PIN = Route(Switch(on_ohm=25.0))
NPN = Route(Switch(drop_v=0.1))


def wired(
    leds: int,
    flat_v: float,
    fresh_v: float,
    colour: str = "red",
    route: Route = NPN,
    forward_v: float = 2.0,
) -> Layout:
    found = layout(Wanted(led(colour, forward_v, 10.0), leds, 0.010, Range(flat_v, fresh_v), route))
    assert found is not None
    return found


def test_leds_go_in_series_as_far_as_the_flat_supply_lights_them() -> None:
    assert [
        (wired(6, flat_v, 12.6).series, wired(6, flat_v, 12.6).strings)
        for flat_v in (12.0, 9.0, 4.4)
    ] == [(3, 2), (3, 2), (1, 6)]


def test_a_string_whose_resistor_is_too_small_to_hold_its_current_is_passed_over() -> None:
    # Six of 2.0 V on 12.6 V leave 0.5 V for the resistor; LEDs of 1.8 V would leave 1.7 V, and take
    # more than half as much current again.
    red = led("red", 2.0, 10.0)
    six, three = (
        next(layouts(Wanted(red, 6, 0.010, Range(12.0, 12.6), NPN, series=series)))
        for series in (6, 3)
    )
    assert (six.kept_light.typical >= 1 / 3, six.fresh_ma.high > 15, three.fresh_ma.high < 15) == (
        True,
        True,
        True,
    )


def test_typical_string_takes_no_more_than_its_current_from_the_fresh_supply() -> None:
    found = wired(3, 11.0, 12.6)
    # (12.6 - 0.1 - 6.0) / 10 mA = 650 ohm -> 680 ohm of E24.
    assert (found.series, found.resistor_ohm) == (3, 680)
    assert 9.0 < found.fresh_ma.typical <= 10.0
    assert found.flat_ma.low < found.flat_ma.typical < found.fresh_ma.typical < found.fresh_ma.high


def test_bounds_are_those_of_the_worst_led_with_the_worst_resistor() -> None:
    # Forward voltage of the highest at 10 mA 2.4 V and 5 % more resistance, of the lowest 1.8 V and
    # 5 % less; 0.1 V in the transistor.
    found = wired(3, 11.0, 12.6)
    for current_ma, diode, ohms in (
        (found.fresh_ma.low, found.led.high, 714.0),
        (found.fresh_ma.high, found.led.low, 646.0),
    ):
        assert 3 * float(
            diode.voltage_v(current_ma / 1000)
        ) + ohms * current_ma / 1000 + 0.1 == pytest.approx(12.6, abs=1e-6)
    assert [
        float(diode.voltage_v(0.010)) for diode in (found.led.low, found.led.high)
    ] == pytest.approx([1.8, 2.4], abs=1e-6)


def test_resistor_runs_at_half_its_rating_in_the_worst_case() -> None:
    found = wired(3, 11.0, 12.6)
    assert found.power_w == pytest.approx((found.fresh_ma.high / 1000) ** 2 * 680 * 0.95)
    assert found.rating_w == 0.25


def test_shared_switch_drops_for_all_its_strings() -> None:
    # Six single LEDs on a pin of 25 ohm are like a single one of them on 150 ohm.
    found = wired(6, 3.6, 5.0, route=PIN)
    alone = wired(1, 3.6, 5.0, route=Route(Switch(on_ohm=150.0)))
    assert (found.series, found.resistor_ohm, found.fresh_ma) == (
        1,
        alone.resistor_ohm,
        alone.fresh_ma,
    )


def test_leds_that_the_fresh_supply_cannot_light_have_no_layout() -> None:
    assert layout(Wanted(led("blue", 3.2, 10.0), 2, 0.010, Range(2.0, 2.4), NPN)) is None


def test_dim_single_leds_are_the_last_resort() -> None:
    found = wired(4, 3.0, 4.0, "blue", forward_v=3.2)
    assert (found.series, found.kept_light.typical < 1 / 3) == (1, True)


def test_strings_and_resistors_of_the_maker_are_judged_as_they_are() -> None:
    red = led("red", 2.0, 10.0)
    found = layout(Wanted(red, 4, 0.010, Range(4.4, 6.0), NPN, series=2, resistor_ohm=100.0))
    assert found is not None
    assert (found.series, found.strings, found.resistor_ohm, found.fresh_ma.typical > 15) == (
        2,
        2,
        100.0,
        True,
    )
    dark = layout(Wanted(red, 4, 0.010, Range(4.4, 6.0), NPN, series=4, resistor_ohm=100.0))
    assert dark is not None
    assert dark.fresh_ma.high < 0.1
    assert layout(Wanted(red, 4, 0.010, Range(4.4, 6.0), NPN, series=4)) is None


def test_layout_is_a_load_of_its_strings() -> None:
    found = wired(3, 11.0, 12.6)
    assert 1000 * float(found.load(2.0).string_a(12.6)[0]) == pytest.approx(found.fresh_ma.typical)


@pytest.mark.parametrize(("flat_v", "series"), [(5.0, 1), (9.5, 3), (3.0, 0)])
def test_driven_strings_keep_their_headroom(flat_v: float, series: int) -> None:
    # Blue of at most 3.6 V at 20 mA is not the typical 3.2: a driver that needs 0.5 V holds n of
    # them from n 3.6 V + 0.5 V on.
    blue = led("red", 2.4, 20.0, (2.2, 3.0))
    assert longest_driven(blue, 0.020, flat_v, 0.5) == series


def test_unequal_leds_on_one_resistor_are_refused_with_their_ratio() -> None:
    red = Diode(math.log(93.2e-12), 3.73, 0.042)
    white = Diode(math.log(0.27e-9), 6.79, 5.65)
    (finding,) = shared_by(
        "group 'eyes'", SideBySide(((red, 1), (white, 1))).shares_a(5.0, 150.0), "Part them."
    )
    assert (finding.check, finding.weight) == ("power.shared_resistor", Weight.FAULT)
    assert (
        finding.figure
        == "more than 1000 times as much current in one string as in another on the same resistor"
    )
    assert float(dict(finding.inputs)["r"]) > 1000
    assert not list(
        shared_by(
            "group 'eyes'", SideBySide(((red, 1), (red, 1))).shares_a(5.0, 150.0), "Part them."
        )
    )


def shared(
    leds: int, spread_v: tuple[float, float], series: int = 1, resistor_ohm: float | None = None
) -> Layout:
    found = layout(
        Wanted(
            led("red", 2.0, 10.0, spread_v),
            leds,
            0.010,
            Range(4.8, 5.0),
            NPN,
            series,
            resistor_ohm,
            shared=True,
        )
    )
    assert found is not None
    return found


def test_a_shared_resistor_carries_the_current_of_all_its_strings() -> None:
    # (5.0 - 0.1 - 2.0) V / 40 mA = 72.5 ohm -> 75 ohm of E24.
    found = shared(4, (2.0, 2.0))
    assert (found.strings, found.sharing, found.resistor_ohm) == (4, 4, 75)
    # Equal LEDs take a quarter each, within the 5 % of the resistor.
    assert found.fresh_ma.typical == pytest.approx(2.9 / 0.3, rel=0.02)
    assert (found.fresh_ma.low, found.fresh_ma.high) == pytest.approx(
        (2.9 / 0.3 / 1.05, 2.9 / 0.3 / 0.95), rel=0.02
    )
    assert found.channel_ma.high == pytest.approx(2.9 / 0.075 / 0.95, rel=0.02)
    assert found.power_w == pytest.approx((found.channel_ma.high / 1000) ** 2 * 75 * 0.95)
    assert 1000 * float(found.load(4.0).string_a(5.0)[0]) == pytest.approx(found.fresh_ma.typical)
    assert sharing_findings("group 'eyes'", found, 5.0) == ()


def test_the_lowest_of_strings_on_one_resistor_takes_the_light_of_the_others() -> None:
    found = shared(4, (1.9, 2.1))
    alone = layout(Wanted(led("red", 2.0, 10.0, (1.9, 2.1)), 4, 0.010, Range(4.8, 5.0), NPN, 1))
    assert found.fresh_ma.low < alone.fresh_ma.low < alone.fresh_ma.high < found.fresh_ma.high
    (finding,) = sharing_findings("group 'eyes'", found, 5.0)
    assert finding.weight == Weight.FAULT
    # Beside each other both have the same voltage, and all of the current passes the resistor.
    most_a, least_a = (
        float(dict(finding.inputs)[name].split()[0]) / 1000 for name in ("Imost", "Ileast")
    )
    volts = [
        float(diode.voltage_v(amperes))
        for diode, amperes in ((found.led.low, most_a), (found.led.high, least_a))
    ]
    assert volts[0] == pytest.approx(volts[1], abs=0.002)
    assert 75 * (most_a + 3 * least_a) + volts[0] + 0.1 == pytest.approx(5.0, abs=0.01)


def test_strings_that_share_are_laid_out_as_long_as_those_that_do_not() -> None:
    red = led("red", 2.0, 10.0)
    lengths = {
        sharing: layout(Wanted(red, 6, 0.010, Range(11.0, 12.6), NPN, shared=sharing)).series
        for sharing in (False, True)
    }
    assert lengths == {False: 3, True: 3}


@settings(max_examples=40)
@given(
    spread_v=st.floats(0, 1),
    leds=st.integers(2, 24),
    ohms=st.none() | st.floats(1e-3, 1e6),
    flat_v=st.floats(0, 60),
    more_v=st.floats(0, 20),
)
def test_any_shared_resistor_has_figures_in_order(
    spread_v: float, leds: int, ohms: float | None, flat_v: float, more_v: float
) -> None:
    part = led("red", 2.0, 10.0, (2.0 - spread_v, 2.0 + spread_v))
    for found in layouts(
        Wanted(part, leds, 0.010, Range(flat_v, flat_v + more_v), NPN, None, ohms, shared=True)
    ):
        for amount in (found.fresh_ma, found.flat_ma, found.channel_ma):
            assert 0 <= amount.low <= amount.typical + 1e-12 <= amount.high + 2e-12 < math.inf
        assert all(
            "nan" not in finding.figure
            for finding in sharing_findings("group 'eyes'", found, flat_v + more_v)
        )


def test_green_is_told_by_its_voltage() -> None:
    # The old green has 2.2 V, the bright one 3.2 V: the shape of their curves differs.
    assert led("green", 2.2, 20.0).typical.emission == parts().leds["yellow_green"].emission
    assert led("green", 3.2, 20.0).typical.emission == parts().leds["green"].emission


def test_spread_of_the_maker_takes_the_place_of_the_colours_own() -> None:
    part = led("red", 2.0, 20.0, (1.95, 2.10))
    assert [
        float(diode.voltage_v(0.020)) for diode in (part.low, part.typical, part.high)
    ] == pytest.approx([1.95, 2.0, 2.1], abs=1e-6)


LEDS = {
    "colour": st.sampled_from(["red", "green", "white"]),
    "forward_v": st.floats(0.6, 60),
    "current_ma": st.floats(0.01, 5000),
}


@given(**LEDS, leds=st.integers(1, 24), flat_v=st.floats(0, 60), more_v=st.floats(0, 20))
def test_every_layout_is_ordered_and_finite(
    colour: str, forward_v: float, current_ma: float, leds: int, flat_v: float, more_v: float
) -> None:
    for found in layouts(
        Wanted(
            led(colour, forward_v, current_ma),
            leds,
            current_ma / 1000,
            Range(flat_v, flat_v + more_v),
            NPN,
        )
    ):
        assert found.series * found.strings == leds
        assert (
            0
            <= found.flat_ma.low
            <= found.flat_ma.typical + 1e-12
            <= found.flat_ma.high + 2e-12
            < math.inf
        )
        assert (
            found.flat_ma.typical
            <= found.fresh_ma.typical * (1 + 1e-9) + 1e-12
            <= current_ma * 1.001 + 1e-9
        )
        assert 0 <= found.power_w < math.inf


@given(**LEDS, volts=st.floats(0, 60), ohms=st.floats(0.1, 1e6), more=st.floats(1.0, 100))
def test_more_resistance_never_gives_more_current(
    colour: str, forward_v: float, current_ma: float, volts: float, ohms: float, more: float
) -> None:
    diode = led(colour, forward_v, current_ma).typical
    less, current = (float(diode.current_a(volts, value)[0]) for value in (ohms * more, ohms))
    assert 0 <= less <= current * (1 + 1e-9) + 1e-15
    assert current <= volts / ohms + 1e-15
