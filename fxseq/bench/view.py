"""The prop as the page draws it: plain values for JSON."""

import base64
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.bench.desk import Version
from fxseq.bench.labels import choice_label
from fxseq.bench.meters import meters
from fxseq.bench.settings import settings
from fxseq.hazards.colours import COLOUR_RGB
from fxseq.runs import Prop
from fxseq.sequence import (
    Group,
    Point,
    Sequence,
    all_led_places_mm,
    channels_of,
    clip_coding,
    clip_rate_hz,
    leds_per_channel,
    start_count,
    start_position,
)
from fxseq.table.limits import CRC_BYTES

_MARGIN_IN_DIAMETERS = 3.0
"""Around LEDs that have no picture."""

_NAMED = (
    "inputs",
    "triggers",
    "effects",
    "clips",
    "groups",
    "fades",
    "selectors",
    "counters",
)
"""Kinds of parts that the page knows by their numbers in the table."""

Values = dict[str, Any]


def prop_view(version: Version, meters_of: Callable[[Prop], Values] = meters) -> Values:
    """All of the prop but its table. Colours: relative linear sRGB, 0..1.

    meters_of: as `meters`, where some may be known from before.
    """
    prop = version.prop
    sequence = prop.sequence
    names = prop.compiled.names
    board = sequence.board.model_dump(
        include={"sample_rate_hz", "samples_per_frame", "channels", "pwm_bits", "voices"}
    )
    places = all_led_places_mm(sequence)
    lamps = [
        lamp for name in names.groups for lamp in _lamps(name, sequence.groups[name], places[name])
    ]
    return {
        "revision": version.revision,
        "title": sequence.title,
        "file": prop.path.name,
        "board": board,
        **_controls(sequence),
        "groups": [_group(name, sequence.groups[name]) for name in names.groups],
        "lamps": lamps,
        "picture": _picture(sequence, lamps),
        "clips": [_clip(name, prop) for name in sequence.clips],
        "effects": list(names.effects),
        "names": {kind: list(getattr(names, kind)) for kind in _NAMED},
        "sounds": {
            name: [sound.model_dump(include={"clip", "gain_db"}) for sound in effect.sounds]
            for name, effect in sequence.effects.items()
        },
        "fades": [
            {
                "name": name,
                **fade.model_dump(include={"loop", "from_percent", "segments"}, exclude_none=True),
            }
            for name, fade in sequence.fades.items()
        ],
        **_settings_view(sequence),
        "scripts": list(sequence.scripts),
        "meters": meters_of(prop),
    }


def _settings_view(sequence: Sequence) -> Values:
    """shape: the same word, in this run of the bench, wherever all but values is the same."""
    found = settings(sequence)
    return {
        "settings": [{**setting._asdict(), "path": list(setting.path)} for setting in found],
        "shape": str(hash(tuple(setting._replace(value=None) for setting in found))),
    }


def with_values_alone(view: Values) -> Values:
    """A view without what its settings have in common with all of their shape."""
    values = [setting["value"] for setting in view["settings"]]
    return {key: each for key, each in view.items() if key != "settings"} | {"values": values}


def table_change(before: Version, now: Version) -> Values:
    """What makes the table of one version into that of another. of: revision of the first; first,
    last: how many bytes stay at each end, before the checksum; between, checksum: what stands
    there now, in base64.

    Most changes are in a few records before the clips, which are most of a table.
    """
    (old, _), (new, checksum) = (_split(one.prop.compiled.data) for one in (before, now))
    first = _alike(old, new)
    last = _alike(old[first:][::-1], new[first:][::-1])
    between = new[first : len(new) - last].tobytes()
    return {
        "of": before.revision,
        "first": first,
        "last": last,
        "between": base64.b64encode(between).decode(),
        "checksum": base64.b64encode(checksum).decode(),
    }


def _split(table: bytes) -> tuple[NDArray[np.uint8], bytes]:
    """All but the checksum, and that."""
    return np.frombuffer(table[:-CRC_BYTES], np.uint8), table[-CRC_BYTES:]


