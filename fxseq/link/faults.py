"""Every fault of a board, its port or the line, in the words that the user reads."""

from collections.abc import Sequence

from fxseq.link.messages import PROTOCOL_VERSION, Error, ErrorCode
from fxseq.sequence.errors import Fault, LinkError

PORTS = "serial ports"
RETRY = "Check plug and cable, then try again."
UNTOUCHED = "The board's old table still plays."
UNFIT = "The board goes on playing as before."
EMPTY = "The board had no table and still has none."
UNDECIDED = "The board plays either the old table or the new one. Push again to be sure."
_REASONS = {
    ErrorCode.UNKNOWN_KIND: "does not know a message of kind {detail}",
    ErrorCode.BAD_FIELD: "found a faulty message ({detail})",
    ErrorCode.TOO_LARGE: "has memory for only {detail} bytes",
    ErrorCode.NOT_BEGUN: "knows nothing of this push; it must have restarted during it",
    ErrorCode.BAD_TABLE: "refuses the table; it found a fault at byte {detail}",
    ErrorCode.FLASH: "could not write its flash memory",
    ErrorCode.NO_TABLE: "has no table to play",
    ErrorCode.BAD_PRESS: "has no input or selector position for press {detail}",
}


def no_port() -> LinkError:
    """No serial port on this machine."""
    return LinkError(
        Fault(PORTS, "none found", remedy="Plug in the board, or name its port with --port.")
    )


def uncertain_port(ports: Sequence[tuple[str, str]]) -> LinkError:
    """None named, and none that is surely the board's. ports: at least one, each with what is
    known of it, the likeliest first.
    """
    listed = ", ".join(f"{device} ({known})" if known else device for device, known in ports)
    remedy = f"Plug in this board only, or name its port, for example: --port {ports[0][0]}"
    return LinkError(
        Fault(
            PORTS,
            f"it is not certain which is the board's: {listed}",
            "exactly one USB port, unless --port names one",
            remedy,
        )
    )


def missing_port(where: str) -> LinkError:
    """The port does not exist."""
    return LinkError(Fault(where, "no such port", remedy="Try: fxseq ports"))


def port_held(where: str) -> LinkError:
    """Somebody else has it open."""
    return LinkError(
        Fault(
            where,
            "another program is using the port",
            remedy="Close that program (a serial terminal, another push?) and try again.",
        )
    )


def no_permission(where: str) -> LinkError:
    """The user may not open it."""
    remedy = (
        "On Linux, join the group that may: sudo usermod -aG dialout $USER, then log out and in"
        " again."
    )
    return LinkError(Fault(where, "no permission to open the port", remedy=remedy))


def no_serial_port(where: str) -> LinkError:
    """Something else goes by this name."""
    what = "is neither a serial port nor an address like socket://127.0.0.1:7000"
    return LinkError(Fault(where, what, remedy="Try: fxseq ports"))


def no_address(where: str) -> LinkError:
    """A URL of a socket without host or port."""
    allowed = "socket://HOST:PORT with a port from 1 to 65535"
    return LinkError(
        Fault(
            where, "is not the address of a board", allowed, "For example: socket://127.0.0.1:7000"
        )
    )


def nobody_there(where: str) -> LinkError:
    """Nobody listens at the address."""
    remedy = "Is the board running there? Check host and port."
    return LinkError(Fault(where, "nobody answers at this address", remedy=remedy))


def no_such_speed(where: str, baud: int) -> LinkError:
    """The port does not run at this speed."""
    remedy = "Give --baud the speed of the board's firmware; 115200 is usual."
    return LinkError(Fault(where, f"this port does not run at {baud} baud", remedy=remedy))


def cannot_open(where: str, reason: str) -> LinkError:
    """Anything else that keeps a port shut."""
    return LinkError(Fault(where, f"cannot be opened ({reason})", remedy="Try: fxseq ports"))


def silence(where: str, seconds: float) -> LinkError:
    """Not one byte came."""
    return LinkError(
        Fault(
            where,
            f"no reply in {seconds:g} s",
            remedy="Is another program using the port? Try: fxseq ports",
        )
    )


def not_a_board(where: str) -> LinkError:
    """Bytes came, but no frame of the link."""
    what = "something answers, but it does not speak the link protocol of fxseq boards"
    return LinkError(Fault(where, what, remedy="Is this the right port? Try: fxseq ports"))


def other_version(where: str, version: int) -> LinkError:
    """A board of another protocol version."""
    remedy = (
        "Use the fxseq version that belongs to the board's firmware, or update the firmware."
        f" {UNFIT}"
    )
    return LinkError(
        Fault(where, f"the board speaks link version {version}", str(PROTOCOL_VERSION), remedy)
    )


def no_runs(where: str) -> LinkError:
    """The board leaves section 6 of LINK out."""
    what = "this board cannot be proved: its firmware does not support press scripts"
    return LinkError(Fault(where, what, remedy="Preview the prop on the laptop instead."))


def cannot_be_read(where: str) -> LinkError:
    """The board leaves READ out."""
    what = "this board cannot be read: its firmware does not give its table back"
    return LinkError(Fault(where, what, remedy="What it plays is known only from the prop file."))


def nothing_to_read(where: str) -> LinkError:
    """The board has no table."""
    return LinkError(Fault(where, "the board has no table", remedy="Push one first."))


