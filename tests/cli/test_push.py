"""From the prop file to a board that plays it: `fxseq board` and `fxseq push` as processes of
their own.
"""

import json
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import click
import pytest

from fxseq import link
from fxseq.cli import group, main
from fxseq.cli.group import COMMANDS, cli
from fxseq.cli.push import _speed
from fxseq.link import PushReport, hello, open_port, ports, prove, pull
from fxseq.link import messages as m
from fxseq.player import Player, Press, PressKind
from fxseq.runs import boards, load_prop

PLAYING = "playing a table: 1 channels, 1 clips, 1 effects, 1 triggers\n"


def until(process: subprocess.Popen[str], start: str) -> list[str]:
    """Lines up to the first that starts so."""
    lines = []
    for line in process.stdout:
        lines.append(line)
        if line.startswith(start):
            return lines
    raise AssertionError(f"the board ended without '{start}': {lines}")


@pytest.mark.parametrize("line", [["--tcp", "0"], ["--pty"], []])
def test_what_is_pushed_plays(process, go_on, lamp: Path, line: list[str]) -> None:
    size = len(load_prop(lamp).compiled.data)
    with go_on("board", *line) as board:
        where = until(board, "")[0].strip()
        assert where.startswith("socket://127.0.0.1:" if "--tcp" in line else "/dev/")
        assert until(board, "") == ["no table yet\n"]
        text = process("push", str(lamp), "--port", where)
        assert (text.status, text.err) == (0, f"{where}: sending {size} bytes\n")
        assert re.fullmatch(
            rf"virtual board on {re.escape(where)} now plays lamp\.toml "
            rf"\({size} bytes in slot 0, \d+\.\d s, \d+\.\d kB/s, 0 blocks sent again\)\.\n",
            text.out,
        )
        assert until(board, "playing") == [PLAYING]
    assert board.returncode == 0


def test_a_second_push_goes_to_the_other_slot_and_in_json(
    fxseq, go_on, lamp: Path, starter: Path
) -> None:
    with go_on("board", "--tcp", "0") as board:
        where = until(board, "")[0].strip()
        fxseq("push", str(starter), "--port", where)
        text = fxseq("push", str(lamp), "--port", where, "--json")
        assert until(board, PLAYING)[-2].startswith("playing a table: 4 channels")
    (told,) = json.loads(text.out)["boards"]
    report = told["sent"]
    assert (told["board"], report["slot"], told["port"], report["repeated_blocks"]) == (
        "virtual board",
        1,
        where,
        0,
    )
    assert report["bytes"] == len(load_prop(lamp).compiled.data) < report["sent_bytes"]
    assert 0.9 < report["payload_share"] < 1 and report["seconds"] > 0


def test_a_changed_fade_is_sent_without_the_sounds_that_the_board_has(
    fxseq, go_on, lamp: Path
) -> None:
    with go_on("board", "--tcp", "0") as board:
        where = until(board, "")[0].strip()
        fxseq("push", str(lamp), "--port", where)
        text = lamp.read_text()
        at = re.search(r"_ms = (\d+)", text)
        lamp.write_text(f"{text[: at.start(1)]}{int(at[1]) + 40}{text[at.end(1) :]}")
        told = fxseq("push", str(lamp), "--port", where)
        size = len(load_prop(lamp).compiled.data)
        with open_port(where) as port:
            assert m.table_crc(pull(port).data) == m.table_crc(load_prop(lamp).compiled.data)
    found = re.search(
        r"1 of 1 sound was on the board already: (\d\.\d) kB of (\d+\.\d) kB sent\.\n$", told.out
    )
    assert float(found[1]) < 1.5 and float(found[2]) == round(size / 1000, 1)


def test_a_quicker_line_is_told() -> None:
    report = PushReport("lamp", 0, 8, 9, 1.0, 0, 0.9, 9, 0, 0, 2_000_000)
    assert _speed(report) == ", at 2000000 baud"
    for usual in (0, 115_200):
        assert _speed(report._replace(baud=usual)) == ""


def test_a_board_that_is_started_again_plays_what_it_holds(fxseq, go_on, lamp: Path) -> None:
    with go_on("board", "--tcp", "0", "--flash", "kept") as board:
        assert fxseq("push", str(lamp), "--port", until(board, "")[0].strip()).status == 0
        until(board, "playing")
    with go_on("board", "--tcp", "0", "--flash", "kept") as board:
        where = until(board, "")[0].strip()
        assert until(board, "") == [PLAYING]
        with open_port(where) as port:
            assert hello(port).length_0 == len(load_prop(lamp).compiled.data)


