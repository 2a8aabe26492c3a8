"""Light of SPEC.md 6.2 to 6.6, one channel and one look at a time."""

from plain_integers import toward, u32
from plain_reader import EASE, FLICKER, STEP, STRAIGHT, Record

D = (
    32768,
    23914,
    17436,
    12697,
    9230,
    6693,
    4837,
    3479,
    2486,
    1759,
    1227,
    838,
    554,
    345,
    193,
    82,
    0,
)  # 6.3 R4


class Layer:
    """6.2: a level, and perhaps a curve under way."""

    def __init__(self, channel: int, seed: int, live: bool) -> None:
        self.channel = channel
        self.seed = seed
        self.live = live
        self.curve: Record | None = None
        self.place = 0  # which segment of the curve
        self.began = 0  # the frame in which that segment began
        self.a = 0  # the level from which it began; without a curve, the level
        self.started = 0

    def start(self, frame: int, curve: Record, level: int, ambient: int) -> None:  # R1
        self.curve = curve
        self.place = 0
        self.began = frame
        self.a = level
        self.live = True
        self.started = frame
        self.end_what_is_over(frame, ambient)  # segments of length 0

    def is_over(self, frame: int) -> bool:
        """Whether a segment is over in this frame."""
        if self.curve is None:
            return False
        return self.began + self.curve.segments[self.place].length == frame

    def end_what_is_over(self, frame: int, ambient: int) -> None:
        """R3, a look. ambient: the ambient layer's level now; for that layer itself 0 (R4)."""
        while self.curve is not None:
            segment = self.curve.segments[self.place]
            if self.began + segment.length > frame:
                return
            if segment.shape == FLICKER:  # (a)
                self.a = self.flicker(segment, segment.length)
            else:
                self.a = target_of(segment, ambient)
            self.began += segment.length  # (b)
            self.place += 1
            if self.place == len(self.curve.segments):
                if self.curve.turn is None:
                    self.finish(segment)
                else:
                    self.place = self.curve.turn

    def finish(self, segment: Record) -> None:  # (c)
        self.curve = None
        self.live = self.a > 0 and not segment.ambient
        if not self.live:
            self.a = 0

    def level(self, frame: int, ambient: int) -> int:  # R2
        if self.curve is None:
            return self.a
        segment = self.curve.segments[self.place]
        t = frame - self.began
        assert 0 <= t < segment.length  # it has been looked at
        if segment.shape == FLICKER:
            return self.flicker(segment, t)
        w = weight(segment.shape, t, segment.pace, segment.by)
        return toward(self.a, target_of(segment, ambient), w)

    def flicker(self, segment: Record, t: int) -> int:  # 6.4 R1
        phase = phase_of(t, segment.pace)
        k = phase >> 16
        p = self.point(segment, k)
        q = self.point(segment, k + 1)
        return toward(p, q, (phase & 65535) >> 1)

    def point(self, segment: Record, k: int) -> int:
        if k == 0:
            return self.a
        h = hash_of(self.began + k * 65536, self.channel, self.seed)
        return segment.low + (u32((segment.target - segment.low) * h) >> 16)


def phase_of(t: int, pace: int) -> int:  # 6.4 R1
    return u32(t * pace)


def target_of(segment: Record, ambient: int) -> int:
    return ambient if segment.ambient else segment.target


def weight(shape: int, t: int, pace: int, by: int) -> int:  # 6.3
    if shape == STEP:
        return 32768
    u = u32(t * pace) >> by
    if shape == STRAIGHT:
        return u
    if shape == EASE:
        return u32((u * u >> 15) * (98304 - 2 * u)) >> 15
    k = u >> 11
    r = u & 2047
    return 32768 - (D[k] - (u32((D[k] - D[k + 1]) * r) >> 11))


