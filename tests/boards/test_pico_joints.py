"""Which joints the RP2040's firmware takes: its joints.c, compiled for this machine, beside the rules
of its README.md written down once more.
"""

import ctypes
import dataclasses
import random
import subprocess
import sys
from pathlib import Path

import pytest
from pico_board import PORT

from fxseq.table import InputKind, InputRecord, JointRecord, SelectorRecord, Use, encode

sys.path.insert(0, str(Path(__file__).parents[1] / "speed"))

from cases import Case, Clock, case_table  # noqa: E402

PLAYER = PORT.parents[1] / "player"
MOST = 26
CASES = 3000
CHANNELS, INPUTS, SELECTORS = 42, 3, 2
HEADER = {*range(2, 23), 26, 27, 28}
ANALOGUE = {26, 27, 28}


class _Joints(ctypes.Structure):
    _fields_ = (
        ("count", ctypes.c_uint8),
        ("joint", ctypes.c_uint8 * 4 * MOST),
        ("counts", ctypes.c_bool),
    )


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> ctypes.CDLL:
    """A read outside the table, or anything undefined, ends the process."""
    out = tmp_path_factory.mktemp("pico-joints") / "joints.so"
    limits = "-DFXP_MAX_CHANNELS=64 -DFXP_MAX_INPUTS=16 -DFXP_MAX_SELECTORS=4".split()
    sources = [PORT / "joints.c", *PLAYER.glob("fxp_*.c")]
    command = [
        "gcc", "-std=c99", "-O1", "-g", "-fPIC", "-shared", "-fsanitize=undefined",
        "-fno-sanitize-recover=all", "-fsanitize-undefined-trap-on-error", *limits, f"-I{PLAYER}",
        "-o", out, *sources,
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return ctypes.CDLL(str(out))


TABLE = dataclasses.replace(
    case_table(Case(1, CHANNELS), Clock(22050, 21)),
    inputs=(InputRecord(InputKind.BUTTON, 20),) * INPUTS,
    selectors=(SelectorRecord(3, 0),) * SELECTORS,
)
Row = tuple[int, int, int, int]
"""use, what, pin, value: bytes."""


def refused(library: ctypes.CDLL, rows: list[Row]) -> int | None:
    """The number of the joint that the firmware refuses; None where it takes all."""
    holder = JointRecord(Use.LIGHTS, 0, 2, 1)
    table = encode(dataclasses.replace(TABLE, joints=(holder,) * len(rows)))
    memory = (ctypes.c_uint8 * len(table)).from_buffer_copy(table)
    count, at, found = ctypes.c_uint8(), ctypes.c_uint32(), _Joints()
    first = library.fxp_joints(memory, ctypes.byref(count))
    assert count.value == len(rows)
    for place, row in enumerate(rows):
        memory[first + 4 * place : first + 4 * place + 4] = row
    if library.joints_read(ctypes.byref(found), memory, ctypes.byref(at)) & 0xFF:
        joined = [row for row in rows if row[0] != Use.COUNTS]
        assert [tuple(found.joint[i]) for i in range(found.count)] == joined
        assert found.counts == (joined != rows)
        return None
    assert found.count == 0
    return (at.value - first) // 4


def pins_of(row: Row) -> set[int] | None:
    """The pins of a joint; None where it is none for this table or this board (README.md)."""
    use, what, pin, value = row
    several = {Use.LIGHTS: value, Use.SHIFT_REGISTERS: 4, Use.DRIVERS: 4, Use.CODED: value, Use.I2S: 3}
    lights = use in (Use.LIGHTS, Use.SHIFT_REGISTERS, Use.DRIVERS)
    if use == Use.COUNTS:
        return set()
    if use > Use.AMPLIFIER or lights and not (0 < value <= CHANNELS - what):
        return None
    if use in (Use.CONTACT, Use.CELLS) and what >= INPUTS:
        return None
    if use in (Use.POSITION, Use.CODED) and what >= SELECTORS:
        return None
    if use == Use.POSITION and value >= 16 or use == Use.CODED and not 0 < value <= 4:
        return None
    pins = set(range(pin, pin + several.get(use, 1)))
    may = {
        Use.LIGHTS: HEADER | {25},
        Use.CELLS: ANALOGUE | {29},
        Use.VOLUME: ANALOGUE,
    }.get(use, HEADER)
    return pins if pins <= may else None


def refused_by_rules(rows: list[Row]) -> int | None:
    """The same by the rules."""
    taken: set[int] = set()
    kinds: list[str] = []
    room = {"chain": 2, "sound": 1, "volume": 1, "amplifier": 1}
    kind_of = {1: "chain", 2: "chain", 7: "volume", 8: "sound", 9: "sound", 10: "amplifier"}
    for number, row in enumerate(rows):
        pins = pins_of(row)
        kind = kind_of.get(row[0])
        if pins is None or pins & taken or kind and kinds.count(kind) == room[kind]:
            return number
        taken |= pins
        kinds.append(kind or "")
    return None


def test_joints_are_refused_by_the_rules(library: ctypes.CDLL):
    # Rows that are mostly near what the rules allow, so that some lists are taken whole.
    dice = random.Random(1)
    taken = 0
    for _ in range(CASES):
        rows = [
            (
                dice.choice([*range(12), 12, 255]) if dice.random() < 0.5 else dice.choice([0, 3, 5]),
                dice.choice([0, 1, 2, 40, 255]) if dice.random() < 0.3 else 0,
                dice.randrange(31) if dice.random() < 0.9 else dice.randrange(256),
                dice.choice([1, 2, 3, 4]) if dice.random() < 0.9 else dice.randrange(256),
            )
            for _ in range(dice.choice([1, 1, 2, 3, 4, 8, 40]))
        ]
        expected = refused_by_rules(rows)
        taken += expected is None
        assert refused(library, rows) == expected, rows
    assert taken > CASES / 20


@pytest.mark.parametrize("joint", [use for use in Use if use != Use.COUNTS], ids=lambda use: use.name.lower())
def test_the_serial_line_and_what_is_inside_the_board_are_not_to_be_had(
    library: ctypes.CDLL, joint: Use
):
    allowed = {pin for pin in range(256) if refused(library, [(joint, 0, pin, 1)]) is None}
    assert not allowed & {0, 1, 23, 24}
    assert (25 in allowed) == (joint is Use.LIGHTS)
    assert (29 in allowed) == (joint is Use.CELLS)
    assert max(allowed) <= 29


def test_all_pins_of_the_header_can_be_lights(library: ctypes.CDLL):
    rows = [(Use.LIGHTS, 0, 2, 21), (Use.LIGHTS, 21, 25, 4)]
    assert refused(library, rows) is None
