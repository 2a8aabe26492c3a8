"""Programs for chips that take them from a programmer, by the command avrdude."""

import subprocess
from collections.abc import Iterator, Sequence
from pathlib import Path

from fxseq.sequence.board_parts import Programmed
from fxseq.sequence.errors import Fault, OutputError

_TOOL = "avrdude"
_LINES_TOLD = 3
_TIMEOUT_S = 300


def steps(chip: Programmed, programmer: str, file: Path) -> Iterator[tuple[str, list[str]]]:
    """What is done, in words, and the command that does it. programmer: as avrdude calls it;
    behind a colon, its port.
    """
    name, _, port = programmer.partition(":")
    command = [_TOOL, "-c", name, "-p", chip.chip, *(["-P", port] if port else [])]
    fuses = [f"-U{fuse}:w:0x{value:02X}:m" for fuse, value in chip.fuses.items()]
    yield "Asking the chip whether it is the right one", command
    yield "Setting its fuses", [*command, *fuses]
    yield "Erasing it, writing the program and reading it back", [
        *command, "-e", f"-Uflash:w:{file}:i",
    ]  # fmt: skip


def carry_out(command: Sequence[str]) -> None:
    """Raises OutputError where avrdude is missing, or does not do it."""
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_TIMEOUT_S)
    except FileNotFoundError:
        raise OutputError(
            Fault(
                _TOOL,
                "is not installed: it is what speaks to the programmer",
                "",
                "Debian and Ubuntu: apt install avrdude; macOS: brew install avrdude; Windows:"
                " download it from the project's page and put it on the PATH. Then once more.",
            )
        ) from None
    except subprocess.TimeoutExpired:
        raise _failed(command, f"no end after {_TIMEOUT_S} s") from None
    if done.returncode != 0:
        told = [line.strip() for line in done.stderr.splitlines() if line.strip()]
        raise _failed(command, "; ".join(told[-_LINES_TOLD:]) or f"status {done.returncode}")


def _failed(command: Sequence[str], why: str) -> OutputError:
    return OutputError(
        Fault(
            " ".join(command),
            f"failed: {why}",
            "",
            "Is the programmer plugged in, its six-pin plug the right way round on the board, and"
            " nothing else joined? If yours is another one, name it as avrdude does (`avrdude -c ?`"
            " lists them), with its port if it has one: --programmer NAME:PORT.",
        )
    )
