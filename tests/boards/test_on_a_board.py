"""The maker's page `demo_assets/on_a_board.md`, done on an emulated board as it is written: its
commands, its pins. Left out: a real drive and a real USB socket (`fxseq ports`).
"""

import json
import re
import threading
import time
from pathlib import Path

import pytest
from pico_board import EmulatedBoard, unpacked
from pico_pins import Pins, of_use, pin_periods, rows

from fxseq.cli.group import run
from fxseq.firmware import drives
from fxseq.runs import load_prop
from fxseq.table import Use, decode

TOP = Path(__file__).parents[2]
PAGE = (TOP / "demo_assets" / "on_a_board.md").read_text("utf-8")
STEPS = re.findall(r"^ {7}fxseq (.+)$", PAGE.split("## Six steps")[1].split("\n## ")[0], re.MULTILINE)
INSTALL, PORTS, PUSH, PROVE = (step.split() for step in STEPS)
FULL = 4095
"""Light of a pin, in units of a period."""


def pin_of(row_begins: str) -> int:
    """The number of the pin GPn in a row of the page's list of joints."""
    (found,) = re.findall(rf"^\| GP(\d+), pin \d+ \| {row_begins}", PAGE, re.MULTILINE)
    return int(found)


@pytest.fixture
def new_board(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Flash memory of a board that got its program by step 1."""
    drive = tmp_path / "drive"
    drive.mkdir()
    # Its file as the format's own text shows it (Microsoft, UF2 file format), from memory.
    (drive / drives.INFO).write_text("UF2 Bootloader v3.0\nBoard-ID: RPI-RP2\n")
    monkeypatch.setattr(drives, "_mounted", lambda: iter([drive]))
    image = drive / "pico.uf2"

    def start() -> None:
        """As the chip does once it has the last block: the drive goes."""
        until = time.monotonic() + 20
        while not (image.exists() and image.stat().st_size) and time.monotonic() < until:
            time.sleep(0.01)
        (drive / drives.INFO).unlink()

    chip = threading.Thread(target=start)
    chip.start()
    assert run(INSTALL) == 0
    chip.join()
    flash = tmp_path / "flash"
    flash.write_bytes(unpacked(image.read_bytes()))
    return flash


def test_page_leads_to_a_lamp_that_flashes_under_the_button(
    new_board: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(TOP)
    assert PORTS == ["ports"]
    table = decode(load_prop(TOP / PUSH[1]).compiled.data)
    light = of_use(table, Use.LIGHTS)
    assert light.pin == pin_of("220 ohm, then the long leg of the LED")
    assert of_use(table, Use.PWM).pin == pin_of("sound")
    button = pin_of("one side of the button")
    joints, result = tmp_path / "joints", tmp_path / "result"
    joints.write_text(json.dumps(rows(table)))
    with EmulatedBoard(new_board, "--usb", "--speed", "8", "--pins", f"{joints}:{result}") as board:
        assert run([*PUSH, "--port", board.where]) == 0
        assert run([*PROVE, "--port", board.where]) == 0
        pressed = board.figures()["cycles"]
        board.say(f"{button} 0")
        board.wait(0.5)
        board.say(f"{button} 1")
        cycles = board.figures()["cycles"]
    edges = Pins(table, json.loads(result.read_text())).edges(light)
    _, duties = pin_periods(edges[edges[:, 0] > pressed], [light.pin], cycles)
    assert duties.max() == FULL
    assert duties[-1] == 0
