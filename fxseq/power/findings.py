"""What is to be said against the wiring of a prop and its supplies."""
import math
from collections.abc import Iterator, Mapping

from fxseq.power.changeover import changeover_findings
from fxseq.power.circuits import Circuit, forward_v, fresh_v, mosfet_of, most_ma, pack_of, relit, resistance_ohm, transistor_of
from fxseq.power.current import Draw
from fxseq.power.layout import DARK_SHARE, KEPT_LIGHT, RESISTOR_TOLERANCE, sharing_findings
from fxseq.power.parts import SMALL_LED_MA, led, led_kind, parts
from fxseq.power.played import PlayedRail
from fxseq.power.regulator_checks import regulator_findings
from fxseq.power.resistors import RATINGS_W, USED_SHARE
from fxseq.power.schedule import drive
from fxseq.power.parts import ADAPTOR_SHARE, DAMP_V, TOUCH_V, adaptor_margin
from fxseq.power.switches import BROWN_OUT_V, CHIP_MA, FORCED_BETA, FULL_SPEED_V, PIN_MA, driver_heat_w, has_headroom, pwm_hz
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Sequence, Supply
from fxseq.sequence.quantities import amount, from_to, number, quantity

_RULE = "common practice, no source"
_SMALL_LED_MM = 5.0
_BARE_LED_W = 0.25
_DRIVER_W = 0.5
_VOLTAGE_OFF = 0.15
_MODEL = "forward voltage, resistor and supplies in the prop file, exponential model of the LED"
_GENERIC = "generic parts of this program"
_RESETS = (
    f"8-bit chips reset at {', '.join(f'{volts:g}' for volts in BROWN_OUT_V['8-bit chip'])} V, depending on their settings, and need {FULL_SPEED_V:g} V "
    f"for 16 MHz or more (from memory); chips of 3.3 V reset at {' to '.join(f'{volts:g}' for volts in BROWN_OUT_V['chip of 3.3 V'])} V (from memory); a "
    "regulator in front of the chip adds its own dropout.")
_AS_DATA_SHEET = "The figure is as good as the prop file. The limit is that of common parts; the data sheet of your own part decides."

