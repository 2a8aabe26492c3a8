"""The memory that stands in for flash on the emulated Cortex-M3 keeps to the rules of flash, and
its file follows each change.
"""

import ctypes
import subprocess
from pathlib import Path

import pytest
from mps2_board import PORT

PAGE = 4096
SLOT = 262_144
SIZE = 2 * PAGE + 2 * SLOT


class Flash:
    """flash.c with its file in a folder."""

    def __init__(self, library: ctypes.CDLL, path: Path) -> None:
        self.path = path
        self._library = library
        self.opened = library.flash_open(str(path).encode())

    @property
    def text(self) -> str:
        """What was reported since the last time."""
        return self._library.take_said().decode()

    def erase(self, offset: int) -> bool:
        return self._library.flash_erase(None, ctypes.c_uint32(offset))

    def write(self, offset: int, data: bytes) -> bool:
        return self._library.flash_write(None, ctypes.c_uint32(offset), data, len(data))

    def read(self, offset: int, count: int) -> bytes | None:
        """None where it is refused."""
        data = ctypes.create_string_buffer(count)
        return (
            data.raw
            if self._library.flash_read(None, ctypes.c_uint32(offset), data, count)
            else None
        )


@pytest.fixture
def library(tmp_path: Path) -> ctypes.CDLL:
    """A new one each time: it keeps its file open."""
    sources = [str(PORT / "flash.c"), str(Path(__file__).with_name("mps2_fake_host.c"))]
    path = tmp_path / "flash.so"
    strict = ["-std=c99", "-Wall", "-Wextra", "-Werror"]
    subprocess.run(
        ["gcc", *strict, "-shared", "-fPIC", f"-I{PORT}", *sources, "-o", str(path)], check=True
    )
    loaded = ctypes.CDLL(str(path))
    for name in ("flash_open", "flash_erase", "flash_write", "flash_read"):
        getattr(loaded, name).restype = ctypes.c_bool
    loaded.take_said.restype = ctypes.c_char_p
    return loaded


@pytest.fixture
def flash(library: ctypes.CDLL, tmp_path: Path) -> Flash:
    return Flash(library, tmp_path / "flash")


def test_a_file_that_is_not_there_is_made_erased(flash: Flash) -> None:
    assert flash.opened
    assert flash.path.read_bytes() == b"\xff" * SIZE


def test_a_file_whose_making_was_cut_short_is_made_whole(
    library: ctypes.CDLL, tmp_path: Path
) -> None:
    (tmp_path / "flash").write_bytes(b"table")
    assert Flash(library, tmp_path / "flash").opened
    assert (tmp_path / "flash").read_bytes() == b"table" + b"\xff" * (SIZE - 5)


def test_a_file_that_is_too_long_is_refused_and_left_alone(
    library: ctypes.CDLL, tmp_path: Path
) -> None:
    (tmp_path / "flash").write_bytes(bytes(SIZE + 1))
    assert not Flash(library, tmp_path / "flash").opened
    assert (tmp_path / "flash").read_bytes() == bytes(SIZE + 1)


def test_what_is_written_is_read_and_in_the_file_and_its_unit_is_filled_up(flash: Flash) -> None:
    assert flash.write(PAGE + 8, b"elevenbytes")
    assert flash.read(PAGE + 6, 20) == b"\xff\xffelevenbytes" + b"\xff" * 7
    assert flash.path.read_bytes()[PAGE + 8 : PAGE + 24] == b"elevenbytes" + b"\xff" * 5
    assert flash.text == ""


def test_a_second_write_is_refused_and_reported_and_changes_nothing(flash: Flash) -> None:
    flash.write(16, b"once")
    before = flash.path.read_bytes()
    assert not flash.write(8, b"x" * 9)
    assert flash.path.read_bytes() == before
    assert flash.text == "fxp_mps2: flash memory: a write to bytes that are not erased\n"


def test_only_the_page_that_is_erased_takes_a_second_write(flash: Flash) -> None:
    flash.write(PAGE - 8, b"a" * 24)
    assert flash.erase(PAGE)
    assert flash.read(PAGE - 8, 24) == b"a" * 8 + b"\xff" * 16
    assert flash.write(PAGE, b"b" * 8) and not flash.write(PAGE - 8, b"b" * 8)
    assert flash.path.read_bytes()[PAGE - 8 : PAGE + 16] == b"a" * 8 + b"b" * 8 + b"\xff" * 8


@pytest.mark.parametrize(("offset", "size"), [(4, 4), (SIZE - 8, 9), (SIZE, 1), (2**32 - 8, 8)])
def test_a_write_within_a_unit_or_beyond_the_end_is_refused(
    flash: Flash, offset: int, size: int
) -> None:
    assert not flash.write(offset, b"x" * size)
    assert "a write begins within a unit, or is beyond the end" in flash.text


@pytest.mark.parametrize("offset", [1, PAGE // 2, SIZE, 2**32 - PAGE])
def test_what_is_not_a_page_is_not_erased(flash: Flash, offset: int) -> None:
    assert not flash.erase(offset)
    assert "what is to be erased is not a page" in flash.text


def test_nothing_is_read_beyond_the_end(flash: Flash) -> None:
    assert flash.read(SIZE - 8, 8) == b"\xff" * 8
    assert flash.read(SIZE - 8, 9) is None and flash.read(SIZE + 1, 0) is None


def test_what_the_file_does_not_take_is_reported_and_not_read_back(
    flash: Flash, library: ctypes.CDLL
) -> None:
    ctypes.c_int.in_dll(library, "disk_full").value = 1
    assert not flash.write(0, b"x" * 8) and not flash.erase(0)
    assert flash.read(0, 8) == b"\xff" * 8
    assert flash.text == 2 * "fxp_mps2: the file of the flash memory cannot be written\n"
