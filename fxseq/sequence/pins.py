"""Where the pins of a ready-made board lead: as the file says, and chosen where it does not."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from fxseq.sequence.board_parts import BoardPart, board_parts
from fxseq.sequence.model import Board, Group, Input, Selector, Sequence
from fxseq.sequence.paths import Path, PathFault
from fxseq.sequence.rule_kit import Faults, given
from fxseq.sequence.values import Readable
from fxseq.sequence.wording import series

CHAIN = ("data", "clock", "latch", "blank")
I2S = ("data", "bit clock", "word clock")
PWM = ("sound",)
LOW_PASS_OHM = 1000
LOW_PASS_F = 15e-9
"""At the pin of sound as pulses."""
_LOW_PASS = f"sound: {LOW_PASS_OHM / 1e3:g} kohm, then {LOW_PASS_F * 1e9:g} nF to ground"

_WIRES = {
    "shift_registers": (
        "data: SER, pin 14 of the first 74HC595",
        "clock: SRCLK, pin 11 of each",
        "latch: RCLK, pin 12 of each",
        "blank: OE, pin 13 of each, and 10 kohm to 3V3",
    ),
    "drivers": (
        "data: SIN of the first driver",
        "clock: SCLK of each",
        "latch: XLAT of each",
        "blank: BLANK of each, and 10 kohm to 3V3",
    ),
    "volume": ("slider of 10 kohm between 3V3 and ground, the volume",),
    "i2s": ("sound: DIN", "sound: BCLK", "sound: LRC"),
    "pwm": (f"{_LOW_PASS} and the amplifier",),
    "amplifier": ("enable of the amplifier, and 100 kohm to ground",),
}
"""Where their pins lead. The pins of a 74HC595 are those of its data sheet, the names of a driver's
those that such chips bear.
"""
_PAIR = (
    f"{_LOW_PASS}, amplifier",
    f"sound, lower half: 240 kohm to that {LOW_PASS_OHM / 1e3:g} kohm",
)
"""Of a board that has two pulses for a sound."""


@dataclass(frozen=True)
class Joint:
    """What one or several pins of the board are for.

    use: lights, shift_registers, drivers, contact, cells, position, coded, volume, i2s, pwm or
    amplifier. of: name of the group, input or selector, or of the use. index: of the channel,
    input or selector. lines: what each of the pins carries, from `pin` on. path: the key that
    sets the pin. value: as the table has it for this use (SPEC 3.10), of `cells` volts at the pin
    behind the `divider`.
    """

    use: str
    of: str
    index: int
    lines: tuple[str, ...]
    path: Path
    pin: int | None = None
    value: float = 0
    divider: float = 1

    @property
    def taken(self) -> range:
        """Its pins, once it has any."""
        return range(0) if self.pin is None else range(self.pin, self.pin + len(self.lines))


@dataclass(frozen=True)
class PinUse:
    """A pin of the board and where it leads, in the words of the bench. label: what is printed
    beside it.
    """

    pin: int
    label: str
    leads_to: str


def pin_uses(sequence: Sequence) -> list[PinUse]:
    """Every joint of a ready-made board, by pin."""
    board = sequence.board
    if not board.part:
        return []
    shown = board_parts()[board.part].pins
    found = [
        PinUse(pin, shown[pin], text)
        for joint in joints_of(sequence)
        for pin, text in zip(joint.taken, _leads_to(joint), strict=True)
    ]
    return sorted(found, key=lambda use: use.pin)


def _leads_to(joint: Joint) -> list[str]:
    """Where each of its pins leads."""
    match joint.use:
        case "lights":
            numbers = range(joint.index, joint.index + len(joint.lines))
            return [f"output {number}, {joint.of}" for number in numbers]
        case "contact" | "position" | "coded":
            return [f"{line}, to ground" for line in joint.lines]
        case "cells":
            return [f"the supply, divided by {joint.divider:g}, to tell low cells"]
        case "pwm" if len(joint.lines) == len(_PAIR):
            return list(_PAIR)
        case _:
            return list(_WIRES[joint.use])


def joints_of(sequence: Sequence | Readable) -> tuple[Joint, ...]:
    """All joints of the board, each with its pin. Without a ready-made board there are none;
    what finds no free pins is without (`pin_faults` says so).
    """
    board = sequence.board
    if not board or not board.part:
        return ()
    part = board_parts()[board.part]
    wanted = tuple(_wanted(sequence, board, part))
    taken = {pin for joint in wanted for pin in joint.taken}
    placed = []
    for joint in wanted:
        if joint.pin is None:
            joint = _placed(joint, part, taken)
            taken |= set(joint.taken)
        placed.append(joint)
    return tuple(placed)


def pin_faults(sequence: Sequence | Readable) -> Faults:
    """Pins that the board does not have, that measure nothing, or that have two uses; and what
    finds no pin.
    """
    board = sequence.board
    if not board:
        return
    if not board.part:
        yield from _without_part(sequence)
        return
    part = board_parts()[board.part]
    joints = joints_of(sequence)
    yield from _unsensed(sequence, part)
    for name, selector in sequence.selectors.items():
        yield from _selector_pins_fault(name, selector)
    for joint in joints:
        if part.pins_for(joint.use):
            yield from _pin_fault(joint, part, board.part)
        else:
            yield _beyond(joint, board.part)
    by_pin: dict[int, Joint] = {}
    for joint in joints:
        again = [by_pin[pin] for pin in joint.taken if pin in by_pin]
        if again:
            yield PathFault(
                joint.path,
                f"is {joint.pin}, but {_name(part, again[0])} leads to {again[0].of} already",
                "",
                "Give each its own pins, or leave the key out and have them chosen.",
            )
        by_pin |= {pin: joint for pin in joint.taken}


_COUNTED = ("inputs", "selectors", "counters", "triggers")


def most_faults(sequence: Sequence | Readable) -> Faults:
    """What goes beyond the room that the board's program has."""
    board = sequence.board
    if not board or not board.part:
        return
    part = board_parts()[board.part]
    room = "flash_for_table_bytes"
    for key, most in {**part.most, room: part.keys[room]}.items():
        if key not in _COUNTED and getattr(board, key) > most:
            what = f"is {getattr(board, key)}"
            yield PathFault(("board", key), what, f"at most {most} on the {board.part}")
    if board.counts and not part.counts:
        what = f"is true, and the {board.part} has no room to count"
        yield PathFault(("board", "counts"), what, "", "Delete the key.")
    codings = part.keys.get("codings", board.codings)
    beyond = [coding for coding in board.codings if coding not in codings]
    if beyond:
        allowed = f"{series(codings)} on the {board.part}"
        yield PathFault(("board", "codings"), f"has {series(beyond)}", allowed)
    for kind in _COUNTED:
        names = list(getattr(sequence, kind))
        most = part.most[kind]
        if len(names) > most:
            what = f"is one too many: there are {len(names)} {kind}"
            yield PathFault((kind, names[most]), what, f"at most {most} on the {board.part}")


