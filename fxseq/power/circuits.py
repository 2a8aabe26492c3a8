"""From the description to circuits: what each group is wired like, and what each supply gives."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from fxseq.power.cells import Cell, Estimate, Pack
from fxseq.power.diodes import Diode, diode_from_point
from fxseq.power.in_series import Element
from fxseq.power.layout import (
    DARK_SHARE,
    Beside,
    Layout,
    Range,
    Route,
    Wanted,
    layout,
    longest_driven,
)
from fxseq.power.parts import Led, MosfetKind, TransistorKind, led, led_kind, parts
from fxseq.power.rail import Load
from fxseq.power.regulators import Regulation, before, fed, needed_v
from fxseq.power.resistors import standard_at_most_ohm, standard_ohm
from fxseq.power.steps import Steps
from fxseq.power.switches import (
    FORCED_BETA,
    PIN_MA,
    OnTransistor,
    Switch,
    base_current_through_a,
    base_resistor_ohm,
    mosfet_at,
    saturated_at,
    set_resistor_ohm,
)
from fxseq.sequence.derived import leds_per_channel
from fxseq.sequence.model import Group, Neighbour, Sequence, Supply
from fxseq.sequence.parts import CellCurve, Consumer

PIN_OHM = 25.0
"""Output resistance of a pin; from memory. A data sheet's limit, 0.9 V at 20 mA, is 45 ohm."""

_MOST_SWITCHED_MA = FORCED_BETA * PIN_MA / 2
"""Highest current of a transistor that is chosen unasked: its base takes half of what pins of
most chips give, for LEDs of the lowest forward voltage take more.
"""

_LEAST_MA = 1e-6
_LEAST_CAPACITY_MAH = 1e-3
_LEAST_SWITCHED_A = 1e-6
"""What a file may describe below these would only overflow."""
_USUAL_V = 0.1
"""What a transistor keeps as a rule, as long as its current is not known. [V]"""
_CLOSED = Switch(drop_v=1000.0)
"""A switch that nothing opens: it keeps more than any supply has."""


@dataclass(frozen=True)
class Circuit:
    """A group as it is wired.

    switch: what switches a channel: `pin`, `transistor`, `mosfet`, `driver`. series: LEDs of a
    string, 0 where none lights up. strings: on one channel. layout: None where a driver holds the
    current, or where none lights up. feed: what the strings hang on, for a pin its own voltage.
    regulator: in front of them, or of the board that the pin belongs to. base_ohm: resistor at the
    base of a transistor.
    """

    group: Group
    led: Led
    switch: str
    layout: Layout | None
    series: int
    strings: int
    feed: Range
    regulator: Regulation | None = None
    base_ohm: float | None = None

    @property
    def fresh_ma(self) -> Estimate | None:
        """Current of a string, lit, at the freshest supply, by corner of the tolerance; None
        where none lights up.
        """
        if self.layout:
            return self.layout.fresh_ma
        return self._held_ma

    @property
    def flat_ma(self) -> Estimate | None:
        """Current of a string, lit, at the flattest supply, by corner of the tolerance; None
        where none lights up, or where it is not known how flat that is.
        """
        if not self.feed.is_flat_known:
            return None
        if self.layout:
            return self.layout.flat_ma
        return self._held_ma

    @property
    def _held_ma(self) -> Estimate | None:
        """What a constant-current driver holds, with its tolerance."""
        held_ma = self.group.current_ma
        off = parts().drivers["constant_current"].tolerance
        if self.setting_ohm is not None:
            held_ma *= (
                set_resistor_ohm(held_ma / 1000, self.group.driver_reference_v or 0.0)
                / self.setting_ohm
            )
        if not self.series:
            return None
        return Estimate(held_ma * (1 - off), held_ma, held_ma * (1 + off))

    @property
    def setting_ohm(self) -> float | None:
        """Resistor that sets the current of a driver: the next higher standard value; None where
        the file does not say how. [ohm]
        """
        reference_v = self.group.driver_reference_v
        if not reference_v:
            return None
        return standard_ohm(
            set_resistor_ohm(max(self.group.current_ma, _LEAST_MA) / 1000, reference_v)
        )

    @property
    def channel_ma(self) -> Estimate:
        """Current of one channel, lit, at the freshest supply."""
        if self.layout:
            return self.layout.channel_ma
        held = self._held_ma or Estimate(0.0, 0.0, 0.0)
        return Estimate(
            self.strings * held.low, self.strings * held.typical, self.strings * held.high
        )

    def current_ma(self, lit: Steps) -> Steps:
        """Current of the group over time where it is fed, at the freshest supply, typical LEDs.
        [mA] lit: share of the group's full light.
        """
        return Steps(
            lit.times_s, lit.values * (self.group.channels * self.channel_ma.typical), lit.end_s
        )

    def load(self, lit: Steps) -> Load:
        """As a load on the supply over time. lit: share of the group's full light."""
        if self.layout is not None and self.switch != "pin" and self.regulator is None:
            return Load((self.layout.load(lit.values * (self.strings * self.group.channels)),))
        amperes = self.current_ma(lit).values / 1000
        if self.regulator:
            return self.regulator.load(amperes)
        return Load(current_a=amperes)


