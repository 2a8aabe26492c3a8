"""Groups as they are wired: LEDs, resistors, switches, and the pins that feed them."""

from collections.abc import Iterator, Sequence

from fxseq.checks.check import PRACTICE, check
from fxseq.checks.scopes import GROUP, WIRING, Described, WiredGroup
from fxseq.power.circuits import Circuit, forward_v, mosfet_of, relit, transistor_of
from fxseq.power.layout import DARK_SHARE, EQUAL_WITHIN, KEPT_LIGHT, RESISTOR_TOLERANCE, uneven_a
from fxseq.power.parts import SMALL_LED_MA, led, led_kind, parts
from fxseq.power.resistors import RATINGS_W, USED_SHARE
from fxseq.power.schedule import drive
from fxseq.power.switches import CHIP_MA, FORCED_BETA, PIN_MA, driver_heat_w, has_headroom, pwm_hz
from fxseq.sequence import Finding, Weight
from fxseq.sequence import model as m
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.quantities import amount, from_to, number, quantity

_SMALL_LED_MM = 5.0
_BARE_LED_W = 0.25
_DRIVER_W = 0.5
_DARK_BESIDE = 1000
"""Ratio of currents from which one of two strings is dark, and no figure says more."""
_MODEL = "forward voltage, resistor and supplies in the prop file, exponential model of the LED"
_GENERIC = "generic parts of this program"
_PRACTICE_OR_CHIP = f"{PRACTICE}; of a ready-made board, the data sheet of its chip"
_AS_DATA_SHEET = (
    "The figure is as good as the prop file. The limit is that of common parts; the data sheet of"
    " your own part decides."
)


@check(
    GROUP,
    "power.led_dark",
    "Do the LEDs light up at all?",
    rule=(
        "LEDs in series need the sum of their forward voltages. A fault where less than"
        f" {DARK_SHARE:.0%} of the wanted current flows at the freshest supply, or where no number"
        " of LEDs in series works; a warning where only LEDs of the highest forward voltage stay"
        " dark."
    ),
    source=_MODEL,
    kind="arithmetic",
    confidence=(
        "Certain if the forward voltage is right: were the voltages close together, the LEDs would"
        " still glow."
    ),
    formula="{Vsum} = {n} * {Vf}",
    symbols={
        "Vsum": "voltage that the LEDs need together, in V",
        "n": "LEDs in series",
        "Vf": "forward voltage of one, in V",
        "V": "highest voltage that feeds them, in V",
        "I": "current that flows, in mA",
        "Iwanted": "current_ma of the group, in mA",
    },
)
def led_dark(wired: WiredGroup) -> Iterator[Finding]:
    """LEDs that stay dark."""
    found = wired.circuit.layout
    wanted_ma = wired.circuit.group.current_ma
    if wired.circuit.series == 0:
        yield _dark(wired, 0.0, "")
    if found is not None and _is_dark(wired.circuit):
        if found.fresh_ma.typical < DARK_SHARE * wanted_ma:
            yield _dark(wired, found.fresh_ma.typical, "")
        else:
            which = " with LEDs of the highest forward voltage"
            yield _dark(wired, found.fresh_ma.low, which)


def _is_dark(circuit: Circuit) -> bool:
    """Whether LEDs of the highest forward voltage stay dark."""
    return (
        circuit.layout is None
        or circuit.layout.fresh_ma.low < DARK_SHARE * circuit.group.current_ma
    )


def _is_weak(circuit: Circuit) -> bool:
    """Whether typical LEDs get little of their current."""
    return (
        circuit.layout is None
        or circuit.layout.fresh_ma.typical < KEPT_LIGHT * circuit.group.current_ma
    )


