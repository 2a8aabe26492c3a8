"""Serial ports: which there are, opening one for this program alone, and its failures as faults."""

import errno
import os
import re
from contextlib import suppress
from types import TracebackType
from typing import NamedTuple, Self
from urllib.parse import urlsplit

import serial
from serial.tools import list_ports as system_ports
from serial.tools.list_ports_common import ListPortInfo

from fxseq.link import faults
from fxseq.link.messages import BASE_BAUD

BAUD = BASE_BAUD
READ_TIMEOUT_S = 0.02
WRITE_TIMEOUT_S = 5.0
_HELD = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}
_MISSING = {errno.ENOENT, errno.ENODEV, errno.ENXIO}
_NO_LINE = {errno.ENOTTY, errno.EISDIR, errno.EINVAL}
_OURS = "fxseq "
"""How the name begins that a board of ours has on USB."""
_UNTOLD = {(0x1209, 0x0001): "fxseq pico"}
"""What a board is by its numbers on USB, where the system does not tell its name (Windows). Others
may use these numbers too: they are free for trials.
"""
_NOBODY = {errno.ECONNREFUSED, errno.EHOSTUNREACH, errno.ENETUNREACH, errno.ETIMEDOUT}


class PortLost(Exception):
    """The port went away while it was open."""


class PortInfo(NamedTuple):
    """A port as it can be named, and what the system says of it."""

    device: str
    description: str
    usb: bool


class Port:
    """An open port: a serial device, or anything else that pyserial reaches by URL
    (`socket://127.0.0.1:2100`, `loop://`).
    """

    def __init__(self, where: str, line: serial.SerialBase, baud: int = 0) -> None:
        """baud: at which it was opened; 0 where that means nothing."""
        self.where = where
        self.baud = baud
        self._line = line

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def read(self) -> bytes:
        """What has come; waits READ_TIMEOUT_S for the first byte, then returns none. Raises
        PortLost.
        """
        try:
            first = self._line.read(1)
            return first + self._line.read(self._line.in_waiting) if first else b""
        except OSError as lost:
            raise PortLost(str(lost)) from lost

    def write(self, data: bytes) -> None:
        """Send all of it. Raises PortLost."""
        try:
            self._line.write(data)
        except OSError as lost:
            raise PortLost(str(lost)) from lost

    def run_at(self, baud: int) -> None:
        """Go on at another speed, once all that was written has gone. Raises PortLost.

        A port that cannot run at it stays as it is: so nobody answers, and the conversation goes
        back to a speed at which somebody does.
        """
        if baud == self._line.baudrate:
            return
        try:
            self._line.flush()
        except OSError as lost:
            raise PortLost(str(lost)) from lost
        with suppress(OSError, ValueError):
            self._line.baudrate = baud

    def close(self) -> None:
        """Give the port back."""
        # pyserial 3.5 leaves the socket of a `socket://` line open where the other end has gone
        # first.
        socket = getattr(self._line, "_socket", None)
        self._line.close()
        if socket is not None:
            socket.close()


def list_ports() -> list[PortInfo]:
    """The serial ports of this machine, sorted by name."""
    return [
        PortInfo(port.device, _description(_name(port)), port.vid is not None)
        for port in sorted(system_ports.comports())
    ]


def _name(port: ListPortInfo) -> str:
    untold = None if port.product else _UNTOLD.get((port.vid, port.pid))
    return untold or port.description


def _description(text: str) -> str:
    """As it can be printed: it comes from whatever is plugged in. None where the system says
    nothing, which pyserial calls n/a.
    """
    return (
        "" if text == "n/a" else "".join(letter if letter.isprintable() else "?" for letter in text)
    )


def boards_on_usb() -> list[str]:
    """Ports of all boards of ours on USB."""
    return [port.device for port in list_ports() if port.usb and _is_ours(port)]


def _is_ours(port: PortInfo) -> bool:
    return port.description.startswith(_OURS)


def find_port() -> str:
    """The only board of ours on USB, or else the only USB port there is. Raises LinkError with
    those there are where that is not exactly one.

    A built-in port is never taken: many machines have one that nothing is plugged into.
    """
    found = sorted(list_ports(), key=lambda port: not port.usb)
    if not found:
        raise faults.no_port()
    boards = boards_on_usb()
    if len(boards) == 1:
        return boards[0]
    if sum(port.usb for port in found) != 1:
        raise faults.uncertain_port(
            [
                (port.device, ", ".join(filter(None, ("USB" * port.usb, port.description))))
                for port in found
            ]
        )
    return found[0].device


def open_port(where: str | None = None, baud: int = BAUD) -> Port:
    """Open a port for this program alone. where: device or URL; as find_port unless given.
    Raises LinkError.
    """
    where = where or find_port()
    if where.startswith("socket:") and not _is_address(where):
        raise faults.no_address(where)
    try:
        # What pyserial reaches by URL has no lock to take.
        exclusive = None if "://" in where else True
        line = serial.serial_for_url(
            where,
            baudrate=baud,
            timeout=READ_TIMEOUT_S,
            write_timeout=WRITE_TIMEOUT_S,
            exclusive=exclusive,
        )
    except (OSError, ValueError) as error:
        raise _opening_fault(where, baud, error) from None
    return Port(where, line, 0 if "://" in where else baud)


def _is_address(where: str) -> bool:
    try:
        parts = urlsplit(where)
        return bool(where.startswith("socket://") and parts.hostname and parts.port)
    except ValueError:
        return False


def _opening_fault(where: str, baud: int, error: Exception) -> Exception:
    text = str(error)
    number = getattr(error, "errno", None) or _number_in(text)
    # On Windows pyserial has the error only in its text, and a port that somebody holds is one that
    # may not be opened.
    if number in _HELD or "PermissionError" in text:
        return faults.port_held(where)
    if number in _MISSING or "FileNotFoundError" in text:
        return faults.missing_port(where)
    if number in (errno.EACCES, errno.EPERM):
        return faults.no_permission(where)
    if "baud" in text:
        return faults.no_such_speed(where, baud)
    if number in _NOBODY or "://" in where and number is not None and number < 0:
        return faults.nobody_there(where)
    if number in _NO_LINE or number is None:
        return faults.no_serial_port(where)
    return faults.cannot_open(where, os.strerror(number).lower())


def _number_in(text: str) -> int | None:
    """The system's number of an error in pyserial's text of it; below 0 where no such host is
    known.
    """
    found = re.search(r"\[Errno (-?\d+)\]|\((\d+), ", text)
    return int(found[1] or found[2]) if found else None
