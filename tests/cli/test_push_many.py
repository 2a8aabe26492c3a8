"""`fxseq push` to many boards: side by side, one after the other, and on again after a break."""

import csv
import json
import signal
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from fxseq.cli import push as push_command
from fxseq.link import PortInfo, ports
from fxseq.link.board_session import Ability
from fxseq.link.run_book import Entry
from fxseq.link.virtual_board import SlowLine, open_tcp, serve
from fxseq.runs import load_prop
from tests.cli.conftest import FXSEQ

MANY = 30
NOBODY = "socket://127.0.0.1:9"


class Boards:
    """Virtual boards, each with a thread, a port and flash of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._kept = ExitStack()
        self._going = True
        self._threads: list[threading.Thread] = []

    def start(self, ability: Ability | None = None, baud: int | None = None) -> str:
        """One more; where it is."""
        line = self._kept.enter_context(open_tcp())
        number = len(self._threads) + 1
        slowed = SlowLine(line, baud) if baud else line
        self._threads.append(
            threading.Thread(
                target=serve,
                args=(slowed, self._folder / f"flash_{number}"),
                kwargs={
                    "ability": ability or Ability("virtual board", board_id=number),
                    "going": lambda: self._going,
                },
            )
        )
        self._threads[-1].start()
        return line.where

    def stop(self) -> None:
        self._going = False
        for thread in self._threads:
            thread.join()
        self._kept.close()


@pytest.fixture
def boards(tmp_path: Path) -> Iterator[Boards]:
    made = Boards(tmp_path)
    yield made
    made.stop()


def asked(where: list[str]) -> list[str]:
    return [word for port in where for word in ("--port", port)]


def entries(book: Path) -> list[Entry]:
    assert book.read_text().endswith("\n")
    rows = list(csv.reader(book.read_text().splitlines()))
    assert rows[0] == list(Entry._fields)
    return [Entry(*row) for row in rows[1:]]


def test_thirty_boards_in_one_run_and_those_that_fail_stop_no_others(
    fxseq, lamp: Path, boards: Boards
) -> None:
    good = [boards.start() for _ in range(MANY - 3)]
    small = boards.start(Ability("small board", most_voices=1, codings=0, board_id=99))
    here = boards.start()
    assert fxseq("push", str(lamp), "--port", here).status == 0
    where = [*good, small, NOBODY, here]
    told = fxseq("push", str(lamp), *asked(where), "--book", "book.csv")
    assert told.status == 1
    assert told.out.splitlines()[-1] == "30 boards: 27 got the table, 1 had it, 2 failed."
    assert sum("now plays lamp.toml" in line for line in told.out.splitlines()) == 27
    assert f"virtual board on {here} plays lamp.toml already: nothing was sent." in told.out
    book = {entry.port: entry for entry in entries(Path("book.csv"))}
    assert len(book) == MANY
    assert {book[port].result for port in good} == {"sent"}
    assert (book[here].result, book[small].result, book[NOBODY].result) == (
        "had it", "failed", "failed",
    )  # fmt: skip
    assert book[NOBODY].board_id == "" and "127.0.0.1:9" in book[NOBODY].note
    assert {book[port].read_back for port in good} == {"equal"}


def test_a_run_that_was_killed_goes_on_where_it_was(
    fxseq, lamp: Path, boards: Boards, monkeypatch: pytest.MonkeyPatch
) -> None:
    where = [boards.start(baud=230_400 if number % 2 else None) for number in range(8)]
    run = subprocess.Popen([*FXSEQ, "push", str(lamp), *asked(where), "--book", "book.csv"])
    book = Path("book.csv")
    while not book.exists() or book.read_text().count("\n") < 3:
        assert run.poll() is None
        time.sleep(0.01)
    run.send_signal(signal.SIGKILL)
    run.wait()
    done = {entry.port for entry in entries(book)}
    assert 0 < len(done) < len(where)
    told = fxseq("push", str(lamp), *asked(where), "--book", "book.csv", "--json")
    assert told.status == 0 and json.loads(told.out)["failed"] == 0
    rows = entries(book)
    # Each board once: those that were done are not done again.
    assert sorted(entry.port for entry in rows) == sorted(where)
    assert all(entry.is_good for entry in rows)


def test_boards_are_proven_and_what_is_proven_stays_so(fxseq, lamp: Path, boards: Boards) -> None:
    where = [boards.start(), boards.start()]
    told = fxseq("push", str(lamp), *asked(where), "--prove", "--book", "book.csv")
    assert told.status == 0 and told.out.count("It does what the reference does.") == 2
    assert {entry.proof for entry in entries(Path("book.csv"))} == {"equal"}
    again = fxseq("push", str(lamp), *asked(where), "--prove", "--book", "book.csv")
    assert again.out.count("plays lamp.toml already") == 2 and "reference" not in again.out
    assert len(entries(Path("book.csv"))) == 2


def test_one_board_after_the_other_as_they_are_plugged_in(
    fxseq, lamp: Path, boards: Boards, monkeypatch: pytest.MonkeyPatch
) -> None:
    where = [boards.start(), boards.start(), boards.start()]
    # First one, then none, then two others; then Ctrl-C.
    seen = iter([where[:1], where[:1], [], where[1:2], where[1:], where[1:]])

    def plugged() -> list[PortInfo]:
        try:
            found = next(seen)
        except StopIteration:
            raise KeyboardInterrupt from None
        return [PortInfo(port, "fxseq pico", True) for port in found]

    monkeypatch.setattr(ports, "list_ports", plugged)
    monkeypatch.setattr(push_command, "_LOOK_EVERY_S", 0.0)
    told = fxseq("push", str(lamp), "--wait-for-next", "--book", "book.csv")
    assert told.out == "3 boards: 3 got the table, 0 had it, 0 failed.\n" and told.status == 0
    assert told.err.count("Unplug it, and plug in the next.") == 3
    assert [entry.port for entry in entries(Path("book.csv"))] == where


def test_all_boards_on_usb(
    fxseq, lamp: Path, boards: Boards, monkeypatch: pytest.MonkeyPatch
) -> None:
    where = [boards.start(), boards.start()]
    found = [PortInfo(port, "fxseq pico", True) for port in where]
    found.append(PortInfo("/dev/ttyUSB9", "another thing", True))
    monkeypatch.setattr(ports, "list_ports", lambda: found)
    told = fxseq("push", str(lamp), "--all")
    assert told.out.splitlines()[-1] == "2 boards: 2 got the table, 0 had it, 0 failed."


def test_a_torn_line_is_not_gone_on_with(fxseq, lamp: Path, boards: Boards) -> None:
    where = boards.start()
    assert fxseq("push", str(lamp), "--port", where, "--book", "book.csv").status == 0
    whole = Path("book.csv").read_text()
    Path("book.csv").write_text(whole + "2026-11-30T12:0")
    other = boards.start()
    assert fxseq("push", str(lamp), "--port", other, "--book", "book.csv").status == 0
    lines = Path("book.csv").read_text().splitlines()
    assert lines[2] == "2026-11-30T12:0" and len(lines) == 4 and other in lines[3]
    crc = int.from_bytes(load_prop(lamp).compiled.data[-4:], "little")
    assert f"{crc:08x}" in lines[3]


def test_a_file_that_is_no_run_book_stays_as_it_is(fxseq, lamp: Path, boards: Boards) -> None:
    Path("notes.csv").write_text("my notes\n")
    told = fxseq("push", str(lamp), "--port", boards.start(), "--book", "notes.csv")
    assert told.status == 1 and "is a file, but no run book" in told.err
    assert Path("notes.csv").read_text() == "my notes\n"


@pytest.mark.parametrize("more", [["--port", "x"], ["--wait-for-next"]])
def test_one_way_to_say_which_boards(fxseq, lamp: Path, more: list[str]) -> None:
    assert fxseq("push", str(lamp), "--all", *more).status == 2
