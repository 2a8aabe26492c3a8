"""The same bytes every time, and files whole or not at all."""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import matplotlib
import pytest
from drawn import DEMO, flashing, played

from fxseq.plots import animation_bytes, picture_bytes, preview_figure, save
from fxseq.runs import load_prop, perform
from fxseq.sequence import OutputError

_ELSEWHERE = """
import hashlib, sys
from pathlib import Path
from fxseq.runs import load_prop, perform
from fxseq.plots import animation_bytes, picture_bytes, preview_figure
prop = load_prop(Path(sys.argv[1]))
run = perform(prop, prop.script("tap flare @0.1, end @0.4")[0])
for data in (picture_bytes(preview_figure(run), "png"), picture_bytes(preview_figure(run), "svg"), animation_bytes(run)):
    print(hashlib.sha256(data).hexdigest())
"""


@pytest.fixture(scope="module")
def lamp_run():
    return played(flashing(["lamp"]), "tap button @0.5")


def test_another_process_gives_the_same_bytes(tmp_path: Path):
    (tmp_path / "matplotlibrc").write_text(
        "font.size: 20\nsvg.fonttype: path\nlines.linewidth: 9\n"
    )
    surroundings = {**os.environ, "PYTHONHASHSEED": "4711", "MATPLOTLIBRC": str(tmp_path)}
    command = [sys.executable, "-c", _ELSEWHERE, DEMO]
    there = subprocess.run(
        command, env=surroundings, capture_output=True, text=True, check=True
    ).stdout.split()
    prop = load_prop(DEMO)
    run = perform(prop, prop.script("tap flare @0.1, end @0.4")[0])
    here = [
        picture_bytes(preview_figure(run), "png"),
        picture_bytes(preview_figure(run), "svg"),
        animation_bytes(run),
    ]
    assert [hashlib.sha256(data).hexdigest() for data in here] == there


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_saved_twice_gives_the_same_bytes(lamp_run, kind: str):
    figure = preview_figure(lamp_run, "dark")
    first = picture_bytes(figure, kind)
    with matplotlib.rc_context({"font.size": 20, "svg.hashsalt": None}):
        assert picture_bytes(figure, kind) == first


def test_svg_keeps_text_as_text(lamp_run):
    text = picture_bytes(preview_figure(lamp_run), "svg").decode()
    assert "A $5 lamp, not $9: 100 % _bright_: preview</text>" in text
    assert "<dc:date>" not in text


@pytest.mark.parametrize("name, start", [("a.png", b"\x89PNG"), ("a.SVG", b"<?xml")])
def test_save_writes_by_the_ending(lamp_run, tmp_path: Path, name: str, start: bytes):
    save(preview_figure(lamp_run), tmp_path / name)
    assert (tmp_path / name).read_bytes().startswith(start)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_save_refuses_another_ending(lamp_run, tmp_path: Path):
    with pytest.raises(OutputError) as caught:
        save(preview_figure(lamp_run), tmp_path / "a.jpg")
    what = "a picture cannot be written as '.jpg'; allowed: .png, .svg, .pdf."
    assert str(caught.value) == f"{tmp_path / 'a.jpg'}: {what}"
    assert not list(tmp_path.iterdir())


def test_save_leaves_the_old_file_where_it_cannot_write(lamp_run, tmp_path: Path):
    with pytest.raises(OutputError, match="cannot be written"):
        save(preview_figure(lamp_run), tmp_path / "no_folder" / "a.png")


def test_importing_loads_no_drawing_library():
    code = (
        "import sys, fxseq.plots; print([name for name in ('matplotlib', 'PIL', 'scipy') if name in"
        " sys.modules])"
    )
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.strip()
        == "[]"
    )
