"""The typed description of a prop, its file and its errors: the lowest floor. Imports nothing else
of fxseq.

Names are fetched when they are first used: errors, findings and suggestions cost next to nothing,
the model needs pydantic, and only `Document` and messages of faults need tree-sitter.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fxseq.sequence.derived import (
        all_led_places_mm,
        channels_of,
        clip_coding,
        clip_rate_hz,
        fade_length_ms,
        frame_rate_hz,
        led_places_mm,
        leds_per_channel,
        start_count,
        start_position,
    )
    from fxseq.sequence.document import Document
    from fxseq.sequence.errors import (
        ClipError,
        Fault,
        FxError,
        LinkError,
        OutputError,
        SequenceError,
        TableError,
        UsageError,
    )
    from fxseq.sequence.finding import Finding, Weight
    from fxseq.sequence.model import (
        Amplifier,
        Board,
        Clip,
        Count,
        Counter,
        Day,
        Effect,
        Fade,
        Fitted,
        Group,
        Input,
        Light,
        Line,
        Listening,
        Loop,
        Part,
        Picture,
        Point,
        PressScript,
        Regulator,
        Ring,
        Segment,
        Selector,
        Sequence,
        Sound,
        Speaker,
        Supply,
        Trigger,
    )
    from fxseq.sequence.reading import load, loads
    from fxseq.sequence.schema import json_schema
    from fxseq.sequence.suggest import closest, did_you_mean
    from fxseq.sequence.writing import write_whole

_HOMES = {
    "derived": (
        "all_led_places_mm channels_of clip_coding clip_rate_hz fade_length_ms frame_rate_hz"
        " led_places_mm leds_per_channel start_count start_position"
    ),
    "document": "Document",
    "errors": "ClipError Fault FxError LinkError OutputError SequenceError TableError UsageError",
    "finding": "Finding Weight",
    "model": (
        "Amplifier Board Clip Count Counter Day Effect Fade Fitted Group Input Light Line Listening"
        " Loop Part Picture Point PressScript Regulator Ring Segment Selector Sequence Sound"
        " Speaker Supply Trigger"
    ),
    "reading": "load loads",
    "schema": "json_schema",
    "suggest": "closest did_you_mean",
    "writing": "write_whole",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = [
    "Amplifier", "Board", "Clip", "ClipError", "Count", "Counter", "Day", "Document", "Effect",
    "Fade", "Fault", "Finding", "Fitted", "FxError", "Group", "Input", "Light", "Line", "LinkError",
    "Listening", "Loop", "OutputError", "Part", "Picture", "Point", "PressScript", "Regulator",
    "Ring", "Segment", "Selector", "Sequence", "SequenceError", "Sound", "Speaker", "Supply",
    "TableError", "Trigger", "UsageError", "Weight", "all_led_places_mm", "channels_of",
    "clip_coding", "clip_rate_hz", "closest", "did_you_mean", "fade_length_ms", "frame_rate_hz",
    "json_schema", "led_places_mm", "leds_per_channel", "load", "loads", "start_count",
    "start_position", "write_whole",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_HOME_OF[name]}", __name__), name)
    globals()[name] = value
    return value
