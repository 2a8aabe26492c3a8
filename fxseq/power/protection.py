"""Fuses at the supplies: whether they hold what the prop takes, and what an empty capacitor lets through them."""
from collections.abc import Iterator

from fxseq.power.circuits import fresh_v, resistance_ohm
from fxseq.power.steps import Steps
from fxseq.power.wires import FUSE_SHARE, TRIP_RATIO, inrush_i2t_a2s, inrush_peak_a
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Supply
from fxseq.sequence.quantities import amount, number, quantity

_WARMING_S = 10.0
_SHORT_S = 0.05

EXPLAINED = explained(
    Explanation(
        "power.fuse", "Does the fuse carry the current that the prop takes?",
        f"A melting fuse should run at {FUSE_SHARE:.0%} of its rating at the most. A resettable one carries its hold current, and trips at about "
        f"{TRIP_RATIO:g} times that after {_SHORT_S * 1000:g} ms or more. The current is averaged over the heaviest {_WARMING_S:g} s to see whether the "
        f"fuse carries it, and over the heaviest {_SHORT_S * 1000:g} ms to see whether it trips. A finding where it is more than the fuse carries, a "
        "fault where the fuse trips.",
        "a maker's design guide on fuses, as quoted in a tutorial; a tutorial on resettable fuses", "data sheets",
        f"The rules are for 25 degrees Celsius; in a warm prop a resettable fuse holds less. That a fuse warms up in {_WARMING_S:g} s is common "
        "practice, no source. The figure holds for the presses that were played.",
        formula="{I} > {k} * {Ifuse}",
        symbols={"I": "mean current over the heaviest of these times, in mA", "k": "share of the fuse's rating, or multiple of its hold current",
                 "Ifuse": "fuse_ma or resettable_fuse_ma of the supply, in mA"}),
    Explanation(
        "power.inrush", "Does the fuse survive the moment of switching on?",
        "An empty capacitor is a short circuit for a moment: the current begins at V / R, and V^2 C / (2 R) goes through the fuse. A finding where that "
        "melts it.",
        "fuse_melting_a2s of the supply in the prop file", "your own files",
        "Well on the safe side, since wires and capacitor have some resistance too. It is worked out for the lowest resistance and the freshest supply.",
        formula="{I2t} = {V}^2 * {C} / (2 * {R})",
        symbols={"I2t": "I^2 t that goes through the fuse, in A^2 s", "V": "voltage of the freshest supply, in V", "C": "bulk_capacitor_uf, in uF",
                 "R": "resistance of the supply, in ohm", "I": "highest current, V / R, in A", "E": "energy that becomes heat, V^2 C / 2, in J",
                 "Imelt": "fuse_melting_a2s, in A^2 s"}),
)


def fuse_findings(name: str, supply: Supply, current_ma: Steps) -> tuple[Finding, ...]:
    """What is to be said against the fuse of a supply, for a current over time and for switching on. [mA]"""
    return (*_holds(name, supply, current_ma), *_inrush(name, supply))


def _holds(name: str, supply: Supply, current_ma: Steps) -> Iterator[Finding]:
    lasting_ma, short_ma, held_ma = current_ma.highest_mean(_WARMING_S), current_ma.highest_mean(_SHORT_S), supply.resettable_fuse_ma
    if supply.fuse_ma is not None and lasting_ma > FUSE_SHARE * supply.fuse_ma:
        yield _too_much(Weight.WARNING, name, lasting_ma, FUSE_SHARE, supply.fuse_ma, "for ten seconds, and may melt it in the long run")
    if held_ma is not None and short_ma > TRIP_RATIO * held_ma:
        yield _too_much(Weight.FAULT, name, short_ma, TRIP_RATIO, held_ma, "peak, and trips it")
    elif held_ma is not None and lasting_ma > held_ma:
        yield _too_much(Weight.WARNING, name, lasting_ma, 1.0, held_ma, "for ten seconds, and may trip it")


def _too_much(weight: Weight, name: str, current_ma: float, share: float, rated_ma: float, what: str) -> Finding:
    return EXPLAINED["power.fuse"].finding(
        weight, f"fuse of supply '{name}'", f"the prop takes {current_ma:.0f} mA {what}",
        f"{number(share * rated_ma, 4)} mA with a fuse of {quantity(rated_ma, 'mA')}",
        "Use a fuse of a higher rating with wire that suits it (see `fxseq wiring`), or take less current.",
        {"I": f"{number(current_ma, 4)} mA", "k": f"{share:g}", "Ifuse": quantity(rated_ma, "mA")})


def _inrush(name: str, supply: Supply) -> Iterator[Finding]:
    if supply.fuse_melting_a2s is None or not supply.bulk_capacitor_uf:
        return
    volts, ohms, farads = fresh_v(supply).high, resistance_ohm(supply).low, supply.bulk_capacitor_uf * 1e-6
    through_a2s, peak_a, joules = inrush_i2t_a2s(volts, farads, ohms), inrush_peak_a(volts, ohms), farads * volts**2 / 2
    if through_a2s > supply.fuse_melting_a2s:
        yield EXPLAINED["power.inrush"].finding(
            Weight.WARNING, f"fuse of supply '{name}'",
            f"switching on puts {amount(through_a2s, 'A^2 s')} through it, {amount(peak_a, 'A')} at first, to charge "
            f"{quantity(supply.bulk_capacitor_uf, 'uF')}",
            quantity(supply.fuse_melting_a2s, "A^2 s"), "Use a slow fuse, a smaller capacitor, or a thermistor or load switch that limits the inrush.",
            {"I2t": f"{number(through_a2s, 4)} A^2 s", "V": f"{number(volts, 4)} V", "C": quantity(supply.bulk_capacitor_uf, "uF"),
             "R": f"{number(ohms, 4)} ohm", "I": f"{number(peak_a)} A", "E": f"{number(joules)} J", "Imelt": quantity(supply.fuse_melting_a2s, "A^2 s")})
