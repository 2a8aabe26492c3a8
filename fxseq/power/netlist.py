"""Every part of a prop with a mark of its own, and every joint: which pins of which parts hang
together.

Marks begin with the class letters of IEEE 315 (R, C, D, DS, Q, U, BT, J, F, S, LS), from memory.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

from fxseq.power.parts import CELL_NAMES
from fxseq.power.resistors import bands_or_none
from fxseq.power.schedule import GroupWiring, Schedule
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.model import Sequence
from fxseq.sequence.pins import CHAIN, I2S, LOW_PASS_F, LOW_PASS_OHM, Joint, joints_of
from fxseq.sequence.quantities import amount, quantity

PLACES = ("supply", "board and sound", "outputs", "what is pressed")
"""Of a net that belongs to no group."""
GROUND = "ground"
RAIL = "supply +"
LOGIC = "3V3 of the board"
PULL_OHM = 10_000
"""From the blanking line of a chain to its supply: dark until the board drives it."""
DIVIDER_OHM = 100_000
"""Lower resistor of the divider that tells low cells. Common practice, no source."""
_ENABLE_OHM = 100_000
_SECOND_PULSE_OHM = 240_000
_BYPASS = "100 nF"
"""At each chip of a chain. Common practice, no source."""
_REGISTER_OUTPUTS = ("15 QA", "1 QB", "2 QC", "3 QD", "4 QE", "5 QF", "6 QG", "7 QH")
"""Pins of a 74HC595, as its data sheet has them (SCLS041), from memory; so are the others."""
_DRIVER_OUTPUTS = 24


class End(NamedTuple):
    """A pin of a part."""

    mark: str
    pin: str


@dataclass(frozen=True)
class Fitted:
    """A part. what: with its value. place: what it is there for."""

    mark: str
    what: str
    place: str


@dataclass(frozen=True)
class Net:
    """Pins that hang together. place: group of lamps that it is of, else one of PLACES. ends: two
    at the least.
    """

    name: str
    place: str
    ends: tuple[End, ...]


@dataclass(frozen=True)
class Netlist:
    """lamps: marks of the LEDs of each group, in the order of their places. open_ends: what leads
    to something that the file does not describe, in words.
    """

    parts: tuple[Fitted, ...]
    nets: tuple[Net, ...]
    lamps: Mapping[str, tuple[str, ...]]
    open_ends: tuple[str, ...]


def netlist(plan: Schedule) -> Netlist:
    """All that is joined in a prop that is wired so."""
    return _Joining(plan).done()


class _Joining:
    """Parts and nets as they come."""

    def __init__(self, plan: Schedule) -> None:
        self.plan = plan
        self.sequence: Sequence = plan.sequence
        self.parts: list[Fitted] = []
        self.nets: dict[str, list[End]] = defaultdict(list)
        self.lamps: dict[str, list[str]] = defaultdict(list)
        self.open_ends: list[str] = []
        self.counts: Counter[str] = Counter()
        self.place_of: dict[str, str] = {}
        self.place = PLACES[0]
        self._supplies()
        self._regulator()
        self.place = PLACES[1]
        self.board = self._board()
        self._amplifier()
        self.place = PLACES[2]
        self._outputs()
        for group in plan.groups:
            self.place = group.name
            self._group(group)
        self.place = PLACES[3]
        self._controls()

    def done(self) -> Netlist:
        """Nets of a single pin join nothing: they are told."""
        nets = []
        for name, ends in self.nets.items():
            if len(ends) > 1:
                nets.append(Net(name, self.place_of[name], tuple(ends)))
            else:
                mark, pin = ends[0]
                self.open_ends.append(f"{mark}, {pin}: {name}")
        lamps = {group: tuple(marks) for group, marks in self.lamps.items()}
        return Netlist(tuple(self.parts), tuple(nets), lamps, tuple(self.open_ends))

    # ---- what joins ----

    def part(self, letters: str, what: str, place: str) -> str:
        """A part more; its mark."""
        self.counts[letters] += 1
        mark = f"{letters}{self.counts[letters]}"
        self.parts.append(Fitted(mark, what, place))
        return mark

    def join(self, net: str, mark: str, pin: str) -> None:
        """A pin to a net."""
        self.place_of.setdefault(net, self.place)
        self.nets[net].append(End(mark, pin))

    def _merge(self, net: str, into: str) -> None:
        """All pins of a net to another one."""
        for mark, pin in self.nets.pop(net, []):
            self.join(into, mark, pin)

    def between(
        self, first: str, second: str, mark: str, pins: tuple[str, str] = ("1", "2")
    ) -> None:
        """A part with two pins between two nets."""
        for net, pin in zip((first, second), pins, strict=True):
            self.join(net, mark, pin)

    def resistor(
        self, first: str, second: str, ohm: float, place: str, rating_w: float | None = None
    ) -> None:
        """A resistor between two nets."""
        said = [
            f"resistor {amount(ohm, 'ohm', 6)}",
            *([f"{rating_w:g} W"] if rating_w else []),
            " ".join(bands_or_none(ohm) or ["no colour code"]),
        ]
        self.between(first, second, self.part("R", ", ".join(said), place))

    # ---- what feeds ----

    def _supplies(self) -> None:
        several = len(self.plan.lines) > 1
        throws = {}
        for line in self.plan.lines:
            name = line.name
            cells = line.kind == "cells"
            holder = self.part("BT" if cells else "J", self._source(name), f"supply {name}")
            behind = f"supply {name} +" if several else RAIL
            self.join(GROUND, holder, "-")
            if line.fuse_a is None:
                self.join(behind, holder, "+")
                self.open_ends.append(f"supply {name}: no fuse fits; share the load")
            else:
                kind = ", resettable" if line.resettable else ""
                fuse = self.part("F", f"fuse {line.fuse_a:g} A{kind}", f"supply {name}")
                self.join(f"supply {name} to its fuse", holder, "+")
                self.between(f"supply {name} to its fuse", behind, fuse)
            throws[name] = behind
        if several:
            self._changeover(throws)
        sizes = [self.sequence.supplies[name].bulk_capacitor_uf for name in throws]
        for size in dict.fromkeys(size for size in sizes if size):
            mark = self.part("C", f"capacitor {quantity(size, 'uF')}", "the rail")
            self.between(RAIL, GROUND, mark, ("+", "-"))

    def _source(self, name: str) -> str:
        supply = self.sequence.supplies[name]
        if supply.kind != "cells":
            return "socket for the adaptor"
        count = supply.cells_in_series * supply.cells_in_parallel
        kind = CELL_NAMES.get(supply.cell, "cells")
        rows = f", {supply.cells_in_parallel} rows" if supply.cells_in_parallel > 1 else ""
        return f"holder for {count} {kind}{rows}"

    def _changeover(self, throws: dict[str, str]) -> None:
        match self.sequence.changeover:
            case "switch":
                mark = self.part("S", "changeover, breaks before it makes", "the supplies")
                self.join(RAIL, mark, "common")
                for name, net in throws.items():
                    self.join(net, mark, name)
            case "diodes":
                for name, net in throws.items():
                    mark = self.part("D", "Schottky diode", f"supply {name}")
                    self.between(net, RAIL, mark, ("A", "K"))
            case None:
                self.open_ends.append("the supplies: nothing is described that keeps them apart")

    def _regulator(self) -> None:
        found = self.plan.regulator
        if found is None:
            return
        kind = found.kind.replace("_", " ")
        mark = self.part("U", f"regulator, {kind}, {amount(found.output_v, 'V')}", "the supply")
        self.join(RAIL, mark, "in")
        self.join(GROUND, mark, "ground")
        self.join(self._regulated, mark, "out")

    @property
    def _regulated(self) -> str:
        found = self.plan.regulator
        return RAIL if found is None else f"{amount(found.output_v, 'V')} +"

    def _feed(self, what: str) -> str:
        """The net that feeds board, amplifier or lights."""
        found = self.plan.regulator
        return self._regulated if found and what in found.feeds else RAIL

    # ---- the board ----

    def _board(self) -> str:
        name = self.sequence.board.part
        if not name:
            mark = self.part("U", "microcontroller board", "the board")
            self.join(self._feed("board"), mark, "+")
            self.join(GROUND, mark, "ground")
            return mark
        part = board_parts()[name]
        mark = self.part("U", part.title, "the board")
        diode = self.part("D", "Schottky diode", "keeps what USB feeds out of the supply")
        self.between(self._feed("board"), "board +", diode, ("A", "K"))
        self.join("board +", mark, part.place_of(part.supply_name))
        self.join(GROUND, mark, part.place_of("GND"))
        return mark

    def _pin(self, number: int) -> str:
        return board_parts()[self.sequence.board.part].pins[number]

    def _joints(self, *uses: str) -> Iterator[Joint]:
        return (joint for joint in joints_of(self.sequence) if joint.use in uses)

    def _logic(self) -> str:
        """The supply of chips that the board drives."""
        part = self.sequence.board.part
        label = "5V" if part and "3V3" not in board_parts()[part].right else "3V3"
        if not self.nets[LOGIC]:
            self.join(LOGIC, self.board, board_parts()[part].place_of(label))
        return LOGIC

    # ---- sound ----

    def _amplifier(self) -> None:
        if not self.sequence.clips:
            return
        amplifier = self.sequence.amplifier
        takes = self._sound_lines(bool(amplifier))
        if amplifier is None:
            return
        kind = {"class_d": "class D", "class_ab": "class AB"}[amplifier.kind]
        mark = self.part("U", f"amplifier, {kind}", "sound")
        self.join(self._feed("amplifier"), mark, "+")
        self.join(GROUND, mark, "ground")
        for net, pin in takes.items():
            self.join(net, mark, pin)
        for joint in self._joints("amplifier"):
            self.join("enable of the amplifier", self.board, self._pin(joint.pin))
            self.join("enable of the amplifier", mark, "enable")
            self.resistor("enable of the amplifier", GROUND, _ENABLE_OHM, "keeps the amplifier off")
        self._speaker(mark, is_bridge=amplifier.output == "bridge")

    def _sound_lines(self, has_amplifier: bool) -> dict[str, str]:
        """Nets from the board to the amplifier, with the amplifier's pins."""
        if not self.sequence.board.part:
            self.join("sound", self.board, "sound")
            return {"sound": "in"}
        taken = {}
        for joint in self._joints("i2s"):
            for pin, line, name in zip(joint.taken, I2S, ("DIN", "BCLK", "LRC"), strict=True):
                self.join(f"sound, {line}", self.board, self._pin(pin))
                taken[f"sound, {line}"] = name
        for joint in self._joints("pwm"):
            for pin, ohm in zip(joint.taken, (LOW_PASS_OHM, _SECOND_PULSE_OHM), strict=False):
                pulses = f"sound as pulses, {self._pin(pin)}"
                self.join(pulses, self.board, self._pin(pin))
                self.resistor(pulses, "sound", ohm, "smooths the sound")
            mark = self.part("C", f"capacitor {LOW_PASS_F * 1e9:g} nF", "smooths the sound")
            self.between("sound", GROUND, mark)
            taken["sound"] = "in"
        if not has_amplifier:
            self.open_ends.append("sound: no amplifier is described")
        return taken

    def _speaker(self, amplifier: str, is_bridge: bool) -> None:
        speaker = self.sequence.speaker
        if speaker is None:
            self.open_ends.append("the amplifier: no speaker is described")
            return
        mark = self.part("LS", f"speaker, {speaker.impedance_ohm:g} ohm", "sound")
        self.join("speaker +", amplifier, "out +" if is_bridge else "out")
        self.join("speaker +", mark, "+")
        if is_bridge:
            self.join("speaker -", amplifier, "out -")
            self.join("speaker -", mark, "-")
        else:
            self.join(GROUND, mark, "-")

    # ---- outputs ----

    def _outputs(self) -> None:
        if not self.sequence.groups:
            return
        lights = self.sequence.board.lights if self.sequence.board.part else ""
        match lights:
            case "shift_registers":
                self._chain(_REGISTER)
            case "drivers":
                self._chain(_DRIVER)
            case "pins":
                for joint in self._joints("lights"):
                    for place, pin in enumerate(joint.taken):
                        self.join(f"output {joint.index + place}", self.board, self._pin(pin))
            case _:
                for group in self.plan.groups:
                    for output in group.outputs:
                        self.join(f"output {output}", self.board, f"output {output}")

    def _chain(self, chip: "_Chip") -> None:
        """Chips in a row, each handing on what it has got."""
        logic = self._logic()
        for joint in self._joints(self.sequence.board.lights):
            for pin, line in zip(joint.taken, CHAIN, strict=True):
                self.join(f"lights, {line}", self.board, self._pin(pin))
        self.resistor("lights, blank", logic, PULL_OHM, "keeps the lights dark at power-up")
        channels = self.sequence.board.channels
        data = "lights, data"
        count = ceil(channels / len(chip.outputs))
        for number in range(count):
            first = number * len(chip.outputs)
            last = min(first + len(chip.outputs), channels) - 1
            mark = self.part("U", chip.what, f"outputs {first} to {last}")
            self.join(data, mark, chip.data)
            for line, pin in zip(CHAIN[1:], chip.lines, strict=True):
                self.join(f"lights, {line}", mark, pin)
            for pin in chip.to_plus:
                self.join(logic, mark, pin)
            self.join(GROUND, mark, chip.ground)
            for output, pin in zip(range(first, last + 1), chip.outputs, strict=False):
                self.join(f"output {output}", mark, pin)
            data = f"data from {mark}"
            if number < count - 1:
                self.join(data, mark, chip.hands_on)
            bypass = self.part("C", f"capacitor {_BYPASS}", f"close to {mark}")
            self.between(logic, GROUND, bypass)
            if chip.setting:
                self._setting(mark, chip.setting, range(first, last + 1))

    def _setting(self, mark: str, pin: str, outputs: range) -> None:
        """The resistor that sets the current of a driver's outputs."""
        groups = [group for group in self.plan.groups if set(group.outputs) & set(outputs)]
        settings = [group.setting for group in groups]
        if len(set(settings)) > 1 or None in settings:
            self.open_ends.append(f"{mark}, {pin}: the resistor that sets the current")
            return
        self.join(f"current of {mark}", mark, pin)
        self.resistor(f"current of {mark}", GROUND, settings[0].ohm, f"sets the current of {mark}")

    # ---- lamps ----

    def _group(self, group: GroupWiring) -> None:
        if group.circuit.series == 0:
            self.open_ends.append(f"{group.name}: stays dark at this supply, nothing to join")
            return
        lamp = 0
        for place, output in enumerate(group.outputs, 1):
            name = f"{group.name} {place}"
            lamp = self._channel(group, name, output, lamp)

    def _channel(self, group: GroupWiring, name: str, output: int, lamp: int) -> int:
        """One channel: its strings between a feed and what switches it. lamp: how many lamps the
        group has got by now; returned with those of this channel.
        """
        circuit = group.circuit
        is_pin = circuit.switch == "pin"
        feed = f"output {output}" if is_pin else self._feed_of(group)
        low = GROUND if is_pin else f"{name}, switched"
        shared = f"{name}, behind its resistor"
        if group.resistor and group.shares:
            self.resistor(feed, shared, group.resistor.ohm, name, _rating_w(group))
        for string in range(1, circuit.strings + 1):
            said = name if circuit.strings == 1 else f"{name}, string {string}"
            start = feed
            if group.resistor and group.shares:
                start = shared
            elif group.resistor:
                start = f"{said}, resistor"
                self.resistor(feed, start, group.resistor.ohm, said, _rating_w(group))
            lamp = self._string(group, said, (start, low), circuit.series, lamp)
        for other in circuit.group.beside:
            for string in range(other.leds // other.leds_in_series):
                said = f"{name}, {other.colour.replace('_', ' ')} {string + 1}"
                places = [said] * other.leds_in_series
                self._in_series(said, (shared, low), other.colour, places)
        if not is_pin:
            self._switch(group, name, output, low)
        return lamp

    def _feed_of(self, group: GroupWiring) -> str:
        return self._regulated if group.circuit.regulator else RAIL

    def _string(
        self, group: GroupWiring, said: str, ends: tuple[str, str], series: int, lamp: int
    ) -> int:
        places = [f"{group.name}, lamp {lamp + 1 + step}" for step in range(series)]
        size = f"{group.circuit.group.size_mm:g} mm"
        marks = self._in_series(said, ends, f"{group.circuit.group.colour}, {size}", places)
        self.lamps[group.name] += marks
        return lamp + series

    def _in_series(
        self, said: str, ends: tuple[str, str], what: str, places: list[str]
    ) -> list[str]:
        """LEDs one behind the other; their marks."""
        net = ends[0]
        marks = []
        for step, place in enumerate(places, 1):
            behind = ends[1] if step == len(places) else f"{said}, behind LED {step}"
            mark = self.part("DS", f"LED {what.replace('_', ' ')}", place)
            self.between(net, behind, mark, ("A", "K"))
            marks.append(mark)
            net = behind
        return marks

    def _switch(self, group: GroupWiring, name: str, output: int, low: str) -> None:
        net = f"output {output}"
        match group.circuit.switch:
            case "transistor":
                mark = self.part("Q", "NPN transistor", name)
                self.join(low, mark, "C")
                self.join(GROUND, mark, "E")
                self._control(group, name, net, mark, "B")
            case "mosfet":
                mark = self.part("Q", "N-channel MOSFET", name)
                self.join(low, mark, "D")
                self.join(GROUND, mark, "S")
                self._control(group, name, net, mark, "G")
            case _ if self.sequence.board.part and self.sequence.board.lights == "drivers":
                self._merge(net, low)
            case _:
                mark = self.part("U", "constant-current driver", name)
                self.join(low, mark, "out")
                self.join(GROUND, mark, "ground")
                self.join(net, mark, "in")
                if group.setting:
                    self.join(f"{name}, current", mark, "current")
                    self.resistor(f"{name}, current", GROUND, group.setting.ohm, name)

    def _control(self, group: GroupWiring, name: str, net: str, mark: str, pin: str) -> None:
        """From an output to the base or gate of its switch."""
        drive = group.drive
        what = "gate" if pin == "G" else "base"
        inner = f"{name}, {what}"
        self.join(inner, mark, pin)
        if drive is None or drive.series is None:
            self._merge(net, inner)
            return
        self.resistor(net, inner, drive.series.ohm, inner)
        if drive.hold_off:
            self.resistor(inner, GROUND, drive.hold_off.ohm, f"{inner} to ground")

    # ---- what is pressed ----

    def _controls(self) -> None:
        if not self.sequence.board.part:
            self._plain_controls()
            return
        selectors: dict[str, str] = {}
        for joint in self._joints("contact", "cells", "position", "coded", "volume"):
            pins = [self._pin(pin) for pin in joint.taken]
            match joint.use:
                case "contact":
                    self._button(joint.of, pins[0])
                case "cells":
                    self._cells(joint, pins[0])
                case "volume":
                    self._volume(pins[0])
                case _:
                    mark = selectors.get(joint.of) or self._selector(joint.of)
                    selectors[joint.of] = mark
                    for line, pin in zip(joint.lines, pins, strict=True):
                        self.join(f"selector {line}", self.board, pin)
                        way = line.removeprefix(joint.of).strip(" ,")
                        self.join(f"selector {line}", mark, way)

    def _plain_controls(self) -> None:
        for name, item in self.sequence.inputs.items():
            if item.kind == "button":
                self._button(name, f"input {name}")
        for name, selector in self.sequence.selectors.items():
            mark = self._selector(name)
            for position in selector.positions:
                net = f"selector {name} on {position}"
                self.join(net, self.board, f"{name} on {position}")
                self.join(net, mark, f"on {position}")

    def _button(self, name: str, pin: str) -> None:
        mark = self.part("S", "push button", name)
        self.join(f"button {name}", self.board, pin)
        self.between(f"button {name}", GROUND, mark)

    def _selector(self, name: str) -> str:
        kind = "coded switch" if self.sequence.selectors[name].coded else "rotary switch"
        mark = self.part("S", f"{kind}, {len(self.sequence.selectors[name].positions)} ways", name)
        self.join(GROUND, mark, "common")
        return mark

    def _cells(self, joint: Joint, pin: str) -> None:
        part = board_parts()[self.sequence.board.part]
        if joint.pin == part.supply_pin:
            return  # on the board itself
        self.join("low cells", self.board, pin)
        upper = (joint.divider - 1) * DIVIDER_OHM
        self.resistor(RAIL, "low cells", upper, "tells low cells, upper")
        self.resistor("low cells", GROUND, DIVIDER_OHM, "tells low cells, lower")

    def _volume(self, pin: str) -> None:
        mark = self.part("R", "potentiometer 10 kohm, linear", "volume")
        self.join(self._logic(), mark, "end 1")
        self.join(GROUND, mark, "end 2")
        self.join("volume", mark, "slider")
        self.join("volume", self.board, pin)


@dataclass(frozen=True)
class _Chip:
    """Of a chain. lines: clock, latch and blank; to_plus: pins at its supply."""

    what: str
    outputs: tuple[str, ...]
    data: str
    lines: tuple[str, str, str]
    hands_on: str
    to_plus: tuple[str, ...]
    ground: str
    setting: str = ""


_REGISTER = _Chip(
    "shift register 74HC595",
    _REGISTER_OUTPUTS,
    "14 SER",
    ("11 SRCLK", "12 RCLK", "13 OE"),
    "9 QH'",
    ("16 VCC", "10 SRCLR"),
    "8 GND",
)
_DRIVER = _Chip(
    "constant-current driver, 24 outputs of 12 bits",
    tuple(f"OUT{number}" for number in range(_DRIVER_OUTPUTS)),
    "SIN",
    ("SCLK", "XLAT", "BLANK"),
    "SOUT",
    ("VCC",),
    "GND",
    "IREF",
)


def _rating_w(group: GroupWiring) -> float | None:
    layout = group.circuit.layout
    return None if layout is None else layout.rating_w