EXPLAINED = explained(
    Explanation(
        "power.rail", "Does the supply's voltage stay high enough while the prop plays?",
        "The currents of LEDs, amplifier and board cause a voltage drop in the supply's internal resistance. It is worked out for each moment, starting "
        "from the fresh supply. A class D amplifier takes more current as the voltage falls; a capacitor carries short peaks. A finding where the "
        "lowest voltage of a typical or a worst-case supply is below what the prop needs; a fault where that of the typical one is. Where the file does "
        "not say what the prop needs, a warning where less than half of the fresh voltage is left. 'Collapse' means that the supply cannot give that "
        "power at any voltage.",
        "minimum_v in the prop file, or what its regulator needs; without these the most power that a source can give, V^2 / (4 R)",
        "your own files",
        f"Within about 10 % for fresh cells at room temperature. Cold or half-empty cells sag more, so leave a margin. For minimum_v: {_RESETS}",
        formula="{V} = {V0} - {drop}; {Vlow} < {Vmin}",
        symbols={"V": "lowest voltage with a typical supply, in V", "Vlow": "lowest voltage with a worst-case supply, in V",
                 "t": "time of that moment, in s",
                 "V0": "voltage of the fresh supply with no load, in V", "R": "its internal resistance, in ohm",
                 "drop": "voltage drop in that resistance and in a diode of the changeover at that moment, in V",
                 "C": "capacitor across the rail, in uF", "Vmin": "voltage that the prop needs, minimum_v or what its regulator needs, in V"}),
    Explanation(
        "power.adaptor_margin", "Is there a margin between the prop's peak current and the adaptor's rating?",
        f"An adaptor that runs near its rating gets hot and ages. A finding where the highest current is above {ADAPTOR_SHARE:.0%} of the "
        "rating; above the rating itself power.supply_current takes over.",
        f"{_RULE}; 70 to 80 % of the rating, from memory", "from memory",
        "A rule of thumb on the safe side. The adaptor's label says what it can really give.",
        formula=f"{{Ipeak}} > {ADAPTOR_SHARE:g} * {{Irated}}",
        symbols={"Ipeak": "highest current, in mA", "Irated": "maximum_current_ma of the supply, in mA"}),
    Explanation(
        "power.led_dark", "Do the LEDs light up at all?",
        f"LEDs in series need the sum of their forward voltages. A fault where less than {DARK_SHARE:.0%} of the wanted current flows at the freshest "
        "supply, or where no number of LEDs in series works; a warning where only LEDs of the highest forward voltage stay dark.",
        _MODEL, "arithmetic", "Certain if the forward voltage is right: were the voltages close together, the LEDs would still glow.",
        formula="{Vsum} = {n} * {Vf}",
        symbols={"Vsum": "voltage that the LEDs need together, in V", "n": "LEDs in series", "Vf": "forward voltage of one, in V",
                 "V": "highest voltage that feeds them, in V", "I": "current that flows, in mA", "Iwanted": "current_ma of the group, in mA"}),
    Explanation(
        "power.led_dim", "How much of their light do the LEDs keep when the cells run down?",
        "The current of a string is worked out at the freshest and at the flattest supply; light is proportional to current. A finding where less than "
        "a third of the light is left, which looks like two thirds to the eye.",
        f"{_RULE}; {_MODEL}", "common practice",
        "The share depends on a few tenths of a volt, so it differs widely from LED to LED: see the range in the finding. The slope of the LED's curve "
        "is assumed from its colour unless the group has a second_point.",
        formula="{k} = {Iflat} / {Ifresh}",
        symbols={"k": "share of the light that is left", "Iflat": "current of a string at the flat supply, in mA",
                 "Ifresh": "at the fresh supply, in mA"}),
    Explanation(
        "power.led_weak", "Do the LEDs get the current that they should have?",
        f"The current of a string of typical LEDs is worked out at the freshest supply. A finding where it is less than {KEPT_LIGHT:.0%} of current_ma, "
        "but enough for some light.",
        f"{_RULE}; {_MODEL}", "common practice",
        "As good as the forward voltage and the resistor in the file. Where supply and forward voltage are close, a few tenths of a volt decide.",
        formula=f"{{I}} < {{Iwanted}} / {1 / KEPT_LIGHT:g}",
        symbols={"I": "current of a string, in mA", "Iwanted": "current_ma of the group, in mA"}),
    Explanation(
        "power.led_current", "Does an LED get more current than it can take for long?",
        "The current of an LED of the lowest forward voltage is worked out at the freshest supply, where it is highest. A finding where it is "
        f"above what common LEDs of up to {_SMALL_LED_MM:g} mm of that colour are made for.",
        _GENERIC, "data sheets", _AS_DATA_SHEET,
        formula="{I} > {Imax}", symbols={"I": "highest current of one LED, in mA", "Imax": "continuous current of common LEDs of this colour, in mA"}),
    Explanation(
        "power.led_heat", "Does a power LED need a heat sink?",
        f"An LED of more than {SMALL_LED_MA:g} mA is known here by its current alone, so the limit of small LEDs is not applied to it. A note where it "
        f"turns more than {_BARE_LED_W:g} W into heat and light at the freshest supply.",
        _RULE, "common practice",
        "The power is right within 20 %. The data sheet says what the LED can take and with which heat sink. Hot parts can burn skin.",
        formula="{P} = {I} * {Vf}",
        symbols={"P": "power in one LED, in W", "I": "highest current of one LED, in mA", "Vf": "its forward voltage at that, in V"}),
    Explanation(
        "power.forward_voltage", "Is the forward voltage usual for an LED of this colour?",
        "Each colour of LED has its usual range of forward voltages. The curve of the LED converts it to the group's current. A finding where the one "
        "in the file is outside: often a typing error, or the voltage of a whole string.",
        _GENERIC, "data sheets", "A hint, not a proof: the ranges are from a few data sheets, a textbook and an amateur's measurements.",
        formula="{Vf} outside {Vlow} to {Vhigh}",
        symbols={"Vf": "forward_voltage_v of the group, in V", "I": "current that it is stated at, in mA", "Vlow": "lowest usual forward voltage, in V",
                 "Vhigh": "highest usual forward voltage, in V"}),
    Explanation(
        "power.resistor_heat", "Does a resistor get too hot?",
        f"A resistor turns current into heat. A finding where that is more than half of {RATINGS_W[-1]:g} W, the largest common rating; inside a warm "
        "prop the limit is lower. The highest current counts, with a resistor 5 % too low. Hot parts can burn skin and soften plastic.",
        _RULE, "common practice", "The heat is right within 20 %; to use half of a rating is on the safe side.",
        formula="{P} = {I}^2 * {R} * " + f"{1 - RESISTOR_TOLERANCE:g}",
        symbols={"P": "heat while lit, in W", "I": "highest current in the resistor, in A", "R": "resistance, in ohm"}),
    Explanation(
        "power.pin_current", "Does a pin of the chip give more current than it should?",
        "The currents of all strings on a channel are added up, for LEDs of the lowest forward voltage at the freshest supply. The base of a transistor "
        "takes a tenth of the current that it switches. A finding where a pin that feeds LEDs or a base gives more than the pins of most chips can.",
        _RULE, "common practice", _AS_DATA_SHEET,
        formula="{I} > {Imax}", symbols={"I": "highest current of a pin, in mA", "Imax": "current that pins of most chips can give, in mA"}),
    Explanation(
        "power.switch_current", "Can the switch of a channel carry its current?",
        "The currents of all strings on a channel are added up, for LEDs of the lowest forward voltage at the freshest supply. A finding where a common "
        "part of that kind of switch is rated for less.",
        _GENERIC, "data sheets", _AS_DATA_SHEET,
        formula="{I} > {Imax}",
        symbols={"I": "highest current of a channel, in mA", "Imax": "rated current of the common part, in mA",
                 "P": "heat in it: current times the voltage across it; for a driver see power.driver_heat"}),
    Explanation(
        "power.gate_voltage", "Does a pin of the board turn the MOSFET fully on?",
        "A MOSFET is fully on only from the gate voltage at which its data sheet states its resistance. A finding where a pin gives less: the "
        "MOSFET may be half on, dim and hot.",
        "mosfet in the prop file, or generic parts of this program", "data sheets",
        f"{_AS_DATA_SHEET} Light and current are worked out with its resistance at this gate voltage, which is estimated from its threshold and from its "
        "resistance at the gate voltage in its data sheet. Thresholds differ by some tenths of a volt, so below that gate voltage the figure is a guess.",
        formula="{Vpin} < {Vgate}",
        symbols={"Vpin": "voltage of a pin, pin_v of the board, in V", "Vgate": "gate voltage at which its resistance is stated, in V"}),
    Explanation(
        "power.chip_current", "Do all pins of the chip together give more current than they should?",
        "The highest currents of all channels on pins, and the base currents of transistors, are added up as if all were lit at once. A finding where "
        "the sum is more than most chips can give.",
        _RULE, "common practice", _AS_DATA_SHEET,
        formula="{I} > {Imax}",
        symbols={"I": "current of all pins together, in mA", "Imax": "current that most chips can give, in mA", "groups": "share of each group, in mA"}),
    Explanation(
        "power.pwm_rate", "Can the chip dim in so many steps at this frequency?",
        "In each period a timer counts the clock of the chip up to the highest step. A finding where the clock is too slow for that, for a chip whose "
        "clock and dimming are described.",
        "a maker's section on fast PWM: f = clock / 2^bits", "data sheets",
        "The most that one timer at full clock can do; timers of fewer bits, or PWM made by a program, do less.",
        formula="{f} > {fclk} / 2^{b}",
        symbols={"f": "dimming_hz of the board, in Hz", "fclk": "clock of its processor, in Hz", "b": "pwm_bits of the board"}),
    Explanation(
        "power.driver_headroom", "Has a constant-current driver enough voltage left to hold its current?",
        "A driver needs some voltage for itself besides that of its LEDs. A finding where LEDs of the highest forward voltage leave it less than a "
        "generic driver needs at the flattest supply; a fault where typical LEDs do so even at the freshest.",
        _GENERIC, "data sheets", "As good as the forward voltage. Newer drivers need only a third of the headroom: see the data sheet.",
        formula="{Vsum} = {n} * {Vf}; {Vsum} + {Vhead} > {Vflat}",
        symbols={"Vsum": "voltage that the LEDs need together, in V", "n": "LEDs in series", "Vf": "highest forward voltage of one, in V",
                 "Vhead": "headroom that the driver needs, in V", "Vflat": "lowest voltage at its input, in V"}),
    Explanation(
        "power.driver_heat", "Does a constant-current driver get too hot?",
        f"A driver takes up the spare voltage and turns it into heat. A finding where that is more than {_DRIVER_W:g} W with the whole group lit at the "
        "freshest supply.",
        _RULE, "common practice", "The heat is right within 10 %. How much the driver can take depends on its case and on the air around it.",
        formula="{P} = ({V} - {n} * {Vf}) * {I} * {k}",
        symbols={"P": "heat, in W", "V": "highest voltage that feeds it, in V", "n": "LEDs in series", "Vf": "forward voltage of one, in V",
                 "I": "current of a string, in A", "k": "strings of the group"}),
    Explanation(
        "power.pack_voltage", "Does the voltage in the file match the cells in the file?",
        "The voltage of a fresh pack is that of one cell times the number of cells in series. All figures use that voltage; voltage_v is only compared "
        f"with it. A finding where voltage_v is off by more than {_VOLTAGE_OFF:.0%}.",
        _GENERIC, "data sheets", "Good enough to find a wrong number of cells; not to tell a fresh cell from a used one.",
        formula="{Vpack} = {n} * {Vcell}",
        symbols={"Vpack": "voltage of the fresh pack, in V", "n": "cells in series", "Vcell": "voltage of one fresh cell, in V",
                 "V": "voltage_v of the supply, in V"}),
    Explanation(
        "power.cell_current", "Does the file ask more of the cells than their kind can give?",
        "Each kind of cell has a current that it can give for long; larger cells, or cells in parallel, give more. A warning where maximum_current_ma "
        "is above it.",
        _RULE, "common practice",
        "A rule of thumb: cells made for high currents give more, as their data sheet says; old and cold ones give less.",
        formula="{I} > {Imax}",
        symbols={"I": "maximum_current_ma of the supply, in mA", "Imax": "current that such cells can give, in mA"}),
    Explanation(
        "power.touch", "Is the voltage low enough to touch?",
        f"A prop is held in damp hands. A note where a supply's voltage is above {DAMP_V:g} V, the highest that may be touched in damp places; a warning "
        f"above {TOUCH_V:g} V, the highest for lamps that are touched in other than ordinary conditions.",
        "EN 60204-1, 6.4.1, and IEC 60598-1:2008, 8.2.3, as quoted", "a standard",
        "The limits come from quotations; the standards themselves, which are for machines and for lamps, were not read. They are no permission: local "
        "codes and licensed practice decide.",
        formula="{V} > {Vmax}", symbols={"V": "voltage of the supply when fresh, in V", "Vmax": "highest voltage that may be touched, in V"}),
    Explanation(
        "power.outlet_current", "Does the file ask more of a socket than its kind can give?",
        "Each kind of socket can give a certain current. A warning where maximum_current_ma is above it. A note where it is above what the socket of a "
        "computer gives before a device asks for more; a bare lead never asks.",
        _GENERIC, "data sheets", "As good as its source, which the finding names; many sockets give more, weak ones less.",
        formula="{I} > {Imax}", symbols={"I": "maximum_current_ma of the supply, in mA", "Imax": "current that the socket can give, in mA"}),
    Explanation(
        "power.outlet_capacitor", "Does the capacitor on the rail draw too much at the moment of plugging in?",
        "An empty capacitor is a short circuit for a moment. A finding where bulk_capacitor_uf is above what may be connected to such a socket at once.",
        _GENERIC, "data sheets", "As good as its source, which the finding names; most chargers take more, computers may switch off.",
        formula="{C} > {Cmax}", symbols={"C": "bulk_capacitor_uf of the supply, in uF", "Cmax": "capacitance that may be connected at once, in uF"}),
)


