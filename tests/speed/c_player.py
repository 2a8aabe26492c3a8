"""What the player in C takes on each target, beside the figures of the design: `python tests/speed/c_player.py`."""

import argparse
import tempfile
from pathlib import Path

from c_targets import MOST_STATE_BYTES, TARGETS, measure


def against(value: int, most: int | None) -> str:
    """A figure beside its limit."""
    if most is None:
        return f"{value:6}"
    return f"{value:6} of {most}" + (f" ({value - most} too many)" if value > most else "")


def main() -> None:
    """Print a line a target."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.parse_args()
    print("bytes; code with constants, state for 4 voices, 24 channels, 8 inputs and 12 triggers, stack below fxp_open and fxp_frame\n")
    for target in TARGETS:
        with tempfile.TemporaryDirectory() as folder:
            sizes = measure(target, Path(folder))
        stack = "not derived" if sizes.stack is None else ", ".join(f"{entry} {size}" for entry, size in sizes.stack.items())
        print(f"{target.name:11} code {against(sizes.code, target.most_code_bytes):32} data {sizes.data:3}   "
              f"state {against(sizes.state, MOST_STATE_BYTES):16} stack {stack}")  # fmt: skip


if __name__ == "__main__":
    main()
