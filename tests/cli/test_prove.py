"""`fxseq prove`: what a board plays, compared with the reference."""

import json
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from fxseq import link
from fxseq.link import push, virtual_board
from fxseq.link.board_session import Ability
from fxseq.link.messages import Feature
from fxseq.link.ports import open_port
from fxseq.player import Played, Player, TraceEvent, TraceKind
from fxseq.player.events import SENTENCES
from fxseq.runs import load_prop
from fxseq.runs.proof import told
from fxseq.table import Names

SCRIPT = "tap button @0.1"
REFERENCE = [(105, kind, 0, 0) for kind in ("PRESS", "SHOT", "EFFECT", "SOUND", "FADE")] + [
    (168, "RELEASE", 0, 0)
]
"""What the smallest demo does with this script: a tap of 60 ms, 1050 frames a second."""


@pytest.fixture
def pushed(here: Path, lamp: Path, board) -> Callable[[], str]:
    """`with pushed() as where:` a board in this process that holds the lamp's table."""

    @contextmanager
    def running() -> Iterator[str]:
        with board(here) as where:
            with open_port(where) as port:
                push(port, load_prop(lamp).compiled.data)
            yield where

    return running


@pytest.fixture
def misplay(
    monkeypatch: pytest.MonkeyPatch,
) -> Callable[[Callable[[TraceEvent], list[TraceEvent]]], None]:
    """From now on boards of this process put each event into the trace as `change` gives it."""
    play = virtual_board.TablePlayer.play

    def begin(change: Callable[[TraceEvent], list[TraceEvent]]) -> None:
        def changed(self: virtual_board.TablePlayer, *arguments: object) -> Played:
            played = play(self, *arguments)
            return replace(played, trace=[new for event in played.trace for new in change(event)])

        monkeypatch.setattr(virtual_board.TablePlayer, "play", changed)

    return begin


def test_the_script_does_what_these_tests_count_on(lamp: Path) -> None:
    prop = load_prop(lamp)
    script, _ = prop.script(SCRIPT)
    trace = Player(prop.compiled.table).play(script.presses, script.until_frame).trace
    assert script.until_frame == 2268  # 2 s behind the release
    assert [
        (event.frame, event.kind.name, event.index, event.value) for event in trace
    ] == REFERENCE


@pytest.mark.parametrize("line", ["--tcp=0", "--pty"])
def test_a_board_that_plays_as_it_should_is_equal(
    fxseq, process, go_on, lamp: Path, line: str
) -> None:
    with go_on("board", line) as board:
        where = board.stdout.readline().strip()
        assert fxseq("push", str(lamp), "--port", where).status == 0
        text = process("prove", str(lamp), "--port", where, "--presses", SCRIPT)
    assert text == (
        0,
        (
            f"virtual board on {where} plays lamp.toml as the reference does: 6 events in 2.2 s are"
            " equal.\n"
        ),
        f"{where}: playing 2.2 s, without sound or light, because this board has none\n",
    )


@pytest.mark.parametrize(
    ("outputs", "words"),
    [
        (Feature.SOUND | Feature.LIGHT, "with sound and light"),
        (Feature.SOUND, "with sound"),
        (Feature.LIGHT, "with light"),
    ],
)
def test_a_run_is_played_with_the_sound_and_the_light_that_the_board_has(
    fxseq,
    here: Path,
    lamp: Path,
    board,
    outputs: Feature,
    words: str,
) -> None:
    with board(here, Ability("lantern", features=Feature.RUNS | outputs)) as where:
        assert fxseq("push", str(lamp), "--port", where).status == 0
        assert (
            fxseq("prove", str(lamp), "--port", where, "--presses", SCRIPT).err
            == f"{where}: playing 2.2 s, {words}\n"
        )


def test_a_board_without_runs_is_told_from_one_that_differs(
    fxseq, here: Path, lamp: Path, board
) -> None:
    with board(here, Ability("lantern", features=0)) as where:
        assert fxseq("push", str(lamp), "--port", where).status == 0
        text = fxseq("prove", str(lamp), "--port", where, "--presses", SCRIPT)
    assert (text.status, text.out) == (1, "")
    assert text.err.endswith(
        f"{where}: this board cannot be proved: its firmware does not support press scripts."
        " Preview the prop on the laptop instead.\n"
    )


