"""What a prop takes from its supply while it plays: currents, the rail, fuses, and how long
cells last.
"""

import math
from collections.abc import Iterator

import numpy as np

from fxseq.checks.check import PRACTICE, check
from fxseq.checks.scopes import FED, Fed
from fxseq.power import RunTime, stops_at_v
from fxseq.power.circuits import fresh_v, most_ma, resistance_ohm
from fxseq.power.parts import ADAPTOR_SHARE, planned_margin
from fxseq.power.switches import BROWN_OUT_V, FULL_SPEED_V
from fxseq.power.wires import FUSE_SHARE, TRIP_RATIO, inrush_i2t_a2s, inrush_peak_a
from fxseq.runs.supply_load import PERIODS, pulsed_v
from fxseq.sequence import Finding, Weight
from fxseq.sequence.quantities import amount, number, quantity

_WARMING_S = 10.0
_SHORT_S = 0.05
_LONG_H = 2000.0
"""Hours from which self-discharge, which is not counted, would matter."""
_NAMED_DRAINS = 3
_DANGER = {
    "cells": "Overloaded cells get hot and may leak",
    "wall": "An overloaded adaptor gets hot or cuts out",
}
_RESETS = (
    f"8-bit chips reset at {', '.join(f'{volts:g}' for volts in BROWN_OUT_V['8-bit chip'])} V,"
    f" depending on their settings, and need {FULL_SPEED_V:g} V for 16 MHz or more (from memory);"
    " chips of 3.3 V reset at"
    f" {' to '.join(f'{volts:g}' for volts in BROWN_OUT_V['chip of 3.3 V'])} V (from memory); a"
    " regulator in front of the chip adds its own dropout."
)


@check(
    FED,
    "power.supply_current",
    "Does the prop take more current than its supply is rated for?",
    rule=(
        "The currents of all lit LEDs, the amplifier and the board are added up over the time"
        " played; a dimmed LED counts with its mean. This is done for the fresh supply, where LEDs"
        " take most, and for the lowest voltage at which the prop works, where converters and class"
        " D amplifiers take most. A finding where the highest sum is above the supply's rating; a"
        " fault where even the mean is, at the fresh supply."
    ),
    source="the supply's rating in the prop file, or that of its kind of cell or socket",
    kind="your own files",
    confidence=(
        "Mostly within 10 to 20 %. It counts with the voltage that is left after the supply's"
        " internal resistance; where that is not known, with the voltage of the fresh supply. It"
        " holds for the presses that were played: play the busiest ones, and see power.line_current"
        " for everything at once."
    ),
    formula="{Ipeak} > {Irated}",
    symbols={
        "Ipeak": "highest current, in mA",
        "Imean": "mean current, in mA",
        "Irated": "maximum_current_ma of the supply, or what cells of this kind can give, in mA",
    },
    measure=lambda fed: fed.load.draw.peak_ma,
    limit=lambda sequence, supply: supply and most_ma(supply),
)
def supply_current(fed: Fed) -> Iterator[Finding]:
    """A fault where the mean exceeds it, a warning where only peaks do: those of the fresh
    supply, or of the flat one, which are higher where something takes power whatever the
    voltage.
    """
    taken = fed.load.draw
    flat_peak_ma = fed.load.flat_peak_ma
    rated_ma = most_ma(fed.supply)
    peak_ma = max(taken.peak_ma, flat_peak_ma)
    if peak_ma <= rated_ma:
        return
    flat = ""
    if flat_peak_ma > taken.peak_ma:
        flat = f", {flat_peak_ma:.0f} mA with the supply at its lowest"
    yield supply_current.finding(
        Weight.FAULT if taken.mean_ma > rated_ma else Weight.WARNING,
        fed.subject,
        f"{taken.peak_ma:.0f} mA peak, {taken.mean_ma:.0f} mA on average{flat}",
        f"{rated_ma:g} mA",
        f"{_DANGER[fed.supply.kind]}: light fewer LEDs at a time, lower their current or the"
        " volume, or choose a stronger supply. Fit a fuse in any case.",
        {
            "Ipeak": f"{peak_ma:.0f} mA",
            "Imean": f"{taken.mean_ma:.0f} mA",
            "Irated": f"{rated_ma:g} mA",
        },
    )


