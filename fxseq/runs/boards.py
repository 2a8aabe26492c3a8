"""A prop's table for one board or for many: sent where it is not there yet, proven where that is
asked for, and written into the run book.
"""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock
from typing import NamedTuple

from fxseq.link import BAUD, Board, Port, Progress, PushReport, hello, open_port, prove, push
from fxseq.link.messages import table_crc
from fxseq.link.run_book import Entry, RunBook
from fxseq.player import Script
from fxseq.runs.proof import compare, holds
from fxseq.runs.prop import Prop
from fxseq.sequence.errors import Fault, FxError

_MOST_AT_ONCE = 64


class Outcome(NamedTuple):
    """What became of a board. board: None where none answered. report: None where nothing was sent.
    equal: of its proof, None where there was none. faults: none where all went well. known: whether
    the run book had it before, and nothing was left to do.
    """

    port: str
    board: Board | None
    report: PushReport | None = None
    equal: bool | None = None
    faults: tuple[Fault, ...] = ()
    known: bool = False

    @property
    def is_good(self) -> bool:
        """Whether the board plays the table, as it should."""
        return not self.faults and self.equal is not False


@dataclass(frozen=True)
class Job:
    """What boards are given. script: to be proven with, None for no proof."""

    prop: Prop
    script: Script | None = None
    book: RunBook | None = None
    baud: int = BAUD
    _writing: Lock = field(default_factory=Lock)

    @property
    def table(self) -> str:
        """The table's mark."""
        return f"{table_crc(self.prop.compiled.data):08x}"

    def give(self, port: str, told: Callable[[Progress], None] = lambda _: None) -> Outcome:
        """To the board at this port. What goes wrong with it is told, not raised; raises
        OutputError where the run book cannot be written.
        """
        outcome = self._given(port, told)
        if self.book and not outcome.known:
            with self._writing:
                self.book.append(self._entry(outcome))
        return outcome

    def _given(self, port: str, told: Callable[[Progress], None]) -> Outcome:
        outcome = Outcome(port, None)
        try:
            with open_port(port, self.baud) as line:
                outcome = outcome._replace(board=hello(line))
                if not holds(outcome.board, self.prop):
                    outcome = outcome._replace(report=push(line, self.prop.compiled.data, told))
                if self._is_known(outcome):
                    return outcome._replace(known=True)
                if self.script is not None:
                    outcome = outcome._replace(equal=self._prove(line, self.script))
        except FxError as error:
            return outcome._replace(faults=error.faults)
        return outcome

    def _is_known(self, outcome: Outcome) -> bool:
        """Whether the run book says all of a board that has the table already."""
        if self.book is None or outcome.report is not None:
            return False
        before = self.book.good(_id_of(outcome.board), self.table)
        return any(entry.proof == "equal" or self.script is None for entry in before)

    def _prove(self, line: Port, script: Script) -> bool:
        return compare(prove(line, script.presses, script.until_frame), self.prop, script).equal

    def _entry(self, outcome: Outcome) -> Entry:
        result = "sent" if outcome.report else "failed" if outcome.faults else "had it"
        return Entry(
            datetime.now().astimezone().isoformat(timespec="seconds"),
            outcome.port,
            _id_of(outcome.board),
            outcome.board.name if outcome.board else "",
            self.table,
            result,
            "equal" if outcome.report else "",
            {True: "equal", False: "differs", None: ""}[outcome.equal],
            "; ".join(map(str, outcome.faults)),
        )


def give_all(
    job: Job, ports: Iterable[str], told: Callable[[str, Progress], None]
) -> Iterator[Outcome]:
    """To several at once, as they end; one that fails does not stop the others."""
    places = list(ports)

    def one(port: str) -> Outcome:
        return job.give(port, lambda progress: told(port, progress))

    with ThreadPoolExecutor(min(len(places), _MOST_AT_ONCE)) as workers:
        for future in as_completed([workers.submit(one, port) for port in places]):
            yield future.result()


def _id_of(board: Board | None) -> str:
    return f"{board.board_id:08x}" if board else ""
