"""Speakers and amplifiers that a file may describe, over the whole range that the model itself
allows each key.
"""

import math

from annotated_types import Ge, Gt, Le
from hypothesis import strategies as st

from fxseq.sequence.parts import Amplifier, Grille, Part, Speaker

LEAST = 1e-3
"""Where a key may be 0 or is drawn by its logarithm."""


def some(low: float, high: float) -> st.SearchStrategy[float]:
    """Evenly by the logarithm."""
    return st.floats(math.log(low), math.log(high)).map(lambda x: min(max(math.exp(x), low), high))


def allowed(part: type[Part], key: str) -> st.SearchStrategy[float]:
    """What the model allows a number to be; evenly by its logarithm unless it may be below 0."""
    field = part.model_fields[key]
    bounds = field.metadata or field.annotation.__args__[0].__metadata__[0].metadata  # type: ignore[union-attr]
    low = next(
        bound.ge if isinstance(bound, Ge) else bound.gt * (1 + LEAST)
        for bound in bounds
        if isinstance(bound, Ge | Gt)
    )
    high = next(bound.le for bound in bounds if isinstance(bound, Le))
    return some(max(low, LEAST / 10), high) if low >= 0 else st.floats(low, high)


def keys(part: type[Part], *names: str) -> dict[str, st.SearchStrategy[float]]:
    return {name: allowed(part, name) for name in names}


GRILLE = st.builds(
    Grille, holes=st.integers(1, 1000), **keys(Grille, "hole_mm", "thickness_mm", "gap_ml")
)
AMPLIFIER = st.builds(
    Amplifier,
    kind=st.sampled_from(["class_d", "class_ab"]),
    output=st.sampled_from(["bridge", "single"]),
    **keys(
        Amplifier,
        "gain_db",
        "full_scale_input_v",
        "lost_voltage_v",
        "on_resistance_ohm",
        "efficiency_percent",
        "idle_current_ma",
    ),
)
_ALWAYS = keys(Speaker, "diameter_mm", "impedance_ohm", "rated_power_w")
_SENSITIVITY = {
    **keys(Speaker, "sensitivity_db", "sensitivity_distance_m"),
    "sensitivity_baffle": st.booleans(),
}
_EITHER_WAY = {
    **keys(Speaker, "q_mechanical", "cone_area_cm2", "coil_ohm", "coil_mh"),
    "grille": GRILLE,
}
_FREE_AIR = keys(
    Speaker,
    "chamber_ml",
    "q_electrical",
    "equivalent_volume_ml",
    "moving_mass_g",
    "compliance_mm_per_n",
    "force_factor_tm",
    "q_total",
)
OPEN_BACK = st.fixed_dictionaries(
    _ALWAYS | _SENSITIVITY | keys(Speaker, "free_resonance_hz"),
    optional=keys(Speaker, "q_total", "cone_area_cm2", "coil_ohm", "moving_mass_g"),
)
"""Without a chamber, and with nothing that could contradict the rest."""
ANY = st.fixed_dictionaries(
    _ALWAYS | _SENSITIVITY | keys(Speaker, "resonance_hz"),
    optional=_EITHER_WAY | keys(Speaker, "q_total"),
) | st.fixed_dictionaries(
    _ALWAYS | keys(Speaker, "free_resonance_hz"), optional=_SENSITIVITY | _EITHER_WAY | _FREE_AIR
)
