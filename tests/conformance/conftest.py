"""The plain reader and player, and the generated tables, are modules of this folder, found by
name.
"""

import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

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
def c_batch(tmp_path_factory: pytest.TempPathFactory) -> Iterator["Batch"]:
    """The player in C with sanitizers, asked table after table."""
    from c_host import SANITIZED, Batch, make

    process = Batch(
        make(tmp_path_factory.mktemp("c_player"), "fxp_host", CC="gcc", CFLAGS=SANITIZED)
    )
    yield process
    process.close()


@pytest.fixture(scope="session")
def wasm() -> "Module":
    """The player as the module of the package."""
    return import_module("wasm_host").Module()
