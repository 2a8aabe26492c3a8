"""Every part of a prop with a mark of its own, and every joint: which pins of which parts hang
together.

Marks begin with the class letters of IEEE 315 (R, C, D, DS, Q, U, BT, J, F, S, LS), from memory.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

from fxseq.power.circuits import mosfet_of, transistor_of
from fxseq.power.parts import CELL_NAMES
from fxseq.power.resistors import RATINGS_W, bands_or_none, rating_w
from fxseq.power.schedule import GroupWiring, Schedule
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.model import Sequence
from fxseq.sequence.pins import CHAIN, I2S, LOW_PASS_F, LOW_PASS_OHM, Joint, joints_of
from fxseq.sequence.quantities import amount, from_to, quantity

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
_BYPASS = "100 nF, ceramic"
"""At each chip of a chain. Common practice, no source."""
_CAPACITORS_V = (6.3, 10, 16, 25, 35, 50, 63, 100)
"""Voltages that electrolytic capacitors are sold for; from memory."""
_DIODES_A = (0.5, 1, 2, 3, 5, 10, 20, 30)
_DIODES_V = (20, 40, 60, 100)
"""What Schottky diodes are sold for; from memory."""
_ROOM = 1.25
"""By how much more than it gets a capacitor or a diode is bought. Common practice, no source."""
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
    """Pins that hang together. place: one of PLACES, or `of_group`. ends: two at the least."""

    name: str
    place: str
    ends: tuple[End, ...]


@dataclass(frozen=True)
class Netlist:
    """lamps: marks of the LEDs of each group, in the order of their places. beside: of the LEDs
    that share a group's resistors and have no places in the file. open_ends: what leads to
    something that the file does not describe, in words.
    """

    parts: tuple[Fitted, ...]
    nets: tuple[Net, ...]
    lamps: Mapping[str, tuple[str, ...]]
    beside: Mapping[str, tuple[str, ...]]
    open_ends: tuple[str, ...]


def of_group(name: str) -> str:
    """Place of the nets of a group of lamps, whatever its name."""
    return f"group {name}"


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
        self.beside: dict[str, list[str]] = defaultdict(list)
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
            self.place = of_group(group.name)
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
        lamps, beside = (
            {group: tuple(marks) for group, marks in found.items()}
            for found in (self.lamps, self.beside)
        )
        return Netlist(tuple(self.parts), tuple(nets), lamps, beside, tuple(self.open_ends))

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
        self, first: str, second: str, ohm: float, place: str, rated_w: float | None = RATINGS_W[0]
    ) -> None:
        """A resistor between two nets. rated_w: None where no common one is large enough."""
        said = [
            f"resistor {amount(ohm, 'ohm', 6)}",
            f"{rated_w:g} W" if rated_w else "gets too hot for any common one",
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
                kind = ", resettable" if line.resettable else ", with its holder"
                fuse = self.part("F", f"fuse {line.fuse_a:g} A{kind}", f"supply {name}")
                self.join(f"supply {name} to its fuse", holder, "+")
                self.between(f"supply {name} to its fuse", behind, fuse)
            throws[name] = behind
        if several:
            self._changeover(throws)
        sizes = [self.sequence.supplies[name].bulk_capacitor_uf for name in throws]
        for size in dict.fromkeys(size for size in sizes if size):
            volts = _next(_CAPACITORS_V, self.plan.span.fresh_v)
            what = f"capacitor {quantity(size, 'uF')}, {volts:g} V or more, electrolytic"
            mark = self.part("C", what, "the rail")
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
                all_ma = max(line.total_ma for line in self.plan.lines)
                for name, net in throws.items():
                    mark = self.part("D", self._schottky(all_ma), f"supply {name}")
                    self.between(net, RAIL, mark, ("A", "K"))
            case None:
                self.open_ends.append("the supplies: nothing is described that keeps them apart")

    def _schottky(self, current_ma: float) -> str:
        amperes = _next(_DIODES_A, current_ma / 1000)
        return f"Schottky diode, {amperes:g} A, {_next(_DIODES_V, self.plan.span.fresh_v):g} V"

    def _regulator(self) -> None:
        found = self.plan.regulator
        if found is None:
            return
        what = (
            f"regulator, {found.kind.replace('_', ' ')}, {amount(found.output_v, 'V')},"
            f" {_next_ma(found.all_ma)} mA or more"
        )
        mark = self.part("U", what, "the supply")
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

    def _at(self, what: str) -> str:
        """The voltage at that net."""
        found = self.plan.regulator
        if found and what in found.feeds:
            return amount(found.output_v, "V")
        return from_to(self.plan.span.flat_v, self.plan.span.fresh_v, "V")

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
        what = self._schottky(self.sequence.board.current_ma)
        diode = self.part("D", what, "keeps what USB feeds out of the supply")
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
        output = {"bridge": "bridge-tied", "single": "single-ended"}[amplifier.output]
        takes_i2s = ", takes I2S" if self._is_i2s() else ""
        at = self._at("amplifier")
        mark = self.part("U", f"amplifier, {kind}, {output}{takes_i2s}, for {at}", "sound")
        self.join(self._feed("amplifier"), mark, "+")
        self.join(GROUND, mark, "ground")
        for net, pin in takes.items():
            self.join(net, mark, pin)
        for joint in self._joints("amplifier"):
            self.join("enable of the amplifier", self.board, self._pin(joint.pin))
            self.join("enable of the amplifier", mark, "enable")
            self.resistor("enable of the amplifier", GROUND, _ENABLE_OHM, "keeps the amplifier off")
        self._speaker(mark, is_bridge=amplifier.output == "bridge")

    def _is_i2s(self) -> bool:
        return bool(self.sequence.board.part) and self.sequence.board.sound == "i2s"

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
            mark = self.part("C", f"capacitor {LOW_PASS_F * 1e9:g} nF, film", "smooths the sound")
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
        what = (
            f"speaker, {speaker.impedance_ohm:g} ohm, diaphragm {speaker.diameter_mm:g} mm,"
            f" {speaker.rated_power_w:g} W"
        )
        mark = self.part("LS", what, "sound")
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
        if self._has_chain_of_drivers() and circuit.switch != "driver":
            self.open_ends.append(
                f"{name}: an output of the chain of drivers feeds nothing, it takes in current: say"
                ' switch = "driver"'
            )
        feed = f"output {output}" if is_pin else self._feed_of(group)
        low = GROUND if is_pin else f"{name}, switched"
        shared = f"{name}, behind its resistor"
        if group.resistor and group.shares:
            self.resistor(feed, shared, group.resistor.ohm, name, _rating_w(group))
        for string in range(1, circuit.strings + 1):
            said = name if circuit.strings == 1 else f"{name}, string {string}"
            start, end = feed, low
            if self._has_outputs_of_its_own(group):
                end = f"{said}, switched"
            if group.resistor and group.shares:
                start = shared
            elif group.resistor:
                start = f"{said}, resistor"
                self.resistor(feed, start, group.resistor.ohm, said, _rating_w(group))
            lamp = self._string(group, said, (start, end), circuit.series, lamp)
        for other in circuit.group.beside:
            for string in range(other.leds // other.leds_in_series):
                said = f"{name}, {other.colour.replace('_', ' ')} {string + 1}"
                places = [said] * other.leds_in_series
                what = f"{other.colour}, size not given"
                self.beside[group.name] += self._in_series(said, (shared, low), what, places)
        if not is_pin:
            self._switch(group, name, output, low)
        return lamp

    def _has_chain_of_drivers(self) -> bool:
        return bool(self.sequence.board.part) and self.sequence.board.lights == "drivers"

    def _is_in_chain(self, group: GroupWiring) -> bool:
        """Whether the chain itself holds the group's current."""
        return self._has_chain_of_drivers() and group.circuit.switch == "driver"

    def _has_outputs_of_its_own(self, group: GroupWiring) -> bool:
        """Whether each string hangs on an output of its own, which holds its current."""
        return group.circuit.switch == "driver" and not self._is_in_chain(group)

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
                kind = transistor_of(group.circuit.group)
                what = f"NPN transistor, gain {kind.gain:g}, {kind.maximum_ma:g} mA or more"
                mark = self.part("Q", what, name)
                self.join(low, mark, "C")
                self.join(GROUND, mark, "E")
                self._control(group, name, net, mark, "B")
            case "mosfet":
                mark = self.part("Q", _mosfet(group), name)
                self.join(low, mark, "D")
                self.join(GROUND, mark, "S")
                self._control(group, name, net, mark, "G")
            case _ if self._is_in_chain(group):
                self._merge(net, low)
                if group.circuit.strings > 1:
                    self.open_ends.append(
                        f"{name}: {group.circuit.strings} strings share what one output of the"
                        " chain holds; give each a channel of its own"
                    )
            case _:
                self._driver(group, name, net)

    def _driver(self, group: GroupWiring, name: str, net: str) -> None:
        """A chip with an output for each string."""
        strings = group.circuit.strings
        outputs = f", {strings} outputs" if strings > 1 else ""
        held = amount(group.circuit.fresh_ma.typical, "mA") if group.circuit.fresh_ma else "current"
        mark = self.part("U", f"constant-current driver{outputs}, set to {held}", name)
        for string in range(1, strings + 1):
            low = f"{name}, switched" if strings == 1 else f"{name}, string {string}, switched"
            self.join(low, mark, "out" if strings == 1 else f"out {string}")
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
        heat_w = (drive.pin_ma / 1000) ** 2 * drive.series.ohm
        self.resistor(net, inner, drive.series.ohm, inner, rating_w(heat_w))
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
            else:
                self.open_ends.append(f"{name}: how low cells are told is for the board to say")
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
        selector = self.sequence.selectors[name]
        kind = "coded switch, closed for 1" if selector.coded else "rotary switch"
        mark = self.part("S", f"{kind}, {len(selector.positions)} positions", name)
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
        self.join(self._logic(), mark, "clockwise end")
        self.join(GROUND, mark, "other end")
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


def _next(sold: tuple[float, ...], least: float) -> float:
    """What is sold with room above what it gets; the largest where none is."""
    return next((one for one in sold if one >= _ROOM * least), sold[-1])


def _next_ma(current_ma: float) -> int:
    """Rounded up, as one asks for it."""
    return 50 * ceil(_ROOM * current_ma / 50)


def _mosfet(group: GroupWiring) -> str:
    """What it has to be good for."""
    kind = mosfet_of(group.circuit.group)
    return (
        f"N-channel MOSFET, {quantity(kind.on_ohm, 'ohm')} at a gate of"
        f" {quantity(kind.gate_v, 'V')}, {quantity(kind.maximum_ma, 'mA')} or more"
    )


def _rating_w(group: GroupWiring) -> float | None:
    layout = group.circuit.layout
    return None if layout is None else layout.rating_w