def pack_of(supply: Supply) -> Pack | None:
    """The cells of a supply, with its resistance where it says one; None where nothing says what
    they are like.
    """
    if supply.cell is None and supply.curve is None:
        return None
    cell = parts().cells[supply.cell] if supply.cell else _own_cell(supply.curve)
    rated_mah = max(cell.capacity_mah)
    capacity_mah = max(supply.cell_capacity_mah or rated_mah, _LEAST_CAPACITY_MAH)
    size = supply.cells_in_parallel * capacity_mah / rated_mah
    if supply.internal_resistance_ohm:
        cell = replace(
            cell,
            resistance_ohm=Estimate(
                *[supply.internal_resistance_ohm * size / supply.cells_in_series] * 3
            ),
        )
    return Pack(cell, supply.cells_in_series, size)


def _own_cell(curve: CellCurve) -> Cell:
    """A cell as the file describes it, without a spread."""
    fresh_v = curve.open_v[0]
    fresh_ohm = curve.resistance_ohm[0]
    return Cell(
        depth=tuple(used / 100 for used in curve.used_percent),
        open_v=tuple(curve.open_v),
        fresh_v=Estimate(*[fresh_v] * 3),
        resistance_ohm=Estimate(*[fresh_ohm] * 3),
        resistance_rise=tuple(ohms / fresh_ohm for ohms in curve.resistance_ohm),
        current_ma=tuple(curve.current_ma),
        capacity_mah=tuple(curve.capacity_mah),
        capacity_share=Estimate(*[1.0] * 3),
        end_v=curve.end_v,
        maximum_ma=math.inf,
        source="the prop file",
    )


def fresh_v(supply: Supply) -> Estimate:
    """Open-circuit voltage when fresh, by corner of the tolerance: that of the cells where they
    are known, of an adaptor with its tolerance. [V]
    """
    if supply.outlet is not None:
        usual = parts().outlets[supply.outlet].voltage_v
        return Estimate(usual.low, supply.voltage_v or usual.typical, usual.high)
    pack = pack_of(supply)
    if pack is not None:
        return pack.fresh_v
    off = 0.0
    if supply.kind == "wall":
        off = supply.tolerance_percent / 100
    volts = supply.voltage_v or 0.0
    return Estimate(volts * (1 - off), volts, volts * (1 + off))


def most_ma(supply: Supply) -> float:
    """The most it may deliver: as the file says, else what its cells or its socket are good for.
    [mA]
    """
    if supply.maximum_current_ma is not None:
        return supply.maximum_current_ma
    pack = pack_of(supply)
    if pack is not None:
        return pack.maximum_ma
    return parts().outlets[supply.outlet].maximum_ma


def stops_at_v(supply: Supply, sequence: Sequence) -> float:
    """Rail at which the prop stops: as the file says, else what its regulator needs, 0 where
    neither is known. [V]
    """
    return supply.minimum_v or needed_v(sequence)


def voltages_of(supply: Supply, least_v: float = 0.0, lost_v: float = 0.0) -> Range:
    """From flat, behind any diode, to fresh: of cells from the voltage at which the prop stops, of
    an adaptor its tolerance.

    least_v: what a regulator needs. lost_v: what a diode takes. [V]
    """
    fresh = fresh_v(supply)
    if supply.kind == "wall":
        return Range(fresh.low - lost_v, fresh.high)
    pack = pack_of(supply)
    flat_v = supply.minimum_v or least_v
    if pack:
        flat_v = max(flat_v, pack.end_v - lost_v)
    return Range(min(flat_v or fresh.low, fresh.high), fresh.high, flat_v > 0)


