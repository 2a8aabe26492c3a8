"""Puts `drawn` within reach of the tests beside it; the demo, played once."""

import sys
from pathlib import Path

import pytest

from fxseq.runs import Performance, load_prop, perform

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def demo() -> Performance:
    """The Squall Lantern, played through its own press script."""
    prop = load_prop(Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml")
    return perform(prop, prop.script()[0])
