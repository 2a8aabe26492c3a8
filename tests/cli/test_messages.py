"""The whole text of what is said about each mistake, on stderr alone, with its exit status and
without a traceback.
"""

import os
import socket
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fxseq.cli import new as new_command
from fxseq.link.board_session import Ability
from fxseq.runs import load_prop

FORMS = (
    "tap NAME @T, hold NAME @A..B, press NAME @T, release NAME @T, set SELECTOR POSITION @T, set"
    " volume PERCENT @T, end @T"
)
READING = ["check", "preview", "tune", "emit", "push", "prove"]


def usage(command: str, rest: str = " FILE") -> str:
    return (
        f"Usage: fxseq {command} [OPTIONS]{rest}\nTry 'fxseq {command} --help' for help.\n\nError: "
    )


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


@pytest.mark.parametrize("command", READING)
def test_a_file_that_is_not_there(fxseq, command: str) -> None:
    assert fxseq(command, "gone.toml") == (
        1,
        "",
        "gone.toml: there is no such file. Check the name and the folder.\n",
    )


@pytest.mark.parametrize("command", [*READING, "new"])
def test_a_folder_in_place_of_a_file(fxseq, here: Path, command: str) -> None:
    (here / "props").mkdir()
    text = fxseq(command, "props")
    assert (text.status, text.out) == (2, "")
    assert text.err.endswith("'FILE': File 'props' is a directory.\n")


@pytest.mark.parametrize("command", READING)
def test_a_file_that_is_not_toml(fxseq, here: Path, command: str) -> None:
    (here / "letter.toml").write_text("Dear maker,\nall is well.\n")
    assert fxseq(command, "letter.toml") == (
        1,
        "",
        (
            "letter.toml:1: `Dear maker,` is neither a key with its value nor a table header;"
            " allowed: key = value, [name] or # comment.\nletter.toml:2: `all is well.` is neither"
            " a key with its value nor a table header; allowed: key = value, [name] or # comment.\n"
        ),
    )


def test_a_sound_file_in_place_of_a_sequence(fxseq, lamp: Path) -> None:
    text = fxseq("check", "clips/crack_a.wav")
    assert (text.status, text.out) == (1, "")
    assert text.err.startswith("clips/crack_a.wav:1: the byte 0x")
    assert text.err.endswith(" is not UTF-8. Save the file with the encoding UTF-8.\n")


@pytest.mark.parametrize("command", READING)
def test_two_faults_at_once(fxseq, lamp: Path, command: str) -> None:
    edit(lamp, 'colour = "amber"', 'colour = "ambre"')
    edit(lamp, 'fade = "flash" }]', 'fade = "flsh" }]')
    text = fxseq(command, str(lamp))
    assert (text.status, text.out) == (1, "")
    assert (
        text.err
        == 'lamp.toml:7: group \'lamp\': colour is "ambre"; allowed: "red", "orange", "amber",'
        ' "yellow", "green", "cyan", "blue", "violet", "pink", "white" or "warm_white". Did you'
        " mean 'amber'?\nlamp.toml:13: effect 'flash', light 1: fade is \"flsh\", but no fade"
        " has that name. Did you mean 'flash'?\n"
    )


@pytest.mark.parametrize("command", READING)
def test_a_clip_that_is_not_there(fxseq, lamp: Path, command: str) -> None:
    edit(lamp, "crack_a.wav", "crack_q.wav")
    assert fxseq(command, str(lamp)) == (
        1,
        "",
        "clips/crack_q.wav: clip 'crack': there is no such file. Did you mean 'crack_a.wav'?\n",
    )


@pytest.mark.parametrize("command", ["check", "preview"])
def test_several_faults_of_a_press_script(fxseq, lamp: Path, command: str) -> None:
    assert fxseq(
        command, str(lamp), "--presses", "tap buton @1, tap button @2..3; hold button @5..4"
    ) == (
        1,
        "",
        (
            "press script: 'tap buton @1': no input or trigger 'buton'; allowed: button, flash."
            " Did you mean 'button'?\npress script: 'tap button @2..3': is not understood;"
            f" allowed: {FORMS}.\npress script: 'hold button @5..4': ends before it starts;"
            " allowed: 0 to 1800 s, start before end.\n"
        ),
    )


