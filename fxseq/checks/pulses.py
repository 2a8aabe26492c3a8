"""Whether the supply stands the pulses of dimmed light, where no capacitor makes a mean of them."""
import numpy as np

from fxseq.power import Steps, amplifier_load, changeover_diode, is_smoothed, played_load, pulsed_rail
from fxseq.power.circuits import resistance_ohm
from fxseq.power.estimate import Estimate
from fxseq.runs.performance import Performance
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.quantities import quantity

_PERIODS = 5
"""Periods of the dimming that a capacitor with the supply's resistance is to outlast; a rail then stays near its mean."""

EXPLAINED = explained(Explanation(
    "power.pulses", "Does the supply's voltage stay high enough during each pulse of dimmed light?",
    "A dimmed LED takes its full current for a part of each period. Without a capacitor that outlasts the period, the rail falls during the pulse as if "
    "the LEDs were not dimmed at all. With one, it falls only by the drop in the capacitor's own resistance. All channels are assumed to begin their "
    "pulses together, as on most chips. A finding where the pulses bring the rail below what the prop needs and the mean current does not; the "
    "capacitor named evens out the pulses.",
    "minimum_v in the prop file, or what its regulator needs; five periods are common practice, no source", "your own files",
    "Within about 10 % for fresh cells, and on the safe side where pulses are spread over the period. Capacitors on bought modules count too: add them "
    "to bulk_capacitor_uf.",
    formula="{V} < {Vmin}",
    symbols={"V": "lowest voltage during a pulse, typical supply, in V", "Vlow": "the same with a worst-case supply, in V",
             "Vmin": "voltage that the prop needs, minimum_v or what its regulator needs, in V",
             "Vmean": "lowest voltage with the mean of the pulses, in V"}))


def pulse_findings(performance: Performance) -> tuple[Finding, ...]:
    """A warning where pulses bring the rail below what the prop needs, and their mean does not; a note where only an unlucky supply's."""
    lowest, rail = _pulsed(performance), performance.load.rail
    if lowest is None or rail is None or performance.supply is None:
        return ()
    name, supply = performance.supply
    is_low, is_low_unlucky = (
        not within >= performance.load.stops_at_v and mean >= performance.load.stops_at_v
        for within, mean in ((lowest.typical, rail.lowest.typical), (lowest.low, rail.lowest.low)))
    if not (is_low or is_low_unlucky):
        return ()
    pulsed, unlucky = (f"{volts:.2f} V" if np.isfinite(volts) else "collapse" for volts in (lowest.typical, lowest.low))
    hertz = performance.prop.sequence.board.dimming_hz
    needed = quantity(float(f"{1e6 * _PERIODS / (hertz * resistance_ohm(supply).typical):.2g}"), "uF") if hertz else "one that outlasts the pulses"
    stops = quantity(performance.load.stops_at_v, "V") if performance.load.stops_at_v else "any voltage that is left"
    return (EXPLAINED["power.pulses"].finding(
        Weight.WARNING if is_low else Weight.NOTE, f"supply '{name}'",
        f"{pulsed} during the pulses of dimmed light, fresh; {unlucky} with a worst-case supply",
        stops, f"Put a capacitor across the rail ({needed}, as bulk_capacitor_uf), or lower the currents.",
        {"V": pulsed, "Vlow": unlucky, "Vmin": stops, "Vmean": f"{rail.lowest.typical:.2f} V"}),)


def _pulsed(performance: Performance) -> Estimate | None:
    """The lowest rail within a pulse; None where a capacitor without resistance makes a mean of pulses, where nothing
    is fed, or where all at once would do no harm.
    """
    sequence, supply = performance.prop.sequence, performance.supply
    period_s = 1 / sequence.board.dimming_hz if sequence.board.dimming_hz else 0.0
    if supply is None:
        return None
    mean_v = performance.load.rail.lowest if is_smoothed(supply[1], period_s) else None
    if mean_v is not None and (supply[1].bulk_capacitor_ohm == 0 or np.isnan(mean_v.low)):
        return None
    diode, sound_a = changeover_diode(sequence), performance.sound.current_ma.values / 1000
    once, most = np.zeros(1), Steps(np.zeros(1), np.ones(1), 1.0)
    _, _, everything = played_load(sequence, performance.prop.circuits, dict.fromkeys(performance.prop.circuits, most), once, 1.0)
    loudest = amplifier_load(sequence, sound_a.max(initial=0.0), performance.load.fresh_v)
    if pulsed_rail(supply[1], everything + loudest, diode, mean_v).low >= performance.load.stops_at_v:
        return None
    _, block, lights = played_load(sequence, performance.prop.circuits, performance.light.within_pulses, performance.sound.current_ma.times_s, performance.duration_s)
    sound = performance.load.amplifier_in(np.arange(sound_a.size)).part(block)
    return pulsed_rail(supply[1], lights + sound, diode, mean_v)
