"""Every worked and every INVALID example of SPEC.md, taken out of its text, tried on both
readers in Python and players.
"""

import re
import sys
from collections.abc import Callable, Sequence
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
from fxseq.table.encode import number as encoded_number

sys.path.insert(0, str(Path(__file__).parents[1] / "table"))

from raw_table import SECTIONS, Raw, assemble, verdict  # noqa: E402
from running import small_table  # noqa: E402

OTHERS = {
    "inputs": ["0000"] * 2,
    "selectors": ["0500"] * 2,
    "counters": ["0C0C"] * 2,
    "groups": ["001800", "20040201"],
    "fades": ["000000FFFF03"] * 2,
    "clips": ["01808004A01F00"] * 2,
    "effects": ["00"] * 3,
}
"""SPEC 2.6, the records around an example; without their sizes, which are those of the text
(tested below).
"""
RECORDS = {f"3.{place}": name for place, name in enumerate(SECTIONS, 2)}

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


def records_of(data: bytes) -> list[bytes]:
    """Bodies of records that stand one behind the other, size (below 128) first."""
    bodies = []
    while data:
        bodies.append(data[1 : 1 + data[0]])
        data = data[1 + data[0] :]
    return bodies


def around(section: str, bodies: Sequence[bytes]) -> Raw:
    """The table of 2.6 with these records in one section, and nothing behind it."""
    before = {
        name: [bytes.fromhex(body) for body in OTHERS[name]]
        for name in SECTIONS[: SECTIONS.index(section)]
    }
    return assemble(clip_data=bytes(4000), **{**before, section: bodies})


def table_of(example: Example) -> tuple[bytes, int]:
    """The table in which the example stands, and the offset of the example's first byte."""
    data = bytes_of(example)
    if example.section == "3":
        return data, 0
    if example.section == "3.1":
        return assemble(data).data, 13
    if example.section == "2.2":
        raw = assemble(inputs=[b"\0" + data])
        return raw.data, raw.at["inputs"][0] + 1
    if example.section == "2.3":
        raw = around("effects", [b"\0\x02\0" + data])
        return raw.data, raw.at["effects"][0] + 3
    if example.section == "2.4":
        raw = around("triggers", [b"\0" + data + b"\0"])
        return raw.data, raw.at["triggers"][0] + 1
    raw = around(RECORDS[example.section], records_of(data))
    return raw.data, raw.at[RECORDS[example.section]][0] - 1


@pytest.mark.parametrize(
    "example", chosen("2.2", "2.3", "2.4", "3", *(f"3.{n}" for n in range(1, 10)), valid=False)
)
def test_invalid_bytes_are_refused_with_this_reason_at_this_byte(example: Example) -> None:
    reason, offset = re.fullmatch(r"(BAD_[A-Z]+) at (\d+)", example.gives).groups()
    data, start = table_of(example)
    assert verdict(data) == (reason, start + int(offset))


@pytest.mark.parametrize("example", chosen("2.2", "2.3", "2.4", valid=True))
def test_worked_number_is_read_as_this_value(example: Example) -> None:
    data = bytes_of(example)
    value = int(example.gives)
    reader = plain_reader.Bytes(data, 0, len(data))
    read = {
        "2.2": reader.number,
        "2.3": lambda: reader.signed(-65535, 65535),
        "2.4": lambda: reader.index([None, None]),
    }[example.section]
    assert read() == value
    if example.section == "2.2":
        assert encoded_number(value) == data
    else:
        assert verdict(table_of(example)[0]) is None


@pytest.mark.parametrize("example", chosen("3", *(f"3.{n}" for n in range(1, 10)), valid=True))
def test_worked_record_reads_as_it_says(example: Example) -> None:
    data, _ = table_of(example)
    assert verdict(data) is None
    records_end = plain_reader.check_header(data)
    # clip data that nobody uses are not written again
    assert encode(decode(data))[13:records_end] == data[13:records_end]
    if example.section == "3":
        assert example.gives == f"length {len(data)}, data {records_end}"
        return
    table = plain_reader.read(data)
    read = table if example.section == "3.1" else getattr(table, RECORDS[example.section])[0]
    whole, *parts = example.gives.split("; ")
    assert_reads(read, whole)
    if parts:
        within = read.segments if example.section == "3.6" else read.steps
        assert len(within) == len(parts)
        for part, text in zip(within, parts, strict=True):
            assert_reads(part, text.removeprefix("segment ").removeprefix("step "))


