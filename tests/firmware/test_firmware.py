"""Programs of ready-made boards, and putting one onto a drive that takes it."""

import hashlib
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from fxseq.cli.group import run
from fxseq.firmware import boot_drives, copy_to, drives, images, wait_for_drive
from fxseq.sequence import OutputError
from fxseq.sequence.board_parts import board_parts

pytestmark = pytest.mark.quick

# A file of this kind as the format's own text shows it (Microsoft, UF2 file format, README of the
# repository), from memory.
INFO = "UF2 Bootloader v3.0\r\nModel: Raspberry Pi RP2\r\nBoard-ID: RPI-RP2\r\n"


@pytest.fixture
def drive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A drive that waits for a program, beside one that is none."""
    monkeypatch.setattr(drives, "_LOOK_EVERY_S", 0.01)
    monkeypatch.setattr(drives, "_GONE_WITHIN_S", 0.2)
    (tmp_path / "stick").mkdir()
    path = tmp_path / "RPI RP2"
    path.mkdir()
    (path / drives.INFO).write_bytes(INFO.encode())
    monkeypatch.setattr(drives, "_mounted", lambda: iter([tmp_path / "stick", path]))
    return path


@pytest.fixture
def takes(drive: Path) -> Callable[[], bytes]:
    """As a board does: the drive goes once a program has come; the program that came."""
    came: list[bytes] = []

    def watch() -> None:
        until = time.monotonic() + 20
        while not came and time.monotonic() < until:
            came.extend(path.read_bytes() for path in drive.glob("*.uf2") if path.stat().st_size)
            time.sleep(0.005)
        (drive / drives.INFO).unlink()

    watcher = threading.Thread(target=watch)
    watcher.start()

    def taken() -> bytes:
        watcher.join()
        return came[0]

    return taken


def test_drive_is_known_by_its_file(drive: Path) -> None:
    assert [(found.path, found.chip) for found in boot_drives()] == [(drive, "RPI-RP2")]
    assert wait_for_drive("RPI-RP2", 0) is not None
    assert wait_for_drive("another chip", 0.05) is None


def test_places_of_drives_are_those_of_the_system(tmp_path: Path) -> None:
    # fstab(5): blanks and backslashes stand as octal digits.
    table = tmp_path / "mounts"
    table.write_text("proc /proc proc rw 0 0\n/dev/sdb1 /media/me/RPI\\040RP2 vfat rw 0 0\n")
    assert list(drives._mounts(table)) == [Path("/media/me/RPI RP2")]


def test_program_is_copied_whole(drive: Path, takes: Callable[[], bytes]) -> None:
    copy_to(boot_drives()[0], "pico.uf2", b"program" * 1000)
    assert takes() == b"program" * 1000


def test_board_that_does_not_start_is_told(drive: Path) -> None:
    with pytest.raises(OutputError, match="its drive is still there"):
        copy_to(boot_drives()[0], "pico.uf2", b"program")


def test_drive_that_takes_nothing_is_told(drive: Path) -> None:
    (drive / "pico.uf2").mkdir()
    with pytest.raises(OutputError, match="cannot be copied there"):
        copy_to(boot_drives()[0], "pico.uf2", b"program")


def test_install_copies_the_package_s_program(
    drive: Path, takes: Callable[[], bytes], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["firmware", "pico", "--install"]) == 0
    assert takes() == images()["pico"].data
    said = capsys.readouterr()
    assert "has its program" in said.out and "2. Copying pico.uf2" in said.err


def test_program_is_written_as_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["firmware", "pico", "--out", str(tmp_path)]) == 0
    data = (tmp_path / "pico.uf2").read_bytes()
    assert data == images()["pico"].data
    assert hashlib.sha256(data).hexdigest() in capsys.readouterr().out


def test_boards_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["firmware"]) == 0
    out = capsys.readouterr().out
    assert all(name in out and part.title in out for name, part in board_parts().items())
    assert run(["firmware", "toaster"]) == 2 and "pico" in capsys.readouterr().err
    assert run(["firmware", "--install"]) == 2


# A chip that takes its program from a programmer


@pytest.fixture
def avrdude(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A stand-in that notes what it was asked, keeps the program it was given, and fails at a
    programmer called `none`.
    """
    told = tmp_path / "told"
    command = tmp_path / "bin" / "avrdude"
    command.parent.mkdir()
    command.write_text(
        f'#!/bin/sh\necho "$*" >> "{told}"\nfor given; do\n'
        f'case "$given" in -Uflash:w:*:i) file="${{given#-Uflash:w:}}"; cat "${{file%:i}}" > "{told}.hex";;'
        ' esac\ndone\ncase "$*" in *"-c none"*) echo "cannot find programmer none" >&2; exit 1;; esac\n'
    )
    command.chmod(0o755)
    monkeypatch.setenv("PATH", f"{command.parent}:{os.environ['PATH']}")
    return told


def test_programmer_is_asked_step_by_step_and_each_is_said_before(
    avrdude: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["firmware", "nano", "--install", "--programmer", "stk500v1:/dev/ttyUSB7"]) == 0
    said = capsys.readouterr()
    asked = avrdude.read_text().splitlines()
    always = "-c stk500v1 -p m328p -P /dev/ttyUSB7"
    assert asked[:2] == [
        always,
        f"{always} -Ulfuse:w:0xFF:m -Uhfuse:w:0xD7:m -Uefuse:w:0xFC:m",
    ]
    assert asked[2].startswith(f"{always} -e -Uflash:w:") and len(asked) == 3
    assert avrdude.with_suffix(".hex").read_bytes() == images()["nano"].data
    for number, command in enumerate(asked, 1):
        assert f"{number}. " in said.err and f"avrdude {command}" in said.err
    assert "a table that is on it is lost" in said.err.split("1. ")[0]
    assert "boot loader" in said.err.split("1. ")[0]
    assert "no table yet" in said.out


def test_programmer_that_is_not_there_is_told_before_anything_is_changed(
    avrdude: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["firmware", "nano", "--install", "--programmer", "none"]) == 1
    said = capsys.readouterr().err
    assert "cannot find programmer none" in said and "--programmer NAME:PORT" in said
    assert avrdude.read_text().splitlines() == ["-c none -p m328p"]


def test_missing_avrdude_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PATH", "/nowhere")
    assert run(["firmware", "nano", "--install"]) == 1
    assert "apt install avrdude" in capsys.readouterr().err


def test_fuses_are_those_that_the_board_needs() -> None:
    # Data sheet of the ATmega328P, Fuse Bits and Boot Size Configuration, from memory; a bit that
    # is 0 is programmed.
    fuses = board_parts()["nano"].programmed.fuses
    low, high, extended = fuses["lfuse"], fuses["hfuse"], fuses["efuse"]
    assert low & 0x80 and low & 0x3F == 0x3F  # no division by 8; a crystal, the longest start-up
    assert high & 0x80  # the reset pin stays one
    assert not high & 0x20  # programmers can reach it
    assert not high & 0x08  # EEPROM is not erased with the chip
    assert high & 0x06 == 0x06  # boot section of 256 words
    assert high & 0x01  # starts at 0
    assert extended & 0x07 == 0x04  # brown-out below 4.3 V
