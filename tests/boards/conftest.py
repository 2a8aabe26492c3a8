"""The emulated boards' own modules, the generated tables and the simulated lines are modules of
these folders, found by name.
"""

import sys
from pathlib import Path

_TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(_TESTS / folder) for folder in ("boards", "conformance", "link")]
