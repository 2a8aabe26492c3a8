"""Loudspeaker parameters and the driver's circuit against published figures.

Three measured data sheets of large drivers (brand left out) print parameters together with the
efficiency and level that follow from them; their constants are those of c = 345 m/s. The set in a
closed box is a published simulation example, its levels computed with ngspice from its circuit.
Closed box: R. H. Small (1972), seen as abstract and glossary and in three copies.
"""

import math

import numpy as np
import pytest

from fxseq.acoustics import (
    Mount,
    air_load_kg,
    completed,
    contradictions,
    driver_from,
    driver_of,
    excursion_per_volt,
    pressure_per_volt,
    reference_efficiency,
    speaker_response,
    stiffening,
    suspects,
)
from fxseq.sequence.finding import Weight
from fxseq.sequence.parts import Speaker
from tests.checks.judged import part_findings

# fs [Hz], Qms, Qes, Qts, Vas [l], Re [ohm], Mms [g], Cms [mm/N], Bl [T m], printed efficiency [%],
# level at 1 W in Re [dB] and in Zn, Zn.
SHEETS = {
    "A": (110.3, 4.537, 1.297, 1.009, 10.5303, 6.18, 38.839, 0.054, 11.325, 1.047, 92.40, 93.52, 8),
    "B": (
        37.8,
        10.648,
        0.5065,
        0.4835,
        15.2258,
        7.22,
        198.151,
        0.09,
        25.9205,
        0.1555,
        84.13,
        84.575,
        8,
    ),
    "C": (43.1, 8.743, 0.501, 0.474, 6.7928, 1.91, 410.190, 0.033, 20.609, 0.105, 82.39, 82.58, 2),
}


@pytest.mark.parametrize("sheet", SHEETS)
def test_efficiency_of_a_data_sheet(sheet: str) -> None:
    fs, _, qes, _, vas, re, *_, efficiency, level, rated_level, rated = SHEETS[sheet]
    ours = reference_efficiency(fs, vas / 1000, qes, sound_m_per_s=345)
    assert ours * 100 == pytest.approx(efficiency, rel=0.01)
    assert level + 10 * math.log10(rated / re) == pytest.approx(rated_level, abs=0.01)


@pytest.mark.parametrize(("sheet", "percent"), [("A", 1.0474), ("B", 0.1561), ("C", 0.1044)])
def test_efficiency_of_a_data_sheet_to_the_fourth_digit(sheet: str, percent: float) -> None:
    # Computed from its fs, Vas and Qes with a second implementation.
    fs, _, qes, _, vas, *_ = SHEETS[sheet]
    assert reference_efficiency(fs, vas / 1000, qes, sound_m_per_s=345) * 100 == pytest.approx(
        percent, abs=0.00006
    )


@pytest.mark.parametrize("sheet", SHEETS)
def test_described_driver_is_as_loud_as_its_data_sheet_says(sheet: str) -> None:
    # The printed levels of 1 W in the coil and of 1 W in the rated impedance, through the circuit
    # that a file with the sheet's numbers becomes. None hangs on the diameter.
    fs, qms, qes, _, vas, re, *_, level, rated_level, rated = SHEETS[sheet]
    part = Speaker(
        diameter_mm=210,
        impedance_ohm=rated,
        coil_ohm=re,
        free_resonance_hz=fs,
        q_mechanical=qms,
        q_electrical=qes,
        equivalent_volume_ml=vas * 1000,
        rated_power_w=50,
    )
    flat_pa_per_v = abs(speaker_response(part, 1.0)(np.array([1e6]))[0])
    for volts, printed in ((math.sqrt(re), level), (math.sqrt(rated), rated_level)):
        assert 20 * math.log10(flat_pa_per_v * volts / 20e-6) == pytest.approx(printed, abs=0.1)


@pytest.mark.parametrize("sheet", SHEETS)
def test_cone_is_the_one_that_a_data_sheet_makes_and_not_its_nominal_size(sheet: str) -> None:
    # Vas and moving mass say how large the cone is; "200 mm" is that of the frame, or rounded: up
    # to 1.6 dB of level.
    fs, qms, qes, _, vas, re, mms, *_, rated_level, rated = SHEETS[sheet]
    part = Speaker(
        diameter_mm=200,
        impedance_ohm=rated,
        coil_ohm=re,
        free_resonance_hz=fs,
        q_mechanical=qms,
        q_electrical=qes,
        equivalent_volume_ml=vas * 1000,
        moving_mass_g=mms,
        chamber_ml=40_000,
        rated_power_w=50,
    )
    flat_pa_per_v = abs(speaker_response(part, 1.0)(np.array([1e6]))[0])
    assert 20 * math.log10(flat_pa_per_v * math.sqrt(rated) / 20e-6) == pytest.approx(
        rated_level, abs=0.1
    )
    assert part_findings(part, None, 16) == ()
    (finding,) = part_findings(part.model_copy(update={"diameter_mm": 150}), None, 16)
    assert (finding.check, finding.weight) == (
        "sound.parameters",
        Weight.WARNING,
    ) and finding.figure.startswith("diameter_mm is 150 mm, but the other")


