"""A second player, written from SPEC.md alone: frame by frame and sample by sample, as a chip does
it.

It shares no code with `fxseq.player` and exists to be obviously right by the text, whose rule
numbers it cites. `play(data, events, until_frame)` gives (samples, duties, trace, saturated). An
event is (frame, kind, index, value).
"""

from collections import defaultdict
from collections.abc import Iterable

from plain_integers import Dice, toward_zero, u32
from plain_light import Light
from plain_reader import ALWAYS, FADE, ON_OFF, PLAY, REPEAT, ONCE, Record, read
from plain_sound import Mixer

PRESS, RELEASE, SELECT, VOLUME, HELD = range(5)  # kinds of events
EVENT_KINDS = {  # section 7
    "PRESS": 1,
    "RELEASE": 2,
    "SELECT": 3,
    "VOLUME": 4,
    "START": 5,
    "STOP": 6,
    "SHOT": 7,
    "EMPTY": 8,
    "EFFECT": 9,
    "SOUND": 10,
    "CUT": 11,
    "RELEASED": 12,
    "FADE": 13,
    "COUNT": 14,
    "REFUSED": 15,
}
PLACES = 12  # 5.5 R3

Event = tuple[int, int, int, int]


def play(
    data: bytes, events: Iterable[Event], until_frame: int
) -> tuple[list[int], list[list[int]], list[Event], int]:
    """From power-up to until_frame, which is not played. Samples, the duties of each frame, the
    trace, how many samples were held.
    """
    player = PlainPlayer(read(data))
    samples = []
    duties = []
    arriving = defaultdict(list)
    for event in events:
        arriving[event[0]].append(event)
    for frame in range(until_frame):
        duties_now, samples_now = player.play_frame(arriving[frame])
        samples += samples_now
        duties.append(duties_now)
    return samples, duties, player.trace, player.mixer.saturated


class Input:
    """5.2"""

    def __init__(self, lockout: int) -> None:
        self.lockout = lockout
        self.closed = False
        self.down = False
        self.free = 0
        self.went_down = 0


class Trigger:
    """The state of a trigger, 5.3 and 5.4."""

    def __init__(self) -> None:
        self.open = False
        self.rises = False
        self.fresh = False
        self.last_used: int | None = None  # R1: a place in the list of effects
        self.shots = 0
        self.running = False
        self.due, self.due_part = 0, 0  # R6
        self.on = False
        self.next: int | None = None  # R8


class Place:
    """5.5 R3: an effect with steps to come (fade is None), or a fade with channels to come."""

    def __init__(self, effect: int, frame: int, held_by: int | None) -> None:
        self.effect = effect
        self.frame = frame
        self.held_by = held_by
        self.pitch = 4096
        self.gain = 256
        self.next_step = 0
        self.fade: Record | None = None
        self.channels: list[int] = []
        self.taken = 1  # channels that have started


