"""Loading a prop: every fault of its clips and of its table at once; and what it can be asked
for.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fxseq.player import default_script, parse_script
from fxseq.runs import Prop
from fxseq.sequence import ClipError, FxError, SequenceError, TableError

Values = dict[str, Any]
Build = Callable[[Values], Prop]


def test_faults_of_several_clips_come_together(
    values: Values, build: Build, tmp_path: Path
) -> None:
    (tmp_path / "empty.wav").touch()
    values["clips"] |= {
        "gone": {"file": "beeep.wav"},
        "empty": {"file": "empty.wav"},
        "short": {"file": "beep.wav", "end_ms": 200},
    }
    values["effects"]["spark"]["sounds"] += [{"clip": name} for name in ("gone", "empty", "short")]
    with pytest.raises(ClipError) as error:
        build(values)
    assert str(error.value).splitlines() == [
        "beeep.wav: clip 'gone': there is no such file. Did you mean 'beep.wav'?",
        (
            "empty.wav: clip 'empty': the file is empty (0 bytes). Export it again from the sound"
            " editor."
        ),
        (
            "beep.wav: clip 'short': end_ms is 200 ms, but the file is 100 ms long. End earlier, or"
            " leave end_ms out."
        ),
    ]


def test_a_clip_out_of_reach_is_not_read(values: Values, build: Build) -> None:
    values["clips"]["gone"] = {"file": "gone.wav"}
    values["effects"]["spare"] = {"sounds": [{"clip": "gone"}]}
    assert list(build(values).clips) == ["beep"]


def test_faults_of_the_table_name_the_file(values: Values, build: Build, tmp_path: Path) -> None:
    values["triggers"]["fire"]["after_held_ms"] = 70_000
    values["effects"]["spark"]["lights"][0]["at_ms"] = 80_000
    with pytest.raises(TableError) as error:
        build(values)
    path = tmp_path / "small.toml"
    assert str(error.value).splitlines() == [
        (
            f"{path}: effect 'spark': at_ms comes to 80000 frames; allowed: 0 to 65535 frames."
            " Change it, or the board's rates."
        ),
        (
            f"{path}: trigger 'fire': after_held_ms comes to 70000 frames; allowed: 0 to 65535"
            " frames. Change it, or the board's rates."
        ),
    ]


def test_the_script_asked_for_goes_before_the_files_own_and_that_before_the_default(
    values: Values, build: Build
) -> None:
    assert build(values).script()[1] == "tap lever @0.5"
    values["scripts"] = {"run": {"presses": "tap fire @2"}}
    prop = build(values)
    assert prop.script()[1] == "tap fire @2"
    assert prop.script("tap lever @3")[1] == "tap lever @3"


def test_a_fault_of_the_files_own_script_says_where_it_is(
    values: Values, build: Build, tmp_path: Path
) -> None:
    values["scripts"] = {"run": {"presses": "tap fier @2"}}
    with pytest.raises(SequenceError) as error:
        build(values).script()
    assert (
        str(error.value)
        == f"{tmp_path / 'small.toml'}: script 'run': 'tap fier @2': no input or trigger 'fier';"
        " allowed: lever, fire. Did you mean 'fire'?"
    )


def test_the_first_supply_is_taken_unless_one_is_named(values: Values, build: Build) -> None:
    prop = build(values)
    assert prop.supply() == ("wall", prop.sequence.supplies["wall"])
    assert prop.supply("cells") == ("cells", prop.sequence.supplies["cells"])
    del values["supplies"]
    assert build(values).supply() is None


@pytest.mark.parametrize(
    ("has", "message"),
    [
        (True, "no supply 'cels'; allowed: wall, cells. Did you mean 'cells'?"),
        (False, "no supply 'cels'; allowed: none, as the file has no supplies."),
    ],
)
def test_a_supply_that_is_not_there_is_a_fault(
    values: Values, build: Build, tmp_path: Path, has: bool, message: str
) -> None:
    if not has:
        del values["supplies"]
    with pytest.raises(FxError) as error:
        build(values).supply("cels")
    assert str(error.value) == f"{tmp_path / 'small.toml'}: {message}"


def test_the_default_script_fires_every_trigger_with_a_button(
    values: Values, played: Callable[..., Any]
) -> None:
    values["selectors"] = {"ring": {"positions": ["slow", "storm", "off"], "start": "off"}}
    values["inputs"] |= {"second": {}, "sense": {"kind": "low_battery"}}
    values["triggers"] = {
        "slow": {
            "mode": "repeat",
            "input": "lever",
            "when": {"ring": "slow"},
            "rate_per_s": 2,
            "effects": ["spark"],
        },
        "storm": {
            "mode": "once",
            "input": "lever",
            "when": {"ring": ["storm", "slow"]},
            "after_held_ms": 1200,
            "effects": ["spark"],
        },
        "arc": {
            "mode": "while_held",
            "input": "second",
            "when": {"ring": "storm"},
            "after_held_ms": 500,
            "during": "spark",
        },
        "lamp": {"mode": "on_off", "input": "second", "begin": "spark"},
        "low": {"mode": "once", "input": "sense", "effects": ["spark"]},
    }
    run = played(values, None)
    begun = {
        run.prop.compiled.names.triggers[event.index]
        for event in run.played.trace
        if event.kind.name in ("SHOT", "START")
    }
    assert begun == {"slow", "storm", "arc", "lamp"}


def test_the_default_script_reaches_begin_during_and_end_of_whatever_stays(
    values: Values, played: Callable[..., Any]
) -> None:
    for name, length_ms in (("rise", 2600), ("burn", 300), ("fall", 300)):
        values["effects"][name] = {"sounds": [{"clip": "beep"}], "length_ms": length_ms}
    values["selectors"] = {"ring": {"positions": ["calm", "storm"]}}
    values["inputs"] |= {"second": {}, "third": {}, "fourth": {}}
    stays = {"begin": "rise", "during": "burn", "end": "fall"}
    values["triggers"] |= {
        "held": {"mode": "while_held", "input": "lever", "after_held_ms": 400, **stays},
        "switched": {"mode": "on_off", "input": "second", **stays},
        "both": {"mode": "on_off", "input": "third", **stays},
        "again": {"mode": "repeat", "input": "third", "rate_per_s": 2, "effects": ["spark"]},
        "late": {"mode": "on_off", "input": "fourth", "after_held_ms": 700, **stays},
        "weather": {"mode": "always", "when": {"ring": "storm"}, **stays},
    }
    run = played(values, None)
    names = run.prop.compiled.names.triggers
    effects = run.prop.compiled.names.effects
    started = {
        (names[event.value], effects[event.index])
        for event in run.played.trace
        if event.kind.name == "EFFECT"
    }
    for trigger in ("held", "switched", "both", "late", "weather"):
        assert {(trigger, "rise"), (trigger, "burn"), (trigger, "fall")} <= started, trigger


def test_the_demos_default_script_fires_every_trigger_with_a_button() -> None:
    from fxseq.player import Player
    from fxseq.runs import load_prop

    prop = load_prop(Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml")
    script = parse_script(
        default_script(prop.compiled.table, prop.compiled.names),
        prop.compiled.table,
        prop.compiled.names,
    )
    trace = Player(prop.compiled.table).play(script.presses, script.until_frame).trace
    begun = {
        prop.compiled.names.triggers[event.index]
        for event in trace
        if event.kind.name in ("SHOT", "START")
    }
    assert begun == set(prop.sequence.triggers) - {"low_cells"}


def test_samples_of_a_clip_are_those_of_its_file(
    values: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", np.array([0, 0.25, -0.5, 0]))
    assert build(values).clips["beep"].samples.tolist() == [0, 8192, -16384, 0]
