"""Players for both sessions: driven frame by frame, with contacts, as a board drives one; or
with presses, as the Python session does.
"""

from simulated import Played

from fxseq.link import messages as m
from fxseq.link.virtual_board import TablePlayer
from fxseq.player import PressKind
from fxseq.table import decode

INPUTS = 3
POSITIONS = (2, 4)


class Beats:
    """Traces presses, changes of selectors and volumes, and a beat every tenth frame; one press
    or release an input a frame (SPEC 5.2).
    """

    def __init__(self, table: bytes) -> None:
        self.table = table
        self.frame = 0
        self._down = 0
        self._events: list[m.Timed] = []

    def has(self, kind: int, index: int, value: int) -> bool:
        """Whether there is this input or position."""
        return (
            index < INPUTS
            if kind != PressKind.SELECT
            else index < len(POSITIONS) and value < POSITIONS[index]
        )

    def set(self, kind: int, index: int, value: int) -> None:
        """In the next frame."""
        self._events.append((self.frame, kind + 1, index, value))

    def play_frame(self, closed: int, struck: int) -> list[m.Timed]:
        """Its trace."""
        events = self._events
        self._events = []
        for index in range(INPUTS):
            was = self._down >> index & 1
            is_closed = closed >> index & 1
            if was != (is_closed if was else is_closed | struck >> index & 1):
                self._down ^= 1 << index
                events.append((self.frame, 2 if was else 1, index, 0))
        if self.frame % 10 == 0:
            events.append((self.frame, 9, self._down, self.frame & 0xFFFF))
        self.frame += 1
        return events


class PressedBeats:
    """Beats for the Python session."""

    def __init__(self, table: bytes) -> None:
        self._beats = Beats(table)
        self._closed = 0

    @property
    def frame(self) -> int:
        """Next frame to be played."""
        return self._beats.frame

    @property
    def table(self) -> bytes:
        """What plays."""
        return self._beats.table

    def accepts(self, press: m.Timed) -> bool:
        """Whether a press is possible."""
        _, kind, index, value = press
        return (
            value <= 256
            if kind == PressKind.VOLUME
            else kind < PressKind.VOLUME and self._beats.has(kind, index, value)
        )

    def play(self, presses: list[m.Timed], until_frame: int) -> Played:
        """Play up to `until_frame`."""
        trace: list[m.Timed] = []
        while self.frame < until_frame:
            struck = self._closed
            for _, kind, index, value in (press for press in presses if press[0] == self.frame):
                if kind == PressKind.PRESS:
                    self._closed |= 1 << index
                    struck |= 1 << index
                elif kind == PressKind.RELEASE:
                    self._closed &= ~(1 << index)
                else:
                    self._beats.set(kind, index, value)
            trace += self._beats.play_frame(self._closed, struck)
        return Played(trace)


class Reference:
    """The reference player, driven as a board drives one."""

    def __init__(self, table: bytes) -> None:
        self.table = table
        self._player = TablePlayer(decode(table))
        self._closed = 0
        self._events: list[m.Timed] = []

    @property
    def frame(self) -> int:
        """Next frame to be played."""
        return self._player.frame

    def has(self, kind: int, index: int, value: int) -> bool:
        """Whether the table has this input or position."""
        return self._player.accepts((0, kind, index, value))

    def set(self, kind: int, index: int, value: int) -> None:
        """In the next frame."""
        self._events.append((self.frame, kind, index, value))

    def play_frame(self, closed: int, struck: int) -> list[m.Timed]:
        """Its trace."""
        events = self._events
        self._events = []
        for index in range(len(self._player.table.inputs)):
            was, is_closed, hit = (bits >> index & 1 for bits in (self._closed, closed, struck))
            if hit and not was:
                events.append((self.frame, PressKind.PRESS, index, 0))
            if (was or hit) and not is_closed:
                events.append((self.frame, PressKind.RELEASE, index, 0))
        self._closed = closed
        return [tuple(event) for event in self._player.play(events, self.frame + 1).trace]
