"""Puts the simulated line, and the vectors of the folder beside, within reach of the tests here."""

import sys
from pathlib import Path

_TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(_TESTS / folder) for folder in ("link", "conformance")]
