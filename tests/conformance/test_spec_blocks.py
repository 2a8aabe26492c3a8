"""Every worked and every INVALID example of SPEC.md, taken out of its text, tried on both
readers in Python and players.
"""

import re
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import cycle
from pathlib import Path
from types import SimpleNamespace as Record

import plain_codings
import plain_integers
import plain_light
import plain_reader
import plain_sound
import pytest
from plain_player import wait_of
from spec_text import SPEC, Example, examples, rules, sections

from fxseq.clips import rice, rice_kernels
from fxseq.light import Shape, duty_from_level, flicker_point
from fxseq.light.curves import approach, progress
from fxseq.light.duty import gauge_levels
from fxseq.player import Player, Press, PressKind
from fxseq.table import SelectorRecord, decode, encode

sys.path.insert(0, str(Path(__file__).parents[1] / "table"))

from raw_table import SIZES, Raw, assemble, reseal, verdict  # noqa: E402
from running import small_table  # noqa: E402

OTHERS = {
    "inputs": ["0000"] * 2,
    "selectors": ["0500"] * 2,
    "counters": ["0C000C00"] * 2,
    "groups": ["001800FF", "180100FF"],
    "segments": ["0000FFFF00001000"] * 2,
    "forms": ["00000101"] * 2,
    "loops": [],
    "clips": ["A00F0000000000FF"] * 2,
    "effects": ["0000", "0100"],
    "steps": ["80000000"] * 2,
    "triggers": [],
    "terms": [],
    "choices": [],
    "joints": [],
}
"""SPEC 2.4, the records around an example; a clip is all of the clip data, in mu-law."""
SECTION_OF = {
    "3.2": "inputs",
    "3.3": "selectors",
    "3.4": "counters",
    "3.5": "groups",
    "3.6": "segments",
    "3.7": "clips",
    "3.8": "steps",
    "3.9": "triggers",
    "3.10": "joints",
}

ALL = examples()
CASES = [pytest.param(example, id=f"{example.section} {example.given}") for example in ALL]


def chosen(*wanted: str, valid: bool) -> list:
    return [
        case
        for case, example in zip(CASES, ALL, strict=True)
        if example.section in wanted and example.valid == valid
    ]


def bytes_of(example: Example) -> bytes:
    return bytes.fromhex(example.given.strip("`"))


def around(section: str, record: bytes) -> Raw:
    """The table of 2.4 with this record alone in its section, and what it is part of."""
    records = {name: [bytes.fromhex(text) for text in texts] for name, texts in OTHERS.items()}
    if section == "steps":
        records["effects"] = [bytes(2)]
        record += b"" if record[0] & 0x80 else bytes.fromhex("86000000")  # a fade
    if section == "segments" and not record[6] & 0x10:
        record += bytes.fromhex("0900000000001000")
    if section == "triggers":
        records["choices"] = [b"\0"] * record[1]
    size = SIZES[section]
    records[section] = [record[at : at + size] for at in range(0, len(record), size)]
    before = list(SIZES)[: list(SIZES).index(section) + 1]
    kept = {name: records[name] for name in (*before, "choices")}
    return assemble(clip_data=bytes(4000), **kept)


def table_of(example: Example) -> tuple[bytes, int]:
    """The table in which the example stands, and the offset of the example's first byte."""
    data = bytes_of(example)
    if example.section == "3.1":
        return reseal(data + bytes(4)), 0
    raw = around(SECTION_OF[example.section], data)
    return raw.data, raw.at[SECTION_OF[example.section]][0]


RECORDS = tuple(f"3.{n}" for n in range(1, 11))


@pytest.mark.parametrize("example", chosen(*RECORDS, valid=False))
def test_invalid_bytes_are_refused_with_this_reason_at_this_byte(example: Example) -> None:
    reason, offset = re.fullmatch(r"(BAD_[A-Z]+) at (\d+)", example.gives).groups()
    data, start = table_of(example)
    assert verdict(data) == (reason, start + int(offset))


@pytest.mark.parametrize("example", chosen(*RECORDS, valid=True))
def test_worked_record_reads_as_it_says(example: Example) -> None:
    data, _ = table_of(example)
    assert verdict(data) is None
    table = plain_reader.read(data)
    read = read_of(table, data, example.section)
    for item in example.gives.split(", "):
        name, value = item.split(" ")
        assert value_of(read, name) == (None if value == "none" else int(value)), name
    own = bytes_of(example)[8:22] if example.section == "3.1" else bytes_of(example)
    assert own in encode(decode(data))


