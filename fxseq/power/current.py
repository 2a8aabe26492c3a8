"""Current of a prop over time, and whether its supply can give it.

PWM is averaged over its period. What strings take at the rail of the moment is in `played`.
"""
from dataclasses import asdict, dataclass
from typing import Any

from fxseq.power.circuits import most_ma
from fxseq.power.steps import Steps
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Group, Supply

_SECONDS_PER_HOUR = 3600.0
_DANGER = {"cells": "Overloaded cells get hot and may leak", "wall": "An overloaded adaptor gets hot or cuts out"}

EXPLAINED = explained(Explanation(
    "power.supply_current", "Does the prop take more current than its supply is rated for?",
    "The currents of all lit LEDs, the amplifier and the board are added up over the time played; a dimmed LED counts with its mean. This is done for "
    "the fresh supply, where LEDs take most, and for the lowest voltage at which the prop works, where converters and class D amplifiers take most. A "
    "finding where the highest sum is above the supply's rating; a fault where even the mean is, at the fresh supply.",
    "the supply's rating in the prop file, or that of its kind of cell or socket", "your own files",
    "Mostly within 10 to 20 %. It counts with the voltage that is left after the supply's internal resistance; where that is not known, with the "
    "voltage of the fresh supply. It holds for the presses that were played: play the busiest ones, and see power.line_current for everything at once.",
    formula="{Ipeak} > {Irated}",
    symbols={"Ipeak": "highest current, in mA", "Imean": "mean current, in mA", 
             "Irated": "maximum_current_ma of the supply, or what cells of this kind can give, in mA"}))


@dataclass(frozen=True)
class Draw:
    """What is taken from the supply over a time: mean, effective and peak current, charge, and energy at the supply's
    nominal voltage.
    """

    duration_s: float
    mean_ma: float
    rms_ma: float
    peak_ma: float
    charge_mah: float
    energy_wh: float

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return asdict(self)


def group_current_ma(group: Group, lit: Steps) -> Steps:
    """Current of a group over time that no supply is known for, so that each of its LEDs counts alone and with the current of the file. [mA]

    lit: share of the group's full light, 0..1 (see `lit_share`); its LEDs are spread evenly over its channels.
    """
    return Steps(lit.times_s, lit.values * (group.leds * group.current_ma), lit.end_s)


def draw(current_ma: Steps, voltage_v: float) -> Draw:
    """Mean, effective value, peak, charge and energy of a current over time. voltage_v: of the supply, taken as
    constant. [V]
    """
    charge_mah = current_ma.integral() / _SECONDS_PER_HOUR
    return Draw(
        duration_s=current_ma.end_s,
        mean_ma=current_ma.mean(),
        rms_ma=current_ma.rms(),
        peak_ma=current_ma.peak(),
        charge_mah=charge_mah,
        energy_wh=charge_mah / 1000 * voltage_v,
    )


def supply_findings(name: str, supply: Supply, taken: Draw, flat_peak_ma: float) -> tuple[Finding, ...]:
    """Current over what the supply can give: a fault where the mean exceeds it, a warning where only peaks do.

    taken: from the fresh supply. flat_peak_ma: the highest from the flat one, which is more where something takes power whatever the voltage.
    """
    peak_ma, rated_ma = max(taken.peak_ma, flat_peak_ma), most_ma(supply)
    if peak_ma <= rated_ma:
        return ()
    lasting = taken.mean_ma > rated_ma
    flat = f", {flat_peak_ma:.0f} mA with the supply at its lowest" if flat_peak_ma > taken.peak_ma else ""
    return (EXPLAINED["power.supply_current"].finding(
        weight=Weight.FAULT if lasting else Weight.WARNING,
        subject=f"supply '{name}'",
        figure=f"{taken.peak_ma:.0f} mA peak, {taken.mean_ma:.0f} mA on average{flat}",
        limit=f"{rated_ma:g} mA",
        remedy=f"{_DANGER[supply.kind]}: light fewer LEDs at a time, lower their current or the volume, or choose a stronger supply. Fit a fuse in any "
               "case.",
        inputs={"Ipeak": f"{peak_ma:.0f} mA", "Imean": f"{taken.mean_ma:.0f} mA", "Irated": f"{rated_ma:g} mA"},
    ),)
