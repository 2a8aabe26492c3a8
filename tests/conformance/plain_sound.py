"""Sound of SPEC.md 6.1, one sample at a time."""

from plain_integers import clamp, s32, toward_zero, u32
from plain_reader import Record

OLDEST, QUIETEST, SAME_CLIP = range(3)


class Sound:
    """One clip that sounds on a voice."""

    def __init__(
        self,
        number: int,
        index: int,
        clip: Record,
        step: Record,
        pitch: int,
        gain: int,
        held_by: int | None,
    ) -> None:
        self.number, self.index, self.clip = (
            number,
            index,
            clip,
        )  # number: its place in the order of SOUND events
        self.step = u32(clip.step * pitch) >> 12  # R2
        assert self.step < 2**31
        self.gain = min(u32(step.gain * gain) >> 8, 32767)
        self.looped = step.looped and held_by is not None and clip.loop_start is not None
        self.release = step.release
        self.held_by = held_by
        self.let_go = False
        self.factor, self.fall, self.rest = 32768, 1, 0  # of R5; fall is R
        self.whole = 0
        self.part = 0
        self.ended = False
        self.added = 0  # what it added to the latest sample: 0 before it has begun

    def let_go_now(self, samples_per_frame: int) -> None:  # R5
        self.let_go, self.fall = True, max(u32(self.release * samples_per_frame), 1)

    def sample(self) -> int:  # R4, R5
        a = self.clip.samples[self.whole]
        b = self.after()
        value = a + toward_zero((b - a) * (self.part >> 1), 32768)
        if self.let_go:
            value = toward_zero(value * self.factor, 32768)
        self.added = toward_zero(value * self.gain, 4096)
        self.move_on()
        return self.added

    def after(self) -> int:
        samples = self.clip.samples
        if self.whole + 1 < len(samples):
            return samples[self.whole + 1]
        return samples[self.clip.loop_start] if self.looped else 0

    def move_on(self) -> None:
        total = u32(self.part + self.step)
        self.whole = self.whole + (total >> 16)
        self.part = total & 0xFFFF
        samples = len(self.clip.samples)
        if self.looped:
            if self.whole >= samples:
                start = self.clip.loop_start
                self.whole = start + (self.whole - start) % (samples - start)
        elif self.whole >= samples:
            self.ended = True
        if self.let_go:
            total = u32(self.rest + 32768)
            self.factor = self.factor - total // self.fall
            self.rest = total % self.fall
            self.ended = self.factor == 0


class Mixer:
    """The voices, the tail of what was cut, and the volume."""

    def __init__(self, table: Record) -> None:
        self.table = table
        self.voices: list[Sound | None] = [None] * table.voices
        self.count = 0
        self.tail, self.since_tail = (
            0,
            0,
        )  # R8: T, and the samples from the tail's start to the next sample
        self.volume = 256
        self.wanted = 256
        self.saturated = 0

    def find(self, clip: int) -> int:
        """R1: the lowest voice that is free, else the one to be cut."""
        for voice, sound in enumerate(self.voices):
            if sound is None:
                return voice
        return self.voice_to_cut(clip)

    def voice_to_cut(self, clip: int) -> int:  # R6
        among = [v for v, sound in enumerate(self.voices) if not sound.looped or sound.let_go]
        among = among or list(range(len(self.voices)))
        if self.table.voice_rule == QUIETEST:
            least = min(self.voices[v].gain for v in among)
            among = [v for v in among if self.voices[v].gain == least]
        if self.table.voice_rule == SAME_CLIP:
            among = [v for v in among if self.voices[v].index == clip] or among
        return min(among, key=lambda v: self.voices[v].number)  # the oldest

    def cut(self, voice: int) -> None:  # R8
        ramp = self.table.cut_ramp
        n = self.since_tail
        left = toward_zero(self.tail * (ramp - n), ramp) if n < ramp else 0
        self.tail = clamp(left + self.voices[voice].added, -1048575, 1048575)
        self.since_tail = 0
        self.voices[voice] = None

    def begin(self, voice: int, step: Record, pitch: int, gain: int, held_by: int | None) -> None:
        self.voices[voice] = Sound(
            self.count, step.clip, self.table.clips[step.clip], step, pitch, gain, held_by
        )
        self.count += 1

    def frame(self) -> list[int]:
        self.volume += clamp(self.wanted - self.volume, -4, 4)  # R9
        return [self.sample() for _ in range(self.table.samples_per_frame)]

    def sample(self) -> int:  # R10
        total = self.tail_sample()
        for voice, sound in enumerate(self.voices):
            if sound is not None:
                total += sound.sample()
                if sound.ended:
                    self.voices[voice] = None
        assert abs(total) < 2**23
        total = toward_zero(s32(total * self.volume), 256)
        held = clamp(total, -32768, 32767)
        self.saturated += held != total
        return held

    def tail_sample(self) -> int:  # R8
        k = self.since_tail
        ramp = self.table.cut_ramp
        self.since_tail += 1
        return toward_zero(self.tail * (ramp - 1 - k), ramp) if k < ramp else 0
