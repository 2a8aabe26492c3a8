"""Every recording of two Debian packages, previewed and pushed: sounds that nobody made for this
project.

`sonic-pi-samples` is a large set of recordings under CC0 (FLAC, mono and stereo, 44.1 kHz and
others), `sound-theme-freedesktop` the usual sounds of a desktop (OGG). They last over six minutes,
8 MB as mulaw at 22 050 Hz, which a board with a large flash memory holds.
"""

import json
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import soundfile
import tomlkit

from fxseq.checks import findings
from fxseq.link import hello, open_port, push, virtual_board
from fxseq.player import TraceKind
from fxseq.runs import Performance, Prop, in_numbers, load_prop, perform
from fxseq.sequence import Weight
from fxseq.table import decode, encode

SLOT_BYTES = 16 * 2**20
MOST_CLIPS = 255
FEWEST = {"sonic-pi-samples": 100, "sound-theme-freedesktop": 20}
"""Sounds that each package has at the least in every Debian release: fewer would mean that this
test looks in the wrong place.
"""


def recordings() -> list[Path]:
    """All sound files of the packages, by name. A missing package fails the test: it must not
    pass for want of sounds.
    """
    found = []
    for package, fewest in FEWEST.items():
        listed = subprocess.run(["dpkg", "-L", package], capture_output=True, text=True)
        paths = [
            Path(line)
            for line in listed.stdout.splitlines()
            if line.endswith((".flac", ".wav", ".oga", ".ogg"))
        ]
        sounds = sorted({path.resolve() for path in paths if path.is_file()})
        if len(sounds) < fewest:
            pytest.fail(
                f"{len(sounds)} sounds of Debian's package {package} are here, {fewest} are needed:"
                f" sudo apt install {package}"
            )
        found += sounds
    return found


def write_sequence(path: Path, sounds: list[Path]) -> None:
    """A prop that plays each sound once: a clip and an effect each, a trigger that takes them in
    turn, a press when the last has ended.
    """
    at_s = 0.5
    presses = []
    for sound in sounds:
        presses.append(f"tap lever @{at_s:.2f}")
        at_s += soundfile.info(sound).duration + 0.1
    values = {
        "format": 1,
        "title": "All recordings",
        "board": {"channels": 1, "flash_for_table_bytes": SLOT_BYTES},
        "supplies": {"wall": {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 2000}},
        "amplifier": {"gain_db": 9.5, "full_scale_input_v": 1.2},
        "speaker": {
            "diameter_mm": 28,
            "impedance_ohm": 8,
            "resonance_hz": 800,
            "sensitivity_db": 88,
            "rated_power_w": 1.0,
        },
        "inputs": {"lever": {}},
        "groups": {
            "lamp": {
                "first_channel": 0,
                "leds": 1,
                "colour": "amber",
                "forward_voltage_v": 2.1,
                "current_ma": 20,
            }
        },
        "fades": {
            "flash": {
                "segments": [
                    {"to_percent": 100, "length_ms": 20},
                    {"shape": "decay", "to_percent": 0, "length_ms": 300},
                ]
            }
        },
        "clips": {f"clip_{number}": {"file": str(sound)} for number, sound in enumerate(sounds)},
        "effects": {
            f"effect_{number}": {
                "sounds": [{"clip": f"clip_{number}"}],
                "lights": [{"group": "lamp", "fade": "flash"}],
            }
            for number in range(len(sounds))
        },
        "triggers": {
            "next": {
                "mode": "once",
                "input": "lever",
                "effects": [f"effect_{number}" for number in range(len(sounds))],
            }
        },
        "scripts": {"run": {"presses": "\n".join(presses)}},
    }
    path.write_text(tomlkit.dumps(values), encoding="utf-8")


def preview(prop: Prop) -> Performance:
    """Play every sound; all that a preview reports must be there and be finite."""
    run = perform(prop, prop.script()[0])
    assert sorted(event.value for event in run.events(TraceKind.SOUND)) == list(
        range(len(prop.clips))
    )
    summary = json.loads(json.dumps(in_numbers(run), allow_nan=False))
    assert (summary["sounds"], summary["voices"]["cut"], summary["saturated_samples"]) == (
        len(prop.clips),
        0,
        0,
    )
    assert summary["shots"] == {"next": len(prop.clips)}
    assert 60 < summary["levels"]["at"]["hand"]["lafmax_db"] < 120
    assert [finding for finding in findings(run) if finding.weight == Weight.FAULT] == []
    return run


@contextmanager
def board(folder: Path, tables: list[object]) -> Iterator[str]:
    """A virtual board with large slots, in a thread; where it is reached."""
    stop = threading.Event()
    with virtual_board.open_tcp() as line:
        options = {
            "slot_bytes": SLOT_BYTES,
            "on_table": tables.append,
            "going": lambda: not stop.is_set(),
        }
        serving = threading.Thread(
            target=virtual_board.serve, args=(line, folder / "board.flash"), kwargs=options
        )
        serving.start()
        try:
            yield line.where
        finally:
            stop.set()
            serving.join()


def test_all_recordings_are_previewed_and_pushed_without_a_fault(tmp_path: Path) -> None:
    sounds = recordings()
    tables = []
    with board(tmp_path, tables) as where:
        for first in range(0, len(sounds), MOST_CLIPS):
            some = sounds[first : first + MOST_CLIPS]
            path = tmp_path / f"recordings_{first}.toml"
            write_sequence(path, some)
            prop = load_prop(path)
            assert len(prop.clips) == len(some)
            preview(prop)
            with open_port(where) as port:
                report = push(port, prop.compiled.data)
                held = hello(port)
            assert (report.bytes, report.repeated_blocks) == (len(prop.compiled.data), 0)
            assert (held.length_0, held.length_1)[held.active] == len(prop.compiled.data)
    assert encode(tables[-1]) == prop.compiled.data
    assert tables[-1] == decode(prop.compiled.data) == prop.compiled.table
    assert prop.compiled.data in (tmp_path / "board.flash").read_bytes()
