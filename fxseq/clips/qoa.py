"""QOA, 3.2 bits a sample: the bytes of a clip in the table, and their decoder.

A run of samples is cut into frames of 256 slices of 20 samples; the last frame and the last slice
may be shorter. A frame is its state, four samples of history and four weights (int16 each,
big-endian, latest last), and 8 bytes a slice: 4 bits of scale factor from the top, then 3 bits a
sample; bits of samples that are not there are written as zero and not looked at. A loop begins with
a run (`runs`), hence with a frame, whose state is all that a decoder needs.

The arithmetic is that of the QOA format, which leaves overflow open. Here history and weights wrap
to 16 bits and the sum of a prediction to 32 bits, as two's complement. Source: phoboslab/qoa (MIT),
qoa.h, commit 769a116f, less its 8-byte heads of the file and of each frame.
"""

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
