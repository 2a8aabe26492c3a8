"""fxseq compare."""

import json
import shutil
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo_assets"


def test_what_changed_and_what_follows(fxseq, starter: Path) -> None:
    text = starter.read_text()
    Path("new.toml").write_text(
        text.replace("gain_db = 9.5", "gain_db = 3.5").replace(
            "cells_in_series = 3", "cells_in_series = 4"
        )
    )
    told = fxseq("compare", str(starter), "new.toml")
    assert told.status == 0
    assert "amplifier: gain_db is 3.5 dB, was 9.5 dB" in told.out
    assert "supply 'cells': cells_in_series is 4, was 3" in told.out
    found = json.loads(fxseq("compare", str(starter), "new.toml", "--json").out)
    loud = found["figures"]["loudest at hand, 0.5 m"]
    # 6 dB less gain, as long as nothing clips.
    before, after = (float(loud[when].removesuffix(" dB(A)")) for when in ("before", "after"))
    assert 4 < before - after < 6.2
    assert set(found["findings"]) == {"come", "changed", "gone"}


def test_a_copy_is_the_same_prop(fxseq, starter: Path) -> None:
    shutil.copy(starter, "copy.toml")
    told = fxseq("compare", str(starter), "copy.toml")
    assert told.out == "starter.toml and copy.toml describe the same prop.\n"


def test_another_recording_under_the_same_name_is_told(fxseq, lamp: Path) -> None:
    Path("other/clips").mkdir(parents=True)
    shutil.copy(lamp, "other")
    shutil.copy(DEMO / "clips" / "bell.wav", "other/clips/crack_a.wav")
    told = fxseq("compare", str(lamp), "other/lamp.toml")
    assert "clip 'crack': its sound file is another one now" in told.out
