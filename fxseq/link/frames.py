"""Frames on the line: COBS(message + CRC-32) + 00 (LINK section 2).

COBS: Cheshire & Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Trans. Networking 7(2), 1999.
CRC-32: ISO-HDLC, as in zlib.
"""

import zlib

from cobs import cobs

LARGEST_BLOCK = 352
"""Bytes of table in one data message, at most."""
LARGEST_MESSAGE = 3 + LARGEST_BLOCK
LARGEST_ENCODED = LARGEST_MESSAGE + 4 + 2
"""COBS adds at most one byte in 254, so two to a frame of up to 508 bytes."""
END = b"\0"


def encode_frame(message: bytes) -> bytes:
    """The bytes on the line for one message of 1..LARGEST_MESSAGE bytes."""
    return cobs.encode(message + zlib.crc32(message).to_bytes(4, "little")) + END


class FrameDecoder:
    """Bytes in, in pieces of any size; whole and undamaged messages out. Holds at most
    LARGEST_ENCODED bytes.
    """

    def __init__(self) -> None:
        self.damaged = 0
        """Frames thrown away so far."""
        self._held = bytearray()
        self._too_long = False

    def feed(self, data: bytes) -> list[bytes]:
        """Messages that `data` completes, in their order."""
        first, *others = data.split(END)
        messages = []
        self._hold(first)
        for piece in others:
            message = self._close()
            if message is not None:
                messages.append(message)
            self._hold(piece)
        return messages

    def _hold(self, piece: bytes) -> None:
        self._too_long |= len(self._held) + len(piece) > LARGEST_ENCODED
        if self._too_long:
            self._held.clear()
        else:
            self._held += piece

    def _close(self) -> bytes | None:
        """Judge what stands before an end byte; nothing at all between two of them is no frame
        and no damage.
        """
        if not self._held and not self._too_long:
            return None
        message = None if self._too_long else _open_frame(bytes(self._held))
        self._held.clear()
        self._too_long = False
        self.damaged += message is None
        return message


def _open_frame(encoded: bytes) -> bytes | None:
    try:
        body = cobs.decode(encoded)
    except cobs.DecodeError:
        return None
    message = body[:-4]
    check = body[-4:]
    intact = 1 <= len(message) <= LARGEST_MESSAGE and zlib.crc32(message) == int.from_bytes(
        check, "little"
    )
    return message if intact else None