@pytest.mark.parametrize(("sheet", "area_cm2"), [("B", 346.36), ("C", 380.25)])
def test_whole_data_sheet_of_a_woofer_is_taken_without_a_warning(
    sheet: str, area_cm2: float
) -> None:
    # All that it prints, its level with them; the moving mass is that of the heaviest cones seen,
    # 0.6 and 1.1 g for each cm^2.
    fs, qms, qes, qts, vas, re, mms, cms, bl, _, _, rated_level, rated = SHEETS[sheet]
    loud = {
        "diameter_mm": 210,
        "impedance_ohm": rated,
        "coil_ohm": re,
        "free_resonance_hz": fs,
        "q_mechanical": qms,
        "q_electrical": qes,
        "cone_area_cm2": area_cm2,
        "sensitivity_db": rated_level,
        "chamber_ml": 40_000,
        "rated_power_w": 50,
    }
    whole = {
        **loud,
        "q_total": qts,
        "equivalent_volume_ml": vas * 1000,
        "moving_mass_g": mms,
        "compliance_mm_per_n": cms,
        "force_factor_tm": bl,
    }
    assert [part_findings(Speaker(**keys), None, 16) for keys in (loud, whole)] == [(), ()]
    # And of its level, resonance and damping alone comes the mass that it prints.
    assert driver_of(Speaker(**loud)).moving_mass_kg * 1000 == pytest.approx(mms, rel=0.01)


@pytest.mark.parametrize("sheet", SHEETS)
def test_damping_of_a_data_sheet_follows_from_its_masses(sheet: str) -> None:
    fs, qms, qes, qts, _, re, mms, _, bl, *_ = SHEETS[sheet]
    known = completed(
        {
            "resonance_hz": fs,
            "q_mechanical": qms,
            "coil_ohm": re,
            "moving_mass_kg": mms / 1000,
            "force_factor_tm": bl,
        }
    )
    assert known["q_electrical"] == pytest.approx(qes, abs=0.003)
    assert known["q_total"] == pytest.approx(qts, abs=0.003)


@pytest.mark.parametrize("sheet", SHEETS)
def test_data_sheets_do_not_contradict_themselves(sheet: str) -> None:
    fs, qms, qes, qts, _, re, mms, cms, bl, *_ = SHEETS[sheet]
    stated = {
        "resonance_hz": fs,
        "q_mechanical": qms,
        "q_electrical": qes,
        "q_total": qts,
        "coil_ohm": re,
        "moving_mass_kg": mms / 1000,
        "compliance_m_per_n": cms / 1000,
        "force_factor_tm": bl,
    }
    assert contradictions(stated) == []


@pytest.mark.parametrize(
    ("sound", "constant"), [(343, 9.783e-7), (344.7, 9.639e-7), (345, 9.614e-7)]
)
def test_constant_of_the_efficiency(sound: float, constant: float) -> None:
    # 4 pi^2 / c^3; the second is the usual "9.64e-7", the third Small's.
    assert reference_efficiency(1.0, 1.0, 1.0, sound) == pytest.approx(constant, rel=1e-3)


def test_efficiency_of_an_example_remembered_from_small() -> None:
    # From memory: Small, part II: fs 19 Hz, Qes 0.35, Vas 540 l, 1.02 %.
    assert reference_efficiency(19, 0.540, 0.35, 345) == pytest.approx(0.0102, abs=0.0001)


