"""Boards that the page can send to: those on serial ports, and a virtual one. All of it waits,
so it belongs into threads.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from fxseq.bench.body import Refused
from fxseq.link import Board, Port, Progress, hello, list_ports, open_port, prove, push
from fxseq.link.virtual_board import open_tcp, serve
from fxseq.runs import Prop
from fxseq.runs.proof import compare, demand_table
from fxseq.sequence import Fault, FxError, LinkError

VIRTUAL = "virtual board"


class Boards:
    """Ports, a virtual board for as long as the bench runs, and one conversation at a time."""

    def __init__(self) -> None:
        self._talking = threading.Lock()
        self._starting = threading.Lock()
        self._ended = threading.Event()
        self._virtual: str | None = None
        self._serving: threading.Thread | None = None

    def ports(self) -> list[dict[str, str]]:
        """What there is to send to."""
        found = [{"device": port.device, "description": port.description} for port in list_ports()]
        if self._virtual:
            found.append({"device": self._virtual, "description": VIRTUAL})
        return found

    def start_virtual(self) -> str:
        """Start the virtual board, if it does not run; where it is reached. Raises FxError."""
        with self._starting:
            if self._virtual is None:
                ready = threading.Event()
                self._serving = threading.Thread(target=self._be_board, args=(ready,), name=VIRTUAL)
                self._serving.start()
                ready.wait()
            if self._virtual is None:
                raise Refused(
                    500,
                    Fault(
                        VIRTUAL,
                        "it cannot be started",
                        "",
                        "Run one in another terminal: fxseq board --tcp 7000",
                    ),
                )
            return self._virtual

    def _be_board(self, ready: threading.Event) -> None:
        try:
            # Whoever waits for it is told that it did not start.
            with (
                suppress(FxError),
                open_tcp() as line,
                TemporaryDirectory(prefix="fxseq_board_") as folder,
            ):
                self._virtual = line.where
                ready.set()
                serve(line, Path(folder) / "board.flash", going=lambda: not self._ended.is_set())
        finally:
            self._virtual = None
            ready.set()

    def push(self, where: str, prop: Prop, progress: Callable[[Progress], None]) -> dict[str, Any]:
        """Send the table, read it back, change over. Raises FxError; its message says what the
        board plays then.
        """
        with self._line(where) as line:
            return push(line, prop.compiled.data, progress)._asdict()

    def prove(self, where: str, prop: Prop) -> dict[str, Any]:
        """Have the board play the file's press script, and hold what it does against the
        reference. Raises FxError.
        """
        script, text = prop.script()
        with self._line(where) as line:
            _demand_table(board := hello(line), prop, where)
            proof = compare(prove(line, script.presses, script.until_frame), prop, script)
        return {
            "board": board.name,
            "presses": text,
            "duration_s": script.until_frame / prop.compiled.table.frame_rate_hz,
            "equal": proof.equal,
            "events_same": proof.equal_events,
            "difference": proof.difference,
        }

    @contextmanager
    def _line(self, where: str) -> Iterator[Port]:
        """The port, for one conversation. Only one that is listed: a port by URL could be a file
        or another machine.
        """
        known = [port["device"] for port in self.ports()]
        if where not in known:
            raise Refused(
                422,
                Fault(
                    "port",
                    "there is no such port",
                    ", ".join(known) or "none",
                    "Plug in the board, or start a virtual one.",
                ),
            )
        if not self._talking.acquire(blocking=False):
            raise Refused(
                409, Fault(where, "the bench is talking to a board", "", "Wait until that is done.")
            )
        try:
            with open_port(where) as line:
                yield line
        finally:
            self._talking.release()

    def end(self) -> None:
        """Stop the virtual board."""
        self._ended.set()
        if self._serving is not None:
            self._serving.join()


def _demand_table(board: Board, prop: Prop, where: str) -> None:
    """As checks have it, in the words of the page, whose edits no command would send."""
    try:
        demand_table(board, prop, where)
    except LinkError:
        raise Refused(
            422,
            Fault(where, "the board does not play this table", "", "Send it first, then prove."),
        ) from None
