"""The plain reader and player are modules of this folder, found by name.

More generated cases than a quick run takes: `FXSEQ_CASES=20000 pytest tests/conformance/test_two_players.py`. Then every run draws others.
"""

import os
import sys
from importlib import import_module
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

sys.path.insert(0, str(Path(__file__).parent))

CASES = int(os.environ.get("FXSEQ_CASES", "0"))
settings.register_profile(
    "two players",
    max_examples=CASES or 100,
    derandomize=not CASES,
    database=None,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)


@pytest.fixture(params=["reference", "plain"])
def play(request: pytest.FixtureRequest) -> object:
    """Either player: play(table, presses, until_frame) gives a running.Result. Every worked example holds for both."""
    return import_module("running").PLAYERS[request.param]
