"""The schedule of a prop's wiring: what is soldered to what, with which values, and what the
description leaves open.
"""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from fxseq.power.circuits import (
    PIN_OHM,
    Circuit,
    circuits,
    forward_v,
    fresh_v,
    mosfet_of,
    most_ma,
    voltages_of,
    voltages_of_all,
)
from fxseq.power.cells import Estimate
from fxseq.power.layout import Range
from fxseq.power.lines import SupplyLine, supply_lines
from fxseq.power.regulators import needed_v, regulation
from fxseq.power.resistors import bands_or_none
from fxseq.power.switches import BASE_EMITTER_V
from fxseq.sequence.derived import channels_of
from fxseq.sequence.model import Sequence
from fxseq.sequence.quantities import amount, quantity

GATE_OHM = 100.0
"""Between an output and a gate, against the peak of its charging current. Common practice, no
source.
"""
HOLD_OFF_OHM = 100_000.0
"""From gate to ground: keeps a MOSFET off while its output is not driven yet. Common practice,
no source.
"""


@dataclass(frozen=True)
class Resistor:
    """A resistor to be fitted. bands: of 5 %, or of 1 % where that takes three digits; None for
    a value that no bands say.
    """

    ohm: float
    bands: tuple[str, ...] | None


@dataclass(frozen=True)
class Drive:
    """What an output of the board has to do. series: base or gate resistor; hold_off: from gate
    to ground. pin_ma: out of the output, lasting.
    """

    series: Resistor | None
    hold_off: Resistor | None
    pin_ma: float


@dataclass(frozen=True)
class GroupWiring:
    """A group as it is wired. resistor: of each string, or of a channel where its strings share it,
    None where a driver holds the current.

    setting: resistor that sets the current of a driver, where the file says how. drive: None where
    it stays dark or a driver has it.
    """

    name: str
    circuit: Circuit
    resistor: Resistor | None
    setting: Resistor | None
    drive: Drive | None

    @property
    def outputs(self) -> range:
        """Its outputs of the board."""
        return channels_of(self.circuit.group)

    @property
    def beside(self) -> str:
        """What else hangs on the resistor of each output, in words; empty where nothing does."""
        return " and ".join(
            f"{one.leds} {one.colour.replace('_', ' ')}, {one.leds_in_series} in series"
            for one in self.circuit.group.beside
        )

    @property
    def shares(self) -> bool:
        """Whether several strings of a channel hang on one resistor."""
        return self.circuit.layout is not None and (
            self.circuit.layout.sharing > 1 or bool(self.circuit.layout.beside)
        )

    @property
    def common(self) -> str:
        """What all its strings share."""
        if self.circuit.switch == "pin":
            return "ground"
        if self.circuit.regulator:
            return "regulator +"
        return "supply +"

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        circuit = self.circuit
        layout = self.circuit.layout
        return {
            "outputs": list(self.outputs),
            "leds": circuit.group.leds,
            "leds_in_series": circuit.series,
            "strings_per_output": circuit.strings,
            "resistor": self.resistor and asdict(self.resistor),
            "shared_resistor": self.shares,
            "beside": [other.model_dump() for other in circuit.group.beside],
            "resistor_power_w": layout and layout.power_w,
            "resistor_rating_w": layout and layout.rating_w,
            "string_fresh_ma": _values(circuit.fresh_ma),
            "string_flat_ma": _values(circuit.flat_ma),
            "switch": circuit.switch,
            "drive": self.drive and asdict(self.drive),
            "setting_resistor": self.setting and asdict(self.setting),
        }


@dataclass(frozen=True)
class Connector:
    """A plug: what its pins carry, in order, the first being number 1."""

    name: str
    pins: tuple[str, ...]


@dataclass(frozen=True)
class RegulatorPlan:
    """A regulator as it is counted. needs_v: at its input, 0 for one that steps up. all_ma: what
    it gives with everything at once. heat_w: then, at the freshest supply.
    """

    kind: str
    output_v: float
    feeds: tuple[str, ...]
    needs_v: float
    all_ma: float
    heat_w: float


