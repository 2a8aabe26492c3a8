"""What a hand does to the prop, and when."""
from enum import IntEnum
from typing import NamedTuple


class PressKind(IntEnum):
    """What a press event changes."""

    PRESS = 0
    RELEASE = 1
    SELECT = 2
    VOLUME = 3
    HELD = 4
    """Under a hand since another table played (SPEC 5.2); in no script and on no link."""


class Press(NamedTuple):
    """One event at a frame: an input pressed or released, a selector put to position `value`, or the volume to `value` / 256.

    HELD: an input that is up has been down for `value` frames, 1 to 65535.
    """

    frame: int
    kind: PressKind
    index: int
    value: int = 0
