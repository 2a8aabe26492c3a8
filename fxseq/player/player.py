"""The player: one clock, from event to event (SPEC 5.1)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.player.dice import Dice
from fxseq.player.effects import Counters, Effects
from fxseq.player.events import Press, PressKind, TraceEvent, TraceKind
from fxseq.player.inputs import Inputs
from fxseq.player.lights import DutyTrack, Lights
from fxseq.player.mix import Mixer
from fxseq.player.triggers import Stage, make_trigger
from fxseq.player.voices import Sounding, Voices
from fxseq.table import Table


@dataclass(frozen=True)
class Played:
    """What came out of frames first_frame..until_frame - 1.

    samples: shape (frames * samples_per_frame,). light: one track a channel, over the same frames.
    saturated: samples that would not fit. most_voices: the most voices that sounded at one time.
    soundings: every sound that was heard, in the order of their beginnings.
    """

    first_frame: int
    until_frame: int
    samples: NDArray[np.int16]
    light: list[DutyTrack]
    trace: list[TraceEvent]
    saturated: int
    most_voices: int
    soundings: list[Sounding]


class Player:
    """Plays one table from power-up on. Splitting a run into several calls of `play` changes
    nothing.
    """

    def __init__(self, table: Table) -> None:
        self.table = table
        self.frame = 0
        """Next frame to play."""
        self._trace: list[TraceEvent] = []
        self._now = 0
        self._positions = [selector.start for selector in table.selectors]
        self._inputs = Inputs(table.inputs)
        self._counters = Counters(table, self._log)
        self._voices = Voices(table, self._log)
        self._lights = Lights(table)
        dice = Dice(table.seed)
        self._effects = Effects(table, dice, self._counters, self._voices, self._lights, self._log)
        stage = Stage(
            self._inputs,
            self._positions,
            self._counters,
            dice,
            self._effects,
            self._voices,
            self._log,
        )
        self._triggers = [
            make_trigger(index, record, stage) for index, record in enumerate(table.triggers)
        ]
        self._trigger_due = [0] * len(table.triggers)
        self._mixer = Mixer(table)
        self._next = 0

    def play(self, presses: Iterable[Press], until_frame: int) -> Played:
        """Play up to, and without, `until_frame`. presses: in any order, each within the frames to
        be played.

        Raises ValueError where until_frame has been played, or a press is outside those frames or
        names what the table does not have.
        """
        first = self.frame
        waiting = sorted(presses, key=lambda press: press.frame)
        self._check(waiting, until_frame)
        self._trace = []
        most = 0
        at = 0
        while True:
            frame = min(self._next, waiting[at].frame if at < len(waiting) else until_frame)
            if frame >= until_frame:
                break
            end = at
            while end < len(waiting) and waiting[end].frame == frame:
                end += 1
            self._play_frame(frame, waiting[at:end])
            most = max(most, self._voices.sounding_at(frame * self.table.samples_per_frame))
            at = end
        self.frame = until_frame
        return self._collect(first, most)

    def _check(self, presses: Sequence[Press], until_frame: int) -> None:
        table = self.table
        if until_frame < self.frame:
            raise ValueError(
                f"frame {until_frame} is behind frame {self.frame}, the next to be played"
            )
        for press in presses:
            if not self.frame <= press.frame < until_frame:
                raise ValueError(f"{press} is outside frames {self.frame} to {until_frame - 1}")
            if press.kind == PressKind.SELECT:
                known = (
                    press.index < len(table.selectors)
                    and 0 <= press.value < table.selectors[press.index].positions
                )
            elif press.kind == PressKind.VOLUME:
                known = 0 <= press.value <= 256
            else:
                known = press.index < len(table.inputs) and (
                    press.kind != PressKind.HELD or 1 <= press.value <= 65535
                )
            if not known:
                raise ValueError(f"{press} names what the table does not have")

    def _log(self, kind: TraceKind, index: int, value: int) -> None:
        self._trace.append(TraceEvent(self._now, kind, index, value))

    def _play_frame(self, frame: int, presses: Sequence[Press]) -> None:
        """One frame: settings, inputs, triggers, effects."""
        self._now = frame
        self._set(presses)
        changed = bool(presses) or frame >= self._inputs.next_frame() or frame == 0
        if changed:
            for index in self._inputs.hold(frame, presses):
                self._log(TraceKind.PRESS, index, 0)
            for edge, index in self._inputs.feed(frame, presses):
                self._log(edge, index, 0)
        for index, trigger in enumerate(self._triggers):
            # Without a change from outside, only time moves a trigger, and it has said when.
            if changed or self._trigger_due[index] <= frame:
                trigger.update(frame)
                self._trigger_due[index] = trigger.next_frame(frame)
        self._effects.update(frame)
        self._next = max(
            min(self._inputs.next_frame(), self._effects.next_frame(), *self._trigger_due),
            frame + 1,
        )

    def _set(self, presses: Sequence[Press]) -> None:
        """Take selector positions and the wanted volume."""
        for press in presses:
            if press.kind == PressKind.SELECT and self._positions[press.index] != press.value:
                self._positions[press.index] = press.value
                self._log(TraceKind.SELECT, press.index, press.value)
            elif press.kind == PressKind.VOLUME:
                self._log(TraceKind.VOLUME, 0, press.value)

    def _collect(self, first: int, most_voices: int) -> Played:
        volumes = [
            (event.frame, event.value) for event in self._trace if event.kind == TraceKind.VOLUME
        ]
        samples, saturated = self._mixer.mix(self._voices.soundings, volumes, first, self.frame)
        now = self.frame * self.table.samples_per_frame
        heard = self._voices.soundings
        self._voices.soundings = [item for item in self._voices.soundings if item.end > now]
        most = max(most_voices, self._voices.sounding_at(now - 1))
        return Played(
            first,
            self.frame,
            samples,
            self._lights.collect(self.frame),
            self._trace,
            saturated,
            most,
            heard,
        )


def duties(played: Played) -> NDArray[np.uint16]:
    """Duties as a dense array, shape (frames, channels)."""
    frames = np.arange(played.first_frame, played.until_frame)
    return np.stack(
        [
            track.duties[np.searchsorted(track.frames, frames, side="right") - 1]
            for track in played.light
        ],
        axis=1,
    )