# Frame 100 of 1050 a second, and frame 160.
BY_NUMBER = [
    "     0.095 s  input 0 is pressed",
    "     0.095 s  trigger 0 fires, shots before this one: 0",
    "     0.095 s  effect 0 begins, by trigger 0",
    "     0.095 s  clip 0 begins on voice 0",
    "     0.095 s  group 0 begins fade 0",
    "     0.152 s  input 0 is let go",
]
BY_NAME = [
    "     0.095 s  input 'button' is pressed",
    "     0.095 s  trigger 'flash' fires, shots before this one: 0",
    "     0.095 s  effect 'flash' begins, by trigger 'flash'",
    "     0.095 s  clip 'crack' begins on voice 0",
    "     0.095 s  group 'lamp' begins fade 'flash'",
    "     0.152 s  input 'button' is let go",
]


@pytest.mark.parametrize(("named", "lines"), [([], BY_NUMBER), (["--names", "lamp.toml"], BY_NAME)])
def test_the_board_prints_what_it_plays_and_plays_what_the_preview_does(
    fxseq, go_on, lamp: Path, named: list[str], lines: list[str]
) -> None:
    presses = [Press(100, PressKind.PRESS, 0), Press(160, PressKind.RELEASE, 0)]
    with go_on("board", "--tcp", "0", *named) as board:
        where = until(board, "")[0].strip()
        assert fxseq("push", str(lamp), "--port", where).status == 0
        with open_port(where) as port:
            trace = prove(port, presses, 300)
        printed = until(board, "     0.152 s  input")
    assert trace == Player(load_prop(lamp).compiled.table).play(presses, 300).trace
    assert [line.rstrip() for line in printed if " s  " in line] == lines


def test_names_are_those_of_the_file_as_it_is_when_its_table_begins_to_play(
    fxseq, go_on, lamp: Path, starter: Path
) -> None:
    with go_on("board", "--tcp", "0", "--names", str(lamp)) as board:
        where = until(board, "")[0].strip()
        fxseq("push", str(starter), "--port", where)
        until(board, "playing")
        lamp.write_text(lamp.read_text().replace("button", "lever"))
        fxseq("push", str(lamp), "--port", where)
        until(board, PLAYING)
        with open_port(where) as port:
            prove(port, [Press(100, PressKind.PRESS, 0)], 300)
        until(board, "     0.095 s  input 'lever' is pressed")
        lamp.write_text("format = ")
        fxseq("push", str(starter), "--port", where)
        until(board, "playing a table: 4 channels")
    text = board.remarks.splitlines()
    assert (
        text[1]
        == "lamp.toml makes another table than this one. Numbers are printed in place of names."
    )
    assert "lamp.toml:1: " in text[2] and text[-2:] == [
        "Numbers are printed in place of names.",
        "stopped",
    ]


def test_a_file_of_names_at_fault_is_told_before_the_board_runs(fxseq, here: Path) -> None:
    text = fxseq("board", "--tcp", "0", "--names", "gone.toml")
    assert (text.status, text.out) == (1, "") and text.err.startswith("gone.toml: ")


