"""Ready-made boards, from `board_parts.toml`: what they fill in, what they have room for, and
their pins.
"""

import re
import tomli
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from importlib import resources
from typing import Any, Literal

_LABEL = re.compile(r"(GP|D|A)(\d+)")
_FIRST_ANALOGUE = 14
Keys = Mapping[str, Any]
"""Keys of [board] with their values."""


@dataclass(frozen=True)
class Programmed:
    """A chip that takes its program from a programmer. chip: as avrdude calls it. fuses: bytes, by
    avrdude's names.
    """

    chip: str
    fuses: Mapping[str, int]


@dataclass(frozen=True, kw_only=True)
class BoardPart:
    """A ready-made board, as its table in `board_parts.toml` says."""

    title: str
    price: str
    image: str
    boot_drive: str = ""
    programmed: Programmed | None = None
    full_v: float = 0.0
    analogue: tuple[int, ...] = ()
    supply_name: str
    most_supply_v: float
    supply_pin: int | None = None
    divider: float = 1.0
    first_pins: Mapping[str, int] = field(default_factory=dict)
    only_pins: Mapping[str, list[int]] | None = None
    sound_lines: int = 1
    pin_ma: float | None = None
    chip_ma: float | None = None
    current_source: str = ""
    keys: Keys
    lights: Mapping[str, Keys]
    sound: Mapping[str, Keys]
    most: Mapping[str, int]
    most_work: float
    counts: bool
    reserved: list[int]
    left: list[str]
    right: list[str]
    plug: Literal["top", "bottom"] = "top"

    @cached_property
    def pins(self) -> dict[int, str]:
        """The pins that a prop file may use: number to what a maker sees on the board."""
        places = enumerate([*self.left, *reversed(self.right)], 1)
        shown = {number_of(label): f"{label}, pin {place}" for place, label in places}
        if self.supply_pin is not None:
            shown[self.supply_pin] = "the board's own, at the supply"
        kept = {None, *self.reserved}
        return {pin: shown[pin] for pin in sorted(shown.keys() - kept)}

    def place_of(self, label: str) -> str:
        """The first pin that the board labels so, as a maker sees it."""
        labels = [*self.left, *reversed(self.right)]
        return f"{label}, pin {labels.index(label) + 1}"

    def pins_for(self, use: str) -> list[int]:
        """Those that can have this use."""
        return list(self.pins) if self.only_pins is None else self.only_pins.get(use, [])


def number_of(label: str) -> int | None:
    """Number in a prop file of the pin that the board labels so; None for supply and ground."""
    found = _LABEL.fullmatch(label)
    return None if found is None else int(found[2]) + (_FIRST_ANALOGUE if found[1] == "A" else 0)


@cache
def board_parts() -> dict[str, BoardPart]:
    """The boards by name."""
    text = resources.files("fxseq.sequence").joinpath("board_parts.toml").read_text("utf-8")
    return {name: _part(values) for name, values in tomli.loads(text).items()}


def _part(values: dict[str, Any]) -> BoardPart:
    programmed = values.pop("programmed", None)
    return BoardPart(**values, programmed=Programmed(**programmed) if programmed else None)


def board_filled(values: Any) -> Any:
    """The values of [board] with those of the part they name added; unchanged where they name
    none that there is.
    """
    name = values.get("part") if isinstance(values, Mapping) else None
    part = board_parts().get(name) if isinstance(name, str) else None
    if part is None:
        return values
    chosen = (part.lights.get(_text(values, "lights", "pins"), {}),
              part.sound.get(_text(values, "sound", "pwm"), {}))  # fmt: skip
    return {**part.keys, **chosen[0], **chosen[1], **values}


def _text(values: Keys, key: str, usual: str) -> str:
    given = values.get(key, usual)
    return given if isinstance(given, str) else usual