def _dark(wired: WiredGroup, lit_ma: float, which: str) -> Finding:
    """which: of the LEDs, in words; empty for all of them."""
    circuit = wired.circuit
    group = wired.circuit.group
    fresh_v = wired.circuit.feed.fresh_v
    series = circuit.series or group.leds_in_series or 1
    led = circuit.led.typical
    weight = Weight.FAULT
    if which:
        led = circuit.led.high
        weight = Weight.WARNING
    each_v = float(led.voltage_v(group.current_ma / 1000))
    rest = which or _lit_by(circuit, wired.sequence)
    return led_dark.finding(
        weight,
        wired.subject,
        f"{series} in series stay dark at {amount(fresh_v, 'V')}{rest}",
        "some light",
        "Use fewer in series, a lower resistor, LEDs of a lower forward voltage, or a higher supply"
        " voltage; a pin gives no more than pin_v.",
        {
            "Vsum": f"{number(series * each_v)} V",
            "n": f"{series}",
            "Vf": f"{number(each_v)} V",
            "V": f"{number(fresh_v, 4)} V",
            "I": f"{number(lit_ma)} mA",
            "Iwanted": f"{group.current_ma:g} mA",
        },
    )


def _lit_by(circuit: Circuit, sequence: m.Sequence) -> str:
    """What would light LEDs that a maker's string or resistor leaves dark, in words; empty where
    nothing does.
    """
    better = relit(circuit, sequence)
    if better is None or better.layout is None:
        return ""
    ohm = better.layout.resistor_ohm
    lit_ma = better.layout.fresh_ma.typical
    return (
        f"; {better.series} in series with {amount(ohm, 'ohm', 6)} would get {amount(lit_ma, 'mA')}"
    )


@check(
    GROUP,
    "power.led_weak",
    "Do the LEDs get the current that they should have?",
    rule=(
        "The current of a string of typical LEDs is worked out at the freshest supply. A finding"
        f" where it is less than {KEPT_LIGHT:.0%} of current_ma, but enough for some light."
    ),
    source=f"{PRACTICE}; {_MODEL}",
    kind="common practice",
    confidence=(
        "As good as the forward voltage and the resistor in the file. Where supply and forward"
        " voltage are close, a few tenths of a volt decide."
    ),
    formula=f"{{I}} < {{Iwanted}} / {1 / KEPT_LIGHT:g}",
    symbols={"I": "current of a string, in mA", "Iwanted": "current_ma of the group, in mA"},
)
def led_weak(wired: WiredGroup) -> Iterator[Finding]:
    """LEDs that give some light, but get little."""
    found = wired.circuit.layout
    wanted_ma = wired.circuit.group.current_ma
    if found is not None and _is_weak(wired.circuit) and not _is_dark(wired.circuit):
        yield led_weak.finding(
            Weight.WARNING,
            wired.subject,
            f"{amount(found.fresh_ma.typical, 'mA')} in a string at"
            f" {amount(wired.circuit.feed.fresh_v, 'V')}, fresh",
            f"{KEPT_LIGHT:.0%} of current_ma, {quantity(wanted_ma, 'mA')}",
            "Lower resistor_ohm or put fewer in series. If you want so little light, write the"
            " current that flows as current_ma.",
            {"I": f"{number(found.fresh_ma.typical)} mA", "Iwanted": quantity(wanted_ma, "mA")},
        )


@check(
    GROUP,
    "power.led_dim",
    "How much of their light do the LEDs keep when the cells run down?",
    rule=(
        "The current of a string is worked out at the freshest and at the flattest supply; light is"
        " proportional to current. A finding where less than a third of the light is left, which"
        " looks like two thirds to the eye."
    ),
    source=f"{PRACTICE}; {_MODEL}",
    kind="common practice",
    confidence=(
        "The share depends on a few tenths of a volt, so it differs widely from LED to LED: see the"
        " range in the finding. The slope of the LED's curve is assumed from its colour unless the"
        " group has a second_point."
    ),
    formula="{k} = {Iflat} / {Ifresh}",
    symbols={
        "k": "share of the light that is left",
        "Iflat": "current of a string at the flat supply, in mA",
        "Ifresh": "at the fresh supply, in mA",
    },
)
def led_dim(wired: WiredGroup) -> Iterator[Finding]:
    """LEDs that have their light, and lose it as the cells run down."""
    found = wired.circuit.layout
    kept = found and found.kept_light
    if (
        kept is not None
        and kept.typical < KEPT_LIGHT
        and not _is_weak(wired.circuit)
        and not _is_dark(wired.circuit)
    ):
        yield led_dim.finding(
            Weight.WARNING,
            wired.subject,
            f"{kept.typical:.0%} of its light at {amount(wired.circuit.feed.flat_v, 'V')}"
            f" ({kept.low:.0%} to {kept.high:.0%} from part to part)",
            f"{KEPT_LIGHT:.0%}",
            "Use a higher supply voltage, a constant-current driver, or LEDs of a lower forward"
            " voltage; or accept that the light fades as the cells run down.",
            {
                "k": f"{kept.typical:.1%}",
                "Iflat": f"{number(found.flat_ma.typical)} mA",
                "Ifresh": f"{number(found.fresh_ma.typical)} mA",
            },
        )