@dataclass(frozen=True)
class Schedule:
    """The whole of it. regulator: None where none is described. assumed: figures that the
    description leaves open, and what is taken for them. missing: what it does not say and nobody
    can assume.
    """

    sequence: Sequence
    span: Range
    groups: tuple[GroupWiring, ...]
    lines: tuple[SupplyLine, ...]
    regulator: RegulatorPlan | None
    connectors: tuple[Connector, ...]
    assumed: tuple[str, ...]
    missing: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "title": self.sequence.title,
            "flat_v": self.span.flat_v,
            "fresh_v": self.span.fresh_v,
            "changeover": self.sequence.changeover,
            "groups": {group.name: group.as_dict() for group in self.groups},
            "lines": {
                line.name: {**asdict(line), "total_ma": line.total_ma} for line in self.lines
            },
            "regulator": self.regulator and asdict(self.regulator),
            "connectors": {
                connector.name: dict(enumerate(connector.pins, 1)) for connector in self.connectors
            },
            "assumed": list(self.assumed),
            "not_described": list(self.missing),
        }


def wiring_schedule(sequence: Sequence, sound_ma: Mapping[str, float]) -> Schedule:
    """How a prop is wired. sound_ma: of the loudest tone, by supply, empty where it is not
    known. Raises ValueError without a supply.
    """
    span = voltages_of_all(sequence.supplies.values(), needed_v(sequence))
    if span is None:
        raise ValueError("nothing can be worked out without a supply")
    wired = circuits(sequence)
    groups = tuple(_group(name, circuit, sequence.board.pin_v) for name, circuit in wired.items())
    lines = supply_lines(sequence, wired, sound_ma)
    plan = _regulator(sequence, wired, max(sound_ma.values(), default=0.0), span)
    return Schedule(
        sequence,
        span,
        groups,
        lines,
        plan,
        _connectors(sequence, groups),
        tuple(_assumed(sequence, wired)),
        tuple(_missing(sequence, wired)),
    )


def _regulator(
    sequence: Sequence, wired: Mapping[str, Circuit], sound_ma: float, span: Range
) -> RegulatorPlan | None:
    found = regulation(sequence)
    if found is None:
        return None
    light_ma = sum(
        circuit.group.channels * circuit.channel_ma.typical
        for circuit in wired.values()
        if circuit.regulator
    )
    all_ma = light_ma + sum(
        taken
        for name, taken in (("board", sequence.board.current_ma), ("amplifier", sound_ma))
        if name in found.part.feeds
    )
    return RegulatorPlan(
        found.part.kind,
        found.output_v,
        tuple(found.part.feeds),
        found.holds_from_v,
        all_ma,
        found.heat_w(span.fresh_v, all_ma / 1000),
    )


def _values(estimate: Estimate | None) -> dict[str, float] | None:
    return estimate and asdict(estimate)


def _resistor(ohm: float) -> Resistor:
    return Resistor(ohm, bands_or_none(ohm))


def _group(name: str, circuit: Circuit, pin_v: float) -> GroupWiring:
    layout = circuit.layout
    resistor = None
    if layout:
        resistor = _resistor(layout.resistor_ohm)
    setting = None
    if circuit.series and circuit.setting_ohm:
        setting = _resistor(circuit.setting_ohm)
    return GroupWiring(name, circuit, resistor, setting, drive(circuit, pin_v))


def drive(circuit: Circuit, pin_v: float) -> Drive | None:
    """What an output of this voltage needs for its switch, all of the LEDs being of the lowest
    forward voltage; None where that is not known.
    """
    if circuit.layout is None:
        return None
    if circuit.switch == "pin":
        return Drive(None, None, circuit.channel_ma.high)
    if circuit.switch == "mosfet":
        return Drive(
            _resistor(GATE_OHM), _resistor(HOLD_OFF_OHM), 1000 * pin_v / (GATE_OHM + HOLD_OFF_OHM)
        )
    return Drive(
        _resistor(circuit.base_ohm), None, 1000 * (pin_v - BASE_EMITTER_V) / circuit.base_ohm
    )


def _connectors(sequence: Sequence, groups: tuple[GroupWiring, ...]) -> tuple[Connector, ...]:
    found = [Connector(f"supply {name}", ("+", "-")) for name in sequence.supplies]
    if sequence.speaker is not None:
        found.append(Connector("speaker", ("+", "-")))
    return (
        *found,
        *(
            Connector(
                group.name, (group.common, *(f"channel {channel}" for channel in group.outputs))
            )
            for group in groups
        ),
    )