def _wanted(sequence: Sequence | Readable, board: Board, part: BoardPart) -> Iterator[Joint]:
    """What needs pins, in the order in which pins are chosen: the pickiest first."""
    pins = board.pins
    if sequence.clips:
        lines = I2S if board.sound == "i2s" else PWM * part.sound_lines
        yield Joint(board.sound, "sound", 0, lines, ("board", "pins", "sound"), pins.sound)
    has_switch = sequence.amplifier and part.pins_for("amplifier")
    if sequence.clips and (has_switch or pins.amplifier is not None):
        path = ("board", "pins", "amplifier")
        yield Joint("amplifier", "the amplifier", 0, ("on",), path, pins.amplifier)
    if pins.volume is not None:
        path = ("board", "pins", "volume")
        yield Joint("volume", "the volume", 0, ("slider",), path, pins.volume)
    if board.lights != "pins" and sequence.groups:
        path = ("board", "pins", "lights")
        of = "the " + board.lights.replace("_", " ")
        yield Joint(board.lights, of, 0, CHAIN, path, pins.lights, board.channels)
    else:
        yield from (_lights(name, group) for name, group in sequence.groups.items())
    for index, (name, item) in enumerate(sequence.inputs.items()):
        yield _input(index, name, item, part)
    for index, (name, selector) in enumerate(sequence.selectors.items()):
        yield from _selector(index, name, selector)


def _lights(name: str, group: Group) -> Joint:
    lines = tuple(f"{name} {place}" for place in range(group.channels))
    first = group.first_channel
    return Joint("lights", name, first, lines, ("groups", name, "pin"), group.pin, group.channels)


def _input(index: int, name: str, item: Input, part: BoardPart) -> Joint:
    path = ("inputs", name, "pin")
    if item.kind == "button":
        return Joint("contact", name, index, (name,), path, item.pin)
    pin = part.supply_pin if item.pin is None else item.pin
    divider = item.divider or part.divider
    at_pin_v = (item.low_v or 0) / divider
    return Joint("cells", name, index, (name,), path, pin, at_pin_v, divider)


def _selector(index: int, name: str, selector: Selector) -> Iterator[Joint]:
    path = ("selectors", name, "pins")
    count = len(selector.positions)
    if selector.coded:
        bits = code_bits(selector)
        pins = selector.pins or [None]
        lines = tuple(f"{name}, bit {bit}" for bit in range(bits))
        yield Joint("coded", name, index, lines, path, pins[0], bits)
        return
    pins = selector.pins or [None] * count
    for place, (position, pin) in enumerate(zip(selector.positions, pins, strict=False)):
        yield Joint("position", name, index, (f"{name} on {position}",), path, pin, place)


def code_bits(selector: Selector) -> int:
    """How many contacts a coded switch of so many positions has."""
    return (len(selector.positions) - 1).bit_length()


def _placed(joint: Joint, part: BoardPart, taken: Iterable[int]) -> Joint:
    """With the first free pins of its kind; unchanged where there are none."""
    free = [pin for pin in part.pins_for(joint.use) if pin not in {*taken, part.supply_pin}]
    first = part.first_pins.get(joint.use, 0)
    free = [pin for pin in free if pin >= first] + free
    need = len(joint.lines)
    for pin in free:
        if all(pin + step in free for step in range(need)):
            return replace(joint, pin=pin)
    return joint


