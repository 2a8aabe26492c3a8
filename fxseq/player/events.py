"""What goes into the player, what a hand does to the prop, and what comes out: what the player did, and at which frame."""
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


class TraceKind(IntEnum):
    """Kinds of trace events; what `index` and `value` mean stands behind each."""

    PRESS = 1      # input, 0
    RELEASE = 2    # input, 0
    SELECT = 3     # selector, position
    VOLUME = 4     # 0, volume
    START = 5      # trigger, 0
    STOP = 6       # trigger, 0
    SHOT = 7       # trigger, shots before it since its press (65535 and more as 65535)
    EMPTY = 8      # trigger, counter
    EFFECT = 9     # effect, trigger
    SOUND = 10     # voice, clip
    CUT = 11       # voice, clip
    RELEASED = 12  # voice, clip
    FADE = 13      # group, fade
    COUNT = 14     # counter, value
    REFUSED = 15   # effect, 0


class TraceEvent(NamedTuple):
    """One event; `index` 0..255, `value` 0..65535."""

    frame: int
    kind: TraceKind
    index: int
    value: int