def _alike(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> int:
    """How many bytes are the same before the first that is not."""
    least = min(len(one), len(other))
    unlike = np.flatnonzero(one[:least] != other[:least])
    return int(unlike[0]) if len(unlike) else least


def _controls(sequence: Sequence) -> Values:
    """What a hand can reach, and what its presses start and use up."""
    return {
        "inputs": [{"name": name, "kind": item.kind} for name, item in sequence.inputs.items()],
        "selectors": [
            {
                "name": name,
                "positions": item.positions,
                "start": item.positions.index(start_position(item)),
            }
            for name, item in sequence.selectors.items()
        ],
        "counters": [
            {"name": name, "maximum": item.maximum, "start": start_count(item)}
            for name, item in sequence.counters.items()
        ],
        "triggers": [
            {
                "name": name,
                **item.model_dump(include={"mode", "input", "when", "rate_per_s"}),
            }
            for name, item in sequence.triggers.items()
        ],
    }


def _group(name: str, group: Group) -> Values:
    return {
        "name": name,
        "first": group.first_channel,
        "channels": group.channels,
        "colour": group.colour,
        "current_ma": group.current_ma,
    }


def _lamps(name: str, group: Group, places: list[Point]) -> list[Values]:
    """One for each LED, in the order of their places."""
    channels = channels_of(group)
    each = leds_per_channel(group)
    return [
        {
            "group": name,
            "number": number,
            "channel": channels[min(number // each, len(channels) - 1)],
            "colour": group.colour,
            "rgb": list(COLOUR_RGB[group.colour]),
            "size_mm": group.size_mm,
            "x_mm": x_mm,
            "y_mm": y_mm,
        }
        for number, (x_mm, y_mm) in enumerate(places)
    ]


def _picture(sequence: Sequence, lamps: list[Values]) -> Values:
    """The file's picture, else a plane that holds all LEDs."""
    picture = sequence.picture
    if picture is not None:
        return {
            "width_mm": picture.width_mm,
            "height_mm": picture.height_mm,
            "outline_mm": picture.outline_mm,
            "image": "/api/picture" if picture.image else None,
            "file": picture.image,
        }
    margin_mm = _MARGIN_IN_DIAMETERS * max((lamp["size_mm"] for lamp in lamps), default=5.0)
    far_mm = [
        max((lamp[key] for lamp in lamps), default=0.0) + margin_mm for key in ("x_mm", "y_mm")
    ]
    return {
        "width_mm": far_mm[0],
        "height_mm": far_mm[1],
        "outline_mm": [],
        "image": None,
        "file": None,
    }


def _clip(name: str, prop: Prop) -> Values:
    """A clip as the table holds it; its length is not known where no trigger reaches it. cut_ms:
    part of the recording that it keeps.
    """
    clip = prop.sequence.clips[name]
    made = prop.clips.get(name)
    length = {"duration_s": None, "bytes": 0}
    if made is not None:
        length = {"duration_s": len(made.samples) / made.rate_hz, "bytes": len(made.data)}
    return {
        "name": name,
        "rate_hz": clip_rate_hz(clip, prop.sequence.board),
        "stored_as": choice_label(clip_coding(clip)),
        "in_reach": made is not None,
        **length,
        "file": clip.file,
        "channel": clip.channel,
        "cut_ms": [clip.start_ms, clip.end_ms],
        "loop": clip.loop if isinstance(clip.loop, str) or clip.loop is None else "own",
    }


def picture_file(prop: Prop) -> Path | None:
    """The picture beside the prop file; None where there is none, or where the name leads out of
    that folder.
    """
    picture = prop.sequence.picture
    folder = prop.path.parent.resolve()
    if picture is None or picture.image is None:
        return None
    path = (folder / picture.image).resolve()
    if path.is_relative_to(folder) and path.is_file():
        return path
    return None
