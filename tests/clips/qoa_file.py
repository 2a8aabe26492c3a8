"""A run of QOA as a .qoa file, which other decoders of the format read."""

import struct

from fxseq.clips.qoa import byte_count, frames

_FILE_HEAD = struct.Struct(">4sI")
_FRAME_HEAD = struct.Struct(">B3sHH")


def qoa_file(data: bytes, samples: int, rate_hz: int) -> bytes:
    """The file of one run of one channel; its heads are left out in a table."""
    file = [_FILE_HEAD.pack(b"qoaf", samples)]
    at = 0
    for _, length in frames(samples):
        size = byte_count(length)
        frame_bytes = _FRAME_HEAD.size + size
        file += [
            _FRAME_HEAD.pack(1, rate_hz.to_bytes(3, "big"), length, frame_bytes),
            data[at : at + size],
        ]
        at += size
    return b"".join(file)
