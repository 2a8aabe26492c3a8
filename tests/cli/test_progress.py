"""The line that says how far something is."""
import sys

import pytest

from fxseq.cli.output import ProgressLine


def test_search_for_a_coding_is_shown_where_stderr_is_a_terminal(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    line = ProgressLine()
    line.show_clip("hum", 2, 4)
    line.show_clip("hum", 4, 4)
    line.finish()
    first, second = capsys.readouterr().err.split("\r")[1:]
    assert first.startswith("[" + "#" * 15 + " " * 15 + "] clip 'hum'")
    assert second.startswith("[" + "#" * 30 + "] clip 'hum'") and second.endswith("\n")


def test_nothing_is_shown_where_stderr_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    line = ProgressLine()
    line.show_clip("hum", 4, 4)
    line.finish()
    assert capsys.readouterr().err == ""
