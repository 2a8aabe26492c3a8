"""Current of a prop over time, and whether its supply can give it.

PWM is averaged over its period. What strings take at the rail of the moment is in `played`.
"""

from dataclasses import asdict, dataclass
from typing import Any

from fxseq.power.steps import Steps
from fxseq.sequence.model import Group

_SECONDS_PER_HOUR = 3600.0


@dataclass(frozen=True)
class Draw:
    """What is taken from the supply over a time: mean, effective and peak current, charge, and
    energy at the supply's nominal voltage.
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
    """Current of a group over time that no supply is known for, so that each of its LEDs counts
    alone and with the current of the file. [mA]

    lit: share of the group's full light, 0..1 (see `lit_share`); its LEDs are spread evenly over
    its channels.
    """
    return Steps(lit.times_s, lit.values * (group.leds * group.current_ma), lit.end_s)


def draw(current_ma: Steps, voltage_v: float) -> Draw:
    """Mean, effective value, peak, charge and energy of a current over time. voltage_v: of the
    supply, taken as constant. [V]
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
