"""fxseq kit."""

import hashlib
import shutil
from pathlib import Path

from fxseq.firmware import images
from fxseq.runs import load_prop

CELLS = '\nsupplies.cells = { kind = "cells", cell = "alkaline_aa", cells_in_series = 3 }\n'


def with_cells(lamp: Path) -> Path:
    lamp.write_text(lamp.read_text().replace("\ninputs.button", f"{CELLS}\ninputs.button"))
    return lamp


def test_a_kit_is_whole_and_the_same_every_time(fxseq, lamp: Path) -> None:
    with_cells(lamp)
    Path("sounds").mkdir()
    shutil.move("clips/crack_a.wav", "sounds/crack.wav")
    Path("prop").mkdir()
    text = lamp.read_text().replace('"clips/crack_a.wav"', '"../sounds/crack.wav"')
    Path("prop/lamp.toml").write_text(text)
    told = fxseq("kit", "prop/lamp.toml")
    assert told.status == 0 and told.out.startswith("lamp_kit: ")
    assert told.err == "Where these sounds come from is not said (source): crack.\n"
    kit = Path("lamp_kit")
    sums = dict(line.split("  ")[::-1] for line in (kit / "SHA256SUMS").read_text().splitlines())
    files = {str(path.relative_to(kit)): path for path in kit.rglob("*") if path.is_file()}
    read_me = (kit / "READ_ME.txt").read_text()
    assert all(name in read_me or f"{name.partition('/')[0]}/" in read_me for name in files)
    assert sums.keys() == files.keys() - {"SHA256SUMS"}
    assert all(hashlib.sha256(files[name].read_bytes()).hexdigest() == sums[name] for name in sums)
    # The prop in the kit needs nothing outside of it, and is the same one.
    shutil.rmtree("sounds")
    assert load_prop(kit / "lamp.toml").compiled.data == (kit / "table/lamp.bin").read_bytes()
    assert (kit / "lamp.toml").read_text() == text.replace("../sounds/crack.wav", "clips/crack.wav")
    assert (kit / "program/pico.uf2").read_bytes() == images()["pico"].data
    assert fxseq("kit", "lamp_kit/lamp.toml", "--out", "again").status == 0
    for name in sums:
        assert (Path("again") / name).read_bytes() == files[name].read_bytes(), name


def test_what_is_there_is_not_mixed_with_a_kit(fxseq, lamp: Path) -> None:
    Path("mine").mkdir()
    told = fxseq("kit", str(with_cells(lamp)), "--out", "mine")
    assert told.status == 1 and "mine: is there already" in told.err
    assert not list(Path("mine").iterdir())


def test_nothing_is_left_where_a_kit_cannot_be_made(fxseq, lamp: Path) -> None:
    picture = '\npicture = { width_mm = 9, height_mm = 9, image = "gone.png" }'
    lamp.write_text(lamp.read_text().replace("\ninputs", f"{picture}\ninputs", 1))
    before = sorted(Path().iterdir())
    assert fxseq("kit", str(lamp)).status == 1
    assert sorted(Path().iterdir()) == before
