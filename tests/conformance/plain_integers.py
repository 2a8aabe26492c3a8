"""The integers of SPEC.md section 2 and 5.6: 32 bits wide, and checked to be."""


def u32(value: int) -> int:
    """1 R2: a value that must fit 32 bits unsigned."""
    assert 0 <= value < 2**32, f"{value} does not fit 32 bits unsigned"
    return value


def s32(value: int) -> int:
    """1 R2: a value that must fit 32 bits signed."""
    assert -(2**31) <= value < 2**31, f"{value} does not fit 32 bits signed"
    return value


def toward_zero(a: int, b: int) -> int:
    """2.1: a / b, the fraction dropped."""
    return -(-s32(a) // b) if a < 0 else u32(a) // b


def toward(a: int, b: int, w: int) -> int:
    """2.5: a step from a toward b, w = 0..32768."""
    assert 0 <= w <= 32768
    if b >= a:
        return a + (u32((b - a) * w) >> 15)
    return a - (u32((a - b) * w) >> 15)


def clamp(value: int, least: int, most: int) -> int:
    return max(least, min(value, most))


class Dice:
    """5.6: one state for all draws."""

    def __init__(self, seed: int) -> None:
        self.x = seed

    def draw(self) -> int:
        self.x ^= (self.x << 13) & 0xFFFFFFFF
        self.x ^= self.x >> 17
        self.x ^= (self.x << 5) & 0xFFFFFFFF
        return u32(self.x) >> 16
