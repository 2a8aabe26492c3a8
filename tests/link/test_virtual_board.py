"""The virtual board with the reference player: push, hello, prove, in one process and as a
process of its own.
"""

import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from processes import WITH_US
from small_tables import demo_table

from fxseq.link import Ability, hello, open_port, prove, push, virtual_board
from fxseq.player import Player, Press, PressKind
from fxseq.sequence import LinkError
from fxseq.table import Coding, decode

PRESSES = [
    Press(20, PressKind.PRESS, 0),
    Press(60, PressKind.VOLUME, 0, 128),
    Press(80, PressKind.RELEASE, 0),
    Press(100, PressKind.SELECT, 0, 1),
]


@pytest.fixture
def board(tmp_path: Path) -> Iterator[dict[str, object]]:
    """A virtual board on a TCP port, served by a thread; what it showed."""
    shown: dict[str, object] = {"tables": [], "trace": []}
    stop = threading.Event()

    def run() -> None:
        virtual_board.serve(
            line,
            tmp_path / "flash",
            shown.get("ability"),
            slot_bytes=65_536,
            on_table=shown["tables"].append,
            on_played=lambda played: shown["trace"].extend(played.trace),
            going=lambda: not stop.is_set(),
        )

    with virtual_board.open_tcp() as line:
        shown["where"] = line.where
        shown["start"] = (thread := threading.Thread(target=run)).start
        yield shown
        stop.set()
        if thread.is_alive():
            thread.join()


@pytest.mark.quick
def test_pushed_table_plays_and_is_reported(board: dict[str, object]) -> None:
    board["start"]()
    table = demo_table()
    steps = []
    with open_port(board["where"]) as port:
        report = push(port, table, steps.append)
        found = hello(port)
    assert (report.board, report.slot, report.bytes, report.repeated_blocks) == (
        "virtual board",
        0,
        len(table),
        0,
    )
    assert 0.9 < report.payload_share == len(table) / report.sent_bytes < 1
    assert (found.active, found.length_0) == (0, len(table))
    assert steps[-1].done_bytes == len(table)
    assert [step.done_bytes for step in steps] == sorted(step.done_bytes for step in steps)
    assert board["tables"] == [None, decode(table)]


@pytest.mark.quick
def test_board_gives_the_trace_of_the_reference(board: dict[str, object]) -> None:
    board["start"]()
    with open_port(board["where"]) as port:
        push(port, demo_table())
        begun = time.monotonic()
        trace = prove(port, PRESSES, 400)
    expected = Player(decode(demo_table())).play(PRESSES, 400).trace
    assert len(expected) > 10
    assert trace == expected
    assert time.monotonic() - begun > 400 / 1000


def test_table_beyond_the_board_is_refused_with_every_fault(board: dict[str, object]) -> None:
    board["ability"] = Ability(
        "tiny",
        most_rate_hz=8000,
        most_channels=1,
        most_pwm_bits=8,
        most_voices=1,
        codings=1 << Coding.PCM16,
    )
    board["start"]()
    with open_port(board["where"]) as port, pytest.raises(LinkError) as error:
        push(port, demo_table())
    end = "The board goes on playing as before."
    assert [str(fault) for fault in error.value.faults] == [
        (
            f"{port.where}: the table plays at 22050 Hz; allowed: at most 8000 Hz on this board."
            f" Lower sample_rate_hz. {end}"
        ),
        (
            f"{port.where}: the table uses 3 channels; allowed: at most 1 on this board. Use fewer"
            f" channels. {end}"
        ),
        (
            f"{port.where}: the table dims with 12 bits; allowed: at most 8 on this board. Lower"
            f" pwm_bits. {end}"
        ),
        (
            f"{port.where}: the table uses 2 voices; allowed: at most 1 on this board. Lower"
            f" voices. {end}"
        ),
        f"{port.where}: the board cannot play clips coded as mulaw. Choose another coding. {end}",
    ]


def test_bytes_that_are_no_table_are_not_pushed(board: dict[str, object]) -> None:
    with (
        open_port("loop://") as port,
        pytest.raises(LinkError, match="table: cannot be pushed: BAD_LENGTH at byte 3"),
    ):
        push(port, b"abc")


def test_press_that_the_table_does_not_know_is_refused(board: dict[str, object]) -> None:
    board["start"]()
    unknown = [
        Press(5, PressKind.PRESS, 1),
        Press(5, PressKind.SELECT, 1),
        Press(5, PressKind.SELECT, 0, 2),
        Press(5, PressKind.VOLUME, 0, 257),
    ]
    with open_port(board["where"]) as port:
        push(port, demo_table())
        for press in unknown:
            with pytest.raises(
                LinkError, match="the board has no input or selector position for press 0"
            ):
                prove(port, [press], 100)


def test_next_client_is_served_when_the_first_has_gone(board: dict[str, object]) -> None:
    board["start"]()
    for _ in range(2):
        with open_port(board["where"]) as port:
            assert hello(port).name == "virtual board"


def test_second_client_meets_silence(board: dict[str, object]) -> None:
    board["start"]()
    with open_port(board["where"]) as first, open_port(board["where"]) as second:
        assert hello(first).name == "virtual board"
        with pytest.raises(LinkError, match="no reply in 2 s. Is another program using the port"):
            hello(second)


def test_taken_tcp_port_is_a_fault(board: dict[str, object]) -> None:
    port = int(board["where"].rpartition(":")[2])
    with pytest.raises(LinkError) as error, virtual_board.open_tcp(port):
        pass
    assert (
        str(error.value)
        == f"127.0.0.1:{port}: this TCP port is in use. Choose another one, or 0 for any free one."
    )


