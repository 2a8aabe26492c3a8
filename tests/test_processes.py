"""What a test started is gone when the run is killed."""

import subprocess
import sys
import time
from pathlib import Path

from processes import WITH_US

STARTS_ONE = (
    "import subprocess, sys; child = subprocess.Popen(sys.argv[1:]); print(child.pid, flush=True);"
    " child.wait()"
)


def test_a_run_that_is_killed_leaves_no_process() -> None:
    with subprocess.Popen(
        [sys.executable, "-c", STARTS_ONE, *WITH_US, "sleep", "600"],
        stdout=subprocess.PIPE,
        text=True,
    ) as run:
        child = Path("/proc", run.stdout.readline().strip())
        until = time.monotonic() + 60
        while (
            "sleep" not in (child / "cmdline").read_text().split("\0")[:1]
            and time.monotonic() < until
        ):
            time.sleep(0.01)
        run.kill()
    while child.exists() and time.monotonic() < until:
        time.sleep(0.01)
    assert not child.exists()
