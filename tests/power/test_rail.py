"""The rail under load."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.power.diodes import Diode
from fxseq.power.changeover import joined_v
from fxseq.power.in_series import InSeries
from fxseq.power.rail import Capacitor, LEAST_V, LedLoad, Load, Source, _Steps, buffered_v, rail_v
from fxseq.power.switches import Switch

pytestmark = pytest.mark.quick

SWITCH = InSeries(((Switch(drop_v=0.1), 1),))
STRING = LedLoad(Diode(math.log(1e-22), 1.5, 6.0), 150.0, SWITCH, 10)
VOLTS = st.floats(0.1, 60)
OHMS = st.floats(0, 100)


@given(
    open_v=VOLTS,
    ohms=OHMS,
    current_a=st.floats(0, 5),
    power_w=st.floats(0, 20),
    lit=st.floats(0, 500),
)
def test_rail_gives_what_the_load_takes_or_is_no_number(
    open_v: float, ohms: float, current_a: float, power_w: float, lit: float
) -> None:
    load = Load((LedLoad(STRING.string, 150.0, SWITCH, lit),), current_a, power_w)
    volts = float(rail_v(open_v, ohms, load))
    if math.isfinite(volts):
        assert 0 < volts <= open_v
        assert ohms * float(load.at(volts)[0]) == pytest.approx(open_v - volts, abs=1e-6)
    else:
        # There is no voltage at which the source gives what the load takes.
        grid = np.linspace(max(open_v / 2000, LEAST_V), open_v, 2000)
        assert np.all(grid + ohms * load.at(grid)[0] - open_v > -1e-6)


@given(open_v=VOLTS, ohms=st.floats(0.01, 10), current_a=st.floats(0, 1), more_a=st.floats(0, 1))
def test_more_load_never_raises_the_rail(
    open_v: float, ohms: float, current_a: float, more_a: float
) -> None:
    before, after = (
        float(np.nan_to_num(rail_v(open_v, ohms, Load((STRING,), amperes))))
        for amperes in (current_a, current_a + more_a)
    )
    assert after <= before + 1e-8


def test_a_step_follows_its_slope_between_the_points_of_its_table() -> None:
    steps = _Steps(Load((STRING,)), 1, 60.0)
    for cell in (800, 2000, 3500):
        low_v, high_v = ((cell + part) * steps.pitch_v for part in (0.1, 0.9))
        (low_a, slope), (high_a, _) = steps.at(0, low_v), steps.at(0, high_v)
        assert slope > 0 and high_a - low_a == pytest.approx(slope * (high_v - low_v))


def test_loads_add_up() -> None:
    together = Load((STRING,), 0.1) + Load((STRING,), 0.2, 1.0)
    assert float(together.at(5.0)[0]) == pytest.approx(
        2 * 10 * float(STRING.string_a(5.0)[0]) + 0.3 + 0.2
    )


@pytest.mark.parametrize(("ohms", "capacitance_f"), [(0.0, 1e-3), (0.8, 0.0)])
def test_rail_without_resistance_or_capacitor_follows_at_once(
    ohms: float, capacitance_f: float
) -> None:
    load = Load((STRING,), np.array([0.1, 0.5]))
    assert buffered_v(np.array([0.0, 1.0]), 2.0, 6.0, ohms, load, Capacitor(capacitance_f))[
        1
    ] == pytest.approx(rail_v(6.0, ohms, load))


def test_capacitor_carries_a_short_pulse() -> None:
    pulse = Load(current_a=np.array([0.0, 1.0, 0.0]))
    lowest = [
        buffered_v(np.array([0.0, 1.0, 1.0001]), 2.0, 6.0, 1.0, pulse, Capacitor(farads))[1].min()
        for farads in (1e-6, 1e-4, 1e-3)
    ]
    # 0.1 ms against time constants of 1 us, 0.1 ms, 1 ms.
    assert lowest == pytest.approx(
        [5.0, 6.0 - (1 - math.exp(-1)), 6.0 - (1 - math.exp(-0.1))], abs=1e-6
    )


def test_capacitor_only_delays_a_collapse() -> None:
    volts = buffered_v(
        np.array([0.0, 1.0, 2.0]),
        3.0,
        5.0,
        1.0,
        Load(power_w=np.array([1.0, 7.0, 1.0])),
        Capacitor(1e-3),
    )[1]
    assert math.isfinite(volts[0])
    assert np.isnan(volts[1:]).all()


def test_sources_that_cannot_carry_the_load_have_no_rail() -> None:
    weak = [Source(5.0, 10.0), Source(5.0, 10.0)]
    assert joined_v(weak, Load(power_w=1.2)) == pytest.approx(
        float(rail_v(5.0, 5.0, Load(power_w=1.2))), abs=1e-6
    )
    assert math.isnan(joined_v(weak, Load(power_w=1.3)))


def test_unloaded_rail_is_the_highest_source() -> None:
    assert joined_v([Source(5.0, 1.0)], Load()) == 5.0


def test_many_points_are_read_from_tables_and_hardly_differ() -> None:
    lit = np.linspace(0, 30, 5000)
    load = Load((LedLoad(STRING.string, 150.0, SWITCH, lit),), power_w=1.0)
    many = rail_v(6.0, 0.8, load)
    few = np.concatenate(
        [
            rail_v(6.0, 0.8, Load((LedLoad(STRING.string, 150.0, SWITCH, part),), power_w=1.0))
            for part in np.split(lit, 5)
        ]
    )
    assert many == pytest.approx(few, abs=1e-6)
    assert np.isnan(rail_v(6.0, 0.8, Load(load.leds, power_w=np.full(5000, 12.0)))).all()
