"""Inputs: an edge acts at once, then a lock-out swallows the bounce (SPEC 5.2)."""

from collections.abc import Iterable, Sequence

from fxseq.player.events import Press, PressKind, TraceKind
from fxseq.table import InputRecord

NEVER = 1 << 62


class Input:
    """One switch: what the contact says, what has been accepted, and until when edges are
    bounce.
    """

    def __init__(self, record: InputRecord) -> None:
        self._lockout = record.lockout
        self._closed = self._down = False
        self._free_from = 0
        self.pressed_at: int | None = None
        """Frame of the press that is being held; None while let go."""

    def feed(self, frame: int, presses: Iterable[Press]) -> TraceKind | None:
        """Take the contact's events of this frame; return the edge that is accepted, if any."""
        struck = False
        for press in presses:
            self._closed = press.kind == PressKind.PRESS
            struck |= self._closed
        if frame < self._free_from or self._down == (self._closed or (struck and not self._down)):
            return None
        self._down = not self._down
        self._free_from = frame + self._lockout
        self.pressed_at = frame if self._down else None
        return TraceKind.PRESS if self._down else TraceKind.RELEASE

    def hold(self, frame: int, frames: int) -> None:
        """It is held, and has been for so long before this frame."""
        self._closed = self._down = True
        self._free_from = frame - frames + self._lockout
        self.pressed_at = frame - frames

    def next_frame(self) -> int:
        """Frame at which the contact will be believed without a further event."""
        return self._free_from if self._closed != self._down else NEVER


class Inputs:
    """All inputs of a table."""

    def __init__(self, records: Sequence[InputRecord]) -> None:
        self._inputs = [Input(record) for record in records]

    def __getitem__(self, index: int) -> Input:
        return self._inputs[index]

    def feed(self, frame: int, presses: Sequence[Press]) -> list[tuple[TraceKind, int]]:
        """Accepted edges of this frame, in the order of the inputs."""
        edges = []
        for index, item in enumerate(self._inputs):
            mine = [
                press
                for press in presses
                if press.index == index and press.kind <= PressKind.RELEASE
            ]
            edge = item.feed(frame, mine)
            if edge is not None:
                edges.append((edge, index))
        return edges

    def hold(self, frame: int, presses: Iterable[Press]) -> list[int]:
        """Take inputs that have been held since before this frame; return them in their order.
        One that is down is left alone.
        """
        held = {
            press.index: press.value
            for press in presses
            if press.kind == PressKind.HELD and self[press.index].pressed_at is None
        }
        for index, frames in held.items():
            self[index].hold(frame, frames)
        return sorted(held)

    def next_frame(self) -> int:
        """Frame of the next edge that needs no further event."""
        return min((item.next_frame() for item in self._inputs), default=NEVER)
