"""How the units of a prop file become those of a table: one function a unit, each rounding as it
must. `compile` calls them, and `uncompile` looks for the number that they bring back.
"""

import math

from fxseq.table import limits


def frames_of(time_ms: float, frame_rate_hz: float) -> int:
    """Frames of a time, at least one where the time is not zero."""
    frames = round(time_ms * frame_rate_hz / 1000)
    return frames if frames or not time_ms else int(math.copysign(1, time_ms))


def period_of(rate_per_s: float, frame_rate_hz: float) -> int:
    """Period in 1/256 frame, rounded down: a shot that is due at the very moment of release must
    not come after it.
    """
    return math.floor(frame_rate_hz / rate_per_s * 256)


def first_period_of(delay_ms: float, frame_rate_hz: float) -> int:
    """Delay of a second shot in 1/256 frame, rounded down as a period is."""
    return math.floor(delay_ms * frame_rate_hz * 0.256)


def gain_of(gain_db: float) -> int:
    """Gain in 1/4096."""
    return round(limits.UNITY_GAIN * 10 ** (gain_db / 20))


def pitch_spread_of(percent: float) -> int:
    """Spread of the pitch in 1/1024."""
    return round(percent / 100 * 1024)


def gain_spread_of(percent: float) -> int:
    """Spread of the gain in 1/256."""
    return round(percent / 100 * 256)


def flicker_low_of(low_percent: float, to_level: int) -> int:
    """The lowest level of a flicker, which the table keeps in 1/255."""
    step = round(low_percent * 255 / 100)
    return min(step, to_level // limits.LOW_UNIT) * limits.LOW_UNIT


def flicker_pace_of(every: int) -> int:
    """Points of a flicker in 1/65536 a frame, where there is one every so many frames."""
    return min(65536 // every, limits.FLICKER_PACE[1])


def clip_step_of(rate_hz: float, board_rate_hz: int) -> int:
    """Samples of a clip for each of the board's, in 1/65536."""
    return round(rate_hz * 65536 / board_rate_hz)


def cells_of(at_pin_v: float, full_v: float) -> int:
    """Voltage at a pin in 1/256 of the largest that the board measures; never none or all."""
    return min(max(round(at_pin_v * 256 / full_v), 1), 255)