def test_the_page_says_of_a_run_what_the_command_says() -> None:
    page = (Path(link.__file__).parents[1] / "bench" / "page" / "send.js").read_text(
        encoding="utf-8"
    )
    assert (
        "in real time, with its sound and light" in page
        and "A virtual board has no sound and no light." in page
    )
    assert "silent" not in page


def test_the_files_own_script_is_played_where_none_is_given(fxseq, pushed, lamp: Path) -> None:
    with pushed() as where:
        values = json.loads(fxseq("prove", str(lamp), "--port", where, "--json").out)
    script, text = load_prop(lamp).script()
    assert values == {
        "board": "virtual board",
        "port": where,
        "presses_script": text,
        "duration_s": script.until_frame / 1050,
        "equal": True,
        "events_same": values["events_same"],
        "difference": None,
    }
    assert values["events_same"] >= 6


def without(kind: TraceKind) -> Callable[[TraceEvent], list[TraceEvent]]:
    return lambda event: [] if event.kind == kind else [event]


def with_other(which: TraceKind, **fields: int) -> Callable[[TraceEvent], list[TraceEvent]]:
    return lambda event: [event._replace(**fields) if event.kind == which else event]


SOUND = "0.100 s (frame 105)  clip 'crack' begins on voice 0"
FADE = "0.100 s (frame 105)  group 'lamp' begins fade 'flash'"
RELEASE = "0.160 s (frame 168)  input 'button' is let go"
END = "nothing more up to 2.160 s"


@pytest.mark.parametrize(
    ("change", "same", "board_does", "reference_does"),
    [
        (without(TraceKind.SOUND), 3, FADE, SOUND),
        (without(TraceKind.RELEASE), 5, END, RELEASE),
        (with_other(TraceKind.SOUND, index=2), 3, SOUND.replace("voice 0", "voice 2"), SOUND),
        (
            with_other(TraceKind.FADE, value=9),
            4,
            FADE.replace("'flash'", "number 9 (the sequence has none of that number)"),
            FADE,
        ),
        (
            with_other(TraceKind.RELEASE, frame=169),
            5,
            RELEASE.replace("0.160 s (frame 168)", "0.161 s (frame 169)"),
            RELEASE,
        ),
        (
            with_other(TraceKind.SOUND, kind=TraceKind.CUT),
            3,
            SOUND.replace("begins", "is cut"),
            SOUND,
        ),
        (
            with_other(TraceKind.SOUND, kind=TraceKind.SELECT, value=1),
            3,
            (
                "0.100 s (frame 105)  selector number 0 (the sequence has none of that number) is"
                " set to number 1 (the sequence has none of that number)"
            ),
            SOUND,
        ),
        (lambda event: [event] * (2 if event.kind == TraceKind.RELEASE else 1), 6, RELEASE, END),
    ],
    ids=[
        "event left out",
        "last event left out",
        "other voice",
        "no such fade",
        "a frame late",
        "other kind",
        "no such selector",
        "one too many",
    ],
)
def test_the_first_difference_is_told_with_both_sides(
    fxseq,
    pushed,
    monkeypatch: pytest.MonkeyPatch,
    lamp: Path,
    change: Callable,
    same: int,
    board_does: str,
    reference_does: str,
) -> None:
    trace = [
        new
        for frame, kind, index, value in REFERENCE
        for new in change(TraceEvent(frame, TraceKind[kind], index, value))
    ]
    monkeypatch.setattr(link, "prove", lambda *call: trace)  # spares the 2 s that it plays
    with pushed() as where:
        text = fxseq("prove", str(lamp), "--port", where, "--presses", SCRIPT)
    assert text == (
        1,
        (
            f"virtual board on {where} plays lamp.toml unlike the reference. The first {same}"
            f" events are equal, then come:\n  board      {board_does}\n  reference "
            f" {reference_does}\n"
        ),
        f"{where}: playing 2.2 s, without sound or light, because this board has none\n",
    )


