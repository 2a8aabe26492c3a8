"""Generic speakers and amplifiers, from `sound_parts.toml`: a part of that name fills in what a
file does not say.
"""

import tomli
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

# A figure of the maker's takes the place of these of the generic part, which belong together with
# the one it replaces.
_REPLACES = {
    "resonance_hz": ("free_resonance_hz", "q_total"),
    "free_resonance_hz": ("q_total",),
    "sensitivity_db": ("sensitivity_power_w", "sensitivity_distance_m", "sensitivity_spread_db"),
    "sensitivity_voltage_v": ("sensitivity_power_w",),
    "impedance_ohm": ("coil_ohm",),
    "q_electrical": ("q_total",),
    "q_mechanical": ("q_total",),
    "force_factor_tm": ("q_total",),
}


@cache
def sound_parts() -> dict[str, dict[str, dict[str, Any]]]:
    """Tables `speakers` and `amplifiers`: name to keys of the prop file, and `source`."""
    return tomli.loads(
        resources.files("fxseq.sequence").joinpath("sound_parts.toml").read_text(encoding="utf-8")
    )


def filled(table: str, values: Any) -> Any:
    """The values of a file with those of the generic part they name added; unchanged where they
    name none.

    An unknown part is filled in too, by any other: then its name is the only fault.
    """
    part = values.get("part") if isinstance(values, Mapping) else None
    if part is None:
        return values
    generic = sound_parts()[table]
    if isinstance(part, str) and part in generic:
        chosen = generic[part]
    else:
        chosen = next(iter(generic.values()))
    replaced = {"source", *(key for given in values for key in _REPLACES.get(given, ()))}
    return {**{key: value for key, value in chosen.items() if key not in replaced}, **values}
