"""What goes into the player, what a hand does to the prop, and what comes out: what the player
did, and at which frame.
"""

from enum import IntEnum
from typing import NamedTuple

from fxseq.table import Names


class PressKind(IntEnum):
    """What a press event changes."""

    PRESS = 0
    RELEASE = 1
    SELECT = 2
    VOLUME = 3
    HELD = 4
    """Under a hand since another table played (SPEC 5.2); in no script and on no link."""


class Press(NamedTuple):
    """One event at a frame: an input pressed or released, a selector put to position `value`, or
    the volume to `value` / 256.

    HELD: an input that is up has been down for `value` frames, 1 to 65535.
    """

    frame: int
    kind: PressKind
    index: int
    value: int = 0


class TraceKind(IntEnum):
    """Kinds of trace events; what `index` and `value` mean stands behind each."""

    PRESS = 1  # input, 0
    RELEASE = 2  # input, 0
    SELECT = 3  # selector, position
    VOLUME = 4  # 0, volume
    START = 5  # trigger, 0
    STOP = 6  # trigger, 0
    SHOT = 7  # trigger, shots before it since its press (65535 and more as 65535)
    EMPTY = 8  # trigger, counter
    EFFECT = 9  # effect, trigger
    SOUND = 10  # voice, clip
    CUT = 11  # voice, clip
    RELEASED = 12  # voice, clip
    FADE = 13  # group, fade
    COUNT = 14  # counter, value
    REFUSED = 15  # effect, 0


class TraceEvent(NamedTuple):
    """One event; `index` 0..255, `value` 0..65535."""

    frame: int
    kind: TraceKind
    index: int
    value: int


# Kind of trace event: what it says, with {index} and {value}, and which names stand for the two
# (SPEC section 7); numbers where there are none.
SENTENCES = {
    "PRESS": ("input {index} is pressed", "inputs", ""),
    "RELEASE": ("input {index} is let go", "inputs", ""),
    "SELECT": ("selector {index} is set to {value}", "selectors", "positions"),
    "VOLUME": ("the volume is set to {percent:.0f} %", "", ""),
    "START": ("trigger {index} begins", "triggers", ""),
    "STOP": ("trigger {index} ends", "triggers", ""),
    "SHOT": ("trigger {index} fires, shots before this one: {value}", "triggers", ""),
    "EMPTY": ("trigger {index} finds counter {value} at 0", "triggers", "counters"),
    "EFFECT": ("effect {index} begins, by trigger {value}", "effects", "triggers"),
    "SOUND": ("clip {value} begins on voice {index}", "", "clips"),
    "CUT": ("clip {value} is cut on voice {index}", "", "clips"),
    "RELEASED": ("clip {value} is let go on voice {index}", "", "clips"),
    "FADE": ("group {index} begins fade {value}", "groups", "segments"),
    "COUNT": ("counter {index} is at {value}", "counters", ""),
    "REFUSED": ("effect {index} is left out, as too many others are running", "effects", ""),
}


def in_words(event: TraceEvent, names: Names | None) -> str:
    """What an event says, in a sentence. names: None where they are not known and things go by
    their numbers.
    """
    sentence, index_of, value_of = SENTENCES[event.kind.name]

    def names_of(kind: str) -> tuple[str, ...] | None:
        if names is None or not kind:
            return None
        return (
            dict(enumerate(names.positions)).get(event.index, ())
            if kind == "positions"
            else getattr(names, kind)
        )

    return sentence.format(
        index=_named(event.index, names_of(index_of)),
        value=_named(event.value, names_of(value_of)),
        percent=event.value / 2.56,
    )


def _named(number: int, names: tuple[str, ...] | None) -> str:
    if names is None:
        return str(number)
    return (
        f"'{names[number]}'"
        if number < len(names)
        else f"number {number} (the sequence has none of that number)"
    )
