"""What is to be said against the wiring of a prop and its supplies."""
import math
from collections.abc import Iterator, Mapping

from fxseq.power.circuits import Circuit, pack_of, voltages_of_all
from fxseq.power.current import Draw
from fxseq.power.layout import KEPT_LIGHT
from fxseq.power.parts import led, led_kind
from fxseq.power.played import PlayedRail
from fxseq.power.resistors import RATINGS_W, USED_SHARE
from fxseq.power.sources import ADAPTOR_SHARE, TOUCH_V, adaptor_margin
from fxseq.power.switches import CHIP_MA, PIN_MA, driver_heat_w
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.model import Sequence, Supply

_RULE = "common practice, no source"
_DARK_SHARE = 0.05
_SMALL_LED_MM = 5.0
_DRIVER_W = 0.5
_VOLTAGE_OFF = 0.15


def circuit_findings(sequence: Sequence, circuits: Mapping[str, Circuit]) -> tuple[Finding, ...]:
    """Findings on the groups as they are wired, and on the supplies as they are joined."""
    found = [finding for name, circuit in circuits.items() for rule in _OF_A_GROUP for finding in rule(f"group '{name}'", circuit, sequence)]
    found += [*_chip(circuits), *_back_feed(sequence)]
    found += [finding for name, supply in sequence.supplies.items() for rule in _OF_A_SUPPLY for finding in rule(name, supply)]
    return tuple(found)


def rail_findings(name: str, supply: Supply, rail: PlayedRail) -> tuple[Finding, ...]:
    """A fault where a typical supply falls below what the prop needs, a warning where only an unlucky one does."""
    typical, low = rail.lowest.typical, rail.lowest.low
    if typical >= supply.minimum_v and low >= supply.minimum_v:
        return ()
    fault = not typical >= supply.minimum_v
    return (Finding(
        "power.rail", Weight.FAULT if fault else Weight.WARNING, f"supply '{name}'",
        f"{_volts(typical)} at {rail.lowest_at_s:.2f} s, fresh; {_volts(low)} to {_volts(rail.lowest.high)} by specimen",
        f"{supply.minimum_v:g} V", "minimum_v in the sequence file" if supply.minimum_v else "constant power: V^2 / (4 R) is all a source gives",
        "Put a larger bulk_capacitor_uf across the rail for short peaks; for long ones lower the currents, or use cells of lower resistance."),)


def adaptor_findings(name: str, supply: Supply, taken: Draw) -> tuple[Finding, ...]:
    """A note where an adaptor is used beyond the share of its rating that is planned for, yet not beyond the rating."""
    if supply.kind != "wall" or adaptor_margin(supply.maximum_current_ma, taken.peak_ma) >= 0 or taken.peak_ma > supply.maximum_current_ma:
        return ()
    return (Finding(
        "power.adaptor_margin", Weight.NOTE, f"supply '{name}'", f"{taken.peak_ma:.0f} mA at the highest",
        f"{ADAPTOR_SHARE * supply.maximum_current_ma:.0f} mA, {ADAPTOR_SHARE:.0%} of its rating", _RULE,
        "Choose a regulated, certified adaptor of the same voltage and a higher current."),)


def _volts(voltage_v: float) -> str:
    return "collapse" if math.isnan(voltage_v) else f"{voltage_v:.2f} V"