def test_bad_data_sheet_of_80_mm_names_its_cone() -> None:
    # It prints 55.42 cm^2, while its Vas of 0.46 l and Cms of 0.408 mm/N make 28.3 cm^2.
    [found] = contradictions(
        {"area_m2": 55.42e-4, "equivalent_volume_m3": 0.46e-3, "compliance_m_per_n": 0.408e-3}
    )
    assert found.relation == "Vas = rho c^2 Sd^2 Cms"
    assert completed({"equivalent_volume_m3": 0.46e-3, "compliance_m_per_n": 0.408e-3})[
        "area_m2"
    ] == pytest.approx(28.3e-4, rel=0.002)
    vouched = {"moving_mass_kg": 1 / ((2 * math.pi * 130) ** 2 * 0.408e-3), "resonance_hz": 130}
    assert suspects(
        {
            "area_m2": 55.42e-4,
            "equivalent_volume_m3": 0.46e-3,
            "compliance_m_per_n": 0.408e-3,
            **vouched,
        }
    ) == ["area_m2", "equivalent_volume_m3"]


def test_bad_data_sheet_of_80_mm_is_warned_of() -> None:
    part = Speaker(
        diameter_mm=84,
        impedance_ohm=8,
        free_resonance_hz=130,
        q_total=0.8,
        cone_area_cm2=55.42,
        equivalent_volume_ml=460,
        compliance_mm_per_n=0.408,
        chamber_ml=2000,
        rated_power_w=10,
    )
    [found] = part_findings(part, None, 16)
    assert (found.check, found.weight) == ("sound.parameters", Weight.WARNING)
    # 1.2 kg/m^3 and 343 m/s: 0.0055^2 m^4 of that compliance are 1.77 l.
    assert (
        found.figure == "equivalent_volume_ml is 460 ml, but 1770 ml follows from cone_area_cm2,"
        " compliance_mm_per_n (-74 %)"
    )


def set_d() -> dict[str, float]:
    """A published simulation example: mass without air 33.4 g, 1.18 mm/N, 1.85 N s/m, 11.4 T m,
    7 ohm, radius 12 cm, in air of 1.2 and 343.
    """
    area = math.pi * 0.12**2
    mass = 0.0334 + 16 * 1.2 * area**2 / (3 * math.pi**2 * 0.12)
    fs = 1 / (2 * math.pi * math.sqrt(mass * 1.18e-3))
    return {
        "coil_ohm": 7.0,
        "force_factor_tm": 11.4,
        "moving_mass_kg": mass,
        "compliance_m_per_n": 1.18e-3,
        "area_m2": area,
        "q_mechanical": 2 * math.pi * fs * mass / 1.85,
    }


def test_air_on_a_cone_is_that_of_the_simulation_example() -> None:
    # It adds 16 rho Sd^2 / (3 pi^2 a) for the air on both sides.
    area = math.pi * 0.12**2
    assert air_load_kg(area) == pytest.approx(16 * 1.2 * area**2 / (3 * math.pi**2 * 0.12))


def test_quantities_of_the_simulation_example() -> None:
    known = completed(set_d())
    driver = driver_from(set_d())
    assert driver is not None
    found = (driver.resonance_hz, driver.q_electrical, driver.q_mechanical, driver.q_total)
    assert found == pytest.approx((21.973, 0.3306, 3.3179, 0.3007), rel=2e-4)
    assert driver.equivalent_volume_m3 * 1000 == pytest.approx(340.94, abs=0.01)
    assert known["moving_mass_kg"] * 1000 == pytest.approx(44.459, abs=0.001)
    efficiency = reference_efficiency(
        driver.resonance_hz, driver.equivalent_volume_m3, driver.q_electrical
    )
    assert efficiency * 100 == pytest.approx(1.0703, abs=1e-4)
    assert 20 * math.log10(known["flat_pa_per_v"] * math.sqrt(7) / 20e-6) == pytest.approx(
        92.44, abs=0.005
    )
    # The other equation of the efficiency, rho Bl^2 Sd^2 / (2 pi c Mms^2 Re), by the pressure that
    # it makes: the same to 1e-4.
    assert known["flat_pa_per_v"] ** 2 * 7 * 2 * math.pi / (1.2 * 343) == pytest.approx(
        efficiency, rel=1e-4
    )


def test_full_efficiency_in_full_space_is_109_1_db() -> None:
    # Handbooks print "109": into full space half of the power gets out, and spreads over twice the
    # sphere. Computed from the definition.
    driver = driver_from(set_d())
    assert driver is not None
    half, full = (
        abs(pressure_per_volt(np.array([1e6]), driver, Mount(), 1.0, space)[0]) * math.sqrt(7)
        for space in ("half", "full")
    )
    assert 20 * math.log10(half / 20e-6) - 10 * math.log10(0.010703) == pytest.approx(
        112.14, abs=0.006
    )
    assert 109.1 <= 20 * math.log10(full / 20e-6) - 10 * math.log10(0.010703 / 2) <= 109.2


