"""The wires from the supplies to the rail, laid out for everything at once."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from fxseq.power.circuits import Circuit, changeover_diode, fresh_v, most_ma, voltages_of
from fxseq.power.diodes import Diode
from fxseq.power.layout import Range
from fxseq.power.rail import LEAST_V, Load, rail_v
from fxseq.power.regulators import board_load, needed_v, taken
from fxseq.power.steps import Steps
from fxseq.power.wires import (
    FUSE_SHARE,
    FUSES_A,
    GAUGES,
    TRIP_RATIO,
    ampacity_a,
    drop_v,
    fused_wire,
    wire_for,
)
from fxseq.sequence.model import Sequence, Supply

_ALL_LIT = Steps(np.zeros(1), np.ones(1), 0.0)
LARGEST_FUSE_A = max(rating_a for rating_a in FUSES_A if rating_a <= ampacity_a(GAUGES[0]))


@dataclass(frozen=True)
class SupplyLine:
    """The wire from a supply to the rail, laid out for everything at once: all LEDs lit, the
    loudest tone, the board.

    rated_ma: the most the supply may give. sound_ma: None where it is not known. laid_out_a: for
    what a fuse and its wire are looked for. gauge: AWG; with fuse_a None where no common wire is
    thick enough. resettable: whether the file states such a fuse. drop_mv_per_m: lost over both
    wires for each metre from the supply to the board.
    """

    name: str
    kind: str
    fresh_v: float
    rated_ma: float
    light_ma: float
    sound_ma: float | None
    board_ma: float
    laid_out_a: float
    gauge: int | None
    fuse_a: float | None
    resettable: bool
    drop_mv_per_m: float | None

    @property
    def total_ma(self) -> float:
        """All of it."""
        return self.light_ma + (self.sound_ma or 0.0) + self.board_ma


def supply_lines(
    sequence: Sequence, wired: Mapping[str, Circuit], sound_ma: Mapping[str, float]
) -> tuple[SupplyLine, ...]:
    """The line of each supply. sound_ma: of the loudest tone, by supply, empty where it is not
    known.
    """
    return tuple(_line(name, sequence, wired, sound_ma.get(name)) for name in sequence.supplies)


def _line(
    name: str, sequence: Sequence, wired: Mapping[str, Circuit], sound_ma: float | None
) -> SupplyLine:
    supply = sequence.supplies[name]
    lights = sum((circuit.load(_ALL_LIT) for circuit in wired.values()), Load())
    board = board_load(sequence)
    sound = taken("amplifier", sequence, (sound_ma or 0.0) / 1000)
    span = _behind_diode(
        voltages_of(supply, needed_v(sequence)), lights + board + sound, changeover_diode(sequence)
    )
    light_ma = _most_ma(lights, span)
    board_ma = _most_ma(board, span)
    if sound_ma is not None:
        sound_ma = _most_ma(sound, span)
    total_a = (light_ma + (sound_ma or 0.0) + board_ma) / 1000
    gauge, fuse_a = fused_wire(total_a) or (None, None)
    stated_a, passed_a = _stated_fuse(supply)
    if stated_a:
        gauge = wire_for(passed_a)
        fuse_a = stated_a
    lost_mv = None
    if gauge is None:
        fuse_a = None
    else:
        lost_mv = 1000 * drop_v(gauge, 1.0, total_a)
    return SupplyLine(
        name,
        supply.kind,
        fresh_v(supply).high,
        most_ma(supply),
        light_ma,
        sound_ma,
        board_ma,
        max(total_a, FUSE_SHARE * passed_a),
        gauge,
        fuse_a,
        supply.resettable_fuse_ma is not None,
        lost_mv,
    )


def _behind_diode(span: Range, load: Load, diode: Diode | None) -> Range:
    """The range that a changeover's diode leaves with all of it on; as it is where it would
    leave nothing.
    """
    if diode is None:
        return span
    left_v = float(np.ravel(rail_v(span.fresh_v, 0.0, load, diode))[0])
    if left_v > 0:
        return replace(span, fresh_v=left_v, flat_v=min(span.flat_v, left_v))
    return span


def _stated_fuse(supply: Supply) -> tuple[float, float]:
    """Rating of the fuse that the file states, and what its wire has to stand, which of a
    resettable one is what trips it; 0 without. [A]
    """
    if supply.resettable_fuse_ma is not None:
        return supply.resettable_fuse_ma / 1000, TRIP_RATIO * supply.resettable_fuse_ma / 1000
    return (supply.fuse_ma or 0.0) / 1000, (supply.fuse_ma or 0.0) / 1000


def _most_ma(load: Load, span: Range) -> float:
    """At the fresh or at the flat supply: lights take most at the one, a switching regulator at
    the other. [mA]
    """
    return 1000 * max(
        float(np.ravel(load.at(volts)[0])[0]) for volts in (span.fresh_v, max(span.flat_v, LEAST_V))
    )
