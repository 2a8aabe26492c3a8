"""What can be turned while it plays: each number of the file that shapes how the prop acts, with
label, unit and range.

The ranges are those within which turning makes sense at a bench; a file may say more, as its own
rules allow.
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

from fxseq.sequence import Part, Sequence
from fxseq.sequence import model as m
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.paths import Path, place_name


class Knob(NamedTuple):
    """A key that can be turned, in its own unit. step: of the fine adjustment."""

    key: str
    label: str
    unit: str
    least: float
    most: float
    step: float


class Setting(NamedTuple):
    """A knob at its place. value: present, None where the file leaves it open. part: whose it is,
    in a maker's words.

    is_required: whether its part cannot be without the key. default: what holds where the key is
    not in the file; None where nothing does.
    """

    path: Path
    label: str
    unit: str
    value: float | None
    least: float
    most: float
    step: float
    part: str
    is_required: bool
    default: float | None


KNOBS: dict[type[Part], tuple[Knob, ...]] = {
    m.Trigger: (
        Knob("rate_per_s", "repeat rate", "1/s", 0.1, 30, 0.1),
        Knob("first_delay_ms", "first delay", "ms", 5, 2000, 5),
        Knob("after_held_ms", "after held for", "ms", 0, 2000, 5),
        Knob("ramp_to_rate_per_s", "rate at the end of the ramp", "1/s", 0.1, 30, 0.1),
    ),
    m.Effect: (
        Knob("pitch_spread_percent", "pitch spread", "%", 0, 24, 0.5),
        Knob("gain_spread_percent", "gain spread", "%", 0, 50, 1),
    ),
    m.Sound: (
        Knob("gain_db", "gain", "dB", -40, 12, 0.5),
        Knob("at_ms", "starts at", "ms", 0, 5000, 5),
        Knob("release_ms", "release", "ms", 0, 2000, 10),
    ),
    m.Light: (
        Knob("at_ms", "starts at", "ms", 0, 5000, 5),
        Knob("stagger_ms", "stagger", "ms", -500, 500, 1),
    ),
    m.Segment: (
        Knob("to_percent", "level", "%", 0, 100, 1),
        Knob("length_ms", "length", "ms", 1, 5000, 5),
        Knob("low_percent", "lowest level", "%", 0, 100, 1),
        Knob("every_ms", "flickers every", "ms", 1, 500, 1),
    ),
    m.Clip: (
        Knob("gain_db", "gain", "dB", -40, 18, 0.5),
        Knob("start_ms", "starts at", "ms", 0, 60_000, 1),
        Knob("end_ms", "ends at", "ms", 0, 60_000, 1),
        Knob("fade_in_ms", "fade in", "ms", 0, 2000, 1),
        Knob("fade_out_ms", "fade out", "ms", 0, 5000, 5),
    ),
    m.Loop: (
        Knob("start_ms", "loop starts at", "ms", 0, 60_000, 1),
        Knob("end_ms", "loop ends at", "ms", 0, 60_000, 1),
    ),
    m.Group: (Knob("current_ma", "LED current", "mA", 0.5, 350, 0.5),),
    m.Board: (Knob("voices", "voices", "", 1, 16, 1),),
    m.Amplifier: (Knob("gain_db", "gain", "dB", -20, 40, 0.5),),
    m.Listening: (
        Knob("hand_m", "to the hand", "m", 0.05, 2, 0.05),
        Knob("audience_m", "to the audience", "m", 0.5, 50, 0.5),
    ),
}

_ONLY_WHERE_GIVEN = {"ramp_to_rate_per_s", "low_percent", "every_ms"}
"""Keys that mean nothing without others."""


def settings(sequence: Sequence) -> list[Setting]:
    """All that can be turned, in the file's own order of parts."""
    return [
        _setting(path, part, knob)
        for path, part in _parts(sequence)
        for knob in KNOBS[type(part)]
        if _means_something(part, knob.key)
    ]


def _parts(sequence: Sequence) -> Iterator[tuple[Path, Part]]:
    """Parts that have a knob, with their paths."""
    for name, trigger in sequence.triggers.items():
        yield ("triggers", name), trigger
    for name, effect in sequence.effects.items():
        yield ("effects", name), effect
        for key in ("sounds", "lights"):
            yield from (
                (("effects", name, key, index), step)
                for index, step in enumerate(getattr(effect, key))
            )
    for name, fade in sequence.fades.items():
        yield from (
            (("fades", name, "segments", index), segment)
            for index, segment in enumerate(fade.segments)
        )
    for key in ("clips", "groups"):
        yield from (((key, name), part) for name, part in getattr(sequence, key).items())
    yield from (
        (("clips", name, "loop"), clip.loop)
        for name, clip in sequence.clips.items()
        if isinstance(clip.loop, m.Loop)
    )
    yield from (
        ((key,), part)
        for key in ("board", "amplifier", "listening")
        if (part := getattr(sequence, key)) is not None
    )


def _means_something(part: Any, key: str) -> bool:
    """Whether the file would take the key at this part, and the player heed it."""
    value = getattr(part, key)
    if value == "ambient" or (value is None and key in _ONLY_WHERE_GIVEN):
        return False
    if key in ("rate_per_s", "first_delay_ms"):
        return part.mode == "repeat"
    if key == "after_held_ms":
        return part.input is not None
    if key == "release_ms":
        return part.loop
    if key == "start_ms":
        return getattr(part, "start_cue", None) is None
    return not (key == "fade_out_ms" and part.loop)


def _setting(path: Path, part: Part, knob: Knob) -> Setting:
    value = getattr(part, knob.key)
    field = type(part).model_fields[knob.key]
    least = knob.least
    most = knob.most
    if isinstance(part, m.Board) and part.part:
        most = min(most, board_parts()[part.part].most[knob.key])
    if value is not None:
        # A file may be beyond the usual range, and its value must not be lost by looking at it.
        least = min(least, value)
        most = max(most, value)
    default = None if field.is_required() else field.default
    return Setting(
        (*path, knob.key),
        knob.label,
        knob.unit,
        value,
        least,
        most,
        knob.step,
        place_name(path),
        field.is_required(),
        default,
    )
