"""Linear prediction with Rice codes: the bytes of a clip in the table, and their decoder.

`rice_search` encodes. A run of samples begins with its length in 3 bytes, least significant first,
and is cut into blocks of 4096 samples, which begin with a byte and know nothing of each other, and
these into parts of 128. A part may bring another step and another predictor. What the prediction
from up to four samples misses is a whole number of steps, written in a Rice code whose order
follows the mean of the numbers before it: so a loud place takes many bits, a soft one few. (R. F.
Rice, Some Practical Universal Noiseless Coding Techniques, JPL 79-22, 1979, from memory; that the
order follows the mean is common practice.) SPEC 3.7 R5 and 6.1 R13 are the law.
"""

import numpy as np
from numpy.typing import NDArray

LENGTH_BYTES = 3
BLOCK_SAMPLES = 4096
PART_SAMPLES = 128
ORDER_BITS = 2
"""Of the number of coefficients, less 1."""
MOST_COEFFICIENTS = 4
COEFFICIENT_BITS = 12
"""Of a coefficient, in 1/256."""
FIRST_MEAN = 8
"""16 times the mean, at the begin of a block, is this shifted left by the block's first 4 bits."""
MOST_ORDER = 11
"""Of a Rice code: bits that are written as they are."""
MOST_ZEROS = 20
"""So many zeros, without a one behind them, lead a number of ESCAPE_BITS."""
ESCAPE_BITS = 16
STEP_BITS = 6

_QUARTERS = np.array([16, 19, 23, 27])
STEPS = np.array([((_QUARTERS[s & 3] << (s >> 2)) + 8) >> 4 for s in range(1 << STEP_BITS)])
"""Of the quantiser, shape (64,): four to an octave."""


def byte_count(data: bytes) -> int:
    """Bytes of the run that `data` begins with; more than it has where they are not all there."""
    return LENGTH_BYTES + int.from_bytes(data[:LENGTH_BYTES], "little")


def decode(data: bytes, samples: int) -> NDArray[np.int16]:
    """The samples of a run, shape (samples,). Behind its last byte come zeros, so any bytes can
    be decoded.
    """
    from fxseq.clips.rice_kernels import decode_run

    decoded = np.empty(samples, np.int16)
    decode_run(np.frombuffer(data[LENGTH_BYTES:], np.uint8), decoded)
    return decoded
