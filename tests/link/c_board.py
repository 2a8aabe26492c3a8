"""The C session (firmware_spec/player/fxl.h) behind the interface of the Python one, its flash
memory and player in Python.
"""

import ctypes
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

from simulated import MemoryFlash

from fxseq.link import messages as m
from fxseq.link.board_session import Ability
from fxseq.link.slots import MARK_BYTES, FlashError, decode_mark

PLAYER = Path(__file__).parents[2] / "firmware_spec" / "player"
SOURCES = (*sorted(PLAYER.glob("fxl*.c")), PLAYER / "fxp_crc.c")
STRICT = (
    "-std=c99",
    "-pedantic",
    "-Wall",
    "-Wextra",
    "-Wconversion",
    "-Wsign-conversion",
    "-Werror",
)
U8 = ctypes.c_uint8
U16 = ctypes.c_uint16
U32 = ctypes.c_uint32
SAY = ctypes.c_bool
CONTEXT = ctypes.c_void_p
BYTES = ctypes.POINTER(U8)


class Port(ctypes.Structure):
    """struct fxl_port."""

    _fields_ = [
        ("context", CONTEXT),
        ("erase", ctypes.CFUNCTYPE(SAY, CONTEXT, U32)),
        ("write", ctypes.CFUNCTYPE(SAY, CONTEXT, U32, BYTES, U16)),
        ("read", ctypes.CFUNCTYPE(SAY, CONTEXT, U32, BYTES, U16)),
        ("check", ctypes.CFUNCTYPE(SAY, CONTEXT, U32, U32, ctypes.POINTER(U32))),
        ("start", ctypes.CFUNCTYPE(None, CONTEXT, U32, U32)),
        ("has", ctypes.CFUNCTYPE(SAY, CONTEXT, U8, U8, U16)),
        ("set", ctypes.CFUNCTYPE(None, CONTEXT, U8, U8, U16)),
        ("boot", ctypes.CFUNCTYPE(None, CONTEXT)),
        ("speed", ctypes.CFUNCTYPE(U32, CONTEXT, U32, SAY)),
        ("asks", ctypes.CFUNCTYPE(SAY, CONTEXT, U32, U32)),
        ("is_quiet", ctypes.CFUNCTYPE(SAY, CONTEXT)),
        ("cells", ctypes.CFUNCTYPE(U16, CONTEXT)),
        ("counts_at", U32),
        ("page_bytes", U32),
        ("slot_bytes", U32),
        ("board_id", U32),
        ("name", ctypes.c_char_p),
        ("most_rate_hz", U16),
        ("codings", U16),
        ("outputs", U8),
        ("table_version", U8),
        ("most_channels", U8),
        ("most_pwm_bits", U8),
        ("most_voices", U8),
    ]


_OF_SPEED = {"speed"}
_OF_COUNTS = {"asks", "is_quiet", "cells", "counts_at"}


def port_without(left_out: set[str]) -> type[ctypes.Structure]:
    """The same of a build that leaves these fields out."""
    fields = [field for field in Port._fields_ if field[0] not in left_out]
    return type("SmallerPort", (ctypes.Structure,), {"_fields_": fields})


def compile_session(path: Path, *flags: str) -> None:
    """The session as a shared library at `path`."""
    sources = [str(source) for source in (*SOURCES, Path(__file__).with_name("c_board.c"))]
    subprocess.run(
        [
            "gcc",
            *STRICT,
            "-O1",
            "-g",
            "-shared",
            "-fPIC",
            f"-I{PLAYER}",
            *flags,
            *sources,
            "-o",
            str(path),
        ],
        check=True,
    )


def load(path: Path) -> ctypes.CDLL:
    """A library that `compile_session` made."""
    library = ctypes.CDLL(str(path))
    library.board_bytes.restype = library.board_feed.restype = library.board_drain.restype = (
        ctypes.c_size_t
    )
    library.board_jump.argtypes = [CONTEXT, U32]
    library.board_feed.argtypes = library.board_drain.argtypes = [
        CONTEXT,
        ctypes.c_char_p,
        ctypes.c_size_t,
    ]
    library.fxl_power_up.argtypes = [CONTEXT, ctypes.c_void_p, U32]
    library.fxl_work.argtypes = [CONTEXT, U32]
    library.fxl_frame.argtypes = [CONTEXT, ctypes.POINTER(U32), ctypes.POINTER(U32)]
    if hasattr(library, "fxl_trace"):
        library.fxl_trace.argtypes = [CONTEXT, U32, U8, U8, U16]
    library.fxl_work.restype = library.fxl_frame.restype = SAY
    return library


