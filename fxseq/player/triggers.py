"""Triggers: an input, conditions and a mode, bound to effects (SPEC 5.3 and 5.4).

Two kinds cover the five modes. A shot trigger (once, repeat) fires effects; a stay trigger
(while_held, on_off, always) begins, goes on and ends. Both watch one gate: held long enough, with
every selector where it must be.
"""

from collections.abc import Callable

from fxseq.player.dice import Dice
from fxseq.player.effects import Counters, Effects
from fxseq.player.events import TraceKind
from fxseq.player.inputs import NEVER, Inputs
from fxseq.player.voices import Voices
from fxseq.table import Mode, Shots, Stay, TriggerRecord


class Stage:
    """What triggers read and act on."""

    def __init__(
        self,
        inputs: Inputs,
        positions: list[int],
        counters: Counters,
        dice: Dice,
        effects: Effects,
        voices: Voices,
        log: Callable[[TraceKind, int, int], None],
    ) -> None:
        self.inputs = inputs
        self.positions = positions
        self.counters = counters
        self.dice = dice
        self.effects = effects
        self.voices = voices
        self.log = log


class Trigger:
    """What both kinds share: the gate, and the counter that is needed."""

    def __init__(self, index: int, record: TriggerRecord, stage: Stage) -> None:
        self._index = index
        self._record = record
        self._stage = stage
        self._gate = False

    def update(self, frame: int) -> None:
        """Act on this frame."""
        opens_at = self._opens_at()
        gate = opens_at <= frame and self._selected()
        risen = gate and not self._gate
        self._gate = gate
        self._act(frame, gate, risen, frame == opens_at)

    def next_frame(self, frame: int) -> int:
        """Next frame after `frame` at which something happens without an event."""
        opens_at = self._opens_at()
        return min(opens_at if opens_at > frame else NEVER, self._due())

    def _opens_at(self) -> int:
        """Frame from which the input has been held long enough; NEVER while it is let go."""
        source = self._record.input
        pressed_at = 0 if source is None else self._stage.inputs[source].pressed_at
        return NEVER if pressed_at is None else pressed_at + self._record.hold

    def _selected(self) -> bool:
        return all(
            mask >> self._stage.positions[selector] & 1
            for selector, mask in self._record.conditions
        )

    def _has_what_it_needs(self, frame: int) -> bool:
        needs = self._record.needs
        empty = self._record.empty
        if needs is None or self._stage.counters[needs] > 0:
            return True
        self._stage.log(TraceKind.EMPTY, self._index, needs)
        if empty is not None:
            self._stage.effects.start(frame, empty, self._index, held=False)
        return False

    def _act(self, frame: int, gate: bool, risen: bool, fresh: bool) -> None:
        raise NotImplementedError

    def _due(self) -> int:
        raise NotImplementedError


class ShotTrigger(Trigger):
    """Once and repeat."""

    def __init__(self, index: int, record: TriggerRecord, stage: Stage, shots: Shots) -> None:
        super().__init__(index, record, stage)
        self._shots = shots
        self._running = False
        self._fired = 0
        self._last: int | None = None
        self._due_frame = self._due_part = 0

    def _act(self, frame: int, gate: bool, risen: bool, fresh: bool) -> None:
        if self._record.mode == Mode.ONCE:
            if risen and fresh:
                self._fired = 0
                self._fire(frame)
            return
        if self._running and self._due() <= frame:
            self._repeat(frame)
        if risen and not self._running:
            self._begin(frame)
        if self._running and not gate and self._fired >= self._shots.burst:
            self._stop()

    def _begin(self, frame: int) -> None:
        self._running = True
        self._fired = 0
        self._due_frame = frame
        self._due_part = 0
        self._stage.log(TraceKind.START, self._index, 0)
        self._repeat(frame)

    def _stop(self) -> None:
        self._running = False
        self._stage.log(TraceKind.STOP, self._index, 0)

    def _repeat(self, frame: int) -> None:
        wait = self._wait()
        if not self._fire(frame) or self._fired == self._shots.limit:
            self._stop()
            return
        self._due_part += wait
        self._due_frame += self._due_part >> 8
        self._due_part &= 255

    def _wait(self) -> int:
        """From the shot about to be fired to the next, in 1/256 frame."""
        shots = self._shots
        if self._fired == 0 and shots.first:
            return shots.first
        if not shots.ramp_shots:
            return shots.period
        way = (shots.ramp_period - shots.period) * min(self._fired, shots.ramp_shots)
        return shots.period + (way // shots.ramp_shots if way >= 0 else -(-way // shots.ramp_shots))

    def _fire(self, frame: int) -> bool:
        if not self._has_what_it_needs(frame):
            return False
        count = len(self._shots.effects)
        if self._shots.random:
            self._last = self._stage.dice.other_than(self._last, count)
        else:
            self._last = 0 if self._last is None else (self._last + 1) % count
        self._stage.log(TraceKind.SHOT, self._index, self._fired)
        self._fired = min(self._fired + 1, 65535)
        self._stage.effects.start(frame, self._shots.effects[self._last], self._index, held=False)
        return True

    def _due(self) -> int:
        return self._due_frame + (self._due_part > 0) if self._running else NEVER


class StayTrigger(Trigger):
    """While held, on-off and always."""

    def __init__(self, index: int, record: TriggerRecord, stage: Stage, stay: Stay) -> None:
        super().__init__(index, record, stage)
        self._stay = stay
        self._on = False
        self._next = NEVER

    def _act(self, frame: int, gate: bool, risen: bool, fresh: bool) -> None:
        if self._on and self._next <= frame:
            self._during(frame)
        on_off = self._record.mode == Mode.ON_OFF
        if self._on and (fresh if on_off else not gate):
            self._end(frame)
        elif not self._on and risen and (fresh or not on_off):
            self._begin(frame)

    def _begin(self, frame: int) -> None:
        if not self._has_what_it_needs(frame):
            return
        self._on = True
        self._next = frame
        self._stage.log(TraceKind.START, self._index, 0)
        begin = self._stay.begin
        if begin is not None:
            self._stage.effects.start(frame, begin, self._index, held=True)
            self._next = frame + self._length(begin)
        if self._next == frame:
            self._during(frame)

    def _during(self, frame: int) -> None:
        during = self._stay.during
        length = 0
        if during is not None:
            self._stage.effects.start(frame, during, self._index, held=True)
            length = self._length(during)
        self._next = frame + length if length else NEVER

    def _end(self, frame: int) -> None:
        self._on = False
        self._next = NEVER
        self._stage.log(TraceKind.STOP, self._index, 0)
        self._stage.effects.let_go(self._index)
        self._stage.voices.let_go(frame, self._index)
        if self._stay.end is not None:
            self._stage.effects.start(frame, self._stay.end, self._index, held=False)

    def _length(self, effect: int) -> int:
        return self._stage.effects.length(effect)

    def _due(self) -> int:
        return self._next


def make_trigger(index: int, record: TriggerRecord, stage: Stage) -> Trigger:
    """The trigger of a record."""
    if isinstance(record.action, Shots):
        return ShotTrigger(index, record, stage, record.action)
    return StayTrigger(index, record, stage, record.action)