def _assumed(sequence: Sequence, wired: Mapping[str, Circuit]) -> Iterator[str]:
    """What the file leaves open, and what is taken for it."""
    for name, supply in sequence.supplies.items():
        source = "cells" if supply.kind == "cells" else "a socket"
        if supply.voltage_v is None:
            yield (
                f"Supply '{name}': {amount(fresh_v(supply).typical, 'V')} when fresh, usual for"
                f" such {source} (voltage_v)."
            )
        if supply.maximum_current_ma is None:
            yield (
                f"Supply '{name}': at most {amount(most_ma(supply), 'mA')}, usual for such {source}"
                " (maximum_current_ma)."
            )
    for name, circuit in wired.items():
        if circuit.group.forward_voltage_v is None:
            yield (
                f"Group '{name}': {amount(forward_v(circuit.group), 'V')} at"
                f" {quantity(circuit.group.current_ma, 'mA')}, usual for"
                f" {circuit.group.colour.replace('_', ' ')} (forward_voltage_v)."
            )
        yield from _assumed_switch(name, circuit)


def _assumed_switch(name: str, circuit: Circuit) -> Iterator[str]:
    mosfet = circuit.group.mosfet
    transistor = circuit.group.transistor
    kind = mosfet_of(circuit.group)
    if circuit.switch == "mosfet" and (mosfet is None or mosfet.on_ohm is None):
        yield (
            f"Group '{name}': a MOSFET of {quantity(kind.on_ohm, 'ohm')} at"
            f" {quantity(kind.gate_v, 'V')} on the gate, with a threshold of"
            f" {quantity(kind.threshold_v, 'V')} (mosfet)."
        )
    is_common = transistor is None or transistor.saturation_v is None
    if circuit.switch == "transistor" and circuit.layout is not None and is_common:
        kept_v = float(circuit.layout.route.switch.voltage_v(circuit.channel_ma.typical / 1000))
        yield (
            f"Group '{name}': a common small transistor with {amount(kept_v, 'V', 2)} across it"
            " when it is on (transistor)."
        )
    if circuit.switch == "pin":
        yield f"Group '{name}': each pin has {quantity(PIN_OHM, 'ohm')}, from memory."


def _missing(sequence: Sequence, wired: Mapping[str, Circuit]) -> list[str]:
    """What nobody can know from the file; none of it is guessed."""
    unsaid = {
        "What keeps the supplies apart (changeover).": (
            len(sequence.supplies) > 1 and sequence.changeover is None
        ),
        "How far the cells run down (cell, curve or minimum_v): the current of the LEDs at flat"
        " cells is not known.": not all(
            voltages_of(supply, needed_v(sequence)).is_flat_known
            for supply in sequence.supplies.values()
        ),
        "The current of the board (board.current_ma): counted as nothing.": (
            sequence.board.current_ma == 0
        ),
        "Amplifier or speaker: their current is not counted in any line.": (
            sequence.amplifier is None or sequence.speaker is None
        ),
        "Whether the speaker's lead needs a capacitor: the data sheet of the amplifier says.": (
            sequence.amplifier is not None and sequence.amplifier.output == "single"
        ),
        "What sets the current of a constant-current driver (driver_reference_v): its data sheet"
        " says.": any(
            circuit.switch == "driver" and circuit.setting_ohm is None for circuit in wired.values()
        ),
        "What feeds a constant-current driver, and which of its inputs takes the output: its data"
        " sheet says.": sequence.board.lights != "drivers"
        and any(circuit.switch == "driver" for circuit in wired.values()),
        "Capacitors at the amplifier's input, and what a second input is joined to: its data sheet"
        " says.": sequence.amplifier is not None and sequence.board.sound == "pwm",
        "Which pins of the chip the outputs, buttons and selectors are: the board says.": (
            sequence.board.part is None
        ),
        "A main switch: none is counted.": True,
        "A regulator: none is counted.": sequence.regulator is None,
        "Capacitors at the regulator's input and output: its data sheet says.": (
            sequence.regulator is not None
        ),
        "Lengths of wire: the voltage drop of a line is given for each metre.": True,
    }
    return [text for text, open_ in unsaid.items() if open_]
