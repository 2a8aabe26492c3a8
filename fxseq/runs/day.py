"""How long the cells last on the day that a file describes: what each state takes is measured,
the cells are taken down by `power`.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.player import PressKind, Script
from fxseq.power import (
    Load,
    Phase,
    RunTime,
    Steps,
    amplifier_load,
    changeover_diode,
    pack_of,
    regulation,
    shares,
)
from fxseq.power.regulators import resistive_load, taken
from fxseq.power.run_time import run_time
from fxseq.runs.supply_load import SupplyLoad
from fxseq.table import InputKind, Table

IDLE_S = 5.0
"""How long it is left alone to see what it takes then."""
TAIL_S = 2.0
"""Time after a press is let go that counts with it, until the next press. [s]"""
LONGEST_TAP_S = 0.5


@dataclass(frozen=True)
class Spans:
    """The times that belong to presses of one kind, from the press to the end of its tail or to
    the next press; shape (n,) each. [s]
    """

    begins_s: NDArray[np.float64]
    ends_s: NDArray[np.float64]
    pressed_s: float

    @property
    def length_s(self) -> float:
        """All of them together."""
        return float((self.ends_s - self.begins_s).sum())


def day_run_time(
    run: SupplyLoad, script: Script, left_alone: Callable[[float], SupplyLoad]
) -> RunTime | None:
    """How long the cells last; None where the file describes no day or the prop runs from the wall.

    script: the presses of the run. left_alone: the same prop for so many seconds with nothing
    pressed.
    """
    day = run.prop.sequence.day
    supply = run.supply
    if day is None or supply is None or supply.kind != "cells":
        return None
    pack = pack_of(supply)
    if pack is None:
        return _unknown("the kind of the cells is missing (cell)")
    taps, held = _spans(script, run.prop.compiled.table, run.duration_s)
    if day.taps_an_hour and not taps.begins_s.size:
        return _unknown("the press script has no tap to measure")
    if day.held_s_an_hour and not held.pressed_s:
        return _unknown(f"the press script holds nothing for longer than {LONGEST_TAP_S:g} s")
    tail = 1.0
    if held.pressed_s:
        tail = held.length_s / held.pressed_s
    try:
        share = shares(
            day.taps_an_hour, taps.length_s / max(taps.begins_s.size, 1), day.held_s_an_hour * tail
        )
    except ValueError as error:
        return _unknown(str(error))
    idle = left_alone(IDLE_S)
    whole = Spans(np.zeros(1), np.full(1, idle.duration_s), 0.0)
    phases = [
        Phase(name, share[name], _loads(of_phase, spans))
        for name, of_phase, spans in (
            ("idle", idle, whole),
            ("taps", run, taps),
            ("held", run, held),
        )
    ]
    return run_time(pack, phases, run.heaviest, run.stops_at_v, changeover_diode(run.prop.sequence))


def _unknown(missing: str) -> RunTime:
    return RunTime(None, (), missing)


def _loads(run: SupplyLoad, spans: Spans) -> dict[str, Load]:
    """What takes current, by name, on average over these times."""

    def mean(steps: Steps) -> Steps:
        return Steps(np.zeros(1), np.full(1, steps.mean_within(spans.begins_s, spans.ends_s)), 0.0)

    sequence = run.prop.sequence
    regulator = regulation(run.prop.sequence)
    sound = amplifier_load(sequence, mean(run.sound.current_ma).values / 1000, run.fresh_v)
    own = {}
    if regulator:
        own["regulator"] = Load(current_a=regulator.own_a)
    if sequence.rail_load_ohm:
        own["rail load"] = resistive_load(sequence)
    return {
        **{
            name: circuit.load(mean(run.light.steps[name]))
            for name, circuit in run.circuits.items()
        },
        "amplifier": sound,
        "board": taken("board", sequence, sequence.board.current_ma / 1000),
        **own,
    }


def _spans(script: Script, table: Table, end_s: float) -> tuple[Spans, Spans]:
    """The times of taps and of holds in the press script."""
    presses = sorted(_presses(script, table, end_s))
    nexts = [begin for begin, _ in presses[1:]] + [end_s]
    kinds: dict[bool, list[tuple[float, float, float]]] = {True: [], False: []}
    for (begin, end), following in zip(presses, nexts, strict=False):
        until = min(end + TAIL_S, following)
        kinds[end - begin <= LONGEST_TAP_S].append((begin, until, min(end, until) - begin))
    return _joined(kinds[True]), _joined(kinds[False])


def _joined(spans: Sequence[tuple[float, float, float]]) -> Spans:
    begins_s, ends_s, pressed_s = np.array(spans, dtype=np.float64).reshape(-1, 3).T
    return Spans(begins_s, ends_s, float(pressed_s.sum()))


def _presses(script: Script, table: Table, end_s: float) -> Iterator[tuple[float, float]]:
    """When each button is pressed and let go, the end of the run where it is not. [s]"""
    since: dict[int, float] = {}
    for press in script.presses:
        if (
            press.kind in (PressKind.PRESS, PressKind.RELEASE)
            and table.inputs[press.index].kind == InputKind.BUTTON
        ):
            at_s = press.frame / table.frame_rate_hz
            if press.index in since and press.kind == PressKind.RELEASE:
                yield since.pop(press.index), at_s
            elif press.kind == PressKind.PRESS:
                since.setdefault(press.index, at_s)
    for begin in since.values():
        yield begin, end_s