def read_wrong(where: str) -> LinkError:
    """What was read is not what the board says it plays."""
    what = "what was read from the board is not the table that it says it plays"
    remedy = "Read it again; somebody may have pushed to it meanwhile."
    return LinkError(Fault(where, what, remedy=remedy))


def presses_late(where: str, late: int) -> LinkError:
    """Presses did not reach the board in time."""
    return LinkError(
        Fault(
            where,
            f"{late} presses reached the board too late to take effect in their frame",
            remedy="Use a faster line, or a press script with fewer presses at once.",
        )
    )


def too_large(where: str, length: int, slot_bytes: int) -> Fault:
    """The table is longer than a slot, or than its blocks can be numbered."""
    remedy = f"Shorten clips or lower their rates. {UNFIT}"
    return Fault(
        where, f"the table has {length} bytes", f"at most {slot_bytes} on this board", remedy
    )


def refused(where: str, error: Error, aftermath: str) -> LinkError:
    """The board answered with an error."""
    reason = _REASONS.get(
        error.code, "refuses for a reason that this fxseq does not know (code {code}, {detail})"
    )
    return LinkError(
        Fault(
            where,
            f"the board {reason.format(code=error.code, detail=error.detail)}",
            remedy=aftermath,
        )
    )


def restarted(where: str, aftermath: str) -> LinkError:
    """The board has lost a push half way, twice."""
    what = "the board restarted twice during the push"
    return LinkError(
        Fault(
            where, what, remedy=_join("Check its supply and its cable, then push again.", aftermath)
        )
    )


def no_answer(where: str, seconds: float, aftermath: str) -> LinkError:
    """The board fell silent after it had answered."""
    return LinkError(Fault(where, f"no answer for {seconds:.0f} s", remedy=_join(RETRY, aftermath)))


def still_at_work(where: str, seconds: float, aftermath: str) -> LinkError:
    """The board keeps saying that it is at work."""
    what = f"the board has been working for {seconds:.0f} s and is not done"
    return LinkError(
        Fault(where, what, remedy=_join("Restart the board, then push again.", aftermath))
    )


def stuck(where: str, seconds: float, aftermath: str) -> LinkError:
    """The board answers, and the push gets no further."""
    what = f"the board answers, but the push has made no progress for {seconds:.0f} s"
    return LinkError(
        Fault(where, what, remedy=_join("Restart the board, then push again.", aftermath))
    )


def bad_line(where: str, repeated: int, aftermath: str) -> LinkError:
    """So many blocks had to be repeated that the line is of no use."""
    what = f"the line loses too much: {repeated} blocks had to be sent again"
    return LinkError(Fault(where, what, remedy=_join("Use a shorter or better cable.", aftermath)))


def unplugged(where: str, aftermath: str) -> LinkError:
    """The port went away while it was in use."""
    return LinkError(Fault(where, "the connection was lost", remedy=_join(RETRY, aftermath)))


def read_back_wrong(where: str, aftermath: str) -> LinkError:
    """The slot does not hold what was sent."""
    what = "the table read back from the board is not the one that was sent"
    return LinkError(
        Fault(
            where,
            what,
            remedy=_join("Push again; if it happens again, the flash memory is worn.", aftermath),
        )
    )


def trace_lost(where: str, events: int) -> LinkError:
    """The board made events faster than they could be fetched."""
    what = f"{events} events of the trace were lost before they could be read"
    return LinkError(
        Fault(
            where, what, remedy="Use a faster line, or a press script with less going on at once."
        )
    )


def run_lost(where: str) -> LinkError:
    """The board has fewer events than it has told already."""
    return LinkError(
        Fault(
            where,
            "the board restarted during the run",
            remedy="Check its supply and its cable, then try again.",
        )
    )


def clock_stands(where: str, frame: int, seconds: float) -> LinkError:
    """The board answers, but plays no further."""
    what = f"the board's clock has been stuck at frame {frame} for {seconds:.0f} s"
    return LinkError(Fault(where, what, remedy="Restart the board and try again."))


def clock_slow(where: str, frame: int, seconds: float) -> LinkError:
    """The board plays far too slowly for any table."""
    what = f"the board has played only {frame} frames in {seconds:.0f} s"
    return LinkError(Fault(where, what, remedy="Restart the board and try again."))


def nonsense(where: str, what: str) -> LinkError:
    """The board's answers cannot be true."""
    remedy = "Restart the board and try again; if it happens again, its firmware is at fault."
    return LinkError(Fault(where, f"the board's answers make no sense: {what}", remedy=remedy))


def flash_unusable(where: str, reason: str) -> LinkError:
    """The file of a virtual board cannot be its flash."""
    return LinkError(
        Fault(
            where,
            f"cannot serve as the flash memory of a virtual board: {reason}",
            remedy="Name another file.",
        )
    )


def tcp_port_taken(port: int) -> LinkError:
    """A virtual board finds its TCP port in use."""
    return LinkError(
        Fault(
            f"127.0.0.1:{port}",
            "this TCP port is in use",
            remedy="Choose another one, or 0 for any free one.",
        )
    )


def no_pty() -> LinkError:
    """Pseudo-terminals exist on POSIX systems only."""
    return LinkError(
        Fault(
            "virtual board",
            "this system has no pseudo-terminals",
            remedy="Use a TCP port instead: --tcp 0",
        )
    )


def _join(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)
