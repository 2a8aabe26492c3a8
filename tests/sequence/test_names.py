"""What the floor offers, and what it costs to ask for it."""

import subprocess
import sys

import pytest

import fxseq.sequence

HEAVY = ("pydantic", "tomlkit", "tree_sitter", "tree_sitter_toml", "numpy", "difflib")


def loaded_after(code: str) -> set[str]:
    """Those of the heavy modules that are loaded after the code ran in a fresh Python."""
    script = f"import sys\n{code}\nprint(*[name for name in {HEAVY} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(run.stdout.split())


@pytest.mark.parametrize("name", fxseq.sequence.__all__)
def test_public_name_can_be_had(name):
    assert getattr(fxseq.sequence, name).__doc__ or name == "Point"


def test_public_names_are_those_with_a_home():
    assert fxseq.sequence.__all__ == sorted(fxseq.sequence._HOME_OF)


def test_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="module 'fxseq.sequence' has no attribute 'nothing'"):
        fxseq.sequence.nothing  # noqa: B018


def test_errors_and_findings_cost_no_heavy_import():
    assert loaded_after("from fxseq.sequence import Fault, FxError, Finding, did_you_mean") == set()


def test_valid_file_is_loaded_without_the_editor_and_the_line_finder(tmp_path, prop):
    path = tmp_path / "lamp.toml"
    path.write_text(prop(""), encoding="utf-8")
    assert loaded_after(f"from fxseq.sequence import load\nload({str(path)!r})") == {"pydantic"}
