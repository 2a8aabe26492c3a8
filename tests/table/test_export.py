"""Intel HEX, read back by the intelhex library, and C, read back as text."""

import io
import re

import pytest
from intelhex import IntelHex
from raw_table import assemble

from fxseq.table import c_array, intel_hex

TABLE = assemble(clip_data=bytes(range(256)) * 3).data


@pytest.mark.parametrize("address", [0, 0x0800_8000, 0xFFFF, 2**32 - len(TABLE)])
def test_intel_hex_puts_the_bytes_at_the_address(address: int) -> None:
    image = IntelHex(io.StringIO(intel_hex(TABLE, address)))
    assert image.minaddr() == address
    assert image.tobinstr() == TABLE


def test_c_array_holds_the_bytes_and_their_number() -> None:
    text = c_array(TABLE, "lantern")
    declared, content = re.search(
        r"const unsigned char lantern\[(\d+)\] = \{\n(.*?)\n\};", text, re.DOTALL
    ).groups()
    assert bytes(int(value, 16) for value in re.findall(r"0x([0-9a-f]{2}),", content)) == TABLE
    assert int(declared) == len(TABLE)
    assert "const size_t lantern_bytes = sizeof lantern;" in text and text.startswith(
        "#include <stddef.h>\n"
    )
    assert max(map(len, text.splitlines())) <= 100
