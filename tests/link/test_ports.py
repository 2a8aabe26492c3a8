"""Ports: finding, opening, and every fault in its words."""

import errno
import fcntl
import os
import pty
import socket
import sys
import termios
from collections.abc import Iterator

import pytest
import serial
from serial.tools.list_ports_common import ListPortInfo

from fxseq.link import hello, ports
from fxseq.link.ports import PortInfo, PortLost, find_port, list_ports, open_port
from fxseq.sequence import LinkError


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    master, slave = pty.openpty()
    yield master, os.ttyname(slave)
    os.close(master)
    os.close(slave)


def pretend(monkeypatch: pytest.MonkeyPatch, *devices: tuple[str, int | None]) -> None:
    found = []
    for device, vid in devices:
        info = ListPortInfo(device)
        info.vid = vid
        info.description = "a board"
        found.append(info)
    monkeypatch.setattr(ports.system_ports, "comports", lambda: found)


def test_ports_are_listed_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    pretend(monkeypatch, ("/dev/ttyUSB1", 1), ("/dev/ttyS0", None))
    assert list_ports() == [
        PortInfo("/dev/ttyS0", "a board", False),
        PortInfo("/dev/ttyUSB1", "a board", True),
    ]


def test_the_only_usb_port_is_found_among_built_in_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    pretend(monkeypatch, ("/dev/ttyS0", None), ("/dev/ttyUSB1", 1))
    assert find_port() == "/dev/ttyUSB1"


def plugged_in(
    device: str, numbers: tuple[int, int], description: str, product: str | None
) -> ListPortInfo:
    info = ListPortInfo(device)
    info.vid, info.pid = numbers
    info.description, info.product = description, product
    return info


TRIALS = (0x1209, 0x0001)
ON_WINDOWS = plugged_in("COM5", TRIALS, "USB Serial Device (COM5)", None)
"""From memory: there the system does not tell a program the product's name."""
ON_LINUX = plugged_in("/dev/ttyACM0", TRIALS, "fxseq pico", "fxseq pico")
ANOTHER = plugged_in("/dev/ttyACM1", TRIALS, "Gadget", "Gadget")


@pytest.mark.parametrize(
    ("info", "description"),
    [(ON_WINDOWS, "fxseq pico"), (ON_LINUX, "fxseq pico"), (ANOTHER, "Gadget")],
)
def test_a_board_of_ours_is_listed_by_its_name(
    monkeypatch: pytest.MonkeyPatch, info: ListPortInfo, description: str
) -> None:
    monkeypatch.setattr(ports.system_ports, "comports", lambda: [info])
    assert list_ports() == [PortInfo(info.device, description, True)]


@pytest.mark.parametrize("board", [ON_WINDOWS, ON_LINUX])
def test_the_only_board_of_ours_is_found_among_other_usb_ports(
    monkeypatch: pytest.MonkeyPatch, board: ListPortInfo
) -> None:
    adapter = plugged_in("COM1", (1, 1), "an adapter", None)
    monkeypatch.setattr(ports.system_ports, "comports", lambda: [adapter, board, ANOTHER])
    assert find_port() == board.device


def test_of_two_boards_of_ours_none_is_chosen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ports.system_ports, "comports", lambda: [ON_WINDOWS, ON_LINUX])
    with pytest.raises(LinkError, match="which is the board's: /dev/ttyACM0"):
        find_port()


def test_no_port_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    pretend(monkeypatch)
    with pytest.raises(LinkError) as error:
        open_port()
    assert (
        str(error.value)
        == "serial ports: none found. Plug in the board, or name its port with --port."
    )


@pytest.mark.parametrize(
    ("devices", "listed", "example"),
    [
        ([("/dev/ttyS0", None)], "/dev/ttyS0 (a board)", "/dev/ttyS0"),
        (
            [("/dev/ttyS0", None), ("/dev/ttyUSB0", 1), ("/dev/ttyUSB1", 1)],
            "/dev/ttyUSB0 (USB, a board), /dev/ttyUSB1 (USB, a board), /dev/ttyS0 (a board)",
            "/dev/ttyUSB0",
        ),
    ],
)
def test_where_no_port_or_several_are_usb_all_are_listed_and_none_is_opened(
    monkeypatch: pytest.MonkeyPatch,
    devices: list[tuple[str, int | None]],
    listed: str,
    example: str,
) -> None:
    pretend(monkeypatch, *devices)
    monkeypatch.setattr(
        serial, "serial_for_url", lambda where, **options: pytest.fail(f"{where} was opened")
    )
    with pytest.raises(LinkError) as error:
        open_port()
    assert (
        str(error.value)
        == f"serial ports: it is not certain which is the board's: {listed}; allowed: exactly one"
        " USB port, unless --port names one. Plug in this board only, or name its port, for"
        f" example: --port {example}"
    )


