"""Makes the file that the chip's boot loader takes, UF2, of a linked program: image.py PROGRAM.elf IMAGE.uf2.

UF2: https://github.com/microsoft/uf2, README.md, from memory; the CRC of the second stage: RP2040 data sheet, 2.8.1.3.1, from memory.
"""

import struct
import sys
from pathlib import Path

FLASH = 0x10000000
FLASH_BYTES = 2 * 1024 * 1024
SECOND_STAGE_BYTES = 256
CRC_BYTES = 4
PAYLOAD_BYTES = 256
BLOCK_BYTES = 512
BEGIN = (0x0A324655, 0x9E5D5157)
END = 0x0AB16F30
HAS_FAMILY = 0x2000
RP2040_FAMILY = 0xE48BFF56
LOADED = 1


def crc_32(data: bytes) -> int:
    """CRC-32/MPEG-2: polynomial 04C11DB7, from FFFFFFFF, most significant bit first."""
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte << 24
        for _ in range(8):
            crc = (crc << 1 ^ (0x04C11DB7 if crc >> 31 else 0)) & 0xFFFFFFFF
    return crc


def flash_image(elf: bytes) -> bytes:
    """What flash memory has to hold from its begin on: the parts that the program wants loaded, and the
    CRC of the second stage."""
    (at,) = struct.unpack_from("<I", elf, 28)
    size, count = struct.unpack_from("<HH", elf, 42)
    headers = (struct.unpack_from("<6I", elf, at + place * size) for place in range(count))
    image = bytearray()
    for kind, offset, _, address, stored, _ in headers:
        if kind == LOADED and stored:
            begin = address - FLASH
            assert 0 <= begin <= begin + stored <= FLASH_BYTES, hex(address)
            image.extend(bytes(max(0, begin + stored - len(image))))
            image[begin : begin + stored] = elf[offset : offset + stored]
    code = SECOND_STAGE_BYTES - CRC_BYTES
    struct.pack_into("<I", image, code, crc_32(image[:code]))
    return bytes(image)


def uf2(image: bytes) -> bytes:
    """The image as blocks for the boot loader; the last is filled up with FF."""
    parts = [image[at : at + PAYLOAD_BYTES] for at in range(0, len(image), PAYLOAD_BYTES)]
    return b"".join(
        struct.pack(
            "<8I",
            *BEGIN,
            HAS_FAMILY,
            FLASH + number * PAYLOAD_BYTES,
            PAYLOAD_BYTES,
            number,
            len(parts),
            RP2040_FAMILY,
        )
        + part.ljust(PAYLOAD_BYTES, b"\xff").ljust(BLOCK_BYTES - 36, b"\0")
        + struct.pack("<I", END)
        for number, part in enumerate(parts)
    )


def main() -> None:
    elf, out = map(Path, sys.argv[1:])
    image = flash_image(elf.read_bytes())
    out.write_bytes(uf2(image))
    print(f"{out.name}: {len(image)} bytes of flash memory")


if __name__ == "__main__":
    main()