@check(
    FED,
    "power.adaptor_margin",
    "Is there a margin between the prop's peak current and the adaptor's rating?",
    rule=(
        "An adaptor that runs near its rating gets hot and ages. A finding where the highest"
        f" current is above {ADAPTOR_SHARE:.0%} of the rating; above the rating itself"
        " power.supply_current takes over."
    ),
    source=f"{PRACTICE}; 70 to 80 % of the rating, from memory",
    kind="from memory",
    confidence=(
        "A rule of thumb on the safe side. The adaptor's label says what it can really give."
    ),
    formula=f"{{Ipeak}} > {ADAPTOR_SHARE:g} * {{Irated}}",
    symbols={
        "Ipeak": "highest current, in mA",
        "Irated": "maximum_current_ma of the supply, in mA",
    },
)
def adaptor_margin(fed: Fed) -> Iterator[Finding]:
    """Beyond the share of its rating that is planned for, yet not beyond the rating."""
    taken = fed.load.draw
    rated_ma = most_ma(fed.supply)
    if (
        fed.supply.kind != "wall"
        or planned_margin(rated_ma, taken.peak_ma) >= 0
        or taken.peak_ma > rated_ma
    ):
        return
    yield adaptor_margin.finding(
        Weight.NOTE,
        fed.subject,
        f"{taken.peak_ma:.0f} mA peak",
        f"{ADAPTOR_SHARE * rated_ma:.0f} mA, {ADAPTOR_SHARE:.0%} of its rating",
        "Choose a regulated, certified adaptor of the same voltage and a higher current.",
        {"Ipeak": f"{taken.peak_ma:.0f} mA", "Irated": f"{rated_ma:g} mA"},
    )


@check(
    FED,
    "power.rail",
    "Does the supply's voltage stay high enough while the prop plays?",
    rule=(
        "The currents of LEDs, amplifier and board cause a voltage drop in the supply's internal"
        " resistance. It is worked out for each moment, starting from the fresh supply. A class D"
        " amplifier takes more current as the voltage falls; a capacitor carries short peaks. A"
        " finding where the lowest voltage of a typical or a worst-case supply is below what the"
        " prop needs; a fault where that of the typical one is. Where the file does not say what"
        " the prop needs, a warning where less than half of the fresh voltage is left. 'Collapse'"
        " means that the supply cannot give that power at any voltage."
    ),
    source=(
        "minimum_v in the prop file, or what its regulator needs; without these the most power that"
        " a source can give, V^2 / (4 R)"
    ),
    kind="your own files",
    confidence=(
        "Within about 10 % for fresh cells at room temperature. Cold or half-empty cells sag more,"
        f" so leave a margin. For minimum_v: {_RESETS}"
    ),
    formula="{V} = {V0} - {drop}; {Vlow} < {Vmin}",
    symbols={
        "V": "lowest voltage with a typical supply, in V",
        "Vlow": "lowest voltage with a worst-case supply, in V",
        "t": "time of that moment, in s",
        "V0": "voltage of the fresh supply with no load, in V",
        "R": "its internal resistance, in ohm",
        "drop": (
            "voltage drop in that resistance and in a diode of the changeover at that moment, in V"
        ),
        "C": "capacitor across the rail, in uF",
        "Vmin": "voltage that the prop needs, minimum_v or what its regulator needs, in V",
    },
    measure=lambda fed: fed.load.rail.lowest.typical if fed.load.rail else math.inf,
    limit=lambda sequence, supply: supply and stops_at_v(supply, sequence),
    least=True,
)
def rail(fed: Fed) -> Iterator[Finding]:
    """A fault where a typical supply falls below what the prop needs, a warning where only a
    worst-case one does.

    What is more than a fresh supply has is power.dropout.
    """
    supply = fed.supply
    found = fed.load.rail
    stops_at_v = fed.load.stops_at_v
    if found is None:
        return
    typical = found.lowest.typical
    low = found.lowest.low
    is_dropout = fresh_v(supply).typical < stops_at_v
    needed_v = stops_at_v
    needed = quantity(stops_at_v, "V")
    if not stops_at_v:
        needed_v = fresh_v(supply).typical / 2
        needed = f"{amount(needed_v, 'V')}, half of the fresh voltage, as minimum_v is missing"
    if (typical >= needed_v and (low >= needed_v or not stops_at_v)) or is_dropout:
        return
    fault = not typical >= stops_at_v
    yield rail.finding(
        Weight.FAULT if fault else Weight.WARNING,
        fed.subject,
        f"{_volts(typical)} at {found.lowest_at_s:.2f} s, fresh; {_volts(low)} to"
        f" {_volts(found.lowest.high)} from part to part",
        needed,
        "Against short peaks put a larger capacitor across the rail (bulk_capacitor_uf); against"
        " long ones lower the currents or use cells of lower resistance.",
        {
            "V": _volts(typical),
            "Vlow": _volts(low),
            "t": f"{found.lowest_at_s:.2f} s",
            "V0": f"{fresh_v(supply).typical:.2f} V",
            "R": f"{number(resistance_ohm(supply).typical)} ohm",
            "drop": "all" if math.isnan(typical) else f"{fresh_v(supply).typical - typical:.2f} V",
            "C": quantity(supply.bulk_capacitor_uf, "uF"),
            "Vmin": amount(needed_v, "V"),
        },
    )


