"""Rules for the whole suite: what is random is reproducible in CI, and there a skipped test is a
failure; what takes long begins first.
"""

import os
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))  # `processes` is for tests of every folder

LONG_FIRST = [
    "browser",
    "boards/test_nano.py",
    "clips/test_qoa_search.py",
    "conformance/test_c_player.py",
    "boards",
    "table/test_mutations.py",
    "link/test_c_session.py",
    "cli/test_commands.py",
    "plots/test_wiring.py",
    "conformance/test_fuzz.py",
    "papers",
    "sequence/test_round_trip.py",
    "recordings",
    "cli",
    "conformance",
    "plots",
    "bench",
    "clips",
    "link",
    "runs",
    "advice",
    "checks",
]
"""Folders and files, those that take longest first: what begins last is short, so no worker is
left alone with much.
"""

settings.register_profile(
    "ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("hand", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "hand")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files in the order of `LONG_FIRST`, the same in every worker."""
    place = {path: at for at, path in enumerate(LONG_FIRST)}

    def rank(item: pytest.Item) -> int:
        path = item.path.relative_to(HERE)
        return place.get(path.as_posix(), place.get(path.parts[0], len(place)))

    items.sort(key=rank)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    """In CI, a test that is skipped has failed: a missing tool must not make the suite green."""
    report = yield
    if os.environ.get("CI") and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped in CI: {report.longrepr}"
    return report
