"""Functions compiled by numba at their first call, and kept on disk. Importing this loads numba,
which takes a while.

At level 1 the searches compile in 0.7 of the time that level 3 takes, numba's own, and run as fast:
what they spend their time on is memory and branches.
"""

import os

os.environ.setdefault("NUMBA_OPT", "1")

import numba  # noqa: E402
import numpy as np  # noqa: E402

compiled = numba.njit(cache=True, nogil=True)
number_of = np.int64
"""What a variable begins with that goes to another function: a plain 0 would have that function
compiled twice, for 0 and for any number.
"""
inlined = numba.njit(inline="always")
"""Calls of the innermost functions take longer than what they do."""