class FramePlayer:
    """What the C session needs of a player; `frame`: the next one to be played."""

    frame: int
    table: Any

    def has(self, kind: int, index: int, value: int) -> bool:
        """Whether the table has this input or position."""

    def set(self, kind: int, index: int, value: int) -> None:
        """A selector or the volume changes in the next frame."""

    def play_frame(self, closed: int, struck: int) -> list[m.Timed]:
        """Play a frame; its trace."""


class CBoard:
    """One board, from its power-up on. It fails where a flash operation breaks LINK 5, and where
    what it lends to the C session raises.
    """

    def __init__(
        self,
        library: ctypes.CDLL,
        flash: MemoryFlash,
        check: Callable[[bytes], None],
        start: Callable[[bytes], FramePlayer],
        ability: Ability | None = None,
        counts: MemoryFlash | None = None,
        asks: Callable[[bytes], bool] = lambda table: False,
        cells: Callable[[], int] = lambda: 0xFFFF,
    ) -> None:
        """check, start, asks: as BoardSession takes them; counts: flash for them, which stands
        behind the other one. Its times are seconds, rounded to milliseconds.
        """
        able = ability or Ability("test board")
        self.player: FramePlayer | None = None
        self.flash = flash
        self.baud = m.BASE_BAUD
        self._most_baud = able.most_baud
        self.is_quiet = True
        self._counts = counts
        self._counts_at = flash.pages * flash.page_bytes
        self._asks = asks
        self._cells = cells
        self._library = library
        self._check = check
        self._start = start
        self._runs = able.features & m.Feature.RUNS
        self._slot_bytes = (flash.pages - 2) // 2 * flash.page_bytes
        self._failure: BaseException | None = None
        self._playing = range(0)
        self._waiting = b""
        self._out = ctypes.create_string_buffer(1024)
        self._state = ctypes.create_string_buffer(
            b"\xa5" * library.board_bytes(), library.board_bytes()
        )
        left_out = set() if hasattr(library, "fxl_has_speed") else _OF_SPEED
        if not hasattr(library, "fxl_counts_power_up"):
            left_out |= _OF_COUNTS
        lent = {
            name: kind(self._guarded(getattr(self, f"lend_{name}")))
            for name, kind in Port._fields_
            if hasattr(self, f"lend_{name}")
        }
        if not able.features & m.Feature.SPEED:
            del lent["speed"]
        lent["counts_at"] = self._counts_at if counts is not None else 0
        self._port = port_without(left_out)(
            None,
            **{name: what for name, what in lent.items() if name not in left_out},
            page_bytes=flash.page_bytes,
            slot_bytes=self._slot_bytes,
            board_id=able.board_id,
            name=able.name.encode(),
            most_rate_hz=able.most_rate_hz,
            codings=able.codings,
            outputs=able.features & (m.Feature.SOUND | m.Feature.LIGHT),
            table_version=able.table_version,
            most_channels=able.most_channels,
            most_pwm_bits=able.most_pwm_bits,
            most_voices=able.most_voices,
        )
        self.busy = False
        self._call(library.fxl_power_up, ctypes.byref(self._port), 0)

    def receive(self, data: bytes, now_s: float) -> bytes:
        """Give bytes; what comes back until they are all taken. A block is written before the
        next byte is taken.
        """
        self._waiting += data
        out = b""
        while self._waiting:
            taken = self._feed(self._waiting)
            ended = self._waiting[:taken].endswith(b"\0")
            self._waiting = self._waiting[taken:]
            out += self._drain()
            # One more 00 is harmless behind a 00; it is not taken while a block waits to be
            # written.
            while ended and not self._feed(b"\0"):
                out += self.step(now_s)
        # A request may have begun a job.
        self.busy = True
        return out

    def step(self, now_s: float) -> bytes:
        """A step of work."""
        self._work(now_s)
        return self._drain()

    def play(self, until_frame: int, hand: int = 0) -> None:
        """Play up to `until_frame`, or to where the clock is held. hand: the contacts that a
        hand keeps closed, one a bit.
        """
        while self.player is not None and self.player.frame < until_frame:
            closed = U32(hand)
            struck = U32(hand)
            if not self._call(self._library.fxl_frame, ctypes.byref(closed), ctypes.byref(struck)):
                return
            events = self.player.play_frame(closed.value, struck.value)
            for event in events if self._runs else ():
                self._library.fxl_trace(self._state, *event)

    def jump(self, frame: int) -> None:
        """As if it had played up to this frame."""
        self.player.frame = frame
        self._library.board_jump(self._state, frame & 0xFFFFFFFF)

    def _work(self, now_s: float) -> None:
        self.busy = self._call(self._library.fxl_work, round(now_s * 1000) & 0xFFFFFFFF)

    def _feed(self, data: bytes) -> int:
        return self._call(self._library.board_feed, data, len(data))

    def _drain(self) -> bytes:
        count = self._call(self._library.board_drain, self._out, len(self._out))
        return self._out.raw[:count]

    def _call(self, function: Callable[..., Any], *arguments: Any) -> Any:
        result = function(self._state, *arguments)
        if self._failure is not None:
            raise self._failure
        return result

    def _guarded(self, act: Callable[..., Any]) -> Callable[..., Any]:
        """An exception cannot pass through C: it is kept, and from then on nothing is done any
        more.
        """

        def guarded(context: None, *arguments: Any) -> Any:
            try:
                return act(*arguments) if self._failure is None else False
            except FlashError:
                return False
            except BaseException as failure:
                self._failure = failure
                return False

        return guarded

    def lend_erase(self, offset: int) -> bool:
        assert offset % self.flash.page_bytes == 0
        flash, at = self._memory(offset)
        if flash is self.flash:
            self._spare(offset, self.flash.page_bytes)
        flash.erase(at // flash.page_bytes)
        return True

    def lend_write(self, offset: int, data: Any, count: int) -> bool:
        assert 1 <= count
        flash, at = self._memory(offset)
        if flash is self.flash:
            self._spare(offset, count)
        flash.write(at, bytes(data[:count]))
        return True

    def lend_read(self, offset: int, data: Any, count: int) -> bool:
        assert 1 <= count
        flash, at = self._memory(offset)
        ctypes.memmove(data, flash.read(at, count), count)
        return True

    def _memory(self, offset: int) -> tuple[MemoryFlash, int]:
        """Which flash an offset is in, and where."""
        if self._counts is None or offset < self._counts_at:
            return self.flash, offset
        return self._counts, offset - self._counts_at

    def lend_asks(self, offset: int, length: int) -> bool:
        return self._asks(self.flash.read(offset, length))

    def lend_is_quiet(self) -> bool:
        return self.is_quiet

    def lend_cells(self) -> int:
        return self._cells()

    def _spare(self, offset: int, count: int) -> None:
        """The table that plays and its mark stay as they are (LINK 5 R1, R4)."""
        assert offset >= self._playing.stop or offset + count <= self._playing.start
        counting = self._mark_that_counts()
        assert counting is None or offset >= counting + MARK_BYTES or offset + count <= counting

    def _mark_that_counts(self) -> int | None:
        if not self._playing:
            return None
        slot = (self._playing.start - 2 * self.flash.page_bytes) // self._slot_bytes
        places = range(0, 2 * self.flash.page_bytes, MARK_BYTES)
        marks = [
            (mark.turn, place)
            for place in places
            if (mark := decode_mark(self.flash.data[place : place + MARK_BYTES])) is not None
            and mark.slot == slot
            and m.SHORTEST_TABLE <= mark.length <= self._slot_bytes
        ]
        return max(marks)[1]

    def lend_check(self, offset: int, length: int, fault: Any) -> bool:
        table = self.flash.read(offset, length)
        if m.table_crc(table) != int.from_bytes(table[-m.CRC_BYTES :], "little"):
            return False
        try:
            self._check(table)
        except ValueError as bad:
            fault[0] = getattr(bad, "offset", 0)
            return False
        return True

    def lend_speed(self, baud: int, change: bool) -> int:
        able = min(baud, self._most_baud)
        if change:
            assert baud == able
            self.baud = baud
        return able

    def lend_start(self, offset: int, length: int) -> None:
        self._playing = range(offset, offset + self._slot_bytes)
        self.player = self._start(self.flash.read(offset, length))

    def lend_has(self, kind: int, index: int, value: int) -> bool:
        return self.player.has(kind, index, value)

    def lend_set(self, kind: int, index: int, value: int) -> None:
        self.player.set(kind, index, value)
