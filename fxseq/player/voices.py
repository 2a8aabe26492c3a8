"""Voices: which clip sounds where, from which sample to which, and what happens when they run
out (SPEC 6.1).
"""

from collections.abc import Callable

from fxseq.player.events import TraceKind
from fxseq.table import PlayClip, Table, VoiceRule


class Sounding:
    """One clip sounding in a voice. Times are samples of the board since power-up; `end` is the
    first sample without it.
    """

    __slots__ = (
        "begin", "clip", "cut_at", "cut_order", "end", "gain", "looped", "loss", "order", "owner",
        "release", "released_at", "samples_per_frame", "step", "voice",
    )  # fmt: skip

    def __init__(
        self,
        voice: int,
        clip: int,
        begin: int,
        end: int,
        step: int,
        gain: int,
        looped: bool,
        owner: int | None,
        release: int,
        order: int,
    ) -> None:
        self.voice = voice
        self.clip = clip
        self.begin = begin
        self.end = end
        self.step = step
        self.gain = gain
        self.looped = looped
        self.owner = owner
        self.release = release
        self.order = order
        self.released_at: int | None = None
        self.cut_at: int | None = None
        self.cut_order = 0
        self.samples_per_frame = 1
        self.loss = 0
        """What its factor loses with each sample once it is let go, in 1/2^31."""

    @property
    def held(self) -> bool:
        """Whether it goes on until it is let go."""
        return self.looped and self.released_at is None


ENDLESS = 1 << 62

FULL_FACTOR = 1 << 31
FADE_GROUP = 4
"""Samples that share a factor once a sound is let go. They are counted from each frame on."""


def release_loss(release: int, samples_per_frame: int) -> int:
    """What the factor of a sound that is let go loses with each sample, in 1/2^31 (SPEC 6.1 R5).
    release: frames in which it falls.
    """
    samples = max(release, 1) * samples_per_frame
    return -(-FULL_FACTOR // samples)


def samples_to_end(loss: int, samples_per_frame: int) -> int:
    """After how many samples a sound that is let go has ended: whole groups."""
    frames, last = divmod(-(-FULL_FACTOR // loss) - 1, samples_per_frame)
    group_end = (last // FADE_GROUP + 1) * FADE_GROUP
    return frames * samples_per_frame + min(group_end, samples_per_frame)


class Voices:
    """The voices of a table. `soundings` are all those heard since the last time they were
    collected.
    """

    def __init__(self, table: Table, log: Callable[[TraceKind, int, int], None]) -> None:
        self._table = table
        self._log = log
        self._slots: list[Sounding | None] = [None] * table.voices
        self._started = self._cuts = 0
        self.soundings: list[Sounding] = []

    def play(self, frame: int, item: PlayClip, pitch: int, gain: int, owner: int | None) -> None:
        """Sound a clip from this frame on. pitch / 4096 and gain / 256 are this effect's spread;
        owner: the trigger that holds it.
        """
        now = frame * self._table.samples_per_frame
        clip = self._table.clips[item.clip]
        step = clip.step * pitch >> 12
        looped = item.release is not None and owner is not None and clip.loop_start is not None
        end = ENDLESS if looped else now + -(-clip.samples * 65536 // step)
        voice = self._free_voice(now, item.clip)
        loudness = min(item.gain * gain >> 8, 32767)
        sounding = Sounding(
            voice,
            item.clip,
            now,
            end,
            step,
            loudness,
            looped,
            owner,
            item.release or 0,
            self._started,
        )
        self._started += 1
        self._slots[voice] = sounding
        self.soundings.append(sounding)
        self._log(TraceKind.SOUND, voice, item.clip)

    def let_go(self, frame: int, owner: int) -> None:
        """Let the held sounds of a trigger fall silent."""
        size = self._table.samples_per_frame
        now = frame * size
        for sounding in self._slots:
            if sounding is not None and sounding.held and sounding.owner == owner:
                sounding.samples_per_frame = size
                sounding.loss = release_loss(sounding.release, size)
                sounding.released_at = now
                sounding.end = now + samples_to_end(sounding.loss, size)
                self._log(TraceKind.RELEASED, sounding.voice, sounding.clip)

    def sounding_at(self, sample: int) -> int:
        """How many voices sound at a sample."""
        return sum(item is not None and item.end > sample for item in self._slots)

    def _free_voice(self, now: int, clip: int) -> int:
        for voice, sounding in enumerate(self._slots):
            if sounding is None or sounding.end <= now:
                return voice
        victim = self._victim(clip)
        victim.cut_at = victim.end = now
        victim.cut_order = self._cuts
        self._cuts += 1
        self._log(TraceKind.CUT, victim.voice, victim.clip)
        return victim.voice

    def _victim(self, clip: int) -> Sounding:
        sounding = [item for item in self._slots if item is not None]
        candidates = [item for item in sounding if not item.held] or sounding
        if self._table.voice_rule == VoiceRule.QUIETEST:
            return min(candidates, key=lambda item: (item.gain, item.order))
        if self._table.voice_rule == VoiceRule.SAME_CLIP:
            candidates = [item for item in candidates if item.clip == clip] or candidates
        return min(candidates, key=lambda item: item.order)