def test_a_board_that_plays_otherwise_in_json(fxseq, pushed, misplay, lamp: Path) -> None:
    misplay(without(TraceKind.RELEASE))
    with pushed() as where:
        text = fxseq("prove", str(lamp), "--port", where, "--presses", SCRIPT, "--json")
    values = json.loads(text.out)
    assert (text.status, values["equal"], values["events_same"]) == (1, False, 5)
    assert values["difference"] == {
        "board": None,
        "reference": {
            "time_s": 0.16,
            "frame": 168,
            "kind": "release",
            "index": 0,
            "value": 0,
            "words": "input 'button' is let go",
        },
    }


def test_a_board_with_another_table_is_told_apart_and_left_alone(
    fxseq, pushed, lamp: Path, starter: Path
) -> None:
    with pushed() as where:
        assert fxseq("prove", str(starter), "--port", where) == (
            1,
            "",
            (
                f"{where}: the board plays another table, not that of starter.toml. Push it first:"
                f" fxseq push starter.toml --port {where}\n"
            ),
        )
        assert fxseq("push", str(starter), "--port", where).status == 0
        assert (
            "another table, not that of lamp.toml" in fxseq("prove", str(lamp), "--port", where).err
        )


def test_a_board_without_a_table(fxseq, here: Path, lamp: Path, board) -> None:
    with board(here) as where:
        assert fxseq("prove", str(lamp), "--port", where) == (
            1,
            "",
            (
                f"{where}: the board holds no table. Push it first: fxseq push lamp.toml --port"
                f" {where}\n"
            ),
        )


def test_silence(fxseq, lamp: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as nobody:
        where = f"socket://127.0.0.1:{nobody.getsockname()[1]}"
        assert fxseq("prove", str(lamp), "--port", where) == (
            1,
            "",
            f"{where}: no reply in 2 s. Is another program using the port? Try: fxseq ports\n",
        )


def test_faults_of_sequence_and_script_are_told_before_the_board_is_asked(
    fxseq, lamp: Path
) -> None:
    text = fxseq("prove", str(lamp), "--port", "/dev/ttyNONE9", "--presses", "tap lever @1")
    assert (text.status, text.out) == (1, "")
    assert (
        text.err
        == "press script: 'tap lever @1': no input or trigger 'lever'; allowed: button, flash.\n"
    )


NAMES = Names(
    ("button", "lever"),
    ("ring", "dial"),
    (("calm", "storm"), ("low", "high")),
    ("oil", "air"),
    ("lens", "vents"),
    ("glow", "flash"),
    ("glow", "flash", "flash"),
    ("hum", "crack"),
    ("burn", "flare"),
    ("idle", "signal"),
)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("PRESS", "input 'button' is pressed"),
        ("RELEASE", "input 'button' is let go"),
        ("SELECT", "selector 'ring' is set to 'storm'"),
        ("VOLUME", "the volume is set to 50 %"),
        ("START", "trigger 'idle' begins"),
        ("STOP", "trigger 'idle' ends"),
        ("SHOT", "trigger 'idle' fires, shots before this one: 1"),
        ("EMPTY", "trigger 'idle' finds counter 'air' at 0"),
        ("EFFECT", "effect 'burn' begins, by trigger 'signal'"),
        ("SOUND", "clip 'crack' begins on voice 0"),
        ("CUT", "clip 'crack' is cut on voice 0"),
        ("RELEASED", "clip 'crack' is let go on voice 0"),
        ("FADE", "group 'lens' begins fade 'flash'"),
        ("COUNT", "counter 'oil' is at 1"),
        ("REFUSED", "effect 'burn' is left out, as too many others are running"),
    ],
)
def test_an_event_is_told_in_the_makers_names(kind: str, words: str) -> None:
    event = TraceEvent(500, TraceKind[kind], 0, 128 if kind == "VOLUME" else 1)
    text = told([event], NAMES, 1000.0)
    assert (text["words"], text["time_s"], text["kind"]) == (words, 0.5, kind.lower())


def test_every_kind_of_event_has_its_sentence() -> None:
    assert list(SENTENCES) == [kind.name for kind in TraceKind]
