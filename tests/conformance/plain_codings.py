"""The codings of clips, sample by sample, written from SPEC.md 3.7 and 6.1 alone."""

PCM, MULAW, IMA, QOA, RICE = range(5)
IMA_BLOCK = 505
QOA_BLOCK = 5120
QOA_SLICE = 20
RICE_BLOCK = 4096
RICE_PART = 128
IMA_STEPS = (
    7, 8, 9, 10, 11, 12, 13, 14, 16, 17, 19, 21, 23, 25, 28, 31, 34, 37, 41, 45, 50, 55, 60, 66, 73,
    80, 88, 97, 107, 118, 130, 143, 157, 173, 190, 209, 230, 253, 279, 307, 337, 371, 408, 449, 494,
    544, 598, 658, 724, 796, 876, 963, 1060, 1166, 1282, 1411, 1552, 1707, 1878, 2066, 2272, 2499,
    2749, 3024, 3327, 3660, 4026, 4428, 4871, 5358, 5894, 6484, 7132, 7845, 8630, 9493, 10442,
    11487, 12635, 13899, 15289, 16818, 18500, 20350, 22385, 24623, 27086, 29794, 32767,
)  # fmt: skip
QOA_SCALES = (1, 7, 21, 45, 84, 138, 211, 304, 421, 562, 731, 928, 1157, 1419, 1715, 2048)


def runs(samples: int, loop_start: int | None) -> list[int]:  # 3.7 R3
    return [loop_start, samples - loop_start] if loop_start else [samples]


def blocks(samples: int, full: int) -> list[int]:
    return [min(full, samples - start) for start in range(0, samples, full)]


def ima_block_bytes(samples: int) -> int:
    return 4 + samples // 2


