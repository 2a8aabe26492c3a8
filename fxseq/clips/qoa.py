"""QOA, 3.2 bits a sample: the bytes of a clip in the table, their decoder, and the way to and from
a .qoa file.

A run of samples is cut into frames of 256 slices of 20 samples; the last frame and the last slice
may be shorter. A frame is its state, four samples of history and four weights (int16 each,
big-endian, latest last), and 8 bytes a slice: 4 bits of scale factor from the top, then 3 bits a
sample; bits of samples that are not there are written as zero and not looked at. A loop begins with
a run (`runs`), hence with a frame, whose state is all that a decoder needs.

The arithmetic is that of the QOA format, which leaves overflow open. Here history and weights wrap
to 16 bits and the sum of a prediction to 32 bits, as two's complement. Source: phoboslab/qoa (MIT),
qoa.h, commit 769a116f, less its 8-byte heads of the file and of each frame.
"""

import struct
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

SLICE_SAMPLES = 20
SLICE_BYTES = 8
STATE_BYTES = 16
FRAME_SAMPLES = 256 * SLICE_SAMPLES

SCALES = np.round(np.arange(1, 17) ** 2.75).astype(np.int64)
"""Scale factor of each slice code, shape (16,). Source: qoa.h, qoa_scalefactor_tab and the
formula beside it.
"""

_STEPS = np.array([0.75, -0.75, 2.5, -2.5, 4.5, -4.5, 7.0, -7.0])
"""What a residual code stands for, in scale factors. Source: qoa.h, comment of qoa_dequant_tab."""

DEQUANTISED = (np.sign(_STEPS) * np.floor(np.abs(_STEPS) * SCALES[:, None] + 0.5)).astype(np.int64)
"""Residual by scale and code, shape (16, 8), halves rounded away from zero. Source: qoa.h,
qoa_dequant_tab and its comment.
"""

_FILE_HEAD = struct.Struct(">4sI")
_FRAME_HEAD = struct.Struct(">B3sHH")


def byte_count(samples: int) -> int:
    """Bytes of a run: the state of each frame begun, and each slice begun."""
    return STATE_BYTES * -(-samples // FRAME_SAMPLES) + SLICE_BYTES * -(-samples // SLICE_SAMPLES)


def frames(run: int) -> Iterator[tuple[int, int]]:
    """(First sample, samples) of each frame of a run."""
    return ((first, min(FRAME_SAMPLES, run - first)) for first in range(0, run, FRAME_SAMPLES))


def decode(data: bytes, samples: int) -> NDArray[np.int16]:
    """The samples of a run, shape (samples,).

    Raises ValueError if there are not `byte_count(samples)` bytes.
    """
    if len(data) != byte_count(samples):
        raise ValueError(
            f"{len(data)} bytes, not {byte_count(samples)} of {samples} samples of QOA"
        )
    from fxseq.clips.qoa_kernels import decode_run

    decoded = np.empty(samples, np.int16)
    decode_run(np.frombuffer(data, np.uint8), decoded)
    return decoded


def to_file(data: bytes, samples: int, rate_hz: int) -> bytes:
    """A .qoa file of one run. rate_hz: 1..16777215.

    Raises ValueError if there are not `byte_count(samples)` bytes, or no samples: the format calls
    such a file endless.
    """
    if not samples or len(data) != byte_count(samples):
        raise ValueError(f"{len(data)} bytes are not a run of {samples} samples of QOA")
    file = [_FILE_HEAD.pack(b"qoaf", samples)]
    at = 0
    for _, length in frames(samples):
        size = byte_count(length)
        file += [
            _FRAME_HEAD.pack(1, rate_hz.to_bytes(3, "big"), length, _FRAME_HEAD.size + size),
            data[at : at + size],
        ]
        at += size
    return b"".join(file)


def from_file(file: bytes) -> tuple[bytes, int, int]:
    """The run, its samples and its rate in Hz of a .qoa file of one channel.

    Raises ValueError if the file is anything else.
    """
    magic, samples = _FILE_HEAD.unpack_from(file.ljust(_FILE_HEAD.size, b"\0"))
    if (
        magic != b"qoaf"
        or not samples
        or len(file)
        != _FILE_HEAD.size + _FRAME_HEAD.size * len(list(frames(samples))) + byte_count(samples)
    ):
        raise ValueError("not a .qoa file of one channel, whole and with its number of samples")
    data = []
    at = _FILE_HEAD.size
    rate = file[_FILE_HEAD.size + 1 : _FILE_HEAD.size + 4]
    for _, length in frames(samples):
        size = _FRAME_HEAD.size + byte_count(length)
        if _FRAME_HEAD.unpack_from(file, at) != (1, rate, length, size):
            raise ValueError(
                f"the frame at byte {at} of the .qoa file is not one of {length} samples of one"
                " channel at the rate of the first"
            )
        data.append(file[at + _FRAME_HEAD.size : at + size])
        at += size
    return b"".join(data), samples, int.from_bytes(rate, "big")
