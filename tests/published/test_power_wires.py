"""Wires, fuses and inrush against tables of wire sizes and makers' rules."""
import pytest

from fxseq.power import wires

# Three tables of wire sizes on the web: ohm per km, in their three roundings; diameter and area as two of them print them.
TABLE = [
    (20, 0.8118, 0.5176, (33.3, 33.29, 33.2), 1.46), (22, 0.6438, 0.3255, (53.0, 52.94, 52.7), 0.92),
    (24, 0.5106, 0.2047, (84.2, 84.20, 84.2), 0.577), (26, 0.4049, 0.1288, (134, 133.86), 0.363), (28, 0.3211, 0.0810, (213, 212.87), 0.228),
    (30, 0.2546, 0.0509, (339, 338.50), 0.144), (32, 0.2019, 0.0320, (538, 538.25), 0.090),
]
# "Handbook of Electronic Tables and Formulas", as quoted: ampere in a single wire in free air, by gauge.
CHASSIS = [(20, 11), (22, 7), (24, 3.5), (26, 2.2), (28, 1.4), (30, 0.86), (32, 0.53)]


@pytest.mark.parametrize(("gauge", "diameter_mm", "area_mm2", "ohm_per_km", "bundled_a"), TABLE)
def test_wire_by_gauge(gauge: int, diameter_mm: float, area_mm2: float, ohm_per_km: tuple[float, ...], bundled_a: float) -> None:
    assert wires.diameter_m(gauge) * 1000 == pytest.approx(diameter_mm, abs=0.00006)
    assert wires.COPPER_OHM_M / wires.resistance_ohm(gauge, 1.0) * 1e6 == pytest.approx(area_mm2, abs=0.00006)
    # The third table's values lie up to 0.5 % off the other two.
    assert wires.resistance_ohm(gauge, 1000.0) == pytest.approx(ohm_per_km[0], rel=0.006)
    assert all(wires.resistance_ohm(gauge, 1000.0) == pytest.approx(seen, rel=0.006) for seen in ohm_per_km)
    # 700 circular mils an ampere: computed.
    assert wires.ampacity_a(gauge) == pytest.approx(bundled_a, abs=0.005)


@pytest.mark.parametrize(("gauge", "chassis_a"), CHASSIS)
def test_wire_in_a_prop_is_not_loaded_as_in_free_air(gauge: int, chassis_a: float) -> None:
    # A prop's bundles get less than a fifth of the handbook's current.
    assert wires.ampacity_a(gauge) < chassis_a / 5


def test_three_amperes_a_square_millimetre_allow_about_the_same() -> None:
    # A hardware book's page on AWG: 24: 0.61 A, 28: 0.24 A, 30: 0.15 A by the other rule.
    assert [wires.ampacity_a(gauge) for gauge in (24, 28, 30)] == pytest.approx([0.61, 0.24, 0.15], rel=0.07)


def test_textbook_copper_is_2_7_percent_lower() -> None:
    # Lessons In Electric Circuits: 1.678 uohm cm, AWG 24 81.96 ohm/km; 2300 ft of AWG 14 are 5.651 ohm, there and back 11.301 ohm.
    assert wires.resistance_ohm(24, 1000.0, 1.678e-8) == pytest.approx(81.96, abs=0.01)
    assert wires.COPPER_OHM_M / 1.678e-8 == pytest.approx(1.027, abs=0.001)
    run_ohm = wires.resistance_ohm(14, 2300 * 0.3048, 1.678e-8)
    assert (run_ohm, 2 * run_ohm) == (pytest.approx(5.651, rel=0.001), pytest.approx(11.301, rel=0.001))
    # Textbook: 230 V over that line are 20.352 A into a short, so its 25 A cannot be had.
    assert 230 / (2 * run_ohm) == pytest.approx(20.352, rel=0.001)


