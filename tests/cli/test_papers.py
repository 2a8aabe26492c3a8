"""fxseq papers."""

import json
from pathlib import Path

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


def test_a_prop_without_a_supply_has_no_papers(fxseq, here: Path) -> None:
    (here / "lamp.toml").write_text(LAMP)
    printed = fxseq("papers", "lamp.toml")
    assert printed.status == 1 and "no supply is described" in printed.err
    assert not Path("lamp_papers").exists()
