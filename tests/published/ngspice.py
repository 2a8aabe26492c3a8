"""Circuits solved by ngspice, the peer of what the package works out."""

import re
import shutil
import subprocess
from pathlib import Path


def simulate(folder: Path, deck: str, commands: str) -> dict[str, float]:
    """Values that the commands print, by name."""
    assert shutil.which("ngspice"), "ngspice is missing: apt-get install ngspice"
    (folder / "deck.cir").write_text(
        f"deck\n{deck}\n.control\nset numdgt=9\n{commands}\nquit\n.endc\n.end\n", encoding="utf-8"
    )
    done = subprocess.run(
        ["ngspice", "-b", "deck.cir"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    return {
        name: float(value)
        for name, value in re.findall(
            r"^(\S+)\s*=\s*(-?[\d.]+e[+-]?\d+)", done.stdout, re.MULTILINE
        )
    }