def qoa_block_bytes(samples: int) -> int:
    return 16 + 8 * ((samples + 19) // 20)


def rice_bytes(data: bytes, samples: int, loop_start: int | None) -> int:  # 3.7 R5
    """Of a clip whose bytes `data` begins with; more than it has where they are not all there."""
    at = 0
    for _ in runs(samples, loop_start):
        length = data[at : at + 3]
        at += 3 + int.from_bytes(length, "little")
        if len(length) < 3:
            return len(data) + 1
    return at


def clip_bytes(coding: int, samples: int, loop_start: int | None, data: bytes = b"") -> int:
    """data: of the clip and behind it, which in LPC-Rice says how many there are."""
    if coding in (PCM, MULAW):
        return samples * (2 if coding == PCM else 1)
    if coding == RICE:
        return rice_bytes(data, samples, loop_start)
    full, size = (IMA_BLOCK, ima_block_bytes) if coding == IMA else (QOA_BLOCK, qoa_block_bytes)
    return sum(size(block) for run in runs(samples, loop_start) for block in blocks(run, full))


def ima_is_sound(data: bytes, samples: int, loop_start: int | None) -> bool:  # 3.7 R4
    at = 0
    for run in runs(samples, loop_start):
        for block in blocks(run, IMA_BLOCK):
            if data[at + 2] > 88 or data[at + 3]:
                return False
            at += ima_block_bytes(block)
    return True


def decode_clip(coding: int, data: bytes, samples: int, loop_start: int | None) -> list[int]:
    if coding == PCM:
        return [signed(data[k : k + 2], "little") for k in range(0, len(data), 2)]
    if coding == MULAW:
        return [mulaw_sample(byte) for byte in data]
    if coding == RICE:
        return rice_clip(data, samples, loop_start)
    full, size, block_samples = (
        (IMA_BLOCK, ima_block_bytes, ima_block)
        if coding == IMA
        else (QOA_BLOCK, qoa_block_bytes, qoa_block)
    )
    given: list[int] = []
    at = 0
    for run in runs(samples, loop_start):
        for block in blocks(run, full):
            given += block_samples(data[at : at + size(block)], block)
            at += size(block)
    return given


def signed(data: bytes, order: str) -> int:
    return int.from_bytes(data, order, signed=True)


def mulaw_sample(byte: int) -> int:  # 6.1 R3
    m = ~byte & 0xFF
    magnitude = ((((m & 15) << 3) + 132) << ((m >> 4) & 7)) - 132
    return -magnitude if byte < 128 else magnitude


def held(value: int) -> int:
    return min(max(value, -32768), 32767)


def ima_code(p: int, index: int, code: int) -> tuple[int, int]:  # 6.1 R11
    s = IMA_STEPS[index]
    d = s >> 3
    if code & 4:
        d += s
    if code & 2:
        d += s >> 1
    if code & 1:
        d += s >> 2
    index += (-1, -1, -1, -1, 2, 4, 6, 8)[code & 7]
    return held(p - d if code & 8 else p + d), min(max(index, 0), 88)


def ima_block(data: bytes, samples: int) -> list[int]:
    p = signed(data[:2], "little")
    index = data[2]
    given = [p]
    for k in range(samples - 1):
        byte = data[4 + k // 2]
        p, index = ima_code(p, index, byte >> 4 if k % 2 else byte & 15)
        given.append(p)
    return given


def qoa_residual(f: int, q: int) -> int:  # 6.1 R12
    d = (QOA_SCALES[f] * (3, 10, 18, 28)[q >> 1] + 2) >> 2
    return -d if q & 1 else d


def wrapped(value: int, bits: int) -> int:
    """Modulo 2^bits, as two's complement."""
    half = 1 << (bits - 1)
    return (value + half) % (1 << bits) - half


def qoa_sample(h: list[int], w: list[int], d: int) -> int:  # 6.1 R12; changes h and w
    total = wrapped(sum(a * b for a, b in zip(h, w, strict=True)), 32)
    sample = held((total >> 13) + d)
    e = d >> 4
    w[:] = [
        wrapped(weight - e if history < 0 else weight + e, 16)
        for history, weight in zip(h, w, strict=True)
    ]
    h[:] = [*h[1:], sample]
    return sample


def qoa_block(data: bytes, samples: int) -> list[int]:
    numbers = [signed(data[k : k + 2], "big") for k in range(0, 16, 2)]
    h = numbers[:4]
    w = numbers[4:]
    given = []
    for k in range(samples):
        bits = int.from_bytes(data[16 + k // 20 * 8 :][:8], "big")
        q = bits >> (57 - 3 * (k % 20)) & 7
        given.append(qoa_sample(h, w, qoa_residual(bits >> 60, q)))
    return given


class Bits:
    """6.1 R13: bits of a run, most significant first, and 0 behind them."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 0

    def number(self, bits: int) -> int:
        value = 0
        for _ in range(bits):
            byte = self.data[self.at // 8] if self.at // 8 < len(self.data) else 0
            value = 2 * value + (byte >> (7 - self.at % 8) & 1)
            self.at += 1
        return value

    def next_byte(self) -> None:
        self.at = (self.at + 7) // 8 * 8


def rice_step(s: int) -> int:
    return (((16, 19, 23, 27)[s & 3] << (s >> 2)) + 8) >> 4


def rice_order(m: int) -> int:
    return min((m * 11 >> 7).bit_length(), 11)


def rice_u(bits: Bits, k: int) -> int:
    zeros = 0
    while zeros < 20:
        if bits.number(1):
            return (zeros << k) + bits.number(k)
        zeros += 1
    return bits.number(16)


def rice_sample(h: list[int], c: list[int], step: int, u: int) -> int:
    q = (u + 1) >> 1
    predicted = (128 + sum(a * b for a, b in zip(h, c, strict=True))) >> 8
    return held(predicted + (q * step if u & 1 else -q * step))


def rice_mean(m: int, q: int) -> int:
    return m + q - ((m + 8) >> 4)


def rice_coefficients(bits: Bits) -> list[int]:
    count = bits.number(2) + 1
    c = [wrapped(bits.number(12), 12) for _ in range(count)]
    return c + [0] * (4 - count)


def rice_block(bits: Bits, samples: int) -> list[int]:
    bits.next_byte()
    h = [0, 0, 0, 0]
    c = [0, 0, 0, 0]
    step = 1
    m = 8 << bits.number(4)
    given = []
    for number in range(samples):
        if number % RICE_PART == 0:
            if bits.number(1):
                step = rice_step(bits.number(6))
            if bits.number(1):
                c = rice_coefficients(bits)
        u = rice_u(bits, rice_order(m))
        given.append(rice_sample(h, c, step, u))
        m = rice_mean(m, (u + 1) >> 1)
        h = [given[-1], *h[:3]]
    return given


def rice_clip(data: bytes, samples: int, loop_start: int | None) -> list[int]:
    given = []
    at = 0
    for run in runs(samples, loop_start):
        begin = at + 3
        at = begin + int.from_bytes(data[at:begin], "little")
        bits = Bits(data[begin:at])
        for block in blocks(run, RICE_BLOCK):
            given += rice_block(bits, block)
    return given
