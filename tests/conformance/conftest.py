"""The plain reader and player, and the generated tables, are modules of this folder, found by
name.
"""

import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from shared import shared_folder

if TYPE_CHECKING:
    from c_host import Batch
    from wasm_host import Module

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(params=["reference", "plain"])
def play(request: pytest.FixtureRequest) -> object:
    """Either player: play(table, presses, until_frame) gives a running.Result. Every worked
    example holds for both.
    """
    return import_module("running").PLAYERS[request.param]


@pytest.fixture(scope="session")
def c_command(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The player in C as a command, with the sanitizers for addresses and undefined behaviour:
    what they find ends it.
    """
    from c_host import SANITIZED, make

    with shared_folder(tmp_path_factory, "c_player") as folder:
        return make(folder, "fxp_host", CC="gcc", CFLAGS=SANITIZED)


@pytest.fixture(scope="session")
def c_batch(c_command: Path) -> Iterator["Batch"]:
    """The same, asked table after table."""
    from c_host import Batch

    process = Batch(c_command)
    yield process
    process.close()


@pytest.fixture(scope="session")
def wasm() -> "Module":
    """The player as the module of the package."""
    return import_module("wasm_host").Module()
