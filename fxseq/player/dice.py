"""The player's one random generator: xorshift with 32 bits of state (Marsaglia, Xorshift RNGs,
2003; triple 13, 17, 5).
"""


class Dice:
    """Draws of 16 bits, in the order in which they are asked for."""

    def __init__(self, seed: int) -> None:
        self._state = seed

    def draw(self) -> int:
        """The next number 0..65535 (SPEC 5.6)."""
        x = self._state
        x ^= x << 13 & 0xFFFFFFFF
        x ^= x >> 17
        x ^= x << 5 & 0xFFFFFFFF
        self._state = x
        return x >> 16

    def spread(self, base: int, amount: int, shift: int) -> int:
        """`base` moved by amount * (-32768..32767) / 2**shift, rounded toward `base`; no draw
        where nothing is spread.
        """
        if not amount:
            return base
        moved = amount * (self.draw() - 32768)
        return base + (moved >> shift if moved >= 0 else -(-moved >> shift))

    def other_than(self, last: int | None, count: int) -> int:
        """One of `count` choices, not the last one again where there is another; no draw where
        there is but one.
        """
        if count == 1:
            return 0
        if last is None:
            return self.draw() * count >> 16
        choice = self.draw() * (count - 1) >> 16
        return choice + (choice >= last)