def test_system_without_pseudo_terminals_is_told_of_tcp(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pty", None)
    with pytest.raises(LinkError) as error, virtual_board.open_pty():
        pass
    assert (
        str(error.value)
        == "virtual board: this system has no pseudo-terminals. Use a TCP port instead: --tcp 0"
    )


def test_file_that_is_no_flash_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("precious")
    with (
        virtual_board.open_tcp() as line,
        pytest.raises(LinkError, match=r"notes.txt: cannot serve as the flash .* has 8 bytes"),
    ):
        virtual_board.serve(line, path)
    assert path.read_text() == "precious"


def test_clock_runs_with_the_wall_and_does_not_catch_up_after_a_long_sleep(tmp_path: Path) -> None:
    with virtual_board.FlashFile(tmp_path / "flash", 4, 4096) as flash:
        session = virtual_board.make_session(flash, Ability("board"))
        clock = virtual_board.RealTime(session, 100.0)
        assert clock.play(101.0) is None
        session.player = virtual_board.TablePlayer(decode(demo_table()))
        for step in range(1, 101):
            clock.play(101.0 + step / 100)
        assert session.player.frame == 1050
        clock.play(500.0)
        assert session.player.frame == 1050 + 262


@pytest.mark.parametrize("line", ["--tcp=0", "--pty"])
def test_board_as_a_process_keeps_its_table_when_started_again(tmp_path: Path, line: str) -> None:
    command = [
        sys.executable,
        "-m",
        "fxseq.link.virtual_board",
        "--flash",
        str(tmp_path / "flash"),
        line,
    ]
    for round_ in range(2):
        with subprocess.Popen([*WITH_US, *command], stdout=subprocess.PIPE, text=True) as process:
            try:
                with open_port(process.stdout.readline().strip()) as port:
                    assert hello(port).active == (2 if round_ == 0 else 0)
                    if round_ == 0:
                        push(port, demo_table())
            finally:
                process.kill()


def test_terminal_line_carries_bytes_both_ways_and_drops_what_nobody_reads() -> None:
    with virtual_board.open_pty() as line, open_port(line.where) as port:
        assert line.read(0.0) == b""
        port.write(b"to the board\0\r\n")
        assert line.read(60.0) == b"to the board\0\r\n"
        line.write(b"to the host\0\r\n")
        # the system may take its time
        heard = next(data for data in (port.read() for _ in range(3000)) if data)
        assert heard.startswith(b"to the host")
        for _ in range(200):
            line.write(bytes(1000))


def test_slow_line_carries_so_many_bytes_a_second_and_keeps_none_back() -> None:
    trickle = virtual_board.Trickle(100.0)
    trickle.put(b"0123456789", 5.0)
    assert [trickle.take(now_s) for now_s in (5.0, 5.031, 5.035, 5.051, 9.0)] == [
        b"",
        b"012",
        b"",
        b"34",
        b"56789",
    ]
    trickle.put(b"ab", 10.0)
    assert [trickle.take(now_s) for now_s in (10.0, 10.011, 10.021)] == [b"", b"a", b"b"]


def test_table_over_a_slow_line_takes_its_time(
    board: dict[str, object], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    stop = threading.Event()
    with virtual_board.open_tcp() as line:
        slow = virtual_board.SlowLine(line, 115_200)
        serving = threading.Thread(
            target=virtual_board.serve,
            args=(slow, tmp_path / "slow"),
            kwargs={"going": lambda: not stop.is_set()},
        )
        serving.start()
        with open_port(slow.where) as port:
            report = push(port, demo_table(3000))
        stop.set()
        serving.join()
    assert report.seconds > report.bytes / 11_520 > 0.2


def test_client_that_breaks_off_makes_room_for_the_next(board: dict[str, object]) -> None:
    board["start"]()
    where = ("127.0.0.1", int(board["where"].rpartition(":")[2]))
    with socket.create_connection(where) as rude:
        rude.sendall(b"\1" * 1000)
        time.sleep(0.1)
        rude.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    with open_port(board["where"]) as port:
        assert hello(port).name == "virtual board"


def test_board_refuses_by_itself_what_it_cannot_do(tmp_path: Path) -> None:
    with virtual_board.FlashFile(tmp_path / "flash", 4, 4096) as flash:
        session = virtual_board.make_session(flash, Ability("tiny", most_channels=2))
    with pytest.raises(
        ValueError, match="the table uses 3 channels; allowed: at most 2 on this board"
    ):
        session._check(demo_table())


@pytest.mark.parametrize(
    ("arguments", "kind"),
    [(["--pty"], virtual_board.PtyLine), (["--tcp", "0"], virtual_board.TcpLine)],
)
def test_main_serves_the_line_that_was_asked_for(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    arguments: list[str],
    kind: type,
) -> None:
    served = []
    monkeypatch.setattr(virtual_board, "serve", lambda *given: served.append(given))
    virtual_board.main(["--flash", str(tmp_path / "flash"), *arguments])
    [(line, path)] = served
    assert isinstance(line, kind)
    assert path == tmp_path / "flash"
    assert capsys.readouterr().out == line.where + "\n"


def test_trace_of_kinds_that_nobody_knows_is_no_board(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fxseq.link.driver.converse", lambda *given: [(1, 99, 0, 0)])
    with open_port("loop://") as port, pytest.raises(LinkError, match="does not speak the link"):
        prove(port, [], 10)
