"""Flash in a file keeps the rules of flash."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fxseq.link.flash_file import FlashFile
from fxseq.link.slots import FlashError


def test_new_file_is_erased_and_keeps_what_is_written(tmp_path: Path) -> None:
    path = tmp_path / "flash"
    with FlashFile(path, 4, 256) as flash:
        assert flash.read(0, 1024) == b"\xff" * 1024
        flash.write(250, b"over a page")
        flash.write(261, b" and on")
    with FlashFile(path, 4, 256) as flash:
        assert flash.read(248, 22) == b"\xff\xffover a page and on\xff\xff"
    assert os.listdir(tmp_path) == ["flash"]


def test_erase_sets_one_page_to_ff(tmp_path: Path) -> None:
    with FlashFile(tmp_path / "flash", 3, 256) as flash:
        flash.write(0, bytes(768))
        flash.erase(1)
        assert flash.read(0, 768) == bytes(256) + b"\xff" * 256 + bytes(256)


@pytest.mark.parametrize(
    ("act", "message"),
    [
        (lambda flash: flash.write(5, b"ab"), "bytes 5 to 6 are not erased"),
        (lambda flash: flash.write(511, b"ab"), "bytes 511 to 512 are outside the flash"),
        (lambda flash: flash.read(-1, 1), "bytes -1 to -1 are outside the flash"),
        (lambda flash: flash.erase(2), "page 2 of 2"),
    ],
)
def test_what_flash_cannot_do_is_refused(tmp_path: Path, act: object, message: str) -> None:
    with FlashFile(tmp_path / "flash", 2, 256) as flash:
        flash.write(6, b"x")
        with pytest.raises(FlashError) as error:
            act(flash)
    assert str(error.value) == message


def test_file_of_another_size_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "flash"
    path.write_bytes(b"precious")
    with pytest.raises(FlashError, match="has 8 bytes; flash of 2 pages of 256 bytes has 512"):
        FlashFile(path, 2, 256)
    assert path.read_bytes() == b"precious"


WRITER = """
import sys
from pathlib import Path
from fxseq.link.flash_file import FlashFile
flash = FlashFile(Path(sys.argv[1]), 4, 4096)
print("ready", flush=True)
while True:
    for page in range(4):
        flash.erase(page)
        for offset in range(0, 4096, 64):
            flash.write(page * 4096 + offset, bytes(64))
"""


def test_process_killed_while_writing_leaves_whole_operations(tmp_path: Path) -> None:
    path = tmp_path / "flash"
    for pause_s in (0.0, 0.003, 0.01):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE
        ) as writer:
            writer.stdout.readline()
            time.sleep(pause_s)
            writer.send_signal(signal.SIGKILL)
        with FlashFile(path, 4, 4096) as flash:
            for offset in range(0, 4 * 4096, 64):
                assert flash.read(offset, 64) in (bytes(64), b"\xff" * 64)
