"""Sound of SPEC.md 6.1, one sample at a time."""

from plain_integers import clamp, s32, u32
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
        self.number = number  # its place in the order of SOUND events
        self.index = index
        self.clip = clip
        self.step = u32(clip.step * pitch) >> 12  # R2
        assert self.step < 2**31
        self.gain = min(u32(step.gain * gain) >> 8, 32767)
        self.looped = step.looped and held_by is not None and clip.loop_start is not None
        self.release = step.release
        self.held_by = held_by
        self.let_go = False
        self.factor = 2**31  # R5
        self.loss = 0  # R5: of a sample; 0 until it is let go
        self.whole = 0
        self.part = 0
        self.ended = False
        self.added = 0  # what it added to the latest sample: 0 before it has begun

    def let_go_now(self, samples_per_frame: int) -> None:  # R5
        self.let_go = True
        fall = u32(self.release * samples_per_frame)
        self.loss = u32(2**31 + fall - 1) // fall

    def sample(self) -> int:  # R4, R5
        a = self.clip.samples[self.whole]
        b = self.after()
        value = a + (s32((b - a) * (self.part >> 8)) >> 8)
        gain = u32(self.gain * (self.factor >> 16)) >> 15 if self.let_go else self.gain
        self.added = s32(value * gain) >> 12
        self.move_on()
        return self.added

    def fade(self, samples: int) -> None:  # R5, behind a group of so many samples
        if not self.let_go:
            return
        if self.factor <= u32(self.loss * samples):
            self.ended = True
        else:
            self.factor -= self.loss * samples

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


class Mixer:
    """The voices, the tail of what was cut, and the volume."""

    def __init__(self, table: Record) -> None:
        self.table = table
        self.voices: list[Sound | None] = [None] * table.voices
        self.count = 0
        self.tail = 0
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
        self.tail = clamp(self.tail + self.voices[voice].added, -1048575, 1048575)
        self.voices[voice] = None

    def begin(self, voice: int, step: Record, pitch: int, gain: int, held_by: int | None) -> None:
        self.voices[voice] = Sound(
            self.count, step.clip, self.table.clips[step.clip], step, pitch, gain, held_by
        )
        self.count += 1

    def frame(self) -> list[int]:
        self.volume += clamp(self.wanted - self.volume, -4, 4)  # R9
        samples = []
        while len(samples) < self.table.samples_per_frame:
            group = min(4, self.table.samples_per_frame - len(samples))  # R5
            samples += [self.sample() for _ in range(group)]
            self.fade(group)
        return samples

    def fade(self, samples: int) -> None:  # R5
        for sound in filter(None, self.voices):
            sound.fade(samples)
        self.free_voices()

    def sample(self) -> int:  # R10
        self.fall()
        total = self.tail + sum(sound.sample() for sound in self.voices if sound is not None)
        self.free_voices()
        assert abs(total) < 2**23
        total = s32(total * self.volume) >> 8
        held = clamp(total, -32768, 32767)
        self.saturated += held != total
        return held

    def free_voices(self) -> None:  # R4, R5
        self.voices = [None if sound and sound.ended else sound for sound in self.voices]

    def fall(self) -> None:  # R8
        above = self.tail > 0
        self.tail -= self.tail >> 5
        self.tail -= above
