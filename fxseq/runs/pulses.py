"""The rail within the pulses of dimmed light, where no capacitor makes a mean of them."""

import numpy as np

from fxseq.power import (
    Steps,
    amplifier_load,
    changeover_diode,
    is_smoothed,
    played_load,
    pulsed_rail,
)
from fxseq.power.estimate import Estimate
from fxseq.runs.supply_load import SupplyLoad

PERIODS = 5
"""Periods of the dimming that a capacitor with the supply's resistance is to outlast; a rail
then stays near its mean. Common practice, no source.
"""


def pulsed_v(load: SupplyLoad) -> Estimate | None:
    """The lowest rail within a pulse; None where a capacitor without resistance makes a mean of
    pulses, where nothing is fed, or where all at once would do no harm.
    """
    sequence = load.prop.sequence
    supply = load.supply
    period_s = 1 / sequence.board.dimming_hz if sequence.board.dimming_hz else 0.0
    if supply is None:
        return None
    mean_v = load.rail.lowest if is_smoothed(supply, period_s) else None
    if mean_v is not None and (supply.bulk_capacitor_ohm == 0 or np.isnan(mean_v.low)):
        return None
    diode = changeover_diode(sequence)
    sound_a = load.sound.current_ma.values / 1000
    once = np.zeros(1)
    most = Steps(np.zeros(1), np.ones(1), 1.0)
    _, _, everything = played_load(
        sequence, load.circuits, dict.fromkeys(load.circuits, most), once, 1.0
    )
    loudest = amplifier_load(sequence, sound_a.max(initial=0.0), load.fresh_v)
    if pulsed_rail(supply, everything + loudest, diode, mean_v).low >= load.stops_at_v:
        return None
    _, block, lights = played_load(
        sequence,
        load.circuits,
        load.light.within_pulses,
        load.sound.current_ma.times_s,
        load.duration_s,
    )
    sound = load.amplifier_in(np.arange(sound_a.size)).part(block)
    return pulsed_rail(supply, lights + sound, diode, mean_v)
