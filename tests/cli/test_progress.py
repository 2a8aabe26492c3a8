"""The line that says how far something is."""

import sys
import time

import pytest

from fxseq.cli import output
from fxseq.cli.output import ProgressLine

LONGEST_S = 20


def heard(capsys: pytest.CaptureFixture[str], wanted: str) -> str:
    """What is written on stderr until the wanted words are there."""
    text = ""
    end = time.monotonic() + LONGEST_S
    while wanted not in text:
        assert time.monotonic() < end, text
        time.sleep(0.01)
        text += capsys.readouterr().err
    return text


def test_search_for_a_coding_is_shown_where_stderr_is_a_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    line = ProgressLine()
    line.show_clip("hum", 2, 4)
    assert heard(capsys, "[" + "#" * 15 + " " * 15 + "] clip 'hum'").startswith("\r[")
    line.show_clip("hum", 4, 4)
    line.finish()
    assert heard(capsys, "[" + "#" * 30 + "] clip 'hum'").endswith("\n")


def test_what_takes_long_is_told_now_and_then_where_stderr_is_no_terminal(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Also while nothing moves, as while the search is compiled."""
    monkeypatch.setattr(output, "_FIRST_LINE_AFTER_S", 0.02)
    monkeypatch.setattr(output, "_LINE_EVERY_S", 0.02)
    line = ProgressLine()
    line.show_clip("hum", 0, 4)
    heard(capsys, "clip 'hum' (the first takes up to 30 s): 0 %\n" * 2)
    line.show_clip("hum", 3, 4)
    heard(capsys, "clip 'hum': 75 %\n")
    line.finish()


def test_nothing_is_told_of_what_is_done_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    line = ProgressLine()
    line.show_clip("hum", 4, 4)
    line.finish()
    assert capsys.readouterr().err == ""