@pytest.mark.parametrize("command", ["check", "preview"])
def test_a_press_script_that_is_neither_text_nor_file(fxseq, lamp: Path, command: str) -> None:
    assert fxseq(command, str(lamp), "--presses", "tap button") == (
        2,
        "",
        (
            usage(command)
            + "--presses 'tap button' is neither a press script (there is no '@' in it), nor the"
            " name of one, nor a readable file (No such file or directory).\n"
        ),
    )
    assert fxseq(command, str(lamp), "--presses", "clips/crack_a.wav") == (
        2,
        "",
        usage(command) + "--presses 'clips/crack_a.wav' is not a text file.\n",
    )


@pytest.mark.parametrize("command", ["check", "preview", "tune"])
def test_a_supply_that_is_not_in_the_file(fxseq, starter: Path, command: str) -> None:
    assert fxseq(command, str(starter), "--supply", "cels") == (
        1,
        "",
        "starter.toml: no supply 'cels'; allowed: cells. Did you mean 'cells'?\n",
    )


def test_a_trigger_that_cannot_be_tuned(fxseq, starter: Path, lamp: Path) -> None:
    assert fxseq("tune", str(starter), "--trigger", "roling") == (
        1,
        "",
        "starter.toml: no repeating trigger 'roling'; allowed: rolling. Did you mean 'rolling'?\n",
    )
    assert fxseq("tune", str(lamp)) == (
        1,
        "",
        (
            "lamp.toml: the name of the trigger to tune is missing; allowed: none, as no trigger"
            ' has mode = "repeat".\n'
        ),
    )


def test_rates_the_wrong_way_round(fxseq, starter: Path) -> None:
    assert fxseq("tune", str(starter), "--from", "5", "--to", "3.5") == (
        2,
        "",
        usage("tune") + "--to 3.5 is slower than --from 5.\n",
    )


@pytest.mark.parametrize(
    ("despite", "message"),
    [
        (
            "current",
            (
                "--despite current: this limit protects the supply and must not be broken. Allowed:"
                " light, sound, flashes, clipping, saturation, voices."
            ),
        ),
        (
            "dose",
            (
                "--despite dose: this limit protects the ear and must not be broken. Allowed:"
                " light, sound, flashes, clipping, saturation, voices."
            ),
        ),
        ("flash", "--despite: there is no limit 'flash'. Did you mean 'flashes'?"),
    ],
)
def test_a_limit_that_is_not_to_be_broken_by_decision(
    fxseq, starter: Path, despite: str, message: str
) -> None:
    assert fxseq("tune", str(starter), "--despite", despite) == (
        2,
        "",
        usage("tune") + message + "\n",
    )


@pytest.mark.parametrize("command", ["preview", "tune", "clips", "fit", "wiring"])
def test_a_folder_that_cannot_be_written_is_told_before_any_work(
    fxseq, here: Path, command: str
) -> None:
    """Before the prop file is so much as read: there is none."""
    Path("mine").write_text("mine")
    assert fxseq(command, "missing.toml", "--out", "mine/deeper") == (
        1,
        "",
        "mine/deeper: nothing can be written there (Not a directory). Choose another with --out.\n",
    )
    assert [path.name for path in here.iterdir()] == ["mine"]


def test_a_file_where_the_folder_for_results_should_be(fxseq, starter: Path) -> None:
    Path("starter_preview").write_text("mine")
    assert fxseq("preview", str(starter)) == (
        1,
        "",
        (
            "starter_preview: nothing can be written there (Not a directory). Choose another with"
            " --out.\n"
        ),
    )
    assert Path("starter_preview").read_text() == "mine"