def circuit_findings(sequence: Sequence, circuits: Mapping[str, Circuit]) -> tuple[Finding, ...]:
    """Findings on the groups as they are wired, and on the supplies as they are joined."""
    found = [finding for name, circuit in circuits.items() for rule in _OF_A_GROUP for finding in rule(f"group '{name}'", circuit, sequence)]
    found += [*_chip(circuits, sequence.board.pin_v), *_pwm(sequence), *changeover_findings(sequence), *regulator_findings(sequence)]
    found += [finding for name, supply in sequence.supplies.items() for rule in _OF_A_SUPPLY for finding in rule(name, supply)]
    return tuple(found)


def rail_findings(name: str, supply: Supply, rail: PlayedRail, stops_at_v: float) -> tuple[Finding, ...]:
    """A fault where a typical supply falls below what the prop needs, a warning where only an unlucky one does.

    stops_at_v: what the prop needs. What is more than a fresh supply has is power.dropout. [V]
    """
    typical, low, is_dropout = rail.lowest.typical, rail.lowest.low, fresh_v(supply).typical < stops_at_v
    needed_v, needed = stops_at_v, quantity(stops_at_v, "V")
    if not stops_at_v:
        needed_v = fresh_v(supply).typical / 2
        needed = f"{amount(needed_v, 'V')}, half of the fresh voltage, as minimum_v is missing"
    if (typical >= needed_v and (low >= needed_v or not stops_at_v)) or is_dropout:
        return ()
    fault = not typical >= stops_at_v
    return (EXPLAINED["power.rail"].finding(
        Weight.FAULT if fault else Weight.WARNING, f"supply '{name}'",
        f"{_volts(typical)} at {rail.lowest_at_s:.2f} s, fresh; {_volts(low)} to {_volts(rail.lowest.high)} from part to part", needed,
        "Against short peaks put a larger capacitor across the rail (bulk_capacitor_uf); against long ones lower the currents or use cells of lower "
        "resistance.",
        {"V": _volts(typical), "Vlow": _volts(low), "t": f"{rail.lowest_at_s:.2f} s", "V0": f"{fresh_v(supply).typical:.2f} V",
         "R": f"{number(resistance_ohm(supply).typical)} ohm", "drop": "all" if math.isnan(typical) else f"{fresh_v(supply).typical - typical:.2f} V",
         "C": quantity(supply.bulk_capacitor_uf, "uF"), "Vmin": amount(needed_v, "V")}),)