@check(
    GROUP,
    "power.led_current",
    "Does an LED get more current than it can take for long?",
    rule=(
        "The current of an LED of the lowest forward voltage is worked out at the freshest supply,"
        " where it is highest. A finding where it is above what common LEDs of up to"
        f" {_SMALL_LED_MM:g} mm of that colour are made for."
    ),
    source=_GENERIC,
    kind="data sheets",
    confidence=_AS_DATA_SHEET,
    formula="{I} > {Imax}",
    symbols={
        "I": "highest current of one LED, in mA",
        "Imax": "continuous current of common LEDs of this colour, in mA",
    },
)
def led_current(wired: WiredGroup) -> Iterator[Finding]:
    """Common LEDs above what they are made for; others are known by their current alone."""
    group = wired.circuit.group
    highest_ma = _highest_ma(wired.circuit)
    kind = led_kind(group.colour, group.forward_voltage_v, group.current_ma)
    if (
        group.current_ma <= SMALL_LED_MA
        and group.size_mm <= _SMALL_LED_MM
        and highest_ma > kind.maximum_ma
    ):
        yield led_current.finding(
            Weight.WARNING,
            wired.subject,
            f"up to {amount(highest_ma, 'mA')} in one LED, at the freshest supply",
            f"{kind.maximum_ma:g} mA for an LED of up to {_SMALL_LED_MM:g} mm",
            "Lower current_ma or raise resistor_ohm. If the LED's own data sheet allows more, keep"
            " to that.",
            {"I": f"{number(highest_ma)} mA", "Imax": f"{kind.maximum_ma:g} mA"},
            kind.source,
        )


def _highest_ma(circuit: Circuit) -> float:
    """Highest current of one LED, at the freshest supply. [mA]"""
    if not circuit.fresh_ma:
        return 0.0
    return circuit.fresh_ma.high


@check(
    GROUP,
    "power.led_heat",
    "Does a power LED need a heat sink?",
    rule=(
        f"An LED of more than {SMALL_LED_MA:g} mA is known here by its current alone, so the limit"
        f" of small LEDs is not applied to it. A note where it turns more than {_BARE_LED_W:g} W"
        " into heat and light at the freshest supply."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "The power is right within 20 %. The data sheet says what the LED can take and with which"
        " heat sink. Hot parts can burn skin."
    ),
    formula="{P} = {I} * {Vf}",
    symbols={
        "P": "power in one LED, in W",
        "I": "highest current of one LED, in mA",
        "Vf": "its forward voltage at that, in V",
    },
)
def led_heat(wired: WiredGroup) -> Iterator[Finding]:
    """What an LED of power needs: none of its figures is known here but its current."""
    highest_ma = _highest_ma(wired.circuit)
    heat_w = highest_ma / 1000 * float(wired.circuit.led.typical.voltage_v(highest_ma / 1000))
    if wired.circuit.group.current_ma > SMALL_LED_MA and heat_w > _BARE_LED_W:
        yield led_heat.finding(
            Weight.NOTE,
            wired.subject,
            f"up to {amount(heat_w, 'W', 2)} in one LED, at the freshest supply",
            f"{_BARE_LED_W:g} W without a heat sink",
            "Mount each on a heat sink, and see its data sheet for what it can take. If current_ma"
            " is a typing error, correct it: common LEDs of up to 5 mm take some 30 mA.",
            {
                "P": f"{number(heat_w)} W",
                "I": f"{number(highest_ma)} mA",
                "Vf": f"{number(heat_w / highest_ma * 1000)} V",
            },
        )


