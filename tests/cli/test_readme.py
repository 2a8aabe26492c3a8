"""What the README shows is what there is."""

import re
import tomllib
from pathlib import Path

import pytest

from fxseq.cli.group import COMMANDS

TOP = Path(__file__).parent.parent.parent
README = (TOP / "README.md").read_text(encoding="utf-8")
NUMBER = re.compile(r"\d+(?:\.\d+)?")


def block(kind: str) -> str:
    """The first fenced block of this kind."""
    return re.search(rf"```{kind}\n(.*?)\n```", README, re.DOTALL)[1]


def is_shown(text: str, kind: str) -> None:
    """Words must be the same; numbers within 1 %, since levels are rounded and other machines
    add up in another order.
    """
    shown = block(kind)
    assert NUMBER.sub("#", text) == NUMBER.sub("#", shown)
    assert [float(number) for number in NUMBER.findall(text)] == pytest.approx(
        [float(number) for number in NUMBER.findall(shown)], rel=0.01
    )


def test_the_printed_preview_is_that_of_the_demo(
    fxseq, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(TOP)
    text = fxseq(
        "preview",
        "demo_assets/squall_lantern.toml",
        "--out",
        str(tmp_path / "squall_lantern_preview"),
    ).out.rstrip()
    is_shown(text.replace(str(tmp_path) + "/", ""), "text")


def test_the_printed_sweeps_are_those_of_the_demo_and_of_the_starter(fxseq, here: Path) -> None:
    demo = fxseq(
        "tune",
        str(TOP / "demo_assets" / "squall_lantern.toml"),
        "--trigger",
        "storm_signal",
        "--no-pictures",
    )
    is_shown(demo.out.rstrip(), "tune-demo")
    fxseq("new", "lantern.toml")
    is_shown(
        fxseq("tune", "lantern.toml", "--step", "6", "--no-pictures").out.rstrip(), "tune-starter"
    )


def test_the_printed_file_is_the_minimal_demo() -> None:
    demo = (TOP / "demo_assets" / "first_light.toml").read_text(encoding="utf-8")
    assert tomllib.loads(block("toml")) == tomllib.loads(demo)


def test_every_command_is_told_of() -> None:
    assert [name for name in COMMANDS if f"fxseq {name}" not in README] == []


def test_every_link_leads_somewhere() -> None:
    targets = re.findall(r"\]\(([^)]+)\)", README)
    assert targets and all((TOP / target).exists() for target in targets)