def adaptor_findings(name: str, supply: Supply, taken: Draw) -> tuple[Finding, ...]:
    """A note where an adaptor is used beyond the share of its rating that is planned for, yet not beyond the rating."""
    rated_ma = most_ma(supply)
    if supply.kind != "wall" or adaptor_margin(rated_ma, taken.peak_ma) >= 0 or taken.peak_ma > rated_ma:
        return ()
    return (EXPLAINED["power.adaptor_margin"].finding(
        Weight.NOTE, f"supply '{name}'", f"{taken.peak_ma:.0f} mA peak",
        f"{ADAPTOR_SHARE * rated_ma:.0f} mA, {ADAPTOR_SHARE:.0%} of its rating",
        "Choose a regulated, certified adaptor of the same voltage and a higher current.",
        {"Ipeak": f"{taken.peak_ma:.0f} mA", "Irated": f"{rated_ma:g} mA"}),)


def _volts(voltage_v: float) -> str:
    return "collapse" if math.isnan(voltage_v) else f"{voltage_v:.2f} V"


def _light(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    """One finding: LEDs that stay dark, else those that get little, else those that go dim with the cells."""
    found, feed, wanted_ma = circuit.layout, circuit.feed, circuit.group.current_ma
    if circuit.series == 0:
        yield _dark(subject, circuit, sequence, 0.0, "")
    if found is None:
        return
    if found.fresh_ma.low < DARK_SHARE * wanted_ma:
        is_typical = found.fresh_ma.typical < DARK_SHARE * wanted_ma
        lit_ma = found.fresh_ma.typical if is_typical else found.fresh_ma.low
        yield _dark(subject, circuit, sequence, lit_ma, "" if is_typical else " with LEDs of the highest forward voltage")
    elif found.fresh_ma.typical < KEPT_LIGHT * wanted_ma:
        yield EXPLAINED["power.led_weak"].finding(
            Weight.WARNING, subject, f"{amount(found.fresh_ma.typical, 'mA')} in a string at {amount(feed.fresh_v, 'V')}, fresh",
            f"{KEPT_LIGHT:.0%} of current_ma, {quantity(wanted_ma, 'mA')}",
            "Lower resistor_ohm or put fewer in series. If you want so little light, write the current that flows as current_ma.",
            {"I": f"{number(found.fresh_ma.typical)} mA", "Iwanted": quantity(wanted_ma, "mA")})
    elif found.kept_light.typical < KEPT_LIGHT:
        kept = found.kept_light
        yield EXPLAINED["power.led_dim"].finding(
            Weight.WARNING, subject,
            f"{kept.typical:.0%} of its light at {amount(feed.flat_v, 'V')} ({kept.low:.0%} to {kept.high:.0%} from part to part)",
            f"{KEPT_LIGHT:.0%}",
            "Use a higher supply voltage, a constant-current driver, or LEDs of a lower forward voltage; or accept that the light fades as the cells "
            "run down.",
            {"k": f"{kept.typical:.1%}", "Iflat": f"{number(found.flat_ma.typical)} mA", "Ifresh": f"{number(found.fresh_ma.typical)} mA"})


def _dark(subject: str, circuit: Circuit, sequence: Sequence, lit_ma: float, which: str) -> Finding:
    """which: of the LEDs, in words; empty for all of them."""
    group, series, fresh_v = circuit.group, circuit.series or circuit.group.leds_in_series or 1, circuit.feed.fresh_v
    each_v = float((circuit.led.high if which else circuit.led.typical).voltage_v(group.current_ma / 1000))
    rest = which or _lit_by(circuit, sequence)
    return EXPLAINED["power.led_dark"].finding(
        Weight.WARNING if which else Weight.FAULT, subject, f"{series} in series stay dark at {amount(fresh_v, 'V')}{rest}", "some light",
        "Use fewer in series, a lower resistor, LEDs of a lower forward voltage, or a higher supply voltage; a pin gives no more than pin_v.",
        {"Vsum": f"{number(series * each_v)} V", "n": f"{series}", "Vf": f"{number(each_v)} V", "V": f"{number(fresh_v, 4)} V",
         "I": f"{number(lit_ma)} mA", "Iwanted": f"{group.current_ma:g} mA"})


def _lit_by(circuit: Circuit, sequence: Sequence) -> str:
    """What would light LEDs that a maker's string or resistor leaves dark, in words; empty where nothing does."""
    better = relit(circuit, sequence)
    if better is None or better.layout is None:
        return ""
    ohm, lit_ma = better.layout.resistor_ohm, better.layout.fresh_ma.typical
    return f"; {better.series} in series with {amount(ohm, 'ohm', 6)} would get {amount(lit_ma, 'mA')}"


def _led_current(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    group = circuit.group
    kind = led_kind(group.colour, group.forward_voltage_v, group.current_ma)
    highest_ma = circuit.fresh_ma.high if circuit.fresh_ma else 0.0
    if group.current_ma > SMALL_LED_MA:
        yield from _power_led(subject, circuit, highest_ma)
    elif group.size_mm <= _SMALL_LED_MM and highest_ma > kind.maximum_ma:
        yield EXPLAINED["power.led_current"].finding(
            Weight.WARNING, subject, f"up to {amount(highest_ma, 'mA')} in one LED, at the freshest supply",
            f"{kind.maximum_ma:g} mA for an LED of up to {_SMALL_LED_MM:g} mm",
            "Lower current_ma or raise resistor_ohm. If the LED's own data sheet allows more, keep to that.",
            {"I": f"{number(highest_ma)} mA", "Imax": f"{kind.maximum_ma:g} mA"}, kind.source)


def _power_led(subject: str, circuit: Circuit, highest_ma: float) -> Iterator[Finding]:
    """What an LED of power needs: none of its figures is known here but its current."""
    heat_w = highest_ma / 1000 * float(circuit.led.typical.voltage_v(highest_ma / 1000))
    if heat_w > _BARE_LED_W:
        yield EXPLAINED["power.led_heat"].finding(
            Weight.NOTE, subject, f"up to {amount(heat_w, 'W', 2)} in one LED, at the freshest supply",
            f"{_BARE_LED_W:g} W without a heat sink",
            "Mount each on a heat sink, and see its data sheet for what it can take. If current_ma is a typing error, correct it: common LEDs of up to "
            "5 mm take some 30 mA.",
            {"P": f"{number(heat_w)} W", "I": f"{number(highest_ma)} mA", "Vf": f"{number(heat_w / highest_ma * 1000)} V"})


def _forward_voltage(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    group = circuit.group
    if group.forward_voltage_v is None:
        return
    kind = led_kind(group.colour, group.forward_voltage_v, group.current_ma)
    usual = led(group.colour, kind.voltage_v.typical, kind.current_ma)
    low_v, high_v = (float(diode.voltage_v(group.current_ma / 1000)) for diode in (usual.low, usual.high))
    if not low_v - 0.05 <= group.forward_voltage_v <= high_v + 0.05:
        yield EXPLAINED["power.forward_voltage"].finding(
            Weight.NOTE, subject, f"{group.forward_voltage_v:g} V at {group.current_ma:g} mA",
            f"{low_v:.1f} to {high_v:.1f} V is usual for {group.colour.replace('_', ' ')}",
            "Compare it with the data sheet; a module of several LEDs may differ.",
            {"Vf": f"{group.forward_voltage_v:g} V", "I": f"{group.current_ma:g} mA", "Vlow": f"{low_v:.2f} V", "Vhigh": f"{high_v:.2f} V"},
            kind.source)


def _shared(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    if circuit.layout is not None:
        yield from sharing_findings(subject, circuit.layout, circuit.feed.fresh_v)


def _resistor(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    found = circuit.layout
    if found is not None and found.rating_w is None:
        yield EXPLAINED["power.resistor_heat"].finding(
            Weight.WARNING, subject, f"{amount(found.power_w, 'W', 2)} in a resistor of {amount(found.resistor_ohm, 'ohm', 6)} while lit",
            f"{USED_SHARE * RATINGS_W[-1]:g} W, half of the largest common rating",
            "Use more LEDs in series, a lower supply voltage, or a constant-current driver made for the current.",
            {"P": f"{number(found.power_w)} W", "I": f"{number(found.channel_ma.high / 1000 * found.sharing / found.strings)} A",
             "R": quantity(found.resistor_ohm, "ohm")})


def _pin(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    driven = drive(circuit, sequence.board.pin_v)
    if driven is not None and driven.pin_ma > PIN_MA:
        into, most = ("", f' switch = "transistor", or "mosfet" for more than {PIN_MA * FORCED_BETA:g} mA') if circuit.switch == "pin" else \
            (" into a base", ' switch = "mosfet", whose gate takes almost no current')
        yield EXPLAINED["power.pin_current"].finding(
            Weight.WARNING, subject, f"up to {amount(driven.pin_ma, 'mA')} a pin{into}", f"{PIN_MA:g} mA",
            f"Write{most}. A pin gives more only where its data sheet says so; an absolute maximum is not for use.",
            {"I": f"{number(driven.pin_ma)} mA", "Imax": f"{PIN_MA:g} mA"})


def _switch(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    """Whether the generic switch stands the current of a channel, and whether an output opens it."""
    group = circuit.group
    kinds = {"transistor": transistor_of(group), "mosfet": mosfet_of(group), "driver": parts().drivers["constant_current"]}
    # Each string of a driver has an output of its own.
    current_ma = group.current_ma if circuit.switch == "driver" else circuit.channel_ma.high
    kind = kinds.get(circuit.switch)
    heat = _switch_heat(circuit, current_ma)
    if kind is not None and current_ma > kind.maximum_ma:
        yield EXPLAINED["power.switch_current"].finding(
            Weight.WARNING, subject, f"up to {current_ma:.0f} mA in one {circuit.switch}{f', which makes {heat} of heat in it' if heat else ''}",
            f"{kind.maximum_ma:g} mA",
            "Share the LEDs among more channels, choose a stronger kind of switch, or use a part whose data sheet allows the current.",
            {"I": f"{number(current_ma)} mA", "Imax": f"{kind.maximum_ma:g} mA", "P": heat or "that of all its outputs"}, kind.source)
    if circuit.switch == "mosfet" and sequence.board.pin_v < kinds["mosfet"].gate_v:
        yield EXPLAINED["power.gate_voltage"].finding(
            Weight.WARNING, subject, f"pin_v is {sequence.board.pin_v:g} V", f"{kinds['mosfet'].gate_v:g} V",
            'Use a MOSFET whose data sheet states its resistance at this voltage or less, or a transistor (switch = "transistor").',
            {"Vpin": f"{sequence.board.pin_v:g} V", "Vgate": f"{kinds['mosfet'].gate_v:g} V"}, kinds["mosfet"].source)


def _switch_heat(circuit: Circuit, current_ma: float) -> str:
    """What a switch that is on turns into heat; empty for a driver, whose outputs share a case."""
    if circuit.layout is None:
        return ""
    kept_v = float(circuit.layout.route.switch.voltage_v(current_ma / 1000))
    return amount(current_ma / 1000 * kept_v, "W", 2)


def _driver_headroom(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    """Of the strings that a maker has chosen; those that are laid out here leave it its headroom."""
    span = circuit.feed
    if circuit.switch != "driver" or circuit.series == 0:
        return
    needs = parts().drivers["constant_current"].headroom_v
    lowest_v, usual_v = (circuit.series * float(diode.voltage_v(circuit.group.current_ma / 1000)) for diode in (circuit.led.high, circuit.led.typical))
    if not has_headroom(span.flat_v, lowest_v, needs.high):
        yield EXPLAINED["power.driver_headroom"].finding(
            Weight.WARNING if has_headroom(span.fresh_v, usual_v, needs.typical) else Weight.FAULT, subject,
            f"{circuit.series} in series need up to {amount(lowest_v + needs.high, 'V')} with their driver; the supply gives "
            f"{from_to(span.flat_v, span.fresh_v, 'V')}",
            amount(span.flat_v, "V"),
            "Use fewer in series, a higher supply voltage, or LEDs of a lower forward voltage; below that voltage the light goes dim.",
            {"Vsum": f"{number(lowest_v)} V", "n": f"{circuit.series}", "Vf": f"{number(lowest_v / circuit.series)} V", "Vhead": f"{needs.high:g} V",
             "Vflat": f"{number(span.flat_v, 4)} V"}, parts().drivers["constant_current"].source)


def _driver(subject: str, circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    span = circuit.feed
    if circuit.switch != "driver" or circuit.series == 0:
        return
    led_v, strings = forward_v(circuit.group), circuit.strings * circuit.group.channels
    heat_w = driver_heat_w(span.fresh_v, circuit.series * led_v, circuit.group.current_ma / 1000, strings)
    if heat_w > _DRIVER_W:
        yield EXPLAINED["power.driver_heat"].finding(
            Weight.WARNING, subject, f"{amount(heat_w, 'W', 2)} in the driver at {amount(span.fresh_v, 'V')}, with the whole group lit", f"{_DRIVER_W:g} W",
            "Use more LEDs in series or a lower supply voltage, share the group among more drivers, or keep to the data sheet's limit with a heat sink.",
            {"P": f"{number(heat_w)} W", "V": f"{number(span.fresh_v, 4)} V", "n": f"{circuit.series}", "Vf": f"{number(led_v)} V",
             "I": quantity(circuit.group.current_ma / 1000, "A"), "k": f"{strings}"})


def _chip(circuits: Mapping[str, Circuit], pin_v: float) -> Iterator[Finding]:
    """What all outputs give at once: the LEDs on pins, and the base currents of transistors."""
    driven = ((name, circuit.group.channels, drive(circuit, pin_v)) for name, circuit in circuits.items())
    asked_ma = {name: channels * each.pin_ma for name, channels, each in driven if each is not None}
    total_ma = sum(asked_ma.values())
    if total_ma > CHIP_MA:
        yield EXPLAINED["power.chip_current"].finding(
            Weight.WARNING, "board", f"up to {total_ma:.0f} mA from all pins together", f"{CHIP_MA:g} mA",
            'Write switch = "transistor" for groups on pins, and switch = "mosfet" for large groups on transistors: the base of a transistor takes a '
            "tenth of the current that it switches. A chip gives more only where its data sheet says so.",
            {"I": f"{number(total_ma)} mA", "Imax": f"{CHIP_MA:g} mA",
             "groups": ", ".join(f"{name} {number(amount_ma)} mA" for name, amount_ma in asked_ma.items())})


def _pwm(sequence: Sequence) -> Iterator[Finding]:
    """Whether the chip's clock is fast enough for the steps and the frequency of the dimming."""
    board = sequence.board
    if board.processor is None or board.dimming_hz is None:
        return
    most_hz = pwm_hz(board.processor.clock_mhz * 1e6, board.pwm_bits)
    if board.dimming_hz > most_hz:
        yield EXPLAINED["power.pwm_rate"].finding(
            Weight.WARNING, "board", f"dimming_hz is {quantity(board.dimming_hz, 'Hz')} with {board.pwm_bits} bits",
            f"{amount(most_hz, 'Hz')} at a clock of {quantity(board.processor.clock_mhz, 'MHz')}",
            "Lower dimming_hz or pwm_bits; or let a separate chip dim, and then leave out processor or dimming_hz.",
            {"f": quantity(board.dimming_hz, "Hz"), "fclk": quantity(board.processor.clock_mhz * 1e6, "Hz"), "b": f"{board.pwm_bits}"})


def _pack_voltage(name: str, supply: Supply) -> Iterator[Finding]:
    pack = pack_of(supply)
    if pack is None or supply.voltage_v is None:
        return
    pack_v = pack.fresh_v.typical
    if abs(supply.voltage_v / pack_v - 1) > _VOLTAGE_OFF:
        yield EXPLAINED["power.pack_voltage"].finding(
            Weight.WARNING, f"supply '{name}'", f"voltage_v is {supply.voltage_v:g} V",
            f"{amount(pack_v, 'V')} for {supply.cells_in_series} fresh {_cells(supply)} in series",
            "Correct voltage_v, cell or cells_in_series.",
            {"Vpack": f"{number(pack_v)} V", "n": f"{supply.cells_in_series}", "Vcell": f"{number(pack_v / supply.cells_in_series)} V",
             "V": f"{supply.voltage_v:g} V"}, pack.cell.source)


_CELLS = {"alkaline_aa": "alkaline AA", "nimh_aa": "NiMH AA", "li_ion": "Li-ion", "alkaline_9v": "alkaline 9 V"}


def _cells(supply: Supply) -> str:
    """The kind of its cells in words."""
    return f"{_CELLS[supply.cell]} cells" if supply.cell else "cells of this curve"


def _cell_current(name: str, supply: Supply) -> Iterator[Finding]:
    pack = pack_of(supply)
    if pack is not None and supply.maximum_current_ma is not None and supply.maximum_current_ma > pack.maximum_ma:
        yield EXPLAINED["power.cell_current"].finding(
            Weight.WARNING, f"supply '{name}'", f"maximum_current_ma is {supply.maximum_current_ma:g} mA",
            f"{pack.maximum_ma:.4g} mA from {_cells(supply)}",
            "Delete maximum_current_ma, or put more rows in parallel (cells_in_parallel). Keep a higher figure only where the cells' own data sheet "
            "states it: overloaded cells get hot, leak or burn.",
            {"I": f"{supply.maximum_current_ma:g} mA", "Imax": f"{number(pack.maximum_ma, 4)} mA"}, pack.cell.source)


def _touch(name: str, supply: Supply) -> Iterator[Finding]:
    volts = supply.voltage_v or fresh_v(supply).typical
    if volts > DAMP_V:
        weight, limit_v = (Weight.WARNING, TOUCH_V) if volts > TOUCH_V else (Weight.NOTE, DAMP_V)
        yield EXPLAINED["power.touch"].finding(
            weight, f"supply '{name}'", f"{volts:.4g} V", f"{limit_v:g} V",
            "Use a supply of lower voltage, or leave the wiring to somebody licensed: a prop is touched with damp hands.",
            {"V": f"{volts:.4g} V", "Vmax": f"{limit_v:g} V"})


def _outlet(name: str, supply: Supply) -> Iterator[Finding]:
    if supply.outlet is None:
        return
    outlet, rated_ma = parts().outlets[supply.outlet], most_ma(supply)
    if rated_ma > outlet.maximum_ma:
        yield EXPLAINED["power.outlet_current"].finding(
            Weight.WARNING, f"supply '{name}'", f"maximum_current_ma is {rated_ma:g} mA", f"{outlet.maximum_ma:g} mA",
            "Lower maximum_current_ma to what the socket can give, or use a stronger one.",
            {"I": f"{rated_ma:g} mA", "Imax": f"{outlet.maximum_ma:g} mA"}, outlet.source)
    elif outlet.unasked_ma is not None and rated_ma > outlet.unasked_ma:
        yield EXPLAINED["power.outlet_current"].finding(
            Weight.NOTE, f"supply '{name}'", f"maximum_current_ma is {rated_ma:g} mA",
            f"{outlet.unasked_ma:g} mA before a device asks for more",
            "Have the board's chip ask for more over USB, or use the socket of a charger: a computer may switch off a bare lead that takes more.",
            {"I": f"{rated_ma:g} mA", "Imax": f"{outlet.unasked_ma:g} mA"}, outlet.source)
    if outlet.bulk_f is not None and supply.bulk_capacitor_uf * 1e-6 > outlet.bulk_f:
        yield EXPLAINED["power.outlet_capacitor"].finding(
            Weight.WARNING, f"supply '{name}'", f"bulk_capacitor_uf is {quantity(supply.bulk_capacitor_uf, 'uF')}", f"{outlet.bulk_f * 1e6:g} uF",
            "Limit the inrush current with a load switch, or use the socket of a charger.",
            {"C": quantity(supply.bulk_capacitor_uf, "uF"), "Cmax": f"{outlet.bulk_f * 1e6:g} uF"}, outlet.source)


_OF_A_SUPPLY = (_pack_voltage, _cell_current, _touch, _outlet)
_OF_A_GROUP = (_light, _led_current, _forward_voltage, _shared, _resistor, _pin, _switch, _driver_headroom, _driver)