@check(
    GROUP,
    "power.forward_voltage",
    "Is the forward voltage usual for an LED of this colour?",
    rule=(
        "Each colour of LED has its usual range of forward voltages. The curve of the LED converts"
        " it to the group's current. A finding where the one in the file is outside: often a typing"
        " error, or the voltage of a whole string."
    ),
    source=_GENERIC,
    kind="data sheets",
    confidence=(
        "A hint, not a proof: the ranges are from a few data sheets, a textbook and an amateur's"
        " measurements."
    ),
    formula="{Vf} outside {Vlow} to {Vhigh}",
    symbols={
        "Vf": "forward_voltage_v of the group, in V",
        "I": "current that it is stated at, in mA",
        "Vlow": "lowest usual forward voltage, in V",
        "Vhigh": "highest usual forward voltage, in V",
    },
)
def forward_voltage(wired: WiredGroup) -> Iterator[Finding]:
    group = wired.circuit.group
    if group.forward_voltage_v is None:
        return
    kind = led_kind(group.colour, group.forward_voltage_v, group.current_ma)
    usual = led(group.colour, kind.voltage_v.typical, kind.current_ma)
    low_v, high_v = (
        float(diode.voltage_v(group.current_ma / 1000)) for diode in (usual.low, usual.high)
    )
    if not low_v - 0.05 <= group.forward_voltage_v <= high_v + 0.05:
        yield forward_voltage.finding(
            Weight.NOTE,
            wired.subject,
            f"{group.forward_voltage_v:g} V at {group.current_ma:g} mA",
            f"{low_v:.1f} to {high_v:.1f} V is usual for {group.colour.replace('_', ' ')}",
            "Compare it with the data sheet; a module of several LEDs may differ.",
            {
                "Vf": f"{group.forward_voltage_v:g} V",
                "I": f"{group.current_ma:g} mA",
                "Vlow": f"{low_v:.2f} V",
                "Vhigh": f"{high_v:.2f} V",
            },
            kind.source,
        )


@check(
    GROUP,
    "power.shared_resistor",
    "Do LEDs in parallel on one resistor share its current evenly?",
    rule=(
        "LEDs in parallel have the same voltage, and the one that needs less of it takes more of"
        " the current. The current of each is worked out from its curve, at the freshest supply:"
        " one string of the lowest forward voltage beside others of the highest, with typical"
        f" values for those under beside. A finding where one takes more than {EQUAL_WITHIN:g}"
        " times the current of another."
    ),
    source=(
        "Lessons In Electric Circuits III, chapter 3: LEDs in parallel need a resistor each; ratio:"
        " common practice, no source"
    ),
    kind="a handbook",
    confidence=(
        "It is certain that they share unevenly. By how much depends on the LEDs themselves: those"
        " of one bag often differ less than the data sheet allows (forward_voltage_min_v,"
        " forward_voltage_max_v). The one that takes most warms up and takes still more. The slope"
        " of their curve is assumed from their colour unless the group has a second_point."
    ),
    formula="{r} = {Imost} / {Ileast}",
    symbols={
        "r": "ratio of the currents",
        "Imost": "current of the string that takes most, in mA",
        "Ileast": "current of the string that takes least, in mA",
    },
)
def shared_resistor(wired: WiredGroup) -> Iterator[Finding]:
    """One string of the lowest forward voltage beside others of the highest."""
    found = wired.circuit.layout
    if found is None or (found.sharing == 1 and not found.beside):
        return
    if found.beside:
        remedy = "Make the LEDs under beside a group of their own, with their own resistor."
    else:
        remedy = "Give each string a resistor of its own: delete shared_resistor."
    yield from shared_by(wired.subject, uneven_a(found, wired.circuit.feed.fresh_v), remedy)


