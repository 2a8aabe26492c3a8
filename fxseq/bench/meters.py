"""With what the page says, while it plays, how much current the prop takes and how loud it is: a
few numbers of the physics.
"""

import math
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import (
    FAST_S,
    REFERENCE_PRESSURE_PA,
    Space,
    apply_responses,
    clipping_voltage_v,
    full_scale_v,
    heard_response,
    is_low_passed,
    low_pass_gain,
    power_db,
    supply_current_a,
)
from fxseq.power import Steps, before, board_load, fresh_v, group_current_ma
from fxseq.runs import Prop
from fxseq.sequence import Amplifier, Sequence, Speaker, Supply, channels_of

LEAD_SAMPLES = 64
"""How much later than its sound a level comes: what the end of the band does before its time is
not to be cut off.
"""
_LONGEST_S = 0.05
_QUIET_DB = 70.0
"""What comes after the response has lost so much of its energy is left out."""
_POINTS = 4096
_UNHEEDED = {"title": "", "triggers": {}, "effects": {}, "fades": {}, "clips": {}, "scripts": {}}
"""What is played, of which they hold for all."""


def meters(prop: Prop) -> dict[str, Any]:
    """Plain numbers with which samples and duties become current and level.

    channel_ma: of each channel at full duty, as it is wired and from the fresh supply. base_ma: of
    board and regulator, and of the amplifier without sound. sound: see `_sound_meter`; None where
    amplifier, speaker or supply is not described. most_ma: more than the prop can take.
    """
    sequence = prop.sequence
    base_ma = sequence.board.current_ma
    sound = None
    loudest_ma = 0.0
    supply = prop.supply()
    amplifier = sequence.amplifier
    speaker = sequence.speaker
    if supply is not None:
        base_ma = 1000 * float(board_load(sequence).at(fresh_v(supply[1]).typical)[0])
    if amplifier is not None and speaker is not None and supply is not None:
        sound = _sound_meter(prop, amplifier, speaker, supply[1])
        base_ma += amplifier.idle_current_ma * _ratio(prop, supply[1])
        loudest_ma = sound["ma_per_v2"] * sound["most_v"] ** 2 + sound["ma_per_v"] * sound["most_v"]
    channel_ma = _channel_ma(prop)
    return {
        "base_ma": base_ma,
        "channel_ma": channel_ma,
        "sound": sound,
        "most_ma": base_ma + sum(channel_ma) + loudest_ma,
    }


class Meters:
    """Meters of one state of a prop after the other: most changes leave them as they are."""

    def __init__(self) -> None:
        self._heeded: Sequence | None = None
        self._found: dict[str, Any] = {}

    def of(self, prop: Prop) -> dict[str, Any]:
        """As `meters`."""
        heeded = prop.sequence.model_copy(update=_UNHEEDED)
        if heeded != self._heeded:
            self._found = meters(prop)
            self._heeded = heeded
        return self._found


def _channel_ma(prop: Prop) -> list[float]:
    sequence = prop.sequence
    wired = prop.circuits
    supply = prop.supply()
    found = [0.0] * sequence.board.channels
    lit = Steps(np.zeros(1), np.ones(1), 1.0)
    for name in prop.compiled.names.groups:
        group = sequence.groups[name]
        if wired and supply is not None:
            whole_ma = 1000 * float(
                np.ravel(wired[name].load(lit).at(fresh_v(supply[1]).typical)[0])[0]
            )
        else:
            whole_ma = float(group_current_ma(group, lit).values[0])
        for channel in channels_of(group):
            found[channel] = whole_ma / group.channels
    return found


def _ratio(prop: Prop, supply: Supply) -> float:
    """Current from the fresh supply for each ampere of the amplifier: 1 without a switching
    regulator between them.
    """
    regulator = before("amplifier", prop.sequence)
    if not regulator:
        return 1.0
    return regulator.ratio(fresh_v(supply).typical)


def _sound_meter(
    prop: Prop, amplifier: Amplifier, speaker: Speaker, supply: Supply
) -> dict[str, Any]:
    """From samples to volts, milliamperes and the level at the hand.

    step: of the board's output, in units of a 16 bit sample. volts_per_unit: for a sample of full
    scale, 1. most_v: beyond which the amplifier clips, or full scale. ma_per_v2, ma_per_v: of the
    mean square and of the mean magnitude of the volts, idle current left out; one of them is 0.
    a_weighted: response to a sample of one volt, A-weighted, in units of the reference pressure,
    `LEAD_SAMPLES` late. fast_s: time constant with which its square is averaged. most_db: level
    that no sound can reach. [dB(A) re 20 uPa]
    """
    board = prop.sequence.board
    place = prop.sequence.listening
    regulator = before("amplifier", prop.sequence)
    ratio = _ratio(prop, supply)
    supply_v = fresh_v(supply).typical
    if regulator:
        supply_v = regulator.output_v
    most_v = min(
        full_scale_v(amplifier),
        float(clipping_voltage_v(amplifier, supply_v, speaker.impedance_ohm)),
    )
    quiet, one_volt = (
        float(supply_current_a(np.full(1, volts), speaker, amplifier, supply_v, 1)[0])
        * 1000
        * ratio
        for volts in (0.0, 1.0)
    )
    draws = {"ma_per_v2": 0.0, "ma_per_v": 0.0}
    draws["ma_per_v" if amplifier.kind == "class_ab" else "ma_per_v2"] = one_volt - quiet
    impulse, most_gain = _a_weighted(
        speaker, place.hand_m, place.space, board.sample_rate_hz, is_low_passed(board)
    )
    return {
        "step": 1 << (16 - board.sound_bits),
        "volts_per_unit": full_scale_v(amplifier),
        "most_v": most_v,
        **draws,
        "a_weighted": list(impulse),
        "fast_s": FAST_S,
        "most_db": float(power_db((most_v * most_gain) ** 2)),
    }


@lru_cache(maxsize=4)
def _a_weighted(
    speaker: Speaker, hand_m: float, space: Space, rate_hz: int, low_passed: bool
) -> tuple[tuple[float, ...], float]:
    """Impulse response from volts to A-weighted pressure, and the largest gain over frequency.
    [20 uPa/V] low_passed: the volts before the low-pass of pulses.
    """
    heard = heard_response(speaker, hand_m, space)

    def response(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        through = heard(frequencies_hz)
        return through * low_pass_gain(frequencies_hz) if low_passed else through

    click_v = np.zeros(LEAD_SAMPLES + math.ceil(_LONGEST_S * rate_hz))
    click_v[LEAD_SAMPLES] = 1.0
    impulse = apply_responses(click_v, rate_hz, [response], _LONGEST_S)[0] / REFERENCE_PRESSURE_PA
    gains = np.abs(response(np.linspace(0, rate_hz / 2, _POINTS)[1:]))
    return (
        tuple(without_tail(impulse, _QUIET_DB).tolist()),
        float(gains.max()) / REFERENCE_PRESSURE_PA,
    )


def without_tail(impulse: NDArray[np.float32], quiet_db: float) -> NDArray[np.float32]:
    """A response up to where all that is left of its energy is so far below the whole. [dB]"""
    left = np.cumsum(np.square(impulse[::-1], dtype=np.float64))[::-1]
    return impulse[: int(np.count_nonzero(left > left[0] * 10 ** (-quiet_db / 10))) + 1]
