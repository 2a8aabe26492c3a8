"""Common parts to choose from where a maker has no data sheet: what each says in the file, and
where its figures come from. The first of a kind is taken where nobody knows which one it is.
"""

from functools import cache
from typing import Any, NamedTuple

from fxseq.power.parts import parts
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.quantities import quantity
from fxseq.sequence.sound_parts import sound_parts

_USUAL_SPEAKER = "28 mm, 8 ohm"
_FROM_MEMORY = "data sheets of board and chip, from memory"
_SAID_BY_MAKER = "printed on the adaptor; how far its voltage is off is assumed"


class Common(NamedTuple):
    """A part: what it is called, its keys of the prop file, the source of its figures."""

    label: str
    given: dict[str, Any]
    source: str


def _speakers() -> list[Common]:
    known = sound_parts()["speakers"]
    names = [_USUAL_SPEAKER, *(name for name in known if name != _USUAL_SPEAKER)]
    return [
        Common(
            f"{name}, {quantity(known[name]['rated_power_w'], 'W')}",
            {"part": name},
            known[name]["source"],
        )
        for name in names
    ]


def _amplifiers() -> list[Common]:
    known = sound_parts()["amplifiers"]
    return [Common(name, {"part": name}, part["source"]) for name, part in known.items()]


def _boards() -> list[Common]:
    return [
        Common(part.title, {"part": name}, part.current_source or _FROM_MEMORY)
        for name, part in board_parts().items()
    ]


def _regulators() -> list[Common]:
    known = parts().regulators
    kinds = {
        "low dropout, 3.3 V": ("low_dropout", 3.3),
        "steps up to 5 V": ("step_up", 5),
        "steps down to 5 V": ("step_down", 5),
        "linear, 5 V": ("linear", 5),
    }
    return [
        Common(label, {"kind": kind, "output_v": output_v}, known[kind].source)
        for label, (kind, output_v) in kinds.items()
    ]


def _supplies() -> list[Common]:
    cells = {
        "three alkaline AA cells": ("alkaline_aa", 3),
        "four alkaline AA cells": ("alkaline_aa", 4),
        "three rechargeable AA cells (NiMH)": ("nimh_aa", 3),
        "four rechargeable AA cells (NiMH)": ("nimh_aa", 4),
        "one lithium-ion cell": ("li_ion", 1),
        "two lithium-ion cells in series": ("li_ion", 2),
        "an alkaline block of 9 V": ("alkaline_9v", 1),
    }
    outlets = {"a USB charger": "usb_charger", "a USB socket of a computer": "usb"}
    return [
        *(
            Common(label, _cells(cell, count), parts().cells[cell].source)
            for label, (cell, count) in cells.items()
        ),
        *(
            Common(label, {"kind": "wall", "outlet": outlet}, parts().outlets[outlet].source)
            for label, outlet in outlets.items()
        ),
        *(
            Common(
                f"a wall adaptor of 5 V, {quantity(most_ma / 1000, 'A')}",
                {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": most_ma},
                _SAID_BY_MAKER,
            )
            for most_ma in (1000, 2000)
        ),
    ]


def _cells(cell: str, count: int) -> dict[str, Any]:
    in_series = {"cells_in_series": count} if count > 1 else {}
    return {"kind": "cells", "cell": cell, **in_series}


def _of_part() -> dict[str, set[str]]:
    """By kind: keys that describe the part itself, and not how it is built in."""
    generic = sound_parts()
    return {
        "board": {"part"},
        "supplies": {
            "kind", "cell", "curve", "outlet", "voltage_v", "maximum_current_ma",
            "tolerance_percent", "internal_resistance_ohm", "cells_in_series",
            "cells_in_parallel", "cell_capacity_mah",
        },
        "regulator": {
            "kind", "output_v", "dropout_v", "efficiency_percent", "own_current_ma",
            "maximum_current_ma", "maximum_heat_w",
        },
        "amplifier": {"part", *(key for part in generic["amplifiers"].values() for key in part)},
        "speaker": {
            "part", "resonance_hz", "q_electrical", "q_mechanical", "sensitivity_voltage_v",
            "moving_mass_g", "compliance_mm_per_n", "force_factor_tm", "cone_area_cm2", "coil_mh",
            *(key for part in generic["speakers"].values() for key in part),
        },
    }  # fmt: skip


def taking(kind: str, turn: int, said: dict[str, Any]) -> dict[str, Any]:
    """Keys by what becomes of them where a common part takes the place of what the file says;
    None takes one out.
    """
    given = common_parts()[kind][turn].given
    others = _of_part()[kind] - given.keys()
    return {**{key: None for key in said if key in others}, **given}


def taken(kind: str, said: dict[str, Any]) -> int | None:
    """Which common part the file has there; None where it says figures of its own."""
    of_part = {key: value for key, value in said.items() if key in _of_part()[kind]}
    found = [turn for turn, part in enumerate(common_parts()[kind]) if part.given == of_part]
    return found[0] if found else None


@cache
def common_parts() -> dict[str, list[Common]]:
    """By kind, as the prop file calls it."""
    return {
        "board": _boards(),
        "supplies": _supplies(),
        "regulator": _regulators(),
        "amplifier": _amplifiers(),
        "speaker": _speakers(),
    }
