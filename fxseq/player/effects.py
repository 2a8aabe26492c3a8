"""Effects under way: steps that are still to come, and fades that are still running along their
group (SPEC 5.5).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fxseq.player.dice import Dice
from fxseq.player.events import TraceKind
from fxseq.player.inputs import NEVER
from fxseq.player.lights import Lights
from fxseq.player.voices import Voices
from fxseq.table import RUNNING_EFFECTS, ChangeCount, PlayClip, StartFade, Table


@dataclass
class Running:
    """An effect with steps to come."""

    effect: int
    owner: int | None
    began: int
    pitch: int
    gain: int
    next_step: int = 0
    due: int = 0


@dataclass
class Stagger:
    """A fade with channels to come; `place` counts them."""

    effect: int
    owner: int | None
    fade: StartFade
    place: int
    due: int


class Counters:
    """Numbers that effects use up and refill."""

    def __init__(self, table: Table, log: Callable[[TraceKind, int, int], None]) -> None:
        self._maxima = [record.maximum for record in table.counters]
        self._values = [record.start for record in table.counters]
        self._log = log

    def __getitem__(self, index: int) -> int:
        return self._values[index]

    def change(self, index: int, by: int) -> int:
        """Add to a counter, within 0 and its maximum; return its new value."""
        self._values[index] = min(max(self._values[index] + by, 0), self._maxima[index])
        self._log(TraceKind.COUNT, index, self._values[index])
        return self._values[index]


class Effects:
    """Starts effects and carries out their steps."""

    def __init__(
        self,
        table: Table,
        dice: Dice,
        counters: Counters,
        voices: Voices,
        lights: Lights,
        log: Callable[[TraceKind, int, int], None],
    ) -> None:
        self._table = table
        self._dice = dice
        self._counters = counters
        self._voices = voices
        self._lights = lights
        self._log = log
        self._slots: list[Running | Stagger | None] = [None] * RUNNING_EFFECTS

    def start(self, frame: int, effect: int, trigger: int, held: bool) -> None:
        """Start an effect; `held`: its loops run, and its steps go on, until `trigger` lets go."""
        record = self._table.effects[effect]
        self._log(TraceKind.EFFECT, effect, trigger)
        pitch = self._dice.spread(4096, record.pitch_spread, 13)
        gain = self._dice.spread(256, record.gain_spread, 15)
        self._advance(frame, Running(effect, trigger if held else None, frame, pitch, gain), None)

    def length(self, effect: int) -> int:
        """Frames after which a held effect starts over, 0 for never."""
        return self._table.effects[effect].length

    def let_go(self, owner: int) -> None:
        """Forget what a trigger's held effects had still to do."""
        self._slots = [
            None if item is not None and item.owner == owner else item for item in self._slots
        ]

    def update(self, frame: int) -> None:
        """Carry out all that is due at this frame."""
        for slot in range(RUNNING_EFFECTS):
            item = self._slots[slot]
            if item is not None and item.due <= frame:
                self._advance(frame, item, slot)

    def next_frame(self) -> int:
        """Frame of the next step."""
        return min((item.due for item in self._slots if item is not None), default=NEVER)

    def _advance(self, frame: int, item: Running | Stagger, slot: int | None) -> None:
        """Carry out what is due of one item; keep it while something is to come. slot: where it
        is kept, None for a new one.
        """
        more = self._run(frame, item) if isinstance(item, Running) else self._spread(frame, item)
        if slot is not None:
            self._slots[slot] = item if more else None
        elif more:
            self._keep(item)

    def _keep(self, item: Running | Stagger) -> None:
        if None in self._slots:
            self._slots[self._slots.index(None)] = item
        else:
            self._log(TraceKind.REFUSED, item.effect, 0)

    def _run(self, frame: int, item: Running) -> bool:
        steps: Sequence[PlayClip | StartFade | ChangeCount] = self._table.effects[item.effect].steps
        while item.next_step < len(steps):
            step = steps[item.next_step]
            item.due = item.began + step.at
            if item.due > frame:
                return True
            item.next_step += 1
            self._step(frame, item, step)
        return False

    def _step(self, frame: int, item: Running, step: PlayClip | StartFade | ChangeCount) -> None:
        match step:
            case PlayClip():
                self._voices.play(frame, step, item.pitch, item.gain, item.owner)
            case StartFade():
                self._log(TraceKind.FADE, step.group, self._table.fade_places[step.fade])
                self._advance(frame, Stagger(item.effect, item.owner, step, 0, frame), None)
            case ChangeCount():
                value = self._counters.change(step.counter, step.change)
                self._lights.show_counter(frame, step.counter, value)

    def _spread(self, frame: int, item: Stagger) -> bool:
        fade = item.fade
        channels = self._table.groups[fade.group].channels
        if not fade.stagger:
            self._lights.start_group(frame, fade.group, fade.fade, fade.ambient)
            return False
        place = item.place if fade.stagger > 0 else channels - 1 - item.place
        self._lights.start_channel(frame, fade.group, place, fade.fade, fade.ambient)
        item.place += 1
        item.due += abs(fade.stagger)
        return item.place < channels
