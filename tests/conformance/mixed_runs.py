"""Vectors in which everything meets everything: generated tables and gestures, and one run beyond
16 bits of frames.

What they must give is what the plain player gives, which was written from SPEC.md alone; the tests
hold the other players to it.
"""

import plain_player
from hand_work import table
from random_runs import random_run
from vector_files import Expected, Vector, plays

from fxseq.table import encode

SEEDS = (3, 11, 14, 27, 31, 42, 58, 63)


def vectors() -> list[Vector]:
    return [*(_mixed(seed) for seed in SEEDS), _long()]


def _mixed(seed: int) -> Vector:
    run = random_run(seed)
    events = [
        tuple(map(int, press)) for press in sorted(run.presses, key=lambda press: press.frame)
    ]
    data = encode(run.table)
    head = {
        "id": f"mixed-{seed}",
        "rules": ["5.1 R2"],
        "why": "the order within a frame, where everything meets everything",
        "format": 1,
    }
    return plays(
        head,
        data,
        run.until_frame,
        events,
        Expected(*plain_player.play(data, events, run.until_frame)),
    )


def _long() -> Vector:
    """A lock-out that ends, and a light that falls, behind frame 65535."""
    lines = table(
        inputs=[("FF 7F", "a switch, lock-out 32767")],
        groups=[("00 01 00 FF", "channel 0, highest")],
        fades=[
            (
                "00 00 FF FF 00 00 00 00 / FF FF 00 00 00 40 11 0F",
                "full, straight to 0 in 65535",
            )
        ],
        effects=[("86 00 00 00", "fade 0 on group 0")],
        triggers=[("00 00 00 / 00", "once, input 0, effect 0")],
    )
    data = b"".join(bytes.fromhex(line.split(":")[0]) for line in lines)
    events = [(40_000, 0, 0, 0), (40_010, 1, 0, 0)]
    head = {
        "id": "frames-beyond-16-bits",
        "rules": ["5.1 R3"],
        "format": 1,
        "why": (
            "frame numbers have 32 bits: free is 72767, and the fade ends at 105535 (no vector reaches"
            " 2^32)"
        ),
    }
    return plays(head, data, 106_000, events, Expected(*plain_player.play(data, events, 106_000)))
