"""The loop finder on real recordings: the loops, drones and hums of Debian's package
sonic-pi-samples (CC0).
"""

import subprocess
from pathlib import Path

import numpy as np
import pytest

from fxseq.sequence.model import Board, Clip
from tests.checks.judged import prepare

FEWEST = 20


def recordings() -> list[Path]:
    listed = subprocess.run(
        ["dpkg", "-L", "sonic-pi-samples"], capture_output=True, text=True
    ).stdout.splitlines()
    found = sorted(
        Path(line)
        for line in listed
        if line.endswith(".flac") and Path(line).name.startswith(("loop_", "ambi_"))
    )
    if len(found) < FEWEST:
        pytest.fail(
            f"{len(found)} of Debian's package sonic-pi-samples are here, {FEWEST} are needed: sudo"
            " apt install sonic-pi-samples"
        )
    return found


@pytest.fixture(scope="module")
def looped() -> dict[str, object]:
    board = Board(channels=1)
    return {
        path.name: prepare(
            "hum", Clip(file=path.name, loop="find", gain_db=-6, coding="pcm16"), board, path.parent
        )
        for path in recordings()
    }


def test_no_found_loop_has_a_seam(looped) -> None:
    found = {
        name: [finding.figure for finding in clip.findings if finding.check == "clip.loop_seam"]
        for name, clip in looped.items()
    }
    assert {name: figures for name, figures in found.items() if figures} == {}
    assert all(clip.loop[1] - clip.loop[0] >= 0.3 * 22_050 - 1 for clip in looped.values())


def test_the_curve_bends_no_more_at_a_found_seam_than_elsewhere(looped) -> None:
    """The second difference over the seam against the 99.9th percentile of those inside the
    loop: a kink would stand out.
    """
    for name, clip in looped.items():
        turn = clip.samples[slice(*clip.loop)].astype(float)
        bends = np.abs(np.diff(turn, 2))
        seam = np.abs(np.diff(np.concatenate([turn[-2:], turn[:2]]), 2))
        assert seam.max() <= max(2 * np.quantile(bends, 0.999), 200), name


def test_a_drum_loop_that_was_played_twice_is_looped_by_its_bars(looped) -> None:
    """loop_amen_full holds four bars that are copies in part; loop_mika repeats its bar of 1.75
    s or 1.0 s.
    """
    assert looped["loop_amen_full.flac"].conditioning.found_loop.match > 0.99
    assert looped["loop_mika.flac"].conditioning.found_loop.match > 0.99