def assert_reads(record: Record, text: str) -> None:
    """`name value` of a reading, each against the plain reader's field of that name; several
    values are those of a list.
    """
    for item in text.split(", "):
        name, *values = item.split(" ")
        read = getattr(record, name)
        if name == "samples":
            read = len(read)
        elif isinstance(read, list):
            read = [
                number
                for entry in read
                for number in (entry if isinstance(entry, tuple) else (entry,))
            ]
        assert read == (
            [int(value) for value in values] if isinstance(read, list) else int(values[0])
        ), f"{name}: {read}"


def test_the_records_around_an_example_are_those_of_the_text() -> None:
    text = " ".join(line for section, line in sections() if section == "2.6")
    for name, bodies in OTHERS.items():
        for body in bodies:
            data = bytes.fromhex(body)
            assert f"`{len(data):02X} {data.hex(' ').upper()}`" in text, name


# Functions of sections 5 and 6: name -> what each player has of it


def plain_draws(seed: int) -> list[int]:
    dice = plain_integers.Dice(seed)
    return [dice.draw() for _ in range(3)]


def plain_between(a: int, b: int, q: int) -> int:
    clip = Record(step=q, samples=[a, b], loop_start=None)
    sound = plain_sound.Sound(
        0, 0, clip, Record(gain=4096, looped=False, release=0), 4096, 256, None
    )
    sound.part = q
    return sound.sample()


def plain_factor(release: int, samples_per_frame: int, k: int) -> int:
    clip = Record(step=65536, samples=[0] * 32, loop_start=0)
    sound = plain_sound.Sound(
        0, 0, clip, Record(gain=4096, looped=True, release=release), 4096, 256, 0
    )
    sound.let_go_now(samples_per_frame)
    for _ in range(k):
        sound.move_on()
    return sound.factor


def plain_tail(value: int, ramp: int, k: int) -> int:
    mixer = plain_sound.Mixer(Record(voices=1, cut_ramp=ramp))
    mixer.tail = value
    mixer.since_tail = k
    return mixer.tail_sample()


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
    return lambda t, n: plain_light.weight(shape, t, n)


FUNCTIONS: dict[tuple[str, str], tuple[Callable[..., object], ...]] = {
    ("2.5", "toward"): (plain_integers.toward, approach),
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
    ("6.1", "factor"): (plain_factor,),
    ("6.1", "tail"): (plain_tail,),
    ("6.3", "straight"): (
        plain_weight(plain_light.STRAIGHT),
        lambda t, n: progress(Shape.STRAIGHT, t, n),
    ),
    ("6.3", "ease"): (plain_weight(plain_light.EASE), lambda t, n: progress(Shape.EASE, t, n)),
    ("6.3", "decay"): (plain_weight(plain_light.DECAY), lambda t, n: progress(Shape.DECAY, t, n)),
    ("6.4", "hash"): (plain_light.hash_of, flicker_point),
    ("6.4", "point"): (plain_point,),
    ("6.5", "gauge"): (plain_gauge, lambda v, m, channels, i: gauge_levels(v, m, channels)[i]),
    ("6.6", "duty"): (plain_light.duty_of, duty_from_level),
}
"""Where there is one function only, the reference has the rule inside of another; the vectors
hold it to that rule.
"""


@pytest.mark.parametrize(
    "example", chosen("2.5", *(f"{n}.{m}" for n in (5, 6) for m in range(1, 7)), valid=True)
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
        "2.2",
        "2.3",
        "2.4",
        "2.5",
        "3",
        *(f"3.{n}" for n in range(1, 10)),
        *(f"{n}.{m}" for n in (5, 6) for m in range(1, 7)),
    )
    assert {example.section for example in ALL} <= set(tried)
    assert len(ALL) == len(re.findall(r"^- (?:Worked|INVALID):", SPEC, re.MULTILINE))
    records = {section for section in tried if section[0] in "23" and section != "2.5"}
    assert {example.section for example in ALL if example.valid} >= records
    assert {example.section for example in ALL if not example.valid} >= records


def test_rules_are_numbered_without_a_gap() -> None:
    found = rules()
    assert len(found) == len(set(found))
    for rule in found:
        section, _, number = rule.partition(" R")
        if number.isdigit() and int(number) > 1 and f"{section} R{int(number) - 1}" not in found:
            assert (section, number) == ("3", "2")  # 3 R1 is there as R1.1 to R1.7
