"""Files are written whole or not at all."""

import os
import stat

import pytest

from fxseq.sequence import OutputError, write_whole


def test_new_file_has_the_data_and_nothing_is_left_beside_it(tmp_path):
    write_whole(tmp_path / "a.bin", b"data")
    assert [(item.name, item.read_bytes()) for item in tmp_path.iterdir()] == [("a.bin", b"data")]


def test_permissions_of_a_file_are_kept(tmp_path):
    path = tmp_path / "a.bin"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_link_keeps_pointing_to_its_file(tmp_path):
    path = tmp_path / "a.bin"
    link = tmp_path / "link"
    path.write_bytes(b"old")
    link.symlink_to(path)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert path.read_bytes() == b"new"


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_old_file_stays_whole_when_writing_fails(tmp_path, monkeypatch, step):
    path = tmp_path / "a.bin"
    path.write_bytes(b"old")

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, fail)
    with pytest.raises(OutputError) as caught:
        write_whole(path, b"new")
    assert str(caught.value) == f"{path}: the file cannot be written (No space left on device)."
    assert [(item.name, item.read_bytes()) for item in tmp_path.iterdir()] == [("a.bin", b"old")]


def test_folder_that_is_not_there_is_an_output_error(tmp_path):
    with pytest.raises(OutputError) as caught:
        write_whole(tmp_path / "none" / "a.bin", b"")
    assert (
        str(caught.value)
        == f"{tmp_path / 'none' / 'a.bin'}: the file cannot be written (No such file or directory)."
    )


def test_what_a_killed_write_has_left_goes_with_the_next_one(tmp_path):
    path = tmp_path / "a.toml"
    left, fresh, other = (
        tmp_path / name for name in (".a.toml.0123abcd", ".a.toml.89ef4567", ".a.toml.backup")
    )
    for each in (left, fresh, other):
        each.write_bytes(b"half")
    os.utime(left, (0, 0))
    os.utime(other, (0, 0))
    write_whole(path, b"whole")
    assert {item.name for item in tmp_path.iterdir()} == {path.name, fresh.name, other.name}
