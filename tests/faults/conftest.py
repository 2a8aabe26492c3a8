"""Puts the simulated line, and the memory that tears, within reach of the tests of faults."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / "link"), str(Path(__file__).parent)]