def shared_by(subject: str, currents_a: Sequence[float], remedy: str) -> Iterator[Finding]:
    """A fault where strings side by side on one resistor do not share its current."""
    ratio = max(currents_a) / max(min(currents_a), 1e-12)
    if ratio > EQUAL_WITHIN:
        times = f"more than {_DARK_BESIDE}"
        if ratio < _DARK_BESIDE:
            times = f"up to {number(ratio)}"
        yield shared_resistor.finding(
            Weight.FAULT,
            subject,
            f"{times} times as much current in one string as in another on the same resistor",
            f"{EQUAL_WITHIN:g} times",
            remedy,
            {
                "r": number(ratio),
                "Imost": f"{number(1000 * max(currents_a))} mA",
                "Ileast": f"{number(1000 * min(currents_a))} mA",
            },
        )


@check(
    GROUP,
    "power.resistor_heat",
    "Does a resistor get too hot?",
    rule=(
        "A resistor turns current into heat. A finding where that is more than half of"
        f" {RATINGS_W[-1]:g} W, the largest common rating; inside a warm prop the limit is lower."
        " The highest current counts, with a resistor 5 % too low. Hot parts can burn skin and"
        " soften plastic."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence="The heat is right within 20 %; to use half of a rating is on the safe side.",
    formula="{P} = {I}^2 * {R} * " + f"{1 - RESISTOR_TOLERANCE:g}",
    symbols={
        "P": "heat while lit, in W",
        "I": "highest current in the resistor, in A",
        "R": "resistance, in ohm",
    },
)
def resistor_heat(wired: WiredGroup) -> Iterator[Finding]:
    found = wired.circuit.layout
    if found is not None and found.rating_w is None:
        yield resistor_heat.finding(
            Weight.WARNING,
            wired.subject,
            f"{amount(found.power_w, 'W', 2)} in a resistor of"
            f" {amount(found.resistor_ohm, 'ohm', 6)} while lit",
            f"{USED_SHARE * RATINGS_W[-1]:g} W, half of the largest common rating",
            "Use more LEDs in series, a lower supply voltage, or a constant-current driver made for"
            " the current.",
            {
                "P": f"{number(found.power_w)} W",
                "I": f"{number(found.channel_ma.high / 1000 * found.sharing / found.strings)} A",
                "R": quantity(found.resistor_ohm, "ohm"),
            },
        )


@check(
    GROUP,
    "power.pin_current",
    "Does a pin of the chip give more current than it should?",
    rule=(
        "The currents of all strings on a channel are added up, for LEDs of the lowest forward"
        " voltage at the freshest supply. The base of a transistor takes a tenth of the current"
        " that it switches. A finding where a pin that feeds LEDs or a base gives more than the"
        " pins of most chips can, or those of the ready-made board."
    ),
    source=_PRACTICE_OR_CHIP,
    kind="common practice",
    confidence=_AS_DATA_SHEET,
    formula="{I} > {Imax}",
    symbols={
        "I": "highest current of a pin, in mA",
        "Imax": "current that pins of most chips can give, in mA",
    },
)
def pin_current(wired: WiredGroup) -> Iterator[Finding]:
    driven = drive(wired.circuit, wired.sequence.board.pin_v)
    most_ma, _, source = _pin_limits(wired.sequence)
    if driven is not None and driven.pin_ma > most_ma:
        into = ""
        most = f' switch = "transistor", or "mosfet" for more than {most_ma * FORCED_BETA:g} mA'
        if wired.circuit.switch != "pin":
            into = " into a base"
            most = ' switch = "mosfet", whose gate takes almost no current'
        yield pin_current.finding(
            Weight.WARNING,
            wired.subject,
            f"up to {amount(driven.pin_ma, 'mA')} a pin{into}",
            f"{most_ma:g} mA",
            f"Write{most}. A pin gives more only where its data sheet says so; an absolute maximum"
            " is not for use.",
            {"I": f"{number(driven.pin_ma)} mA", "Imax": f"{most_ma:g} mA"},
            source,
        )


def _pin_limits(sequence: m.Sequence) -> tuple[float, float, str]:
    """Current of a pin and of all pins together, and the source: of the ready-made board where
    its data sheet says so, else of most chips. [mA]
    """
    part = board_parts().get(sequence.board.part or "")
    if part is None or part.pin_ma is None or part.chip_ma is None:
        return PIN_MA, CHIP_MA, ""
    return part.pin_ma, part.chip_ma, part.current_source


@check(
    GROUP,
    "power.switch_current",
    "Can the switch of a channel carry its current?",
    rule=(
        "The currents of all strings on a channel are added up, for LEDs of the lowest forward"
        " voltage at the freshest supply. A finding where a common part of that kind of switch is"
        " rated for less."
    ),
    source=_GENERIC,
    kind="data sheets",
    confidence=_AS_DATA_SHEET,
    formula="{I} > {Imax}",
    symbols={
        "I": "highest current of a channel, in mA",
        "Imax": "rated current of the common part, in mA",
        "P": "heat in it: current times the voltage across it; for a driver see power.driver_heat",
    },
)
def switch_current(wired: WiredGroup) -> Iterator[Finding]:
    """Whether the generic switch stands the current of a channel."""
    circuit = wired.circuit
    group = wired.circuit.group
    kinds = {
        "transistor": transistor_of(group),
        "mosfet": mosfet_of(group),
        "driver": parts().drivers["constant_current"],
    }
    kind = kinds.get(circuit.switch)
    if circuit.switch == "driver":
        # Each string of a driver has an output of its own.
        current_ma = group.current_ma
    else:
        current_ma = circuit.channel_ma.high
    heat = _switch_heat(circuit, current_ma)
    if kind is not None and current_ma > kind.maximum_ma:
        yield switch_current.finding(
            Weight.WARNING,
            wired.subject,
            f"up to {current_ma:.0f} mA in one"
            f" {circuit.switch}{f', which makes {heat} of heat in it' if heat else ''}",
            f"{kind.maximum_ma:g} mA",
            "Share the LEDs among more channels, choose a stronger kind of switch, or use a part"
            " whose data sheet allows the current.",
            {
                "I": f"{number(current_ma)} mA",
                "Imax": f"{kind.maximum_ma:g} mA",
                "P": heat or "that of all its outputs",
            },
            kind.source,
        )


def _switch_heat(circuit: Circuit, current_ma: float) -> str:
    """What a switch that is on turns into heat; empty for a driver, whose outputs share a case."""
    if circuit.layout is None:
        return ""
    kept_v = float(circuit.layout.route.switch.voltage_v(current_ma / 1000))
    return amount(current_ma / 1000 * kept_v, "W", 2)


@check(
    GROUP,
    "power.gate_voltage",
    "Does a pin of the board turn the MOSFET fully on?",
    rule=(
        "A MOSFET is fully on only from the gate voltage at which its data sheet states its"
        " resistance. A finding where a pin gives less: the MOSFET may be half on, dim and hot."
    ),
    source="mosfet in the prop file, or generic parts of this program",
    kind="data sheets",
    confidence=(
        f"{_AS_DATA_SHEET} Light and current are worked out with its resistance at this gate"
        " voltage, which is estimated from its threshold and from its resistance at the gate"
        " voltage in its data sheet. Thresholds differ by some tenths of a volt, so below that"
        " gate voltage the figure is a guess."
    ),
    formula="{Vpin} < {Vgate}",
    symbols={
        "Vpin": "voltage of a pin, pin_v of the board, in V",
        "Vgate": "gate voltage at which its resistance is stated, in V",
    },
)
def gate_voltage(wired: WiredGroup) -> Iterator[Finding]:
    """Whether an output opens the MOSFET."""
    mosfet = mosfet_of(wired.circuit.group)
    pin_v = wired.sequence.board.pin_v
    if wired.circuit.switch == "mosfet" and pin_v < mosfet.gate_v:
        yield gate_voltage.finding(
            Weight.WARNING,
            wired.subject,
            f"pin_v is {pin_v:g} V",
            f"{mosfet.gate_v:g} V",
            "Use a MOSFET whose data sheet states its resistance at this voltage or less, or a"
            ' transistor (switch = "transistor").',
            {"Vpin": f"{pin_v:g} V", "Vgate": f"{mosfet.gate_v:g} V"},
            mosfet.source,
        )


@check(
    GROUP,
    "power.driver_headroom",
    "Has a constant-current driver enough voltage left to hold its current?",
    rule=(
        "A driver needs some voltage for itself besides that of its LEDs. A finding where LEDs of"
        " the highest forward voltage leave it less than a generic driver needs at the flattest"
        " supply; a fault where typical LEDs do so even at the freshest."
    ),
    source=_GENERIC,
    kind="data sheets",
    confidence=(
        "As good as the forward voltage. Newer drivers need only a third of the headroom: see the"
        " data sheet."
    ),
    formula="{Vsum} = {n} * {Vf}; {Vsum} + {Vhead} > {Vflat}",
    symbols={
        "Vsum": "voltage that the LEDs need together, in V",
        "n": "LEDs in series",
        "Vf": "highest forward voltage of one, in V",
        "Vhead": "headroom that the driver needs, in V",
        "Vflat": "lowest voltage at its input, in V",
    },
)
def driver_headroom(wired: WiredGroup) -> Iterator[Finding]:
    """Judge the strings that a maker has chosen; those that are laid out here leave it its
    headroom.
    """
    span = wired.circuit.feed
    if wired.circuit.switch != "driver" or wired.circuit.series == 0:
        return
    needs = parts().drivers["constant_current"].headroom_v
    lowest_v, usual_v = (
        wired.circuit.series * float(diode.voltage_v(wired.circuit.group.current_ma / 1000))
        for diode in (wired.circuit.led.high, wired.circuit.led.typical)
    )
    if not has_headroom(span.flat_v, lowest_v, needs.high):
        yield driver_headroom.finding(
            Weight.WARNING if has_headroom(span.fresh_v, usual_v, needs.typical) else Weight.FAULT,
            wired.subject,
            f"{wired.circuit.series} in series need up to {amount(lowest_v + needs.high, 'V')} with"
            f" their driver; the supply gives {from_to(span.flat_v, span.fresh_v, 'V')}",
            amount(span.flat_v, "V"),
            "Use fewer in series, a higher supply voltage, or LEDs of a lower forward voltage;"
            " below that voltage the light goes dim.",
            {
                "Vsum": f"{number(lowest_v)} V",
                "n": f"{wired.circuit.series}",
                "Vf": f"{number(lowest_v / wired.circuit.series)} V",
                "Vhead": f"{needs.high:g} V",
                "Vflat": f"{number(span.flat_v, 4)} V",
            },
            parts().drivers["constant_current"].source,
        )


@check(
    GROUP,
    "power.driver_heat",
    "Does a constant-current driver get too hot?",
    rule=(
        "A driver takes up the spare voltage and turns it into heat. A finding where that is more"
        f" than {_DRIVER_W:g} W with the whole group lit at the freshest supply."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "The heat is right within 10 %. How much the driver can take depends on its case and on the"
        " air around it."
    ),
    formula="{P} = ({V} - {n} * {Vf}) * {I} * {k}",
    symbols={
        "P": "heat, in W",
        "V": "highest voltage that feeds it, in V",
        "n": "LEDs in series",
        "Vf": "forward voltage of one, in V",
        "I": "current of a string, in A",
        "k": "strings of the group",
    },
)
def driver_heat(wired: WiredGroup) -> Iterator[Finding]:
    span = wired.circuit.feed
    if wired.circuit.switch != "driver" or wired.circuit.series == 0:
        return
    led_v = forward_v(wired.circuit.group)
    strings = wired.circuit.strings * wired.circuit.group.channels
    heat_w = driver_heat_w(
        span.fresh_v, wired.circuit.series * led_v, wired.circuit.group.current_ma / 1000, strings
    )
    if heat_w > _DRIVER_W:
        yield driver_heat.finding(
            Weight.WARNING,
            wired.subject,
            f"{amount(heat_w, 'W', 2)} in the driver at {amount(span.fresh_v, 'V')}, with the whole"
            " group lit",
            f"{_DRIVER_W:g} W",
            "Use more LEDs in series or a lower supply voltage, share the group among more drivers,"
            " or keep to the data sheet's limit with a heat sink.",
            {
                "P": f"{number(heat_w)} W",
                "V": f"{number(span.fresh_v, 4)} V",
                "n": f"{wired.circuit.series}",
                "Vf": f"{number(led_v)} V",
                "I": quantity(wired.circuit.group.current_ma / 1000, "A"),
                "k": f"{strings}",
            },
        )


@check(
    WIRING,
    "power.chip_current",
    "Do all pins of the chip together give more current than they should?",
    rule=(
        "The highest currents of all channels on pins, and the base currents of transistors, are"
        " added up as if all were lit at once. A finding where the sum is more than most chips can"
        " give."
    ),
    source=_PRACTICE_OR_CHIP,
    kind="common practice",
    confidence=_AS_DATA_SHEET,
    formula="{I} > {Imax}",
    symbols={
        "I": "current of all pins together, in mA",
        "Imax": "current that most chips can give, in mA",
        "groups": "share of each group, in mA",
    },
)
def chip_current(wiring: Described) -> Iterator[Finding]:
    """What all outputs give at once: the LEDs on pins, and the base currents of transistors."""
    driven = (
        (name, circuit.group.channels, drive(circuit, wiring.sequence.board.pin_v))
        for name, circuit in wiring.circuits.items()
    )
    asked_ma = {name: channels * each.pin_ma for name, channels, each in driven if each is not None}
    total_ma = sum(asked_ma.values())
    _, most_ma, source = _pin_limits(wiring.sequence)
    if total_ma > most_ma:
        yield chip_current.finding(
            Weight.WARNING,
            "board",
            f"up to {total_ma:.0f} mA from all pins together",
            f"{most_ma:g} mA",
            'Write switch = "transistor" for groups on pins, and switch = "mosfet" for large groups'
            " on transistors: the base of a transistor takes a tenth of the current that it"
            " switches. A chip gives more only where its data sheet says so.",
            {
                "I": f"{number(total_ma)} mA",
                "Imax": f"{most_ma:g} mA",
                "groups": ", ".join(
                    f"{name} {number(amount_ma)} mA" for name, amount_ma in asked_ma.items()
                ),
            },
            source,
        )


@check(
    WIRING,
    "power.pwm_rate",
    "Can the chip dim in so many steps at this frequency?",
    rule=(
        "In each period a timer counts the clock of the chip up to the highest step. A finding"
        " where the clock is too slow for that, for a chip whose clock and dimming are described."
    ),
    source="a maker's section on fast PWM: f = clock / 2^bits",
    kind="data sheets",
    confidence=(
        "The most that one timer at full clock can do; timers of fewer bits, or PWM made by a"
        " program, do less."
    ),
    formula="{f} > {fclk} / 2^{b}",
    symbols={
        "f": "dimming_hz of the board, in Hz",
        "fclk": "clock of its processor, in Hz",
        "b": "pwm_bits of the board",
    },
)
def pwm_rate(wiring: Described) -> Iterator[Finding]:
    """Whether the chip's clock is fast enough for the steps and the frequency of the dimming."""
    board = wiring.sequence.board
    if board.processor is None or board.dimming_hz is None:
        return
    most_hz = pwm_hz(board.processor.clock_mhz * 1e6, board.pwm_bits)
    if board.dimming_hz > most_hz:
        yield pwm_rate.finding(
            Weight.WARNING,
            "board",
            f"dimming_hz is {quantity(board.dimming_hz, 'Hz')} with {board.pwm_bits} bits",
            f"{amount(most_hz, 'Hz')} at a clock of {quantity(board.processor.clock_mhz, 'MHz')}",
            "Lower dimming_hz or pwm_bits; or let a separate chip dim, and then leave out processor"
            " or dimming_hz.",
            {
                "f": quantity(board.dimming_hz, "Hz"),
                "fclk": quantity(board.processor.clock_mhz * 1e6, "Hz"),
                "b": f"{board.pwm_bits}",
            },
        )
