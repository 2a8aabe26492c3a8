"""The emulated boards' own modules, the generated tables and the simulated lines are modules of
these folders, found by name.
"""

import sys
from pathlib import Path

_TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(_TESTS / folder) for folder in ("boards", "conformance", "link")]

import os, struct
import pytest
@pytest.fixture(scope="session")
def pico():
    from pico_pins import Chip
    return Chip(Path('/tmp/outputs_nm/t/rom'),Path('/tmp/outputs_nm/build/pico.uf2'),Path('/tmp/outputs_nm'))
sys.path.insert(0, str(_TESTS/"speed"))