class PlainPlayer:
    def __init__(self, table: Record) -> None:
        self.table = table
        self.frame_number = 0
        self.dice = Dice(table.seed)
        self.inputs = [Input(record.lockout) for record in table.inputs]
        self.positions = [selector.start for selector in table.selectors]
        self.counters = [counter.start for counter in table.counters]
        self.triggers = [Trigger() for _ in table.triggers]
        self.places: list[Place | None] = [None] * PLACES
        self.light = Light(table)
        self.mixer = Mixer(table)
        self.trace: list[Event] = []
        for counter, value in enumerate(self.counters):
            self.light.gauge(counter, value)  # 6.5: at power-up

    def note(self, kind: str, index: int, value: int) -> None:
        assert 0 <= index <= 255 and 0 <= value <= 65535
        self.trace.append((self.frame_number, EVENT_KINDS[kind], index, value))

    def play_frame(self, events: list[Event]) -> tuple[list[int], list[int]]:  # 5.1 R2
        self.take_values(events)
        for index in range(len(self.inputs)):
            self.take_held(index, events)
        for index in range(len(self.inputs)):
            self.read_input(index, events)
        for index in range(len(self.triggers)):
            self.run_trigger(index)
        for index in range(PLACES):
            self.go_on_with_place(index)
        duties = self.light.end_of_frame(self.frame_number)
        samples = self.mixer.frame()
        self.frame_number += 1
        return duties, samples

    # 5.1, 5.2: selectors, volume, inputs

    def take_values(self, events: list[Event]) -> None:  # 5.1 R4
        for _, kind, index, value in events:
            if kind == SELECT and self.positions[index] != value:
                self.positions[index] = value
                self.note("SELECT", index, value)
            if kind == VOLUME:
                self.mixer.wanted = value
                self.note("VOLUME", 0, value)

    def take_held(self, index: int, events: list[Event]) -> None:  # 5.2, Under a hand
        state = self.inputs[index]
        for _, kind, which, frames in events:
            if which == index and kind == HELD and not state.down:
                state.closed = True
                state.down = True
                state.went_down = self.frame_number - frames
                state.free = self.frame_number - frames + state.lockout
                self.note("PRESS", index, 0)

    def read_input(self, index: int, events: list[Event]) -> None:  # 5.2
        state = self.inputs[index]
        struck = False
        for _, kind, which, _ in events:  # R1: the readings of this frame
            if which == index and kind in (PRESS, RELEASE):
                state.closed = kind == PRESS
                struck = struck or state.closed
        if self.frame_number < state.free:
            return  # R3
        if not state.down and (state.closed or struck):  # R2
            state.down = True
            state.went_down = self.frame_number
            self.note("PRESS", index, 0)
        elif state.down and not state.closed:
            state.down = False
            self.note("RELEASE", index, 0)
        else:
            return
        state.free = self.frame_number + state.lockout

    # 5.3, 5.4: triggers

    def run_trigger(self, index: int) -> None:
        record = self.table.triggers[index]
        state = self.triggers[index]
        self.read_gate(record, state)
        if record.mode == ONCE:
            if state.rises and state.fresh:  # 5.4 R2
                state.shots = 0
                self.fire(index)
        elif record.mode == REPEAT:
            self.run_repeat(index)
        else:
            self.run_sustain(index)

    def read_gate(self, record: Record, state: Trigger) -> None:  # 5.3
        frame = self.frame_number
        opens = None
        if record.mode == ALWAYS:
            opens = record.hold
        elif self.inputs[record.input].down:
            opens = self.inputs[record.input].went_down + record.hold
        allowed = all(mask >> self.positions[selector] & 1 for selector, mask in record.conditions)
        before = state.open
        state.open = opens is not None and frame >= opens and allowed
        state.rises = state.open and not before
        state.fresh = frame == opens

    def has_needs(self, index: int) -> bool:  # 5.3 R4
        record = self.table.triggers[index]
        if record.needs is None or self.counters[record.needs] > 0:
            return True
        self.note("EMPTY", index, record.needs)
        if record.empty is not None:
            self.start_effect(record.empty, index, held=False)
        return False

    def fire(self, index: int) -> bool:  # 5.4
        if not self.has_needs(index):
            return False
        effect = self.choose(index)
        state = self.triggers[index]
        self.note("SHOT", index, state.shots)
        state.shots = min(state.shots + 1, 65535)
        self.start_effect(effect, index, held=False)
        return True

    def choose(self, index: int) -> int:  # 5.4 R1
        record = self.table.triggers[index]
        state = self.triggers[index]
        n = len(record.effects)
        last = state.last_used
        if n == 1:
            choice = 0
        elif not record.random:
            choice = 0 if last is None else (last + 1) % n
        elif last is None:
            choice = u32(self.dice.draw() * n) >> 16
        else:
            choice = u32(self.dice.draw() * (n - 1)) >> 16
            choice += choice >= last
        state.last_used = choice
        return record.effects[choice]

    def run_repeat(self, index: int) -> None:  # 5.4 R3
        record = self.table.triggers[index]
        state = self.triggers[index]
        frame = self.frame_number
        if state.running and frame >= state.due + (state.due_part > 0):  # (a), R6
            self.shoot(index)
        if not state.running and state.rises:  # (b)
            state.running = True
            state.shots = 0
            self.note("START", index, 0)
            state.due = frame
            state.due_part = 0
            self.shoot(index)
        if state.running and not state.open and state.shots >= record.burst:  # (c)
            self.stop_running(index)

    def shoot(self, index: int) -> None:  # 5.4 R4
        record = self.table.triggers[index]
        state = self.triggers[index]
        wait = wait_of(record, state.shots)
        if not self.fire(index) or (record.limit and state.shots == record.limit):
            self.stop_running(index)
            return
        total = u32(state.due_part + wait)  # R6
        state.due = state.due + (total >> 8)
        state.due_part = total & 255

    def stop_running(self, index: int) -> None:
        self.triggers[index].running = False
        self.note("STOP", index, 0)

    def run_sustain(self, index: int) -> None:  # 5.4 R8
        record = self.table.triggers[index]
        state = self.triggers[index]
        if state.on and state.next is not None and self.frame_number >= state.next:  # (a)
            self.go_on(index)
        was_off = not state.on
        if state.on and (state.fresh if record.mode == ON_OFF else not state.open):  # (b)
            self.end(index)
        if was_off and state.rises and (state.fresh or record.mode != ON_OFF):  # (c)
            self.begin(index)

    def begin(self, index: int) -> None:  # 5.4 R9
        if not self.has_needs(index):
            return
        record = self.table.triggers[index]
        state = self.triggers[index]
        state.on = True
        state.next = self.frame_number
        self.note("START", index, 0)
        if record.begin is not None:
            self.start_effect(record.begin, index, held=True)
            state.next += self.table.effects[record.begin].length
        if state.next == self.frame_number:
            self.go_on(index)

    def go_on(self, index: int) -> None:  # 5.4 R10
        record = self.table.triggers[index]
        state = self.triggers[index]
        state.next = None
        if record.during is not None:
            self.start_effect(record.during, index, held=True)
            if self.table.effects[record.during].length:
                state.next = self.frame_number + self.table.effects[record.during].length

    def end(self, index: int) -> None:  # 5.4 R11
        self.triggers[index].on = False
        self.note("STOP", index, 0)
        self.places = [None if place and place.held_by == index else place for place in self.places]
        for voice, sound in enumerate(self.mixer.voices):
            if sound and sound.looped and sound.held_by == index and not sound.let_go:
                sound.let_go_now(self.table.samples_per_frame)
                self.note("RELEASED", voice, sound.index)
        if self.table.triggers[index].end is not None:
            self.start_effect(self.table.triggers[index].end, index, held=False)

    # 5.5: effects

    def start_effect(self, effect: int, trigger: int, held: bool) -> None:  # R1
        record = self.table.effects[effect]
        self.note("EFFECT", effect, trigger)
        work = Place(effect, self.frame_number, trigger if held else None)
        if record.pitch_spread:
            work.pitch = 4096 + toward_zero(record.pitch_spread * (self.dice.draw() - 32768), 8192)
        if record.gain_spread:
            work.gain = 256 + toward_zero(record.gain_spread * (self.dice.draw() - 32768), 32768)
        self.carry_out_steps(work)
        if work.next_step < len(record.steps):
            self.keep(work)

    def keep(self, work: Place) -> None:  # R3
        for index, place in enumerate(self.places):
            if place is None:
                self.places[index] = work
                return
        self.note("REFUSED", work.effect, 0)

    def go_on_with_place(self, index: int) -> None:  # R4
        work = self.places[index]
        if work is None:
            return
        if work.fade is None:
            self.carry_out_steps(work)
            done = work.next_step == len(self.table.effects[work.effect].steps)
        else:
            self.carry_out_channels(work)
            done = work.taken == len(work.channels)
        if done:
            self.places[index] = None

    def carry_out_steps(self, work: Place) -> None:  # R1, R2
        steps = self.table.effects[work.effect].steps
        while (
            work.next_step < len(steps)
            and steps[work.next_step].at <= self.frame_number - work.frame
        ):
            step = steps[work.next_step]
            work.next_step += 1
            if step.kind == PLAY:
                self.play_clip(work, step)
            elif step.kind == FADE:
                self.start_fade(work, step)
            else:
                self.count(step.counter, step.change)

    def play_clip(self, work: Place, step: Record) -> None:  # 6.1 R1
        voice = self.mixer.find(step.clip)
        if self.mixer.voices[voice] is not None:
            self.note("CUT", voice, self.mixer.voices[voice].index)
            self.mixer.cut(voice)
        self.note("SOUND", voice, step.clip)
        self.mixer.begin(voice, step, work.pitch, work.gain, work.held_by)

    def start_fade(self, work: Place, step: Record) -> None:  # R7
        self.note("FADE", step.group, step.fade)
        group = self.table.groups[step.group]
        channels = list(range(group.first, group.first + group.channels))
        if step.stagger == 0:
            for channel in channels:
                self.start_curve(channel, step)
            return
        if step.stagger < 0:
            channels.reverse()
        self.start_curve(channels[0], step)
        if len(channels) > 1:
            fade = Place(work.effect, self.frame_number, work.held_by)
            fade.fade = step
            fade.channels = channels
            self.keep(fade)

    def carry_out_channels(self, work: Place) -> None:  # R7
        while (
            work.taken < len(work.channels)
            and work.taken * abs(work.fade.stagger) <= self.frame_number - work.frame
        ):
            self.start_curve(work.channels[work.taken], work.fade)
            work.taken += 1

    def start_curve(self, channel: int, step: Record) -> None:  # 6.2 R1
        curve = self.table.fades[step.fade]
        self.light.channels[channel].start(self.frame_number, curve, step.ambient)

    def count(self, counter: int, change: int) -> None:  # R6
        value = max(0, min(self.counters[counter] + change, self.table.counters[counter].maximum))
        self.counters[counter] = value
        self.note("COUNT", counter, value)
        self.light.count(self.frame_number, counter, value)


def wait_of(record: Record, count: int) -> int:  # 5.4 R5
    if count == 0 and record.first:
        return record.first
    if record.ramp_shots == 0:
        return record.period
    product = (record.ramp_period - record.period) * min(count, record.ramp_shots)
    assert abs(product) < 2**31
    return record.period + toward_zero(product, record.ramp_shots)