def _volts(voltage_v: float) -> str:
    if math.isnan(voltage_v):
        return "collapse"
    return f"{voltage_v:.2f} V"


@check(
    FED,
    "power.pulses",
    "Does the supply's voltage stay high enough during each pulse of dimmed light?",
    rule=(
        "A dimmed LED takes its full current for a part of each period. Without a capacitor that"
        " outlasts the period, the rail falls during the pulse as if the LEDs were not dimmed at"
        " all. With one, it falls only by the drop in the capacitor's own resistance. All channels"
        " are assumed to begin their pulses together, as on most chips. A finding where the pulses"
        " bring the rail below what the prop needs and the mean current does not; the capacitor"
        " named evens out the pulses."
    ),
    source=(
        "minimum_v in the prop file, or what its regulator needs; five periods are common practice,"
        " no source"
    ),
    kind="your own files",
    confidence=(
        "Within about 10 % for fresh cells, and on the safe side where pulses are spread over the"
        " period. Capacitors on bought modules count too: add them to bulk_capacitor_uf."
    ),
    formula="{V} < {Vmin}",
    symbols={
        "V": "lowest voltage during a pulse, typical supply, in V",
        "Vlow": "the same with a worst-case supply, in V",
        "Vmin": "voltage that the prop needs, minimum_v or what its regulator needs, in V",
        "Vmean": "lowest voltage with the mean of the pulses, in V",
    },
)
def pulses(fed: Fed) -> Iterator[Finding]:
    """A warning where pulses bring the rail below what the prop needs, and their mean does not;
    a note where only a worst-case supply's do.
    """
    lowest = pulsed_v(fed.load)
    rail = fed.load.rail
    if lowest is None or rail is None:
        return
    is_low, is_low_worst = (
        not within >= fed.load.stops_at_v and mean >= fed.load.stops_at_v
        for within, mean in ((lowest.typical, rail.lowest.typical), (lowest.low, rail.lowest.low))
    )
    if not (is_low or is_low_worst):
        return
    pulsed, worst = (
        f"{volts:.2f} V" if np.isfinite(volts) else "collapse"
        for volts in (lowest.typical, lowest.low)
    )
    hertz = fed.sequence.board.dimming_hz
    if hertz:
        needed = quantity(
            float(f"{1e6 * PERIODS / (hertz * resistance_ohm(fed.supply).typical):.2g}"), "uF"
        )
    else:
        needed = "one that outlasts the pulses"
    if fed.load.stops_at_v:
        stops = quantity(fed.load.stops_at_v, "V")
    else:
        stops = "any voltage that is left"
    yield pulses.finding(
        Weight.WARNING if is_low else Weight.NOTE,
        fed.subject,
        f"{pulsed} during the pulses of dimmed light, fresh; {worst} with a worst-case supply",
        stops,
        f"Put a capacitor across the rail ({needed}, as bulk_capacitor_uf), or lower the currents.",
        {"V": pulsed, "Vlow": worst, "Vmin": stops, "Vmean": f"{rail.lowest.typical:.2f} V"},
    )