def read_of(table: Record, data: bytes, section: str) -> Record:
    """What the plain reader has of the record of an example."""
    if section == "3.1":
        return table
    if section == "3.6":
        return table.fades[0].segments[0]
    if section == "3.8":
        reader = plain_reader.Reader(plain_reader.Fields(data), table)
        step = reader.read_step_kind(0)
        reader.read_step_fields(Record(now=0), step)
        return step
    return getattr(table, SECTION_OF[section])[0]


def value_of(record: Record, name: str) -> int | None:
    value = getattr(record, name)
    return len(value) if name == "samples" else value


# Functions of sections 5 and 6: name -> what each player has of it


def plain_draws(seed: int) -> list[int]:
    dice = plain_integers.Dice(seed)
    return [dice.draw() for _ in range(3)]


def plain_between(a: int, b: int, q: int) -> int:
    clip = Record(step=q, samples=[a, b], loop_start=None)
    sound = plain_sound.Sound(
        0, 0, clip, Record(gain=4096, looped=False, release=1), 4096, 256, None
    )
    sound.part = q
    return sound.sample()


def plain_gained(value: int, gain: int) -> int:
    clip = Record(step=65536, samples=[value], loop_start=None)
    step = Record(gain=gain, looped=False, release=0)
    return plain_sound.Sound(0, 0, clip, step, 4096, 256, None).sample()


def let_go(release: int, samples_per_frame: int) -> plain_sound.Sound:
    """A sound that is let go in this frame."""
    clip = Record(step=65536, samples=[0] * 32, loop_start=0)
    step = Record(gain=4096, looped=True, release=release)
    sound = plain_sound.Sound(0, 0, clip, step, 4096, 256, 0)
    sound.let_go_now(samples_per_frame)
    return sound


