"""Speakers that a file may describe, as keys, over the whole range of each."""
import math

from hypothesis import strategies as st

from fxseq.sequence.parts import Grille


def some(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(math.log(low), math.log(high)).map(lambda x: min(max(math.exp(x), low), high))


ALWAYS = {"diameter_mm": some(5.1, 500), "impedance_ohm": some(0.6, 600), "rated_power_w": some(0.01, 1000)}
SENSITIVITY = {"sensitivity_db": some(30, 130), "sensitivity_distance_m": some(1e-6, 10), "sensitivity_baffle": st.booleans()}
EITHER_WAY = {
    "q_mechanical": some(0.11, 100), "cone_area_cm2": some(1e-2, 5000), "coil_ohm": some(0.11, 600), "coil_mh": some(1e-4, 100),
    "grille": st.builds(Grille, holes=st.integers(1, 1000), hole_mm=some(0.1, 200), thickness_mm=some(0.05, 100), gap_ml=some(1e-3, 1e4)),
}
FREE_AIR = {
    "chamber_ml": some(0.011, 1e6), "q_electrical": some(0.11, 100), "equivalent_volume_ml": some(1e-3, 1e7), "moving_mass_g": some(1e-3, 1000),
    "compliance_mm_per_n": some(1e-4, 100), "force_factor_tm": some(1e-3, 100), "q_total": some(0.11, 20),
}
OPEN_BACK = st.fixed_dictionaries(ALWAYS | SENSITIVITY | {"free_resonance_hz": some(11, 5000)}, optional={
    "q_total": some(0.11, 20), "cone_area_cm2": some(1e-2, 5000), "coil_ohm": some(0.11, 600), "moving_mass_g": some(1e-3, 1000)})
"""Without a chamber, and with nothing that could contradict the rest."""
ANY = st.fixed_dictionaries(ALWAYS | SENSITIVITY | {"resonance_hz": some(11, 5000)}, optional=EITHER_WAY | {"q_total": some(0.11, 20)}) | \
    st.fixed_dictionaries(ALWAYS | {"free_resonance_hz": some(11, 5000)}, optional=SENSITIVITY | EITHER_WAY | FREE_AIR)
