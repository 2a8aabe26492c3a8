"""The emulated boards' own modules, the generated tables and the simulated lines are modules of
these folders, found by name.
"""

import sys
from pathlib import Path

import pytest
from shared import shared_folder

_TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(_TESTS / folder) for folder in ("boards", "conformance", "link")]


@pytest.fixture(scope="session")
def pico_program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The linked program of the image for the RP2040, built from its sources: the image of the
    package.
    """
    from pico_board import IMAGE, build

    with shared_folder(tmp_path_factory, "pico") as folder:
        assert build(folder).read_bytes() == IMAGE.read_bytes()
    return folder / "pico.elf"
