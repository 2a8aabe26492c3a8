"""Writes firmware_spec/vectors: `python tests/conformance/make_vectors.py`. Made again, the files
are the same to the byte.

Basic runs come from hand work (`hand_*.py`). Limits come from the table of fields of
`tests/table/test_limits.py` and their ranges; other refusals are written out in `refusals.py`. Only
the larger runs of `mixed.json` are played, by the plain player.
"""

import json
import sys
from collections import defaultdict
from pathlib import Path

import hand_codings
import hand_counts
import hand_gates
import hand_halves
import hand_levels
import hand_light
import hand_link
import hand_looks
import hand_places
import hand_push
import hand_run
import hand_slots
import hand_sound
import hand_speed
import hand_triggers
import hand_voices
import mixed_runs
import refusals
from hand_work import Hand
from spec_text import rules
from vector_files import (
    FOLDER,
    KINDS,
    MANIFEST,
    TRACE_KINDS,
    Expected,
    Vector,
    plays,
    unpack,
    words,
    written,
)


def by_hand(hand: Hand) -> Vector:
    """Bytes and results from the lines of the hand work; what it does not mention is silent and
    dark.
    """
    data = b"".join(bytes.fromhex(line.split(":")[0]) for line in hand.table)
    samples = list(
        unpack(
            [
                list(part) if isinstance(part, tuple) else part
                for part in hand.samples or ((0, 4 * hand.until),)
            ]
        )
    )
    channels = data[17]
    columns = []
    for points in hand.duties or (((0, 0),),) * channels:
        ends = [frame for frame, _ in points[1:]] + [hand.until]
        columns.append(
            [
                duty
                for (frame, duty), end in zip(points, ends, strict=True)
                for _ in range(frame, end)
            ]
        )
    given = [
        (frame, KINDS.index(kind), index, value)
        for frame, kind, index, value in map(words, hand.events)
    ]
    trace = [
        (frame, TRACE_KINDS.index(kind) + 1, index, value)
        for frame, kind, index, value in map(words, hand.trace)
    ]
    head = {
        "id": hand.id,
        "rules": list(hand.rules),
        "why": hand.why,
        "format": 1,
        "hand": [*hand.table, *hand.work],
    }
    expected = Expected(
        samples, [list(row) for row in zip(*columns, strict=True)], trace, hand.saturated
    )
    return plays(head, data, hand.until, given, expected)


def all_files() -> dict[str, str]:
    """Name and content of every file."""
    files = {
        "clock-triggers-effects.json": [
            by_hand(hand)
            for hand in (*hand_triggers.VECTORS, *hand_gates.VECTORS, *hand_places.VECTORS)
        ],
        "light.json": [
            by_hand(hand)
            for hand in (*hand_light.VECTORS, *hand_levels.VECTORS, *hand_looks.VECTORS)
        ],
        "sound.json": [
            by_hand(hand)
            for hand in (*hand_sound.VECTORS, *hand_voices.VECTORS, *hand_codings.VECTORS)
        ],
        "layout.json": refusals.layout(),
        "limits.json": refusals.limits(),
        "mixed.json": mixed_runs.vectors(),
        "link.json": hand_link.vectors(),
        "link-sessions.json": [
            *hand_push.vectors(),
            *hand_run.vectors(),
            *hand_slots.vectors(),
            *hand_counts.vectors(),
            *hand_halves.vectors(),
            *hand_speed.vectors(),
        ],
    }
    by_rule: dict[str, list[str]] = defaultdict(list)
    for vectors in files.values():
        for vector in vectors:
            for rule in vector["rules"]:
                by_rule[rule].append(vector["id"])
    manifest = {
        "format": 1,
        "count": sum(map(len, files.values())),
        "files": {name: len(vectors) for name, vectors in files.items()},
        "rules": {
            rule: by_rule[rule]
            for rule in (*rules(), *(rule for rule in by_rule if rule.startswith("LINK")))
        },
    }
    head = ",\n".join(
        f'  "{name}": {json.dumps(manifest[name])}' for name in ("format", "count", "files")
    )
    lines = ",\n".join(
        f"    {json.dumps(rule)}: {json.dumps(ids)}" for rule, ids in manifest["rules"].items()
    )
    listed = f'{{\n{head},\n  "rules": {{\n{lines}\n  }}\n}}\n'
    return {**{name: written(vectors) for name, vectors in files.items()}, MANIFEST: listed}


def main(folder: Path) -> None:
    for name, text in all_files().items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