@pytest.mark.parametrize(
    ("litres", "resonance", "q_total"),
    [(20, 93.35, 1.2773), (40, 67.81, 0.9278), (80, 50.40, 0.6897)],
)
def test_closed_box_raises_resonance_and_q(litres: float, resonance: float, q_total: float) -> None:
    driver = driver_from(set_d())
    assert driver is not None
    factor = stiffening(driver, Mount(litres / 1000))
    assert factor**2 - 1 == pytest.approx(340.94 / litres, rel=1e-4)
    assert driver.resonance_hz * factor == pytest.approx(resonance, abs=0.01)
    assert driver.q_total * factor == pytest.approx(q_total, abs=0.0002)


@pytest.mark.parametrize(
    ("frequency_hz", "level_db"), [(50, 79.4519), (100, 84.8172), (200, 84.3637), (1000, 84.0033)]
)
def test_level_in_a_box_of_40_litres_at_1_v(frequency_hz: float, level_db: float) -> None:
    driver = driver_from(set_d())
    assert driver is not None
    ours = abs(pressure_per_volt(np.array([float(frequency_hz)]), driver, Mount(0.040))[0])
    assert 20 * math.log10(ours / 20e-6) == pytest.approx(level_db, abs=0.001)


@pytest.mark.parametrize(("litres", "cutoff_hz"), [(20, 67.54), (40, 55.30), (80, 51.71)])
def test_level_is_3_db_down_at_the_cutoff_of_the_box(litres: float, cutoff_hz: float) -> None:
    driver = driver_from(set_d())
    assert driver is not None
    low, high = np.abs(pressure_per_volt(np.array([cutoff_hz, 1e6]), driver, Mount(litres / 1000)))
    assert 20 * math.log10(low / high) == pytest.approx(-3.0103, abs=0.002)


@pytest.mark.parametrize(("litres", "q_total"), [(20, 1.2773), (40, 0.9278)])
def test_excursion_peaks_as_high_over_its_rest_as_the_pressure_over_its_flat_range(
    litres: float, q_total: float
) -> None:
    # Small: both are Qtc^2 / sqrt(Qtc^2 - 1/4) high, at frequencies that lie either side of
    # resonance.
    driver = driver_from(set_d())
    mount = Mount(litres / 1000)
    assert driver is not None
    frequencies = np.concatenate([[1e-2], np.linspace(20, 400, 40_001), [1e6]])
    way = np.abs(excursion_per_volt(frequencies, driver, mount))
    pressure = np.abs(pressure_per_volt(frequencies, driver, mount))
    height = q_total**2 / math.sqrt(q_total**2 - 0.25)
    assert (way.max() / way[0], pressure.max() / pressure[-1]) == pytest.approx(
        (height, height), rel=1e-3
    )


def test_excursion_peaks_where_the_relation_says() -> None:
    # Small: fc sqrt(1 - 1 / (2 Qtc^2)), not to be taken for the peak of the pressure, which lies as
    # far above resonance.
    driver = driver_from(set_d())
    mount = Mount(0.020)
    assert driver is not None
    frequencies = np.linspace(20, 200, 18_001)
    resonance_hz, q_total = np.array([driver.resonance_hz, driver.q_total]) * stiffening(
        driver, mount
    )
    found = frequencies[np.argmax(np.abs(excursion_per_volt(frequencies, driver, mount)))]
    assert found == pytest.approx(resonance_hz * math.sqrt(1 - 1 / (2 * q_total**2)), abs=0.02)


def test_leaking_box_falls_at_18_db_an_octave() -> None:
    # Closed form of the circuit: all that moves, in front and through the leak, is what the air of
    # the box takes in and gives back, so a leak multiplies the pressure by Z_tight / Z_leaking and
    # by s QL / (s QL + w0). Far below, that is one octave's 6 dB more than a tight box's 12.
    # Network theory on R. H. Small's circuit (1972); no printed figure was found.
    speaker = Speaker(part="28 mm, 8 ohm", chamber_ml=15.0)
    two_octaves = np.array([5.0, 10.0])
    tight, leaking = (
        20 * np.log10(np.abs(speaker_response(speaker, 1.0, leak_q=leak_q)(two_octaves)))
        for leak_q in (None, 5.0)
    )
    assert np.diff(tight)[0] == pytest.approx(12.04, abs=0.05)
    assert np.diff(leaking)[0] == pytest.approx(18.06, abs=0.2)