def groups(samples_per_frame: int) -> Iterator[int]:
    """Sizes of the groups of R5, frame after frame without end."""
    rest = samples_per_frame % 4
    return cycle([4] * (samples_per_frame // 4) + [rest] * (rest > 0))


def plain_factor(release: int, samples_per_frame: int, k: int) -> int:
    sound = let_go(release, samples_per_frame)
    gone = 0
    for group in groups(samples_per_frame):
        gone += group
        if gone > k:
            break
        sound.fade(group)
    return sound.factor


def plain_ends(release: int, samples_per_frame: int) -> int:
    sound = let_go(release, samples_per_frame)
    gone = 0
    for group in groups(samples_per_frame):
        gone += group
        sound.fade(group)
        if sound.ended:
            break
    return gone


def plain_tail(value: int) -> int:
    mixer = plain_sound.Mixer(Record(voices=1))
    mixer.tail = value
    mixer.fall()
    return mixer.tail


def plain_gauge(v: int, m: int, channels: int, i: int) -> int:
    group = Record(first=0, channels=channels, gauge=0, latest=False)
    light = plain_light.Light(
        Record(channels=channels, groups=[group], counters=[Record(maximum=m)], seed=1)
    )
    light.gauge(0, v)
    return light.channels[i].ambient.a


def plain_qoa(*numbers: int) -> list[int]:
    weights = list(numbers[4:8])
    return [plain_codings.qoa_sample(list(numbers[:4]), weights, numbers[8]), *weights]


def plain_lpc(*numbers: int) -> int:
    return plain_codings.rice_sample(list(numbers[:4]), list(numbers[4:8]), *numbers[8:])


def plain_point(low: int, high: int, h: int) -> int:
    return low + ((high - low) * h >> 16)


def plain_wait(period: int, first: int, ramp_shots: int, ramp_period: int, count: int) -> int:
    return wait_of(
        Record(period=period, first=first, ramp_shots=ramp_shots, ramp_period=ramp_period), count
    )


def plain_weight(shape: int) -> Callable[[int, int], int]:
    def weight(t: int, n: int) -> int:
        by, pace = plain_reader.rate(Record(shape=shape, length=n))
        return plain_light.weight(shape, t, pace, by)

    return weight


def plain_phase(t: int, every: int) -> int:
    return plain_light.phase_of(t, min(65536 // every, 65535))


FUNCTIONS: dict[tuple[str, str], tuple[Callable[..., object], ...]] = {
    ("2.3", "toward"): (plain_integers.toward, approach),
    ("5.4", "wait"): (plain_wait,),
    ("5.5", "pitch"): (lambda p, r: 4096 + plain_integers.toward_zero(p * (r - 32768), 8192),),
    ("5.5", "gain"): (lambda g, r: 256 + plain_integers.toward_zero(g * (r - 32768), 32768),),
    ("5.6", "draws"): (plain_draws,),
    ("6.1", "mulaw"): (plain_codings.mulaw_sample,),
    ("6.1", "ima"): (lambda p, index, code: list(plain_codings.ima_code(p, index, code)),),
    ("6.1", "residual"): (plain_codings.qoa_residual,),
    ("6.1", "qoa"): (plain_qoa,),
    ("6.1", "step"): (plain_codings.rice_step, lambda s: rice.STEPS[s]),
    ("6.1", "order"): (plain_codings.rice_order, rice_kernels.rice_order),
    ("6.1", "lpc"): (plain_lpc,),
    ("6.1", "mean"): (plain_codings.rice_mean, rice_kernels.mean_after),
    ("6.1", "between"): (plain_between,),
    ("6.1", "gained"): (plain_gained,),
    ("6.1", "loss"): (lambda release, size: let_go(release, size).loss,),
    ("6.1", "factor"): (plain_factor,),
    ("6.1", "ends"): (plain_ends,),
    ("6.1", "tail"): (plain_tail,),
    ("6.3", "straight"): (
        plain_weight(plain_reader.STRAIGHT),
        lambda t, n: progress(Shape.STRAIGHT, t, n),
    ),
    ("6.3", "ease"): (plain_weight(plain_reader.EASE), lambda t, n: progress(Shape.EASE, t, n)),
    ("6.3", "decay"): (plain_weight(plain_reader.DECAY), lambda t, n: progress(Shape.DECAY, t, n)),
    ("6.4", "hash"): (plain_light.hash_of, flicker_point),
    ("6.4", "phase"): (plain_phase,),
    ("6.4", "point"): (plain_point,),
    ("6.5", "gauge"): (plain_gauge, lambda v, m, channels, i: gauge_levels(v, m, channels)[i]),
    ("6.6", "duty"): (plain_light.duty_of, duty_from_level),
}
"""Where there is one function only, the reference has the rule inside of another; the vectors
hold it to that rule.
"""


@pytest.mark.parametrize(
    "example", chosen("2.3", *(f"{n}.{m}" for n in (5, 6) for m in range(1, 7)), valid=True)
)
def test_worked_function_gives_its_value(example: Example) -> None:
    name, arguments = re.fullmatch(r"([a-z]+)\((.*)\)", example.given).groups()
    numbers = [int(argument.split(" ")[-1]) for argument in arguments.split(", ")]
    expected = [int(value) for value in example.gives.split(", ")]
    for function in FUNCTIONS[example.section, name]:
        given = function(*numbers)
        assert (given if isinstance(given, list) else [int(given)]) == expected


@pytest.mark.parametrize("example", chosen("5.1", valid=False))
def test_what_is_no_event_is_refused(example: Example) -> None:
    kind, index, value = example.given.split(" ")
    player = Player(small_table(selectors=(SelectorRecord(2, 0),)))
    with pytest.raises(ValueError, match="names what the table does not have"):
        player.play([Press(0, PressKind[kind], int(index), int(value))], 1)


def test_every_example_of_the_text_is_tried() -> None:
    tried = (
        "2.3",
        *(f"3.{n}" for n in range(1, 11)),
        *(f"{n}.{m}" for n in (5, 6) for m in range(1, 7)),
    )
    assert {example.section for example in ALL} <= set(tried)
    assert len(ALL) == len(re.findall(r"^- (?:Worked|INVALID):", SPEC, re.MULTILINE))
    assert {example.section for example in ALL if example.valid} >= set(RECORDS)
    invalid = {example.section for example in ALL if not example.valid}
    assert invalid >= set(RECORDS) - {"3.2"}  # any half is an input


def test_rules_are_numbered_without_a_gap() -> None:
    found = rules()
    assert len(found) == len(set(found))
    for rule in found:
        section, _, number = rule.partition(" R")
        if number.isdigit() and int(number) > 1 and f"{section} R{int(number) - 1}" not in found:
            assert (section, number) == ("3", "2")  # 3 R1 is there as R1.1 to R1.7
