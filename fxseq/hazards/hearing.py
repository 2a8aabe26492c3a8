"""What sound may do to ears: the day's dose, and peaks.

NIOSH recommended exposure limit and OSHA table G-16 (29 CFR 1910.95): equations and tables seen in
two copies each. Directive 2003/10/EC, Article 3: text seen on three pages. Workplace limits for
grown-ups, not for children; a first warning, no measurement.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

NIOSH_LEVEL_DBA = 85.0
NIOSH_CEILING_DBA = 115.0
EU_LOWER_DBA = 80.0
EU_UPPER_DBA = 85.0
EU_LIMIT_DBA = 87.0
IMPULSE_PEAK_DB = 140.0
"""Impulse noise must not exceed this peak level (29 CFR 1910.95). [dB re 20 uPa]"""
EU_LOWER_PEAK_DBC = 135.0
"""Lower action value for the C-weighted peak, 112 Pa. [dB re 20 uPa]"""
TOY_LEVEL_DBA = 85.0
TOY_EAR_LEVEL_DBA = 65.0
TOY_DISTANCE_M = 0.5
"""Korean limits for toys, for those held to the ear, both at 50 cm: seen in the abstract of a
conference paper. [dB(A)]
"""
TOY_USE_M = 0.25
"""Distance at which toys that are not held to the ear are taken to be used; seen in a public
text about a standard for toys. [m]
"""
_DAY_H = 8.0


def niosh_time_min(level_dba: float) -> float:
    """Time a day at a level: 480 / 2^((L - 85) / 3). [min]"""
    return 480 / 2 ** ((level_dba - NIOSH_LEVEL_DBA) / 3)


def niosh_dose_percent(exposures: Iterable[tuple[float, float]]) -> float:
    """Dose of a day: 100 sum(C / T) over exposures of (level [dB(A)], time C [min]). Levels
    below 80 dB(A) count too. [%]
    """
    return 100 * sum(minutes / niosh_time_min(level) for level, minutes in exposures)


def daily_exposure_level_dba(level_dba: float, hours: float) -> float:
    """LEX,8h of a level heard for so long a day, > 0: L + 10 lg(T / 8 h). [dB(A)]"""
    return level_dba + 10 * math.log10(hours / _DAY_H)


def level_at_db(level_db: float, from_m: float, to_m: float) -> float:
    """A level at another distance in a free field: L - 20 lg(to / from). [dB]"""
    return level_db - 20 * math.log10(to_m / from_m)


@dataclass(frozen=True)
class Exposure:
    """What one place hears. level_dba: LAeq while it plays, highest_dba: LAFmax, peak_dbc: LCpeak;
    -inf for silence.

    uncertainty_db: either way. hours_a_day: how long it plays like this.
    """

    place: str
    distance_m: float
    level_dba: float
    highest_dba: float
    peak_dbc: float
    uncertainty_db: float
    hours_a_day: float

    @property
    def dose_percent(self) -> float:
        """NIOSH dose of the day at the nominal level. [%]"""
        return niosh_dose_percent([(self.level_dba, self.hours_a_day * 60)])

    @property
    def daily_dba(self) -> float:
        """LEX,8h at the nominal level. [dB(A)]"""
        return daily_exposure_level_dba(self.level_dba, self.hours_a_day)