def test_drop_counts_both_conductors() -> None:
    assert wires.drop_v(24, 2.0, 0.5) == pytest.approx(2 * 2.0 * 0.08421 * 0.5, rel=0.001)  # computed: 2 l R I


@pytest.mark.parametrize(("rated_a", "lasting_a"), [(10.0, 7.5), (2.0, 1.5)])
def test_fuse_runs_at_75_percent(rated_a: float, lasting_a: float) -> None:
    # A maker's design guide, as quoted: 10 A -> 7.5 A, 3 A -> 2.25 A.
    assert wires.fuse_a(lasting_a, 10) == rated_a
    assert wires.FUSE_SHARE * 3.0 == 2.25


def test_fuse_protects_the_wire() -> None:
    assert wires.fuse_a(0.2, 24) == 0.315
    assert wires.fuse_a(0.5, 24) is None


def test_resettable_fuse_trips_at_twice_what_it_holds() -> None:
    assert wires.TRIP_RATIO * 0.5 == 1.0  # a tutorial on resettable fuses


def test_inrush_into_a_capacitor() -> None:
    # Peak V / R and energy in the resistance C V^2 / 2: a tutorial; the integral of I^2 is that energy over R: computed.
    assert wires.inrush_peak_a(5.0, 0.5) == 10.0
    assert wires.inrush_i2t_a2s(5.0, 1e-3, 0.5) * 0.5 == pytest.approx(1e-3 * 5.0**2 / 2)


@pytest.mark.parametrize(("holds", "rule"), [(1.10, "UL"), (1.50, "IEC 60127")])
def test_fuse_is_never_loaded_near_what_it_has_to_hold(holds: float, rule: str) -> None:
    # A post on an engineers' list: small UL fuses hold 110 % of their rating, those of IEC 127 hold 150 % for an hour.
    currents_a = [0.01 * step for step in range(1, 140)]
    ratings_a = [wires.fuse_a(current_a, 16) for current_a in currents_a]
    shares = [current_a / rating_a for current_a, rating_a in zip(currents_a, ratings_a, strict=True) if rating_a is not None]
    assert len(shares) > 100
    assert max(shares) <= 0.75 < holds, rule


@pytest.mark.parametrize(("opens", "rule"), [(1.35, "UL"), (2.10, "IEC 60127")])
@pytest.mark.parametrize(("gauge", "chassis_a"), CHASSIS[:-1])
def test_current_that_opens_a_fuse_is_one_its_wire_stands(gauge: int, chassis_a: float, opens: float, rule: str) -> None:
    # The same post: a UL fuse opens within an hour at 135 %, one of IEC 127 has to at 210 %. Wire: the handbook's single wire in free air;
    # 32 AWG is too thin for any fuse here.
    rating_a = max((found for step in range(1, 200) if (found := wires.fuse_a(0.01 * step, gauge))), default=None)
    assert rating_a is not None
    assert opens * rating_a < chassis_a, rule


@pytest.mark.parametrize(("strands", "strand_gauge", "ohm_per_1000_ft"), [(7, 36, 64.9), (19, 40, 56.7)])
def test_stranded_wire_of_28_awg(strands: int, strand_gauge: int, ohm_per_1000_ft: float) -> None:
    # A chart of stranded wire. Its strands lie in a twist, and so are a little longer than the wire: by up to a tenth in that chart.
    side_by_side_ohm = wires.resistance_ohm(strand_gauge, 304.8) / strands
    assert 1.0 < ohm_per_1000_ft / side_by_side_ohm < 1.10
    # What is taken for the wire, a solid conductor, is the poorer of the two.
    assert wires.resistance_ohm(28, 304.8) == pytest.approx(64.9, rel=0.001)


def test_wire_of_usb_cables_has_a_tenth_more_than_solid_wire() -> None:
    # A table of cable wire: stranded 28 AWG 232 ohm/km at the most.
    assert 1.0 < 232 / wires.resistance_ohm(28, 1000.0) < 1.10
