"""What the player did, and at which frame (SPEC section 7)."""
from enum import IntEnum
from typing import NamedTuple


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
