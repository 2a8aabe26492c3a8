"""The link: bytes to and from a board, over a line that loses and damages them
(firmware_spec/LINK.md).

May import `table`, `player` and `sequence`. The sessions of both sides are pure: bytes in, bytes
out, time passed in. Only `ports`, `driver`, `flash_file` and `virtual_board` touch ports, clocks,
files and sockets.
"""

from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.driver import PushReport, counts, enter_boot_loader, hello, prove, pull, push
from fxseq.link.frames import FrameDecoder, encode_frame
from fxseq.link.host_session import HostSession, Progress
from fxseq.link.messages import Board
from fxseq.link.ports import (
    BAUD,
    Port,
    PortInfo,
    boards_on_usb,
    find_port,
    list_ports,
    open_port,
)
from fxseq.link.slots import Flash, FlashError

__all__ = [
    "BAUD", "Ability", "Board", "BoardSession", "Flash", "FlashError", "FrameDecoder",
    "HostSession", "Port", "PortInfo", "Progress", "PushReport", "boards_on_usb", "counts",
    "encode_frame", "enter_boot_loader", "find_port", "hello", "list_ports", "open_port", "prove",
    "pull", "push",
]  # fmt: skip