def voltages_of_all(
    supplies: Iterable[Supply], least_v: float = 0.0, lost_v: float = 0.0
) -> Range | None:
    """The range over all of them, since a prop is wired once; None where there are none.
    Arguments as of `voltages_of`.
    """
    ranges = [voltages_of(supply, least_v, lost_v) for supply in supplies]
    if not ranges:
        return None
    is_flat_known = all(one.is_flat_known for one in ranges)
    return Range(
        min(one.flat_v for one in ranges), max(one.fresh_v for one in ranges), is_flat_known
    )


def resistance_ohm(supply: Supply) -> Estimate:
    """Internal resistance when fresh: what the file says, else that of its cells, with their
    spread.
    """
    pack = pack_of(supply)
    if pack is None:
        return Estimate(*[supply.internal_resistance_ohm] * 3)
    low, typical, high = (float(one.resistance_ohm(0.0)) for one in reversed(pack.corners()))
    return Estimate(low, typical, high)


def changeover_diode(sequence: Sequence) -> Diode | None:
    """Through which each supply feeds the rail; None where no diodes part them."""
    if sequence.changeover != "diodes":
        return None
    return parts().diodes["schottky"].diode


def circuits(sequence: Sequence) -> dict[str, Circuit]:
    """How each group is wired, by name; empty where the file describes no supply."""
    span = voltages_of_all(sequence.supplies.values(), needed_v(sequence), _most_lost_v(sequence))
    if not span:
        return {}
    return {name: circuit(group, span, sequence) for name, group in sequence.groups.items()}


def _most_lost_v(sequence: Sequence) -> float:
    """What a changeover's diode takes where all LEDs are lit, as if each were a string of its
    own; 0 without. [V]
    """
    diode = changeover_diode(sequence)
    all_ma = sequence.board.current_ma + sum(
        group.leds * group.current_ma for group in sequence.groups.values()
    )
    if not diode:
        return 0.0
    return float(diode.voltage_v(all_ma / 1000))


def forward_v(group: Group | Neighbour) -> float:
    """Forward voltage of one LED at its current: as the file says, else usual for its colour.
    [V]
    """
    if group.forward_voltage_v is not None:
        return group.forward_voltage_v
    kind = led_kind(group.colour, None, group.current_ma)
    usual = diode_from_point(
        kind.voltage_v.typical, kind.current_ma / 1000, kind.emission, kind.series_ohm
    )
    return float(usual.voltage_v(max(group.current_ma, _LEAST_MA) / 1000))


def switch_of(group: Group) -> str:
    """What switches a channel: as the file says, else by its current."""
    if group.switch is not None:
        return group.switch
    if group.transistor is not None:
        return "transistor"
    if group.mosfet is not None:
        return "mosfet"
    if leds_per_channel(group) * group.current_ma <= _MOST_SWITCHED_MA:
        return "transistor"
    return "mosfet"


def transistor_of(group: Group) -> TransistorKind:
    """Its transistor, by what the file says of it and what is common for the rest."""
    kind = parts().transistors["npn"]
    own = group.transistor
    if own is None:
        return kind
    gain = own.gain or kind.gain
    return replace(kind, gain=gain, maximum_ma=own.maximum_current_ma or kind.maximum_ma)


def mosfet_of(group: Group) -> MosfetKind:
    """Its MOSFET, by what the file says of it and what is common for the rest."""
    kind = parts().mosfets["logic_level"]
    own = group.mosfet
    if own is None:
        return kind
    found = replace(kind, maximum_ma=own.maximum_current_ma or kind.maximum_ma)
    if own.on_ohm is None or own.gate_v is None or own.threshold_v is None:
        return found
    return replace(found, on_ohm=own.on_ohm, gate_v=own.gate_v, threshold_v=own.threshold_v)