def _pin_fault(joint: Joint, part: BoardPart, board: str) -> Faults:
    known = part.pins_for(joint.use)
    if joint.pin is None:
        need = len(joint.lines)
        what = f"needs {need} free pins in a row, and there are none" if need > 1 else ""
        yield PathFault(
            joint.path[:-1],
            what or "needs a pin, and none is free",
            "",
            (
                'Join fewer things, or set lights = "shift_registers" in [board].'
                if part.pins_for("shift_registers")
                else "Join fewer things, or share the group's outputs among two groups."
            ),
        )
    elif any(pin not in known for pin in joint.taken):
        yield PathFault(joint.path, f"is {joint.pin}", _allowed(known, len(joint.lines), board))
    elif joint.use in ("cells", "volume") and joint.pin not in part.analogue:
        pins = series([str(pin) for pin in part.analogue if pin in known])
        yield PathFault(joint.path, f"is {joint.pin}, which measures no voltage", pins)
    elif joint.pin == part.supply_pin and joint.use != "cells":
        yield PathFault(
            joint.path, f"is {joint.pin}, which the board itself joins to the supply", ""
        )


def _beyond(joint: Joint, board: str) -> PathFault:
    """A use for which the board has no pin at all."""
    if joint.use in ("shift_registers", "drivers", "i2s"):
        key = "sound" if joint.use == "i2s" else "lights"
        allowed = f'"{"pwm" if key == "sound" else "pins"}" on the {board}'
        return PathFault(("board", key), f'is "{joint.use}"', allowed)
    if joint.use == "cells":
        path = (*joint.path[:-1], "kind")
        return PathFault(path, f'is "low_battery"; the {board} measures no voltage', '"button"')
    what = f"is {joint.pin}; the {board} has no pin for {joint.of}"
    return PathFault(joint.path, what, "", "Delete the key.")


def _allowed(known: list[int], need: int, board: str) -> str:
    """The pins from which so many lie in a row, as ranges."""
    firsts = [pin for pin in known if all(pin + step in known for step in range(need))]
    if not firsts:
        return f"fewer than {need} pins in a row on the {board}"
    starts = [firsts[0], *(b for a, b in pairwise(firsts) if b != a + 1)]
    ends = [*(a for a, b in pairwise(firsts) if b != a + 1), firsts[-1]]
    ranges = [str(a) if a == b else f"{a} to {b}" for a, b in zip(starts, ends, strict=True)]
    return f"{series(ranges)} of the {board}"


def _name(part: BoardPart, joint: Joint) -> str:
    return part.pins.get(joint.pin or 0, str(joint.pin))


def _selector_pins_fault(name: str, selector: Selector) -> Faults:
    """One pin for each position, or pins in a row for the bits of a coded one."""
    pins = selector.pins
    if pins is None:
        return
    path = ("selectors", name, "pins")
    need = len(selector.positions)
    if not selector.coded:
        if len(pins) != need:
            yield PathFault(path, f"has {len(pins)} pins", f"{need}, one for each position")
        return
    need = code_bits(selector)
    if pins != list(range(pins[0], pins[0] + need)) if pins else True:
        yield PathFault(path, f"is {pins}", f"{need} pins in a row, the lowest bit first")


def _unsensed(sequence: Sequence | Readable, part: BoardPart) -> Faults:
    """A sensor that does not know its limit, or that a regulator hides the cells from."""
    regulator = sequence.regulator
    inputs = sequence.inputs if part.pins_for("cells") else {}
    for name, item in inputs.items():
        if item.kind != "low_battery":
            continue
        own_pin = item.pin in (None, part.supply_pin)
        if own_pin and regulator and "board" in regulator.feeds:
            yield PathFault(
                ("inputs", name, "pin"), "is the board's own, which sees the regulator, not the"
                " cells", "", "Name an analogue pin, such as pin = 26, and join it to the cells"
                " over two resistors (divider).",
            )  # fmt: skip
        if item.low_v is None:
            yield PathFault(
                ("inputs", name, "low_v"), "is missing: the board has to know when cells are low",
                "0.5 to 60 V", "Add it.", missing=True,
            )  # fmt: skip


def _without_part(sequence: Sequence | Readable) -> Faults:
    """Pins can be placed only where the board is known."""
    keys = {"inputs": "pin", "selectors": "pins", "groups": "pin"}
    paths: list[Path] = [
        *(("board", key) for key in ("lights", "sound", "pins") if given(sequence.board, key)),
        *(
            (kind, name, key)
            for kind, key in keys.items()
            for name, item in getattr(sequence, kind).items()
            if getattr(item, key) is not None
        ),
    ]
    for path in paths:
        yield PathFault(
            path, "is given, but the board is not a ready-made one", "",
            'Set part in [board], such as part = "pico", or delete the key.',
        )  # fmt: skip
