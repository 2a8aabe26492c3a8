"""How long `fxseq --help` and the light commands take, against an empty Python program.

.venv/bin/python tests/speed/start.py
"""

import statistics
import subprocess
import sys
import time
from pathlib import Path

FXSEQ = str(Path(sys.executable).with_name("fxseq"))
DEMO = str(Path(__file__).parent.parent.parent / "demo_assets" / "squall_lantern.toml")
COMMANDS = {
    "python -c pass": [sys.executable, "-c", "pass"],
    "fxseq --help": [FXSEQ, "--help"],
    "fxseq preview --help": [FXSEQ, "preview", "--help"],
    "fxseq ports": [FXSEQ, "ports"],
    "fxseq check squall_lantern.toml": [FXSEQ, "check", DEMO],
}


def main() -> None:
    for name, command in COMMANDS.items():
        times = []
        for _ in range(8):
            began = time.perf_counter()
            subprocess.run(command, capture_output=True, check=False)
            times.append(time.perf_counter() - began)
        print(
            f"{name:34} {statistics.median(times[1:]):.3f} s ({min(times[1:]):.3f} to"
            f" {max(times[1:]):.3f})"
        )


if __name__ == "__main__":
    main()
