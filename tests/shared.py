"""What all workers of a run have in common: made by the first that needs it."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def shared_folder(temporary: pytest.TempPathFactory, name: str) -> Iterator[Path]:
    """A folder of this run, held by one worker at a time: `make` in it builds once, and finds
    nothing to do later on.
    """
    of_worker = temporary.getbasetemp()
    folder = (of_worker.parent if "PYTEST_XDIST_WORKER" in os.environ else of_worker) / name
    folder.mkdir(exist_ok=True)
    with (folder / "held").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield folder