@check(
    FED,
    "power.fuse",
    "Does the fuse carry the current that the prop takes?",
    rule=(
        f"A melting fuse should run at {FUSE_SHARE:.0%} of its rating at the most. A resettable one"
        f" carries its hold current, and trips at about {TRIP_RATIO:g} times that after"
        f" {_SHORT_S * 1000:g} ms or more. The current is averaged over the heaviest {_WARMING_S:g}"
        f" s to see whether the fuse carries it, and over the heaviest {_SHORT_S * 1000:g} ms to"
        " see whether it trips. A finding where it is more than the fuse carries, a fault where"
        " the fuse trips."
    ),
    source=(
        "a maker's design guide on fuses, as quoted in a tutorial; a tutorial on resettable fuses"
    ),
    kind="data sheets",
    confidence=(
        "The rules are for 25 degrees Celsius; in a warm prop a resettable fuse holds less. That a"
        f" fuse warms up in {_WARMING_S:g} s is common practice, no source. The figure holds for"
        " the presses that were played."
    ),
    formula="{I} > {k} * {Ifuse}",
    symbols={
        "I": "mean current over the heaviest of these times, in mA",
        "k": "share of the fuse's rating, or multiple of its hold current",
        "Ifuse": "fuse_ma or resettable_fuse_ma of the supply, in mA",
    },
)
def fuse(fed: Fed) -> Iterator[Finding]:
    """Whether it holds what the prop takes."""
    lasting_ma = fed.load.current_ma.highest_mean(_WARMING_S)
    short_ma = fed.load.current_ma.highest_mean(_SHORT_S)
    held_ma = fed.supply.resettable_fuse_ma
    if fed.supply.fuse_ma is not None and lasting_ma > FUSE_SHARE * fed.supply.fuse_ma:
        yield _fused(
            Weight.WARNING,
            fed.subject,
            lasting_ma,
            FUSE_SHARE,
            fed.supply.fuse_ma,
            "for ten seconds, and may melt it in the long run",
        )
    if held_ma is not None and short_ma > TRIP_RATIO * held_ma:
        yield _fused(Weight.FAULT, fed.subject, short_ma, TRIP_RATIO, held_ma, "peak, and trips it")
    elif held_ma is not None and lasting_ma > held_ma:
        yield _fused(
            Weight.WARNING,
            fed.subject,
            lasting_ma,
            1.0,
            held_ma,
            "for ten seconds, and may trip it",
        )


def _fused(
    weight: Weight, subject: str, current_ma: float, share: float, rated_ma: float, what: str
) -> Finding:
    return fuse.finding(
        weight,
        f"fuse of {subject}",
        f"the prop takes {current_ma:.0f} mA {what}",
        f"{number(share * rated_ma, 4)} mA with a fuse of {quantity(rated_ma, 'mA')}",
        "Use a fuse of a higher rating with wire that suits it (see `fxseq wiring`), or take less"
        " current.",
        {"I": f"{number(current_ma, 4)} mA", "k": f"{share:g}", "Ifuse": quantity(rated_ma, "mA")},
    )


@check(
    FED,
    "power.inrush",
    "Does the fuse survive the moment of switching on?",
    rule=(
        "An empty capacitor is a short circuit for a moment: the current begins at V / R, and V^2 C"
        " / (2 R) goes through the fuse. A finding where that melts it."
    ),
    source="fuse_melting_a2s of the supply in the prop file",
    kind="your own files",
    confidence=(
        "Well on the safe side, since wires and capacitor have some resistance too. It is worked"
        " out for the lowest resistance and the freshest supply."
    ),
    formula="{I2t} = {V}^2 * {C} / (2 * {R})",
    symbols={
        "I2t": "I^2 t that goes through the fuse, in A^2 s",
        "V": "voltage of the freshest supply, in V",
        "C": "bulk_capacitor_uf, in uF",
        "R": "resistance of the supply, in ohm",
        "I": "highest current, V / R, in A",
        "E": "energy that becomes heat, V^2 C / 2, in J",
        "Imelt": "fuse_melting_a2s, in A^2 s",
    },
)
def inrush(fed: Fed) -> Iterator[Finding]:
    if fed.supply.fuse_melting_a2s is None or not fed.supply.bulk_capacitor_uf:
        return
    volts = fresh_v(fed.supply).high
    ohms = resistance_ohm(fed.supply).low
    farads = fed.supply.bulk_capacitor_uf * 1e-6
    through_a2s = inrush_i2t_a2s(volts, farads, ohms)
    peak_a = inrush_peak_a(volts, ohms)
    joules = farads * volts**2 / 2
    if through_a2s > fed.supply.fuse_melting_a2s:
        yield inrush.finding(
            Weight.WARNING,
            f"fuse of {fed.subject}",
            f"switching on puts {amount(through_a2s, 'A^2 s')} through it, {amount(peak_a, 'A')} at"
            f" first, to charge {quantity(fed.supply.bulk_capacitor_uf, 'uF')}",
            quantity(fed.supply.fuse_melting_a2s, "A^2 s"),
            "Use a slow fuse, a smaller capacitor, or a thermistor or load switch that limits the"
            " inrush.",
            {
                "I2t": f"{number(through_a2s, 4)} A^2 s",
                "V": f"{number(volts, 4)} V",
                "C": quantity(fed.supply.bulk_capacitor_uf, "uF"),
                "R": f"{number(ohms, 4)} ohm",
                "I": f"{number(peak_a)} A",
                "E": f"{number(joules)} J",
                "Imelt": quantity(fed.supply.fuse_melting_a2s, "A^2 s"),
            },
        )


