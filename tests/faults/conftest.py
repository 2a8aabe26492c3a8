"""Puts the simulated line within reach of the tests of faults."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "link"))