def circuit(group: Group, span: Range, sequence: Sequence) -> Circuit:
    """How a group is wired, for supplies of this range: as its description says, and by the
    rules of `layout` where it says nothing.
    """
    leds = leds_per_channel(group)
    current_a = max(group.current_ma, _LEAST_MA) / 1000
    part = _led(group, 1000 * current_a)
    name = switch_of(group)
    consumer: Consumer = "board" if name == "pin" else "lights"
    feed = fed(consumer, sequence, span)
    regulator = before(consumer, sequence)
    if name == "driver":
        longest = longest_driven(
            part, current_a, feed.flat_v, parts().drivers["constant_current"].headroom_v.high
        )
        series = group.leds_in_series or max(
            count for count in range(1, max(longest, 1) + 1) if leds % count == 0
        )
        return Circuit(group, part, name, None, series, leds // series, feed, regulator)
    if name == "pin":
        pin_v = sequence.board.pin_v
        feed = replace(feed, flat_v=min(feed.flat_v, pin_v), fresh_v=min(feed.fresh_v, pin_v))
    diode = changeover_diode(sequence) if regulator is None and name != "pin" else None
    route = Route(Switch(on_ohm=PIN_OHM), diode, group.channels)
    wanted = Wanted(
        part,
        leds,
        current_a,
        feed,
        route,
        group.leds_in_series,
        group.resistor_ohm,
        group.shared_resistor,
        tuple(map(_beside, group.beside)),
    )
    found, base_ohm = _switched(wanted, group, name, sequence.board.pin_v)
    series, strings = (found.series, found.strings) if found else (0, 0)
    return Circuit(group, part, name, found, series, strings, feed, regulator, base_ohm)


def _beside(other: Neighbour) -> Beside:
    """Other LEDs on the resistor of a channel, as strings."""
    series = other.leds_in_series
    return Beside(
        led(other.colour, forward_v(other), other.current_ma), series, other.leds // series
    )


def relit(dark: Circuit, sequence: Sequence) -> Circuit | None:
    """A group that stays dark with the resistor, or else the string, that would be chosen here;
    None where nothing lights it.
    """
    span = voltages_of_all(sequence.supplies.values(), needed_v(sequence), _most_lost_v(sequence))
    for opened in ({"resistor_ohm": None}, {"resistor_ohm": None, "leds_in_series": None}):
        found = circuit(dark.group.model_copy(update=opened), span, sequence)
        if (
            found.layout is not None
            and found.layout.fresh_ma.typical >= DARK_SHARE * dark.group.current_ma
        ):
            return found
    return None


def _switched(
    wanted: Wanted, group: Group, name: str, pin_v: float
) -> tuple[Layout | None, float | None]:
    """The layout with this switch, and the resistor at the base of a transistor, which follows
    from the current that it switches. [ohm]
    """
    if name == "pin":
        return layout(wanted), None
    if name == "mosfet":
        kind = mosfet_of(group)
        opened = mosfet_at(kind.on_ohm, kind.gate_v, kind.threshold_v, pin_v) or _CLOSED
        return layout(replace(wanted, route=replace(wanted.route, switch=opened))), None
    usual = layout(replace(wanted, route=replace(wanted.route, switch=Switch(drop_v=_USUAL_V))))
    if usual is None:
        return None, None
    highest_a = max(usual.channel_ma.high / 1000, _LEAST_SWITCHED_A)
    own_ohm = group.transistor and group.transistor.base_resistor_ohm
    base_ohm = own_ohm or standard_at_most_ohm(base_resistor_ohm(pin_v, highest_a))
    switch = _on_transistor(
        group, pin_v, base_ohm, max(usual.channel_ma.typical / 1000, _LEAST_SWITCHED_A)
    )
    return (
        layout(replace(wanted, series=usual.series, route=replace(wanted.route, switch=switch))),
        base_ohm,
    )


def _on_transistor(group: Group, pin_v: float, base_ohm: float, collector_a: float) -> Element:
    """collector_a: of a channel as a rule."""
    kind = transistor_of(group)
    base_a = base_current_through_a(pin_v, base_ohm, collector_a, kind.gain, kind.saturation_a)
    if base_a <= 0:
        return _CLOSED
    stated_v = group.transistor and group.transistor.saturation_v
    reverse_gain = kind.reverse_gain
    collector_ohm = kind.collector_ohm
    if stated_v:
        reverse_gain, collector_ohm = saturated_at(
            stated_v, collector_a, kind.gain, kind.reverse_gain
        )
    return OnTransistor(base_a, kind.gain, reverse_gain, collector_ohm)


def _led(group: Group, current_ma: float) -> Led:
    point = group.second_point
    second = point and (point.forward_voltage_v, point.current_ma, point.series_ohm)
    typical_v = forward_v(group)
    usual = led(group.colour, typical_v, current_ma, second=second)
    if group.forward_voltage_min_v is None and group.forward_voltage_max_v is None:
        return usual
    spread_v = (group.forward_voltage_min_v or typical_v, group.forward_voltage_max_v or typical_v)
    own = led(group.colour, typical_v, current_ma, spread_v, second)
    if group.forward_voltage_min_v is None:
        own = replace(own, low=usual.low)
    if group.forward_voltage_max_v is None:
        own = replace(own, high=usual.high)
    return own