@check(
    FED,
    "power.run_time",
    "Do the cells last the day?",
    rule=(
        "[day] says for how much of each hour the prop idles, is tapped and is held. The current of"
        " each state is measured: idling with nothing pressed, the others on the taps and holds of"
        " the press script. As the cells run down, their voltage falls and with it the current"
        " changes. They are flat when the heaviest moment of the script brings the rail below what"
        " the prop needs. A finding where typical cells do not last the day, a note where only"
        " worst-case ones do not."
    ),
    source="hours in [day] of the prop file",
    kind="your own files",
    confidence=(
        "A third either way: cells differ by make and age, and cold ones give much less. Not"
        " counted: rests between shows, in which cells recover, and a capacitor that carries the"
        " heaviest moment."
    ),
    formula="{tlow} < {tday}",
    symbols={
        "t": "hours with typical cells, in h",
        "tlow": "hours with worst-case cells, in h",
        "thigh": "hours with best-case cells, in h",
        "tday": "hours in [day], in h",
    },
)
def run_time(fed: Fed) -> Iterator[Finding]:
    """A warning where typical cells last for less than the day, a note where only worst-case
    ones do, or where too little is known to rule it out.
    """
    found = fed.run.run_time
    if found is None:
        return
    hours = found.hours
    day_h = fed.sequence.day.hours
    if hours is None:
        unknown = {
            "t": "not known",
            "tlow": "not known",
            "thigh": "not known",
            "tday": f"{day_h:g} h",
        }
        yield run_time.finding(
            Weight.NOTE,
            fed.subject,
            f"run time {hours_text(found)}",
            f"{day_h:g} h",
            "Add what is missing; until then only a trial tells.",
            unknown,
        )
        return
    if hours.low >= day_h and found.known_to_ma is None:
        return
    inputs = {
        "t": _hours(hours.typical),
        "tlow": _hours(hours.low),
        "thigh": _hours(hours.high),
        "tday": f"{day_h:g} h",
    }
    yield run_time.finding(
        Weight.WARNING if hours.typical < day_h else Weight.NOTE,
        fed.subject,
        f"run time {run_time_text(found)}",
        f"{day_h:g} h",
        "Lower what drains most, use larger cells or more of them, lower minimum_v with a better"
        " regulator, or carry a spare set.",
        inputs,
    )


def run_time_text(found: RunTime) -> str:
    """Hours and what takes most, in words."""
    drains = drains_text(found)
    if drains:
        return f"{hours_text(found)}; most goes to {drains}"
    return hours_text(found)


def hours_text(found: RunTime) -> str:
    """Hours in words."""
    if found.hours is None:
        return f"not known: {found.missing}"
    if found.known_to_ma is not None:
        return (
            f"at most {_hours(found.hours.typical)}: the prop draws more than {found.known_to_ma:g}"
            " mA, and the cells' capacity is known only up to there"
        )
    typical, low, high = (
        _hours(hours) for hours in (found.hours.typical, found.hours.low, found.hours.high)
    )
    if low == typical == high:
        return typical
    return f"{typical} ({low} to {high}, depending on the cells)"


def drains_text(found: RunTime) -> str:
    """What takes most, in words; empty where nothing does."""
    largest = [
        f"{consumer} {state} {share:.0%}"
        for (state, consumer), share in found.drains[:_NAMED_DRAINS]
        if share > 0
    ]
    return ", ".join(largest)


def _hours(hours: float) -> str:
    if hours > _LONG_H:
        return f"more than {_LONG_H:g} h"
    if hours >= 10:
        return f"{hours:.0f} h"
    return f"{hours:.1f} h"
