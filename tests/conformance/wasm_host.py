"""The player as the WebAssembly module that comes with the package, fed by the manual of
firmware_spec/ports/wasm/README.md.
"""

import struct
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import wasmtime
from c_host import REASONS, Refused, Run
from numpy.typing import NDArray

import fxseq.player
from fxseq.player import Press, PressKind

MODULE = Path(fxseq.player.__file__).with_name("player.wasm")


class Module:
    """An instance of the module; `play` as in c_host.Batch."""

    def __init__(self, path: Path = MODULE) -> None:
        engine = wasmtime.Engine()
        self.module = wasmtime.Module.from_file(engine, str(path))
        self.store = wasmtime.Store(engine)
        self._exports = wasmtime.Instance(self.store, self.module, []).exports(self.store)
        self.memory = self._exports["memory"]

    def call(self, name: str, *arguments: int) -> int:
        """Call what the module exports under this name."""
        return self._exports[name](self.store, *arguments)

    def stage(self, table: bytes) -> Refused | None:
        """Put a table beside the one that plays, and have it checked."""
        self.memory.write(self.store, table, self.call("slot"))
        status = self.call("stage", len(table))
        return Refused(REASONS[-status], self.call("offset")) if status else None

    def play(self, table: bytes, presses: Sequence[Press], until_frame: int) -> Run | Refused:
        """Play frames 0 to until_frame - 1; presses in order of frames."""
        if refused := self.stage(table):
            return refused
        assert self.call("start") == 0
        return self.go_on(presses, until_frame)

    def go_on(self, presses: Sequence[Press], until_frame: int) -> Run:
        """Play from frame 0 what has been started."""
        contacts = _contacts(presses, until_frame)
        turns = [
            press for press in presses if press.kind not in (PressKind.PRESS, PressKind.RELEASE)
        ]
        samples = bytearray()
        duties = bytearray()
        trace = []
        frame = 0
        while frame < until_frame:
            while turns and turns[0].frame == frame:
                self._turn(turns.pop(0))
            end = min(frame + self.call("frames_most"), turns[0].frame if turns else until_frame)
            self.memory.write(self.store, contacts[frame:end].tobytes(), self.call("contacts"))
            played = self.call("play", end - frame)
            frame += played
            samples += self._read("samples", 2 * played * self.call("samples_per_frame"))
            duties += self._read("duties", 2 * played * self.call("channels"))
            trace += self.take_trace()
        shape = (until_frame, self.call("channels"))
        return Run(
            np.frombuffer(samples, "<i2"),
            np.frombuffer(duties, "<u2").reshape(shape),
            trace,
            self.call("saturated"),
        )

    def take_trace(self) -> list[tuple[int, int, int, int]]:
        """The events since the last call."""
        count = self.call("take_trace")
        assert count <= self.call("trace_room"), f"{count} events within one call"
        return list(struct.iter_unpack("<IBBH", self._read("trace", 8 * count)))

    def _turn(self, press: Press) -> None:
        named = {PressKind.SELECT: "select", PressKind.HELD: "held"}.get(press.kind, "volume")
        done = self.call(
            named, *([press.value] if named == "volume" else [press.index, press.value])
        )
        assert done == 0, press

    def _read(self, name: str, size: int) -> bytearray:
        start = self.call(name)
        return self.memory.read(self.store, start, start + size)


def _contacts(presses: Sequence[Press], frames: int) -> NDArray[np.uint32]:
    """What `play` takes of each frame: bits of the contacts closed at its end, and of those that
    were closed at any time in it.
    """
    closed = 0
    contacts = np.zeros((frames, 2), "<u4")
    for press in presses:
        if press.kind in (PressKind.SELECT, PressKind.VOLUME):
            continue
        bit = 1 << press.index
        closed = closed & ~bit | (0 if press.kind == PressKind.RELEASE else bit)
        contacts[press.frame :, 0] = closed
        contacts[press.frame, 1] |= closed & bit
    return contacts