@pytest.mark.parametrize("command", [["push", "lamp.toml"], ["prove", "lamp.toml"]])
def test_the_speed_of_the_line_is_that_of_the_option(
    fxseq, lamp: Path, monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    asked = []
    monkeypatch.setattr(
        ports, "open_port", lambda where, baud: asked.append((where, baud)) or open_port("loop://")
    )
    for module in (link, boards):
        monkeypatch.setattr(module, "open_port", ports.open_port)
    assert fxseq(*command, "--port", "COM3", "--baud", "9600").status == 1
    assert asked == [("COM3", 9600)]


@pytest.mark.parametrize(
    ("arguments", "option", "value", "highest"),
    [
        (["push", "lamp.toml", "--baud", "0"], "--baud", "0", "from 1200 to 4000000"),
        (["prove", "lamp.toml", "--baud", "fast"], "--baud", "fast", "from 1200 to 4000000"),
        (["board", "--baud", "1"], "--baud", "1", "from 1200 to 4000000"),
        (["board", "--tcp", "70000"], "--tcp", "70000", "from 0 to 65535"),
        (["bench", "lamp.toml", "--tcp", "x"], "--tcp", "x", "from 0 to 65535"),
    ],
)
def test_a_number_out_of_its_range_is_told_in_words(
    fxseq, arguments: list[str], option: str, value: str, highest: str
) -> None:
    text = fxseq(*arguments)
    assert (text.status, text.out) == (2, "")
    assert text.err.endswith(
        f"\nError: Invalid value for '{option}': '{value}' is not a whole number {highest}.\n"
    )


def test_port_means_where_the_board_is_and_nothing_else() -> None:
    options = [
        (name, option)
        for name in COMMANDS
        for option in cli.get_command(click.Context(cli), name).params
    ]
    helps = {name: option.help for name, option in options if "--port" in option.opts}
    assert set(helps) == {"push", "pull", "prove"} and helps["pull"] == helps["prove"]
    assert helps["push"].startswith(helps["prove"])


def test_a_virtual_board_may_be_as_slow_as_a_serial_line(fxseq, go_on, lamp: Path) -> None:
    with go_on("board", "--tcp", "0", "--baud", "115200") as board:
        told = fxseq("push", str(lamp), "--port", until(board, "")[0].strip(), "--json")
    report = json.loads(told.out)["boards"][0]["sent"]
    assert report["seconds"] > report["bytes"] / 11_520


def test_a_file_that_cannot_be_flash_is_told_without_a_number_of_the_system(
    fxseq, here: Path
) -> None:
    text = fxseq("board", "--tcp", "0", "--flash", "nowhere/my.flash")
    assert text == (
        1,
        text.out,
        "".join(
            [
                text.err.splitlines(keepends=True)[0],
                (
                    "nowhere/my.flash: cannot serve as the flash memory of a virtual board: no such"
                    " file or directory. Name another file.\n"
                ),
            ]
        ),
    )


def test_ctrl_c_is_quiet_while_the_commands_are_loaded(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(group, "main", interrupted)
    with pytest.raises(SystemExit) as left:
        main()
    assert (left.value.code, capsys.readouterr()) == (130, ("", "stopped\n"))


@pytest.mark.parametrize("command", ["push", "prove"])
def test_ctrl_c_is_quiet_in_a_conversation(
    fxseq, lamp: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    def interrupted(port: ports.Port) -> bytes:
        raise KeyboardInterrupt

    monkeypatch.setattr(ports.Port, "read", interrupted)
    text = fxseq(command, str(lamp), "--port", "loop://")
    assert (
        (text.status, text.out) == (130, "")
        and text.err.endswith("stopped\n")
        and "Traceback" not in text.err
    )


def test_the_virtual_board_tells_how_to_push_to_it(go_on, here: Path) -> None:
    with go_on("board", "--tcp", "0", "--flash", "my.flash") as board:
        where = until(board, "")[0].strip()
        until(board, "no table yet")
    assert (
        board.remarks == "Virtual board, slots in my.flash. Push to it: fxseq push FILE --port"
        f" {where}\nstopped\n"
    )
    assert Path("my.flash").exists()


def test_the_only_usb_port_is_taken_where_none_is_named(
    fxseq, lamp: Path, here: Path, board, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fxseq.link import PortInfo, ports

    with board(here) as where:
        monkeypatch.setattr(
            ports,
            "list_ports",
            lambda: [PortInfo("/dev/ttyS0", "n/a", False), PortInfo(where, "Lamp board", True)],
        )
        assert fxseq("push", str(lamp)).status == 0
    monkeypatch.setattr(ports, "list_ports", lambda: [])
    assert fxseq("push", str(lamp)) == (
        1,
        "",
        "serial ports: none found. Plug in the board, or name its port with --port.\n",
    )
    monkeypatch.setattr(
        ports,
        "list_ports",
        lambda: [PortInfo("/dev/ttyUSB0", "a", True), PortInfo("/dev/ttyUSB1", "b", True)],
    )
    assert fxseq("push", str(lamp)) == (
        1,
        "",
        (
            "serial ports: it is not certain which is the board's: /dev/ttyUSB0 (USB, a),"
            " /dev/ttyUSB1 (USB, b); allowed: exactly one USB port, unless --port names one. Plug"
            " in this board only, or name its port, for example: --port /dev/ttyUSB0\n"
        ),
    )


@pytest.mark.parametrize("part", [None, "pico"])
def test_a_ready_made_board_that_joins_no_pins_is_told(
    fxseq, go_on, starter: Path, monkeypatch: pytest.MonkeyPatch, part: str | None
) -> None:
    """A virtual board that calls itself one."""
    text = re.sub('(?m)^part = "pico".*\n', "", starter.read_text())
    starter.write_text(text.replace("[board]\n", f'[board]\npart = "{part}"\n') if part else text)
    hello = boards.hello
    monkeypatch.setattr(boards, "hello", lambda at: replace(hello(at), name="fxseq pico"))
    with go_on("board", "--tcp", "0") as board:
        told = fxseq("push", str(starter), "--port", until(board, "")[0].strip())
    assert told.status == 0
    assert ('Write part = "pico" below [board] and push again.' in told.err) == (part is None)