def test_a_port_of_which_nothing_is_known_is_listed_by_its_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ports.system_ports, "comports", lambda: [ListPortInfo("/dev/ttyS0")])
    with pytest.raises(LinkError, match="which is the board's: /dev/ttyS0; allowed"):
        find_port()


def test_port_that_does_not_exist_is_a_fault() -> None:
    with pytest.raises(LinkError) as error:
        open_port("/dev/ttyNothing0")
    assert str(error.value) == "/dev/ttyNothing0: no such port. Try: fxseq ports"


def test_port_opened_twice_is_a_fault(terminal: tuple[int, str]) -> None:
    with open_port(terminal[1]), pytest.raises(LinkError) as error:
        open_port(terminal[1])
    assert (
        str(error.value)
        == f"{terminal[1]}: another program is using the port. Close that program (a serial"
        " terminal, another push?) and try again."
    )


def test_port_that_another_program_locked_is_a_fault(terminal: tuple[int, str]) -> None:
    other = os.open(terminal[1], os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(other, fcntl.LOCK_EX)
    with pytest.raises(LinkError, match="another program is using the port"):
        open_port(terminal[1])
    os.close(other)


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (
            serial.SerialException(errno.EACCES, "could not open port"),
            (
                "COM7: no permission to open the port. On Linux, join the group that may: sudo"
                " usermod -aG dialout $USER, then log out and in again."
            ),
        ),
        (
            serial.SerialException(errno.EBUSY, "could not open port"),
            (
                "COM7: another program is using the port. Close that program (a serial terminal,"
                " another push?) and try again."
            ),
        ),
        (
            serial.SerialException(
                "could not open port 'COM7': PermissionError(13, 'Access is denied.', None, 5)"
            ),
            (
                "COM7: another program is using the port. Close that program (a serial terminal,"
                " another push?) and try again."
            ),
        ),
        (
            serial.SerialException(
                "could not open port 'COM7': FileNotFoundError(2, 'The system cannot find the file"
                " specified.', None, 2)"
            ),
            "COM7: no such port. Try: fxseq ports",
        ),
        (
            serial.SerialException(errno.EIO, "could not open port"),
            f"COM7: cannot be opened ({os.strerror(errno.EIO).lower()}). Try: fxseq ports",
        ),
    ],
)
def test_errors_of_the_system_become_faults(
    monkeypatch: pytest.MonkeyPatch, error: Exception, message: str
) -> None:
    def fail(*arguments: object, **options: object) -> None:
        raise error

    monkeypatch.setattr(serial, "serial_for_url", fail)
    with pytest.raises(LinkError) as fault:
        open_port("COM7")
    assert str(fault.value) == message


NEITHER = "is neither a serial port nor an address like socket://127.0.0.1:7000. Try: fxseq ports"
ADDRESS = (
    "is not the address of a board; allowed: socket://HOST:PORT with a port from 1 to 65535. For"
    " example: socket://127.0.0.1:7000"
)
NOBODY = "nobody answers at this address. Is the board running there? Check host and port."


@pytest.mark.parametrize(
    ("where", "message"),
    [
        ("/dev/null", NEITHER),
        ("/", NEITHER),
        ("nonsense://x", NEITHER),
        ("hwgrep://nothing_like_it", NEITHER),
        ("socket://127.0.0.1", ADDRESS),
        ("socket://127.0.0.1:0", ADDRESS),
        ("socket://127.0.0.1:70000", ADDRESS),
        ("socket://:7", ADDRESS),
        ("socket:127.0.0.1:7", ADDRESS),
        ("socket://[::1", ADDRESS),
    ],
)
def test_what_is_no_port_is_told_without_a_word_of_the_system(where: str, message: str) -> None:
    with pytest.raises(LinkError) as error:
        open_port(where)
    assert str(error.value) == f"{where}: {message}"


