"""What the command line says of itself, and how it answers to words it does not know."""

import importlib
import os
import pty
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest

from fxseq.cli.group import COMMANDS, cli

USAGE = "Usage: fxseq [OPTIONS] COMMAND [ARGS]...\nTry 'fxseq --help' for help.\n\nError: "


def test_help_names_every_command_with_what_it_is_for(fxseq) -> None:
    printed = fxseq("--help")
    assert (printed.status, printed.err) == (0, "")
    listed = printed.out.split("Commands:\n")[1]
    for name, (_, text) in COMMANDS.items():
        assert re.search(rf"^  {name} +{re.escape(text[:40])}", listed, re.MULTILINE)
        assert text in " ".join(listed.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_says_of_a_command_what_the_command_says_itself(name: str) -> None:
    module, text = COMMANDS[name]
    command = importlib.import_module(module).command
    assert " ".join(command.help.split("\n\n")[0].split()) == text
    assert module == f"fxseq.cli.{name}"


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_each_command_has_help_with_every_option(fxseq, name: str, flag: str) -> None:
    printed = fxseq(name, flag)
    command = cli.get_command(click.Context(cli), name)
    assert (printed.status, printed.err) == (0, "")
    options = [parameter for parameter in command.params if isinstance(parameter, click.Option)]
    assert all(option.help for option in options)
    assert all(option.opts[-1] in printed.out for option in options)


def test_no_module_of_the_command_line_is_left_out() -> None:
    shared = {"__init__", "for_speaker", "group", "output", "sound"}
    folder = Path(importlib.import_module("fxseq.cli").__file__).parent
    assert {path.stem for path in folder.glob("*.py")} - shared == set(COMMANDS)


def test_version_is_that_of_the_project(fxseq) -> None:
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())["project"]
    assert fxseq("--version") == (0, f"fxseq {project['version']}\n", "")


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["prevew"]])
def test_help_loads_nothing_heavy(here: Path, arguments: list[str]) -> None:
    program = f"""
import sys
from fxseq.cli.group import run
run({arguments!r})
heavy = sorted({{"numpy", "scipy", "pydantic", "tomlkit", "matplotlib", "soundfile", "serial", "PIL"}} & set(sys.modules))
assert not heavy, heavy
assert not [name for name in sys.modules if name.startswith("fxseq.") and not name.startswith(("fxseq.cli", "fxseq.sequence"))]
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=120
    )
    assert (done.returncode, "Traceback" in done.stderr) == (0, False), done.stderr


def test_without_a_command_help_goes_to_stderr(fxseq) -> None:
    printed = fxseq()
    assert (printed.status, printed.out) == (2, "")
    assert printed.err == fxseq("--help").out


@pytest.mark.parametrize(
    ("word", "answer"),
    [
        ("prevew", "Did you mean 'preview'?"),
        ("Check", "Did you mean 'check'?"),
        ("scheme", "Did you mean 'schema'?"),
        ("oard", "Did you mean 'board'?"),
        ("xyzzy", f"There are: {', '.join(COMMANDS)}."),
    ],
)
def test_a_command_that_is_not_there_is_answered_with_a_guess_or_with_all(
    fxseq, word: str, answer: str
) -> None:
    assert fxseq(word, "lamp.toml") == (2, "", f"{USAGE}There is no command '{word}'. {answer}\n")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--jsn"], ["--jsn"]),
        (["check", "--jsn", "x"], ["--jsn", "--json"]),
        (["check"], ["FILE"]),
        (["push", "a", "b"], ["(b)"]),
        (["preview", "a", "--supply"], ["--supply"]),
        (["preview", "a", "--theme", "pink"], ["--theme", "'pink'", "'light'", "'dark'"]),
        (["emit", "a", "--as", "elf"], ["--as", "'elf'", "'bin'", "'hex'", "'c'"]),
        (["tune", "a", "--step", "0"], ["--step", "0.01"]),
        (["board", "--tcp", "70000"], ["--tcp", "65535"]),
        (["completion", "sh"], ["'sh'", "'bash'", "'zsh'", "'fish'"]),
    ],
)
def test_a_wrong_call_is_answered_with_what_is_wrong_in_it(
    fxseq, arguments: list[str], words: list[str]
) -> None:
    """The sentences are click's and change with its versions; what they must name does not."""
    printed = fxseq(*arguments)
    assert (printed.status, printed.out) == (2, "")
    assert "Error: " in printed.err and all(word in printed.err for word in words)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_lines_that_it_understands(fxseq, here: Path, shell: str) -> None:
    printed = fxseq("completion", shell)
    assert (printed.status, printed.err) == (0, "")
    assert f"_FXSEQ_COMPLETE={shell}_complete" in printed.out
    if shell == "bash" or shutil.which(shell):
        (here / "lines").write_text(printed.out)
        done = subprocess.run([shell, "-n", "lines"], capture_output=True, text=True)
        assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("fxseq pre", ["preview"]),
        ("fxseq tune --tr", ["--trigger"]),
        ("fxseq emit --as h", ["hex"]),
    ],
)
def test_completion_offers_commands_options_and_choices(
    process, words: str, offered: list[str]
) -> None:
    printed = process(
        _FXSEQ_COMPLETE="bash_complete", COMP_WORDS=words, COMP_CWORD=str(len(words.split()) - 1)
    )
    assert (printed.status, printed.out.split(), printed.err) == (
        0,
        [f"plain,{word}" for word in offered],
        "",
    )


def on_a_terminal(*arguments: str, **environment: str) -> str:
    """What a command prints on a terminal."""
    master, slave = pty.openpty()
    fxseq = str(Path(sys.executable).with_name("fxseq"))
    plain = {name: value for name, value in os.environ.items() if name != "NO_COLOR"}
    subprocess.run(
        [fxseq, *arguments],
        stdout=slave,
        stderr=slave,
        env={**plain, "TERM": "xterm", **environment},
        timeout=120,
        check=True,
    )
    os.close(slave)
    text = b""
    try:
        while piece := os.read(master, 65536):
            text += piece
    except OSError:
        # The other end is closed and everything has been read.
        pass
    os.close(master)
    return text.decode()


def test_weights_have_colours_on_a_terminal_unless_no_color_is_set(lamp: Path) -> None:
    coloured = on_a_terminal("check", str(lamp))
    plain = on_a_terminal("check", str(lamp), NO_COLOR="1")
    assert "\x1b[34m\x1b[1mnote\x1b[0m" in coloured
    assert "\x1b" not in plain
    assert re.sub("\x1b\\[\\d+m", "", coloured) == plain


def test_no_colour_goes_into_a_pipe(process, lamp: Path) -> None:
    assert "\x1b" not in process("check", str(lamp)).out
