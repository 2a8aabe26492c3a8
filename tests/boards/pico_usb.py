"""A computer at the USB wire of the emulated RP2040, transaction by transaction (USB 2.0, 8.5), and
the program that runs on it: usb.c with an echo.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, Self

from pico_board import NODE, PACKAGES, PORT

HERE = Path(__file__).parent / "pico"
TARGET = "-target thumb-freestanding-eabi -mcpu=cortex_m0plus".split()
PARTS = ("start", "runtime", "usb", "usb_control", "usb_text")
"""Of the firmware, as it is built for the image."""
PACKET = 64
ADDRESS = 7
TRANSACTION_US = 60
"""A packet of 64 bytes with all that is around it takes 50 us at 12 Mbit/s."""


class Stalled(Exception):
    """A request was answered by STALL."""


class Program(NamedTuple):
    """image: of RAM, from its first byte on. variables: their addresses."""

    image: Path
    variables: dict[str, int]


def build(folder: Path) -> Program:
    """Compile the echo; a failure shows what the compiler said."""
    objects = [folder / f"{part}.o" for part in PARTS]
    program, image = folder / "echo.elf", folder / "echo.bin"
    _run("make", "-C", PORT, f"BUILD={folder}", f"PYTHON={sys.executable}", *objects)
    _run(
        *(sys.executable, "-m", "ziglang", "cc", *TARGET, "-Os", "-g", "-std=c99", "-nostdlib"),
        *("-fno-sanitize=all", f"-I{PORT}", f"-Wl,-T,{PORT / 'pico.ld'}", "-Wl,-e,reset"),
        *("-o", program, HERE / "usb_echo.c", *objects),
    )
    _run("arm-none-eabi-objcopy", "-O", "binary", "-j", ".image", program, image)
    lines = _run("arm-none-eabi-nm", "--defined-only", program).splitlines()
    return Program(image, {name: int(at, 16) for at, _, name in map(str.split, lines)})


def _run(*command: str | Path) -> str:
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


class Bus:
    """The computer's end. It knows the kind of DATA of each endpoint and repeats what is put off
    by NAK, as a host controller does.
    """

    def __init__(self, program: Program) -> None:
        self.variables = program.variables
        self._chip = subprocess.Popen(
            [NODE, HERE / "usb_bus.mjs", program.image],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "NODE_MODULES_OF": f"{PACKAGES}/"},
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._chip.stdin.close()
        self._chip.wait()
        self._chip.stdout.close()

    def do(self, *command: object) -> object:
        """A command of usb_bus.mjs."""
        self._chip.stdin.write(json.dumps(command) + "\n")
        self._chip.stdin.flush()
        return json.loads(self._chip.stdout.readline())

    def power(self) -> None:
        """Switch the chip on and wait until it shows itself."""
        self.do("power")
        self.address = 0
        self.data1 = {0x02: False, 0x82: False}
        self.run_us(2000)
        assert self.do("attached")

    def run_us(self, us: float) -> None:
        """Let the chip run."""
        self.do("run", us)

    def read(self, variable: str) -> int:
        """A variable of the program."""
        return self.do("read", self.variables[variable])

    def write(self, variable: str, word: int) -> None:
        """Set a variable of the program; it looks at it when next something happens."""
        self.do("write", self.variables[variable], word)

    def reset(self) -> None:
        """Reset the bus."""
        self.do("reset")
        self.address = 0
        self.run_us(100)

    def setup(self, packet: bytes) -> None:
        """The first stage of a control transfer; it is always acknowledged (8.4.6.4)."""
        assert self.do("setup", self.address, packet.hex()) == "ack"
        self.run_us(TRANSACTION_US)

    def once_in(self, endpoint: int, lost: bool = False) -> tuple[bool, bytes] | str:
        """One IN: whether DATA1 and the bytes, or nak, stall, none."""
        answer = self.do("in", self.address, endpoint & 0x0F, lost)
        self.run_us(TRANSACTION_US)
        return answer if isinstance(answer, str) else (answer[0], bytes.fromhex(answer[1]))

    def once_out(self, endpoint: int, data1: bool, data: bytes) -> str:
        """One OUT: ack, nak, stall, none."""
        answer = self.do("out", self.address, endpoint, data1, data.hex())
        self.run_us(TRANSACTION_US)
        return answer

    def control_in(self, data1: bool, turns: int = 50) -> bytes:
        """One packet from endpoint 0, which has to be of the kind."""
        for _ in range(turns):
            answer = self.once_in(0)
            if answer == "stall":
                raise Stalled
            if answer != "nak":
                assert answer[0] == data1
                return answer[1]
        raise AssertionError("endpoint 0 sends nothing")

    def control_out(self, data: bytes, turns: int = 50) -> None:
        """A packet of DATA1 to endpoint 0."""
        for _ in range(turns):
            answer = self.once_out(0, True, data)
            if answer == "stall":
                raise Stalled
            if answer == "ack":
                return
        raise AssertionError("endpoint 0 takes nothing")

    def ask(self, setup: bytes) -> bytes:
        """A control transfer with data to the computer (8.5.3). Raises Stalled."""
        length = int.from_bytes(setup[6:8], "little")
        self.setup(setup)
        answer = b""
        data1 = True
        while len(answer) < length:
            packet = self.control_in(data1)
            answer += packet
            data1 = not data1
            if len(packet) < PACKET:
                break
        self.control_out(b"")
        return answer

    def tell(self, setup: bytes, data: bytes = b"") -> None:
        """A control transfer with data to the board, or none. Raises Stalled."""
        self.setup(setup)
        if data:
            self.control_out(data)
        assert self.control_in(True) == b""

    def enumerate(self) -> None:
        """Reset, address, configuration, as a computer does where a device is plugged in."""
        self.reset()
        self.tell(request(0x00, 5, ADDRESS))
        self.address = ADDRESS
        self.run_us(2000)  # 9.2.6.3
        self.tell(request(0x00, 9, 1))
        self.data1 = {0x02: False, 0x82: False}

    def open(self, baud: int = 115_200) -> None:
        """What a driver says where a program opens the port (PSTN 1.2, 6.3.10, 6.3.12)."""
        self.tell(request(0x21, 0x20, length=7), baud.to_bytes(4, "little") + b"\0\0\x08")
        self.tell(request(0x21, 0x22, 3))

    def send(self, data: bytes, turns: int = 200) -> int:
        """Packets to the board as far as it takes them; how many bytes it took."""
        taken = 0
        while taken < len(data) and turns > 0:
            turns -= 1
            packet = data[taken : taken + PACKET]
            answer = self.once_out(0x02, self.data1[0x02], packet)
            assert answer in ("ack", "nak")
            if answer == "ack":
                self.data1[0x02] = not self.data1[0x02]
                taken += len(packet)
        return taken

    def receive(self, patience: int = 3) -> list[bytes]:
        """Packets from the board, until it has put us off so many times."""
        packets = []
        while patience > 0:
            answer = self.once_in(0x82)
            if answer == "nak":
                patience -= 1
                continue
            assert answer[0] == self.data1[0x82]
            self.data1[0x82] = not self.data1[0x82]
            packets.append(answer[1])
        return packets


def request(type: int, code: int, value: int = 0, index: int = 0, length: int = 0) -> bytes:
    """A SETUP packet (USB 2.0, table 9-2)."""
    return bytes([type, code]) + b"".join(n.to_bytes(2, "little") for n in (value, index, length))