def _light(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    layout = circuit.layout
    dark = circuit.series == 0 or (layout is not None and layout.fresh_ma.typical < _DARK_SHARE * circuit.group.current_ma)
    feed = circuit.feed or voltages_of_all(sequence.supplies.values())
    source = "forward voltage, resistor and supplies in the sequence file, exponential model of the LED"
    if dark:
        yield Finding(
            "power.led_dark", Weight.FAULT, subject, f"{circuit.series or 1} in series stay dark at {feed.fresh_v if feed else 0:g} V", "some light",
            source, "Use fewer in series, a lower resistor, LEDs of a lower forward voltage, or a higher supply; a pin gives no more than pin_v.")
    elif layout is not None and layout.kept_light.typical < KEPT_LIGHT:
        kept = layout.kept_light
        yield Finding(
            "power.led_dim", Weight.WARNING, subject,
            f"{kept.typical:.0%} of its light at {feed.flat_v if feed else 0:g} V ({kept.low:.0%} to {kept.high:.0%} by specimen)",
            f"{KEPT_LIGHT:.0%}", f"{_RULE}; {source}",
            "Use a higher supply, a constant-current driver, or LEDs of a lower forward voltage; or accept that it fades as cells run down.")


def _led_current(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    group = circuit.group
    kind = led_kind(group.colour, group.forward_voltage_v)
    highest_ma = circuit.layout.fresh_ma.high if circuit.layout else group.current_ma
    if group.size_mm <= _SMALL_LED_MM and highest_ma > kind.maximum_ma:
        yield Finding(
            "power.led_current", Weight.WARNING, subject, f"up to {highest_ma:.3g} mA in one LED, at the freshest supply",
            f"{kind.maximum_ma:g} mA for an LED of up to {_SMALL_LED_MM:g} mm", kind.source,
            "Lower current_ma or raise resistor_ohm; where the LED's own data sheet allows more, keep to that.")


def _forward_voltage(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    group = circuit.group
    kind = led_kind(group.colour, group.forward_voltage_v)
    usual = led(group.colour, kind.voltage_v.typical, kind.current_ma)
    low_v, high_v = (float(diode.voltage_v(group.current_ma / 1000)) for diode in (usual.low, usual.high))
    if not low_v - 0.05 <= group.forward_voltage_v <= high_v + 0.05:
        yield Finding(
            "power.forward_voltage", Weight.NOTE, subject, f"{group.forward_voltage_v:g} V at {group.current_ma:g} mA",
            f"{low_v:.1f} to {high_v:.1f} V is usual for {group.colour.replace('_', ' ')}", kind.source,
            "Compare it with the data sheet; a module of several LEDs, or one of high power, may well differ.")


def _resistor(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    layout = circuit.layout
    if layout is not None and layout.rating_w is None:
        yield Finding(
            "power.resistor_heat", Weight.WARNING, subject, f"{layout.power_w:.2g} W in a resistor of {layout.resistor_ohm:g} ohm while lit",
            f"{USED_SHARE * RATINGS_W[-1]:g} W, half of the largest common rating", _RULE,
            "Use more LEDs in series, a lower supply, or a constant-current driver made for the current.")


def _pin(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    if circuit.switch == "pin" and circuit.channel_ma.high > PIN_MA:
        yield Finding(
            "power.pin_current", Weight.WARNING, subject, f"up to {circuit.channel_ma.high:.3g} mA a pin", f"{PIN_MA:g} mA", _RULE,
            'Write switch = "transistor", or "mosfet" for more than 100 mA; a pin gives more only where its data sheet says so, and no absolute '
            "maximum is meant to be used.")


def _driver(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    span = voltages_of_all(sequence.supplies.values())
    if circuit.switch != "driver" or span is None or circuit.series == 0:
        return
    string_v = circuit.series * circuit.group.forward_voltage_v
    heat_w = driver_heat_w(span.fresh_v, string_v, circuit.group.current_ma / 1000, circuit.strings * circuit.group.channels)
    if heat_w > _DRIVER_W:
        yield Finding(
            "power.driver_heat", Weight.WARNING, subject, f"{heat_w:.2g} W in the driver at {span.fresh_v:g} V, all of it lit",
            f"{_DRIVER_W:g} W", _RULE,
            "Use more LEDs in series or a lower supply, share the group among more drivers, or keep to the data sheet's limit with a heat sink.")


def _chip(circuits: Mapping[str, Circuit]) -> Iterator[Finding]:
    total_ma = sum(circuit.group.channels * circuit.channel_ma.high for circuit in circuits.values() if circuit.switch == "pin")
    if total_ma > CHIP_MA:
        yield Finding(
            "power.chip_current", Weight.WARNING, "board", f"up to {total_ma:.3g} mA from all pins together", f"{CHIP_MA:g} mA", _RULE,
            'Write switch = "transistor" for some of the groups; a chip gives more only where its data sheet says so.')


def _back_feed(sequence: Sequence) -> Iterator[Finding]:
    if len(sequence.supplies) > 1 and sequence.changeover is None:
        yield Finding(
            "power.back_feed", Weight.WARNING, "supplies", "nothing says what keeps them apart", "one does not feed the other",
            'Lessons In Electric Circuits III, "Diode switching"',
            'Fit a changeover switch or a switched socket (changeover = "switch"), or a diode in each (changeover = "diodes"): an adaptor that feeds '
            "into cells charges them without a charger, which may make them leak or burn.")


def _pack_voltage(name: str, supply: Supply) -> Iterator[Finding]:
    pack = pack_of(supply)
    if pack is None:
        return
    fresh_v = float(pack.open_v(0.0))
    if abs(supply.voltage_v / fresh_v - 1) > _VOLTAGE_OFF:
        yield Finding(
            "power.pack_voltage", Weight.WARNING, f"supply '{name}'", f"voltage_v is {supply.voltage_v:g} V",
            f"{fresh_v:.3g} V for {supply.cells_in_series} fresh {str(supply.cell).replace('_', ' ')} in series", pack.cell.source,
            "Correct voltage_v, cell or cells_in_series.")


def _touch(name: str, supply: Supply) -> Iterator[Finding]:
    if supply.voltage_v > TOUCH_V:
        yield Finding(
            "power.touch", Weight.WARNING, f"supply '{name}'", f"{supply.voltage_v:g} V", f"{TOUCH_V:g} V", "IEC 60598-1:2008, 8.2.3, as quoted",
            "Use a supply of lower voltage, or leave the wiring to licensed practice: a prop is touched with damp hands.")


_OF_A_SUPPLY = (_pack_voltage, _touch)
_OF_A_GROUP = (_light, _led_current, _forward_voltage, _resistor, _pin, _driver)
