"""fxseq papers."""

import json
from pathlib import Path

from PIL import Image
from pypdf import PdfReader

DEMO = str(Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml")
LAMP = """format = 1
title = "Lamp & <co>"
board = {}
inputs.button = {}
groups.lamp = { leds = 1, colour = "red", current_ma = 5 }
fades.flash = { segments = [{ to_percent = 100, length_ms = 40 }] }
effects.flash = { lights = [{ group = "lamp", fade = "flash" }] }
triggers.flash = { mode = "once", input = "button", effects = ["flash"] }
"""
CELLS = 'supplies.cells = { kind = "cells", cell = "alkaline_aa", cells_in_series = 3 }\n'


def test_papers_of_a_small_prop(fxseq, here: Path) -> None:
    (here / "lamp.toml").write_text(LAMP + CELLS)
    printed = fxseq("papers", "lamp.toml", "--props", "30", "--paper", "letter", "--json")
    assert (printed.status, printed.err) == (0, "")
    files = json.loads(printed.out)["files"]
    assert sorted(path.name for path in Path("lamp_papers").iterdir()) == sorted(
        Path(file).name for file in files
    )
    for name in ("build", "user", "venue"):
        first = PdfReader(f"lamp_papers/{name}.pdf").pages[0].extract_text()
        assert "Lamp & <co>" in first
        assert "Lamp &amp; &lt;co&gt;" in Path(f"lamp_papers/{name}.html").read_text("utf-8")
    assert '"LED red, 5 mm",DS1,1,30,3,33,' in Path("lamp_papers/parts.csv").read_text()


def test_papers_of_a_prop_without_a_supply_say_what_they_lack(fxseq, here: Path) -> None:
    (here / "lamp.toml").write_text(LAMP)
    printed = fxseq("papers", "lamp.toml")
    assert printed.status == 0 and "No supply is described" in printed.out
    first = PdfReader("lamp_papers/build.pdf").pages[0].extract_text()
    assert "does not say what feeds the prop" in first and "Each press of button: flash." in first
    assert not Path("lamp_papers/parts.csv").exists()


def test_the_makers_logo_stands_on_the_first_page(fxseq, here: Path) -> None:
    (here / "lamp.toml").write_text(LAMP + CELLS + 'maker = { name = "Us", logo = "us.png" }\n')
    told = fxseq("papers", "lamp.toml")
    assert told.status == 1 and "us.png: cannot be read as a picture" in told.err
    Image.new("RGB", (60, 20), "navy").save(here / "us.png")
    assert fxseq("papers", "lamp.toml").status == 0
    pages = PdfReader("lamp_papers/build.pdf").pages
    assert [len(page.images) for page in pages[:2]] == [1, 0]
    assert "data:image/png;base64," in Path("lamp_papers/user.html").read_text("utf-8")
    (here / "us.png").write_text("no picture")
    assert "cannot be read as a picture" in fxseq("papers", "lamp.toml").err