def test_a_file_as_out_of_a_preview(fxseq, lamp: Path) -> None:
    text = fxseq("preview", str(lamp), "--out", "lamp.toml")
    assert (text.status, text.out) == (2, "")
    assert text.err.endswith("'--out': Directory 'lamp.toml' is a file.\n")


def test_an_out_that_cannot_be_written(fxseq, lamp: Path) -> None:
    assert fxseq("emit", str(lamp), "--out", "gone/lamp.bin") == (
        1,
        "",
        "gone/lamp.bin: the file cannot be written (No such file or directory).\n",
    )
    text = fxseq("emit", str(lamp), "--out", "clips")
    assert (text.status, text.out) == (2, "")
    assert text.err.endswith("'--out': File 'clips' is a directory.\n")


def test_an_out_that_is_the_sequence_itself(fxseq, lamp: Path) -> None:
    before = lamp.read_bytes()
    os.link(lamp, "other.toml")
    for name in ("lamp.toml", "clips/../lamp.toml", "other.toml"):
        assert fxseq("emit", str(lamp), "--out", name) == (
            1,
            "",
            (
                f"{name}: is the prop file itself. Nothing was changed. Choose another name with"
                " --out.\n"
            ),
        )
    assert lamp.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ["--as", "hex", "--address", "0x1_0000_0000"],
            "--address is '0x1_0000_0000'; allowed: 0 to 0xFFFFFFFF.",
        ),
        (["--as", "hex", "--address=-1"], "--address is '-1'; allowed: 0 to 0xFFFFFFFF."),
        (["--as", "hex", "--address", "top"], "--address is 'top'; allowed: 0 to 0xFFFFFFFF."),
        (
            ["--as", "hex", "--address", "0xFFFFFF00"],
            "--address 0xFFFFFF00: the table's {size} bytes would end beyond 0xFFFFFFFF.",
        ),
        (["--address", "0x100"], "--address needs --as hex: the other forms have no addresses."),
        (["--json", "--out", "-"], "Use --json or --out -, not both: both print on stdout."),
    ],
)
def test_an_emit_that_cannot_be(fxseq, lamp: Path, arguments: list[str], message: str) -> None:
    assert fxseq("emit", str(lamp)).status == 0
    size = Path("lamp.bin").stat().st_size
    assert fxseq("emit", str(lamp), *arguments) == (
        2,
        "",
        usage("emit") + message.format(size=size) + "\n",
    )
    assert not Path("lamp.hex").exists()


def test_a_new_file_that_is_there_already(fxseq, here: Path) -> None:
    (here / "lamp.toml").write_text("mine")
    assert fxseq("new", "lamp.toml") == (
        1,
        "",
        "lamp.toml: the file exists. Nothing was changed. Choose another name.\n",
    )
    assert [path.name for path in here.iterdir()] == ["lamp.toml"]
    assert (here / "lamp.toml").read_text() == "mine"


def test_a_new_file_in_a_folder_that_cannot_be(fxseq, here: Path) -> None:
    (here / "file").touch()
    assert fxseq("new", "file/lamp.toml") == (
        1,
        "",
        "file/clips: the folder cannot be made (Not a directory). Choose another name.\n",
    )


@pytest.mark.parametrize("length", [0, 81])
def test_a_title_of_the_wrong_length(fxseq, here: Path, length: int) -> None:
    assert fxseq("new", "lamp.toml", "--title", "x" * length) == (
        2,
        "",
        usage("new") + f"--title has {length} characters; allowed: 1 to 80.\n",
    )
    assert not list(here.iterdir())


def test_a_board_that_is_to_be_reached_in_two_ways(fxseq) -> None:
    assert fxseq("board", "--tcp", "0", "--pty") == (
        2,
        "",
        usage("board", "") + "Use --tcp or --pty, not both.\n",
    )