def test_address_where_nobody_listens_is_a_fault() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        where = f"socket://127.0.0.1:{taken.getsockname()[1]}"
        with pytest.raises(LinkError) as error:
            open_port(where)
        assert str(error.value) == f"{where}: {NOBODY}"


def test_host_that_nobody_knows_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(*arguments: object, **options: object) -> None:
        raise serial.SerialException(
            "Could not open port socket://prop.invalid:7: [Errno -2] Name or service not known"
        )

    monkeypatch.setattr(serial, "serial_for_url", unknown)
    with pytest.raises(LinkError, match=NOBODY.replace(".", r"\.").replace("?", r"\?")):
        open_port("socket://prop.invalid:7")


def test_speed_that_a_port_does_not_have_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(where: str, baudrate: int, **options: object) -> None:
        raise ValueError(
            f"Failed to set custom baud rate ({baudrate}): [Errno 22] Invalid argument"
        )

    monkeypatch.setattr(serial, "serial_for_url", refuse)
    with pytest.raises(LinkError) as error:
        open_port("COM7", 12_345)
    assert (
        str(error.value)
        == "COM7: this port does not run at 12345 baud. Give --baud the speed of the board's"
        " firmware; 115200 is usual."
    )


def test_port_goes_on_at_another_speed(terminal: tuple[int, str]) -> None:
    with open_port(terminal[1]) as port:
        speeds = []
        for baud in (2_000_000, 2_000_000, 115_200):
            port.run_at(baud)
            speeds.append(termios.tcgetattr(terminal[0])[5])
    assert port.baud == 115_200
    assert speeds == [termios.B2000000, termios.B2000000, termios.B115200]


def test_port_that_cannot_run_at_a_speed_stays_as_it_is(
    terminal: tuple[int, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(line: serial.Serial, baud: int) -> None:
        raise ValueError(f"Failed to set custom baud rate ({baud}): [Errno 22] Invalid argument")

    monkeypatch.setattr(serial.Serial, "_set_special_baudrate", refuse)
    with open_port(terminal[1]) as port:
        port.run_at(250_000)
        os.write(terminal[0], b"still there")
        assert port.read() == b"still there"
        port.run_at(115_200)
        assert termios.tcgetattr(terminal[0])[5] == termios.B115200


def test_address_has_no_speed() -> None:
    with open_port("loop://") as port:
        assert port.baud == 0


def test_what_a_device_says_of_itself_is_printed_harmless(monkeypatch: pytest.MonkeyPatch) -> None:
    info = ListPortInfo("/dev/ttyUSB0")
    info.vid = 1
    info.description = "nice\x1b[2J\r\n\u202eboard \u00e9"
    monkeypatch.setattr(ports.system_ports, "comports", lambda: [info])
    assert list_ports() == [PortInfo("/dev/ttyUSB0", "nice?[2J???board \u00e9", True)]


def test_port_that_only_echoes_is_no_board() -> None:
    with open_port("loop://") as port, pytest.raises(LinkError) as error:
        hello(port)
    assert (
        str(error.value)
        == "loop://: something answers, but it does not speak the link protocol of fxseq boards. Is"
        " this the right port? Try: fxseq ports"
    )


def test_silent_port_is_a_fault(terminal: tuple[int, str]) -> None:
    with open_port(terminal[1]) as port, pytest.raises(LinkError) as error:
        hello(port)
    assert (
        str(error.value)
        == f"{terminal[1]}: no reply in 2 s. Is another program using the port? Try: fxseq ports"
    )


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_port_that_goes_away_is_a_fault() -> None:
    master, slave = pty.openpty()
    where = os.ttyname(slave)
    with open_port(where) as port:
        os.close(slave)
        os.close(master)
        with pytest.raises(LinkError) as error:
            hello(port)
    assert (
        str(error.value)
        == f"{where}: the connection was lost. Check plug and cable, then try again."
    )


def test_port_that_goes_away_while_being_read_is_lost() -> None:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        with open_port(f"socket://127.0.0.1:{listener.getsockname()[1]}") as port:
            listener.accept()[0].close()
            with pytest.raises(PortLost):
                port.read()
