"""Ready-made boards, from `board_parts.toml`: what they fill in, what they have room for, and
their pins.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

Keys = Mapping[str, Any]
"""Keys of [board] with their values."""


@dataclass(frozen=True)
class BoardPart:
    """A ready-made board, as its table in `board_parts.toml` says."""

    title: str
    price: str
    image: str
    full_v: float
    analogue: list[int]
    supply_pin: int
    divider: float
    sound_pin: int
    amplifier_pin: int
    keys: Keys
    lights: Mapping[str, Keys]
    sound: Mapping[str, Keys]
    most: Mapping[str, int]
    pins: Mapping[str, str]


@cache
def board_parts() -> dict[str, BoardPart]:
    """The boards by name."""
    text = resources.files("fxseq.sequence").joinpath("board_parts.toml").read_text("utf-8")
    return {name: BoardPart(**values) for name, values in tomllib.loads(text).items()}


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
