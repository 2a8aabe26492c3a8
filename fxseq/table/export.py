"""A table's bytes in the forms that tool chains take: Intel HEX at an address, and a C array."""

import io
import textwrap

from intelhex import IntelHex


def intel_hex(data: bytes, address: int) -> str:
    """Intel HEX text with `data` at `address` (0 .. 2**32 - len(data))."""
    image = IntelHex()
    image.puts(address, data)
    text = io.StringIO()
    image.write_hex_file(text)
    return text.getvalue()


def c_array(data: bytes, name: str) -> str:
    """A C99 source file that defines `const unsigned char name[]`."""
    rows = textwrap.wrap(", ".join(f"0x{byte:02x}" for byte in data) + ",", 96)
    body = "\n".join(f"    {row}" for row in rows)
    return (
        f"#include <stddef.h>\n\nconst unsigned char {name}[{len(data)}] = {{\n{body}\n}};\nconst"
        f" size_t {name}_bytes = sizeof {name};\n"
    )