def hash_of(number: int, channel: int, seed: int) -> int:  # 6.4 R2
    x = (number + channel * 0x9E3779B1 + seed) % 2**32
    x = (x ^ (x >> 16)) * 0x7FEB352D % 2**32
    x = (x ^ (x >> 15)) * 0x846CA68B % 2**32
    return (x ^ (x >> 16)) >> 16


def duty_of(x: int, pwm_bits: int) -> int:  # 6.6
    full = 2**pwm_bits - 1
    if x == 65535:
        return full
    if x < 5243:
        y = u32(x * 7255 + 32768) >> 16
    else:
        q = u32((x + 10486) * 56497) >> 16
        s = u32(q * q + 32768) >> 16
        y = u32(s * q + 32768) >> 16
    return u32(y * full + 32768) >> 16


class Channel:
    """The two layers of a channel of a group."""

    def __init__(self, channel: int, seed: int, latest: bool) -> None:
        self.latest = latest
        self.ambient = Layer(channel, seed, live=True)
        self.effect = Layer(channel, seed, live=False)
        self.looked_at = False  # in this frame, before its end

    def counts_from(self) -> int:  # Looks: e
        layer = self.effect if self.effect.curve is not None else self.ambient
        return 0 if layer.curve is None else layer.began + layer.curve.segments[layer.place].length

    def look(self, frame: int) -> None:  # R3
        self.ambient.end_what_is_over(frame, 0)
        self.effect.end_what_is_over(frame, self.ambient.level(frame, 0))

    def look_before(self, frame: int) -> None:  # Looks, before something is done to it
        self.look(frame)
        self.looked_at = True

    def start(self, frame: int, curve: Record, on_ambient: bool) -> None:  # R1
        self.look_before(frame)
        layer = self.ambient if on_ambient else self.effect
        if self.latest:
            level = self.seen(frame)
        else:
            level = self.levels(frame)[0 if on_ambient else 1]
        layer.start(frame, curve, level, 0 if on_ambient else self.ambient.level(frame, 0))

    def levels(self, frame: int) -> tuple[int, int]:
        ambient = self.ambient.level(frame, 0)
        return ambient, self.effect.level(frame, ambient)

    def seen(self, frame: int) -> int:  # R5
        ambient, effect = self.levels(frame)
        assert 0 <= ambient <= 65535 and 0 <= effect <= 65535
        if not self.latest:
            return max(ambient, effect)
        return (
            effect if self.effect.live and self.effect.started >= self.ambient.started else ambient
        )


class Light:
    """All channels of the board; those of no group are None."""

    def __init__(self, table: Record) -> None:
        self.table = table
        self.channels: list[Channel | None] = [None] * table.channels
        for group in table.groups:
            for c in channels_of(group):
                self.channels[c] = Channel(c, table.seed, group.latest)
        self.duties = [0] * table.channels

    def count(self, frame: int, counter: int, value: int) -> None:  # Looks
        for group in self.table.groups:
            if group.gauge == counter:
                for c in channels_of(group):
                    self.channels[c].look_before(frame)
        self.gauge(counter, value)

    def gauge(self, counter: int, value: int) -> None:  # 6.5 R1
        m = self.table.counters[counter].maximum
        for group in self.table.groups:
            if group.gauge == counter:
                for i, c in enumerate(channels_of(group)):
                    d = max(0, min(value * group.channels - i * m, m))
                    self.channels[c].ambient.a = u32(d * 65535) // m

    def end_of_frame(self, frame: int) -> list[int]:  # 6.2, Looks; 6.6 R2
        for c, channel in enumerate(self.channels):
            if channel is None:
                continue
            turn = (frame - channel.counts_from() + c * (c + 1) // 2) & self.table.light_mask == 0
            ends = channel.ambient.is_over(frame) or channel.effect.is_over(frame)
            if turn or ends or channel.looked_at or frame == 0:
                channel.look(frame)
                self.duties[c] = duty_of(channel.seen(frame), self.table.pwm_bits)
            channel.looked_at = False
        return list(self.duties)


def channels_of(group: Record) -> range:
    return range(group.first, group.first + group.channels)