def test_a_board_whose_tcp_port_is_taken(fxseq) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert fxseq("board", "--tcp", str(port)) == (
            1,
            "",
            (
                f"127.0.0.1:{port}: this TCP port is in use. Choose another one, or 0 for any free"
                " one.\n"
            ),
        )


def test_a_board_whose_flash_file_is_something_else(fxseq, lamp: Path) -> None:
    size = lamp.stat().st_size
    text = fxseq("board", "--tcp", "0", "--flash", str(lamp))
    assert text.status == 1
    assert text.err.splitlines()[-1].startswith(
        f"lamp.toml: cannot serve as the flash memory of a virtual board: lamp.toml has {size}"
        " bytes; flash of "
    )
    assert text.err.endswith(" Name another file.\n")
    assert lamp.stat().st_size == size


def test_a_board_whose_flash_file_cannot_be_made(fxseq) -> None:
    text = fxseq("board", "--tcp", "0", "--flash", "gone/board.flash")
    assert text.status == 1
    assert (
        "gone/board.flash: cannot serve as the flash memory of a virtual board: " in text.err
        and text.err.endswith("Name another file.\n")
    )


@pytest.mark.parametrize(
    ("port", "message"),
    [
        ("/dev/ttyNONE9", "no such port. Try: fxseq ports"),
        (
            "magic://x",
            (
                "is neither a serial port nor an address like socket://127.0.0.1:7000. Try: fxseq"
                " ports"
            ),
        ),
        (
            "lamp.toml",
            (
                "is neither a serial port nor an address like socket://127.0.0.1:7000. Try: fxseq"
                " ports"
            ),
        ),
        (
            "socket://127.0.0.1:notaport",
            (
                "is not the address of a board; allowed: socket://HOST:PORT with a port from 1 to"
                " 65535. For example: socket://127.0.0.1:7000"
            ),
        ),
        (
            "socket://127.0.0.1:{closed}",
            "nobody answers at this address. Is the board running there? Check host and port.",
        ),
    ],
)
def test_a_port_that_cannot_be_opened(fxseq, lamp: Path, port: str, message: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        closed = server.getsockname()[1]
    port = port.format(closed=closed)
    assert fxseq("push", str(lamp), "--port", port) == (1, "", f"{port}: {message}\n")


@pytest.fixture
def stranger() -> Iterator[object]:
    """A TCP server that is no board: it answers each piece of data with what `answer` makes of
    it.
    """
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve(answer) -> str:
            def talk() -> None:
                client, _ = server.accept()
                with client:
                    while data := client.recv(4096):
                        client.sendall(answer(data))

            threading.Thread(target=talk, daemon=True).start()
            return f"socket://127.0.0.1:{server.getsockname()[1]}"

        yield serve


@pytest.mark.parametrize(
    "answer",
    [
        lambda data: data,
        lambda data: b"HTTP/1.1 400 Bad Request\r\n\r\n",
        lambda data: bytes(range(256)),
    ],
)
def test_something_that_is_no_board(fxseq, lamp: Path, stranger, answer) -> None:
    where = stranger(answer)
    text = fxseq("push", str(lamp), "--port", where)
    assert (text.status, text.out) == (1, "")
    assert text.err.splitlines() == [
        f"{where}: something answers, but it does not speak the link protocol of fxseq boards. Is"
        " this the right port? Try: fxseq ports"
    ]


def test_silence(fxseq, lamp: Path, stranger) -> None:
    where = stranger(lambda data: b"")
    text = fxseq("push", str(lamp), "--port", where)
    assert (text.status, text.out) == (1, "")
    assert text.err.splitlines() == [
        f"{where}: no reply in 2 s. Is another program using the port? Try: fxseq ports"
    ]


def test_a_board_that_hangs_up(fxseq, lamp: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=lambda: server.accept()[0].close(), daemon=True).start()
        where = f"socket://127.0.0.1:{server.getsockname()[1]}"
        text = fxseq("push", str(lamp), "--port", where)
    assert (text.status, text.out) == (1, "")
    assert text.err.splitlines() == [
        f"{where}: the connection was lost. Check plug and cable, then try again."
    ]


def test_a_table_that_the_board_has_no_room_for(fxseq, lamp: Path, here: Path, board) -> None:
    soundfile.write("clips/crack_a.wav", np.zeros(300_000), 22050)
    with board(here) as where:
        text = fxseq("push", str(lamp), "--port", where)
    size = len(load_prop(lamp).compiled.data)
    assert size > 300_000
    assert (text.status, text.out) == (1, "")
    assert text.err.splitlines() == [
        f"{where}: the table has {size} bytes; allowed: at most 262144 on this board. Shorten clips"
        " or lower their rates. The board goes on playing as before."
    ]


def test_a_table_that_the_board_cannot_play(fxseq, starter: Path, here: Path, board) -> None:
    untouched = "The board goes on playing as before."
    with board(here, Ability("small board", most_rate_hz=16000, most_channels=3)) as where:
        text = fxseq("push", str(starter), "--port", where)
    assert (text.status, text.out) == (1, "")
    assert text.err.splitlines() == [
        (
            f"{where}: the table plays at 22050 Hz; allowed: at most 16000 Hz on this board. Lower"
            f" sample_rate_hz. {untouched}"
        ),
        (
            f"{where}: the table uses 4 channels; allowed: at most 3 on this board. Use fewer"
            f" channels. {untouched}"
        ),
    ]


def test_a_computer_without_a_sound_library(
    fxseq, lamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Missing:
        def __getattr__(self, name: str) -> object:
            raise OSError("PortAudio library not found")

    monkeypatch.setitem(sys.modules, "sounddevice", Missing())
    text = fxseq("preview", str(lamp), "--play")
    assert text.status == 1
    assert (
        text.err
        == "Playing.\n--play: the sound library is missing (PortAudio library not found). On"
        " Debian: apt install libportaudio2. Or open lamp_preview/board.wav.\n"
    )


def test_a_command_that_is_interrupted(fxseq, here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(new_command, "output_folder", interrupt)
    text = fxseq("new", "lamp.toml")
    assert (text.status, text.err.strip()) == (130, "stopped")


def test_a_fault_of_our_own_is_not_hidden(
    fxseq, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(new_command, "output_folder", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        fxseq("new", "lamp.toml")


# The starter's table waits in Python's buffer of 8 kB until the end, the lamp's does not.
@pytest.mark.parametrize(
    "arguments",
    [
        ["schema"],
        ["emit", "lamp.toml", "-o", "-"],
        ["emit", "starter.toml", "-o", "-"],
        ["check", "lamp.toml"],
        ["--help"],
    ],
)
def test_a_disk_that_is_full(process, lamp: Path, starter: Path, arguments: list[str]) -> None:
    with open("/dev/full", "wb") as full:
        text = process(*arguments, stdout=full.fileno())
    assert (text.status, text.err) == (1, "standard output: No space left on device.\n")


@pytest.mark.parametrize(
    "arguments",
    [
        ["schema"],
        ["emit", "lamp.toml", "-o", "-"],
        ["emit", "starter.toml", "-o", "-"],
        ["check", "lamp.toml"],
    ],
)
def test_a_reader_that_has_had_enough(
    process, lamp: Path, starter: Path, arguments: list[str]
) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        assert process(*arguments, stdout=writing)[::2] == (1, "")
    finally:
        os.close(writing)


def test_a_name_that_is_no_text(process, lamp: Path) -> None:
    os.rename(b"lamp.toml", b"l\xe4mp.toml")
    text = process("check", b"l\xe4mp.toml")
    assert (text.status, text.err) == (0, "")
    assert "l\\udce4mp.toml: 0 faults, 0 warnings, 2 notes." in text.out
    assert (
        process("check", b"\xff.toml").err
        == "\\udcff.toml: there is no such file. Check the name and the folder.\n"
    )
