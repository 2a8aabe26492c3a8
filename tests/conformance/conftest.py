"""The plain reader and player, and the generated tables, are modules of this folder, found by name."""

import sys
from importlib import import_module
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(params=["reference", "plain"])
def play(request: pytest.FixtureRequest) -> object:
    """Either player: play(table, presses, until_frame) gives a running.Result. Every worked example holds for both."""
    return import_module("running").PLAYERS[request.param]
