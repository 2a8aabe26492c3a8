"""What each command does when all is well: results on stdout, remarks on stderr, files whole."""

import json
import re
import shutil
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import soundfile
from intelhex import IntelHex

from fxseq import link
from fxseq.cli import sound
from fxseq.link import PortInfo
from fxseq.runs import load_prop, perform
from fxseq.sequence import load
from fxseq.sequence.titles import visible
from fxseq.table import decode


def numbers(values: object) -> Iterator[float]:
    """All numbers in JSON; Python's reader takes NaN and Infinity for numbers, so they must be
    looked for.
    """
    if isinstance(values, dict | list):
        for value in values.values() if isinstance(values, dict) else values:
            yield from numbers(value)
    elif isinstance(values, int | float):
        yield values


def only_json(text) -> dict:
    """The result of a command with --json: nothing but JSON on stdout, with finite numbers."""
    assert text.status == 0, text.err
    values = json.loads(text.out)
    assert all(np.isfinite(number) for number in numbers(values))
    return values


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


# ---- new ----


@pytest.mark.quick
def test_new_writes_a_prop_that_is_whole_and_without_fault(fxseq, here: Path) -> None:
    assert fxseq("new", "props/storm_lamp.toml") == (
        0,
        "props/storm_lamp.toml and props/clips/example_chirp.wav\n",
        "Next: fxseq preview props/storm_lamp.toml\n",
    )
    assert load("props/storm_lamp.toml").title == "Storm lamp"
    checked = fxseq("check", "props/storm_lamp.toml")
    assert checked.status == 0
    assert checked.out.startswith("note  dimming at 1327 Hz: ")
    assert "props/storm_lamp.toml: 0 faults, 0 warnings, 1 note.\n" in checked.out
    assert fxseq("preview", "props/storm_lamp.toml", "--no-pictures").status == 0
    assert fxseq("tune", "props/storm_lamp.toml", "--to", "4", "--no-pictures").status == 0


@pytest.mark.parametrize(
    "title",
    [
        "The Bell",
        'a "quoted" \\ one',
        "two\nlines\tand\x7f",
        "Böe ⚡",
        "x" * 80,
        '"' * 80,
        "@TITLE@",
        " ",
    ],
)
def test_new_takes_any_title(fxseq, here: Path, title: str) -> None:
    assert fxseq("new", "lamp.toml", "--title", title).status == 0
    assert load("lamp.toml").title == visible(title)


def test_new_makes_a_title_of_any_name(process, here: Path) -> None:
    assert process("new", b"l\xe4mp " + b"x" * 90 + b".toml").status == 0
    assert load(next(here.glob("*.toml"))).title == ("L?mp " + "x" * 90)[:80]


def test_new_leaves_a_clip_that_is_there(fxseq, here: Path) -> None:
    (here / "clips").mkdir()
    soundfile.write("clips/example_chirp.wav", np.zeros(9), 8000)
    before = Path("clips/example_chirp.wav").read_bytes()
    assert fxseq("new", "lamp.toml").status == 0
    assert Path("clips/example_chirp.wav").read_bytes() == before


def test_the_starter_file_shows_every_part_that_a_first_prop_needs(fxseq, here: Path) -> None:
    assert fxseq("new", "lamp.toml").status == 0
    parts = (
        "board supplies amplifier speaker listening inputs selectors groups fades clips effects"
        " triggers"
    )
    assert set(parts.split()) <= set(tomllib.loads(Path("lamp.toml").read_text()))
    assert "@" not in Path("lamp.toml").read_text()


# ---- check ----


@pytest.mark.quick
def test_check_prints_findings_and_their_count(fxseq, lamp: Path) -> None:
    text = fxseq("check", str(lamp))
    assert (text.status, text.err) == (0, "")
    assert text.out.startswith(
        "note  amplifier, speaker, supplies: not described, so level and amplifier current cannot be"
        " given\n    source: the prop file, where it is missing\n    remedy: Describe them; `fxseq"
        " new` writes a file that shows how.\n    check: sequence.undescribed\n\nnote  dimming at"
        " 1327 Hz: modulation depth 100 %\n    limit: "
    )
    assert text.out.endswith(
        "    check: hazard.flicker\n\nlamp.toml: 0 faults, 0 warnings, 2 notes.\n\nThese checks are"
        " a first help while you design. They certify nothing, and they do not replace local"
        " codes, the rules of the venue or licensed practice.\n"
    )


def test_check_ends_with_1_where_a_finding_is_a_fault(fxseq, lamp: Path) -> None:
    edit(lamp, 'board = { part = "pico" }', "board = { channels = 1, flash_for_table_bytes = 2000 }")
    text = fxseq("check", str(lamp))
    assert (text.status, text.err) == (1, "")
    assert (
        text.out.startswith("fault  table: ")
        and "lamp.toml: 1 fault, 0 warnings, 2 notes." in text.out
    )
    as_json = fxseq("check", str(lamp), "--json")
    assert as_json.status == 1
    values = json.loads(as_json.out)
    assert {key: values[key] for key in ("fault", "warning", "note")} == {
        "fault": 1,
        "warning": 0,
        "note": 2,
    }
    assert [finding["weight"] for finding in values["findings"]] == ["fault", "note", "note"]


def test_check_counts_the_demos_findings_in_json(fxseq) -> None:
    demo = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"
    values = only_json(fxseq("check", str(demo), "--json"))
    assert values["fault"] == 0 and values["warning"] == len(
        [1 for finding in values["findings"] if finding["weight"] == "warning"]
    )
    assert "light.flash" in {finding["check"] for finding in values["findings"]}


def test_check_plays_the_script_that_it_is_given(fxseq, starter: Path, here: Path) -> None:
    quick = ", ".join(f"tap lever @{1 + 0.2 * tap:.1f}" for tap in range(5)) + ", hold lever @4..5"
    calm = only_json(
        fxseq("check", str(starter), "--json", "--presses", "tap lever @1, hold lever @2..3")
    )["findings"]
    assert [finding["check"] for finding in calm] == ["hazard.flicker"]
    found = only_json(fxseq("check", str(starter), "--json", "--presses", quick))["findings"]
    assert {finding["check"] for finding in found} == {"light.flash", "hazard.flicker"}
    (here / "quick.txt").write_text(
        "\ufeff# five taps and a hold\n" + quick.replace(", ", "\n"), encoding="utf-8"
    )
    assert (
        only_json(fxseq("check", str(starter), "--json", "--presses", "quick.txt"))["findings"]
        == found
    )


# ---- preview ----


def test_preview_says_what_is_missing_to_know_the_run_time(fxseq, starter: Path) -> None:
    starter.write_text(
        re.sub(r"\[day\].*?\n\n", "", starter.read_text(encoding="utf-8"), flags=re.DOTALL),
        encoding="utf-8",
    )
    assert (
        "\n  run time  not known: the file has no day of use ([day])\n"
        in fxseq("preview", str(starter), "--no-pictures").out
    )


def test_preview_prints_a_summary_and_writes_sound_figure_and_animation(
    fxseq, starter: Path
) -> None:
    text = fxseq("preview", str(starter), "--presses", "tap lever @1")
    assert (text.status, text.err) == (0, "")
    lines = dict(re.findall(r"^  (\w+(?: \w+)?)  +(.+)$", text.out, re.MULTILINE))
    assert text.out.startswith("Starter, 3.1 s: tap lever @1\n")
    assert list(lines) == [
        "shots", "clips", "voices", "delay", "loud", "level", "loudness", "clipping", "current",
        "run time", "flashes", "table", "files",
    ]  # fmt: skip
    assert (lines["shots"], lines["flashes"]) == ("1 of one", "at most 1 in a second")
    assert lines["files"] == "board.wav, figure.png, lights.gif, heard.wav in starter_preview"
    folder = Path("starter_preview")
    assert {path.name for path in folder.iterdir()} == {
        "board.wav",
        "heard.wav",
        "figure.png",
        "lights.gif",
    }
    assert (folder / "figure.png").read_bytes().startswith(b"\x89PNG") and (
        folder / "lights.gif"
    ).read_bytes().startswith(b"GIF89a")


def test_preview_says_how_loud_in_words_before_it_says_it_in_figures(fxseq, starter: Path) -> None:
    # 83 dB(A) at the hand and 65 in the audience, by the table of everyday sounds.
    lines = fxseq(
        "preview", str(starter), "--presses", "tap lever @1", "--no-pictures"
    ).out.splitlines()
    at = next(place for place, line in enumerate(lines) if line.startswith("  loud  "))
    assert (
        lines[at]
        == "  loud      hand: at its loudest about as loud as a petrol lawn mower; within the daily"
        " noise limit all day long"
    )
    assert (
        lines[at + 1]
        == "            audience: at its loudest louder than a conversation, softer than a washing"
        " machine; within the daily noise limit all day long"
    )
    assert "CDC" in lines[at + 2] and "NIOSH" in lines[at + 2]
    assert lines[at + 3].startswith("  level     LAFmax 82")


def test_preview_without_pictures_writes_sound_alone(fxseq, starter: Path) -> None:
    text = fxseq("preview", str(starter), "--presses", "tap lever @1", "--no-pictures")
    assert "  files     board.wav, heard.wav in starter_preview\n" in text.out
    assert {path.name for path in Path("starter_preview").iterdir()} == {"board.wav", "heard.wav"}


def test_preview_of_one_clip_leaves_the_others_silent(fxseq, starter: Path) -> None:
    edit(
        starter,
        "[effects.signal]\nsounds = [",
        '[clips.other]\nfile = "clips/example_chirp.wav"\nend_ms = 30\n\n[effects.signal]\n'
        'sounds = [{ clip = "other", at_ms = 400 }, ',
    )
    values = only_json(
        fxseq(
            "preview",
            str(starter),
            "--presses",
            "tap lever @1",
            "--no-pictures",
            "--clip",
            "other",
            "--json",
        )
    )
    assert values["clips"] == {"chirp": 0, "other": 1}
    assert values["flashes"]["alone"]["lamp"]["general"]["flashes_per_s"] == 1
    text = fxseq("preview", str(starter), "--no-pictures", "--clip", "othr")
    assert text.err.endswith("There is no clip 'othr'. Did you mean 'other'?\n")


@pytest.mark.quick
def test_preview_writes_what_the_board_puts_out_bit_for_bit(fxseq, starter: Path) -> None:
    assert (
        fxseq(
            "preview",
            str(starter),
            "--no-pictures",
            "--presses",
            "hold lever @1..2, set ring rolling @0",
        ).status
        == 0
    )
    prop = load_prop(starter)
    run = perform(prop, prop.script("hold lever @1..2, set ring rolling @0")[0])
    samples, rate_hz = soundfile.read("starter_preview/board.wav", dtype="int16")
    assert rate_hz == 22050 and np.array_equal(samples, run.played.samples)
    heard, _ = soundfile.read("starter_preview/heard.wav", dtype="int16")
    assert heard.shape == samples.shape
    assert np.abs(heard.astype(int)).max() == round(10 ** (-1 / 20) * 32767)
    pressure = run.heard.pressure_pa(0.5)
    assert pressure is not None and np.corrcoef(heard, pressure)[0, 1] > 0.9999


def test_preview_of_a_prop_without_speaker_says_so(fxseq, lamp: Path) -> None:
    text = fxseq("preview", str(lamp), "--no-pictures")
    assert "  level     not known: amplifier, speaker or supply is not described\n" in text.out
    assert not Path("lamp_preview/heard.wav").exists()
    assert only_json(fxseq("preview", str(lamp), "--no-pictures", "--json"))["levels"] is None


def test_preview_of_a_prop_without_sound_or_without_light_works(
    fxseq, lamp: Path, starter: Path
) -> None:
    edit(lamp, 'sounds = [{ clip = "crack" }]', "")
    edit(lamp, 'clips.crack = { file = "clips/crack_a.wav" }', "")
    silent = only_json(fxseq("preview", str(lamp), "--json"))
    assert (silent["sounds"], silent["trigger_to_sound_ms"], silent["current"]["peak_ma"]) == (
        0,
        None,
        35,
    )
    assert "no press makes a sound at once" in fxseq("preview", str(lamp), "--no-pictures").out
    edit(starter, 'lights = [{ group = "lamp", fade = "flash", stagger_ms = 8 }]', "")
    text = starter.read_text()
    starter.write_text(text[: text.index("[groups.lamp]")] + text[text.index("# ---- Sound") :])
    dark = only_json(fxseq("preview", str(starter), "--json"))
    assert set(dark["files"]) == {"board", "heard", "figure"}
    assert dark["flashes"]["alone"] == {}


def test_preview_of_silence_gives_no_level(fxseq, starter: Path) -> None:
    values = only_json(
        fxseq("preview", str(starter), "--no-pictures", "--json", "--presses", "end @2")
    )
    assert values["levels"]["at"]["hand"]["laeq_db"] is None
    text = fxseq("preview", str(starter), "--no-pictures", "--presses", "end @2").out
    assert (
        "  level     silence at 0.5 m (hand), ±4 dB\n" in text and "\n  loudness  silence\n" in text
    )


def test_preview_says_in_json_what_it_says_in_words(fxseq, starter: Path, here: Path) -> None:
    values = only_json(
        fxseq("preview", str(starter), "--json", "--out", "deep/results", "--theme", "dark")
    )
    assert (
        values["files"]["board"] == str(Path("deep/results/board.wav"))
        and Path(values["files"]["figure"]).exists()
    )
    assert (
        values["presses_script"]
        == "tap lever @0.5, set ring rolling @1.8, tap lever @2, hold lever @3..5"
    )
    assert values["shots"] == {"one": 1, "rolling": 7}
    assert values["supply"] == "cells"
    text = fxseq("preview", str(starter), "--no-pictures").out
    assert (
        f"{values['current']['mean_ma']:.0f} mA on average, {values['current']['peak_ma']:.0f} mA"
        " peak, from 'cells'" in text
    )
    levels = values["levels"]
    hand = values["levels"]["at"]["hand"]
    assert (
        f"LAFmax {hand['lafmax_db']:.0f}, LASmax {hand['lasmax_db']:.0f}, LAeq"
        f" {hand['laeq_db']:.0f} dB(A), LCpeak {hand['lcpeak_db']:.0f} dB(C)" in text
    )
    assert hand["lafmax_db"] > hand["lasmax_db"] > hand["laeq_db"]
    assert (
        f"  loudness  {levels['integrated_lufs']:.1f} LUFS integrated; at most"
        f" {levels['momentary_max_lufs']:.1f} LUFS momentary, {levels['short_term_max_lufs']:.1f}"
        f" LUFS short-term; range {levels['loudness_range_lu']:.1f} LU; true peak"
        f" {levels['true_peak_dbtp']:.1f} dBTP, of the board's signal\n" in text
    )
    assert values["clips"] == {"chirp": 8} and "8 sounds: 8 of chirp" in text


def test_preview_prints_warnings_but_no_notes(fxseq, starter: Path) -> None:
    edit(starter, "[inputs.lever]", "[inputs.spare]\n\n[inputs.lever]")
    text = fxseq(
        "preview",
        str(starter),
        "--no-pictures",
        "--presses",
        ", ".join(f"tap lever @{1 + 0.2 * tap:.1f}" for tap in range(5)),
    )
    assert text.status == 0
    assert "\nwarning  all groups together: " in text.out and "spare" not in text.out


def test_preview_counts_red_flashes_too(fxseq, lamp: Path) -> None:
    """Of a red LED at 30 % of lightness, 6 % of the light, which is too little for a general
    flash (W3C WCAG 2.2, 10 %) and not for a red one.
    """
    edit(lamp, 'colour = "amber"', 'colour = "red"')
    edit(lamp, "to_percent = 100", "to_percent = 30")
    edit(lamp, '}, { shape = "decay"', '}, { shape = "step"')
    text = fxseq(
        "preview", str(lamp), "--no-pictures", "--presses", "tap button @0.5, tap button @1"
    )
    assert re.search(r"^  flashes +(.*)$", text.out, re.MULTILINE)[1] == "at most 2 in a second"


def test_preview_plays_what_is_heard(
    fxseq, starter: Path, lamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    played = []
    monkeypatch.setattr(sound, "play", played.append)
    assert fxseq("preview", str(starter), "--play", "--no-pictures").err == "Playing.\n"
    assert fxseq("preview", str(lamp), "--play", "--no-pictures").status == 0
    assert played == [Path("starter_preview/heard.wav"), Path("lamp_preview/board.wav")]


def test_preview_gives_the_same_files_every_time(fxseq, starter: Path) -> None:
    """Pictures are held to the same in tests/plots."""
    fxseq("preview", str(starter), "--no-pictures", "--out", "one")
    fxseq("preview", str(starter), "--no-pictures", "--out", "two")
    for name in ("board.wav", "heard.wav"):
        assert Path("one", name).read_bytes() == Path("two", name).read_bytes()


# ---- tune ----


@pytest.mark.quick
def test_tune_answers_first_and_then_shows_a_table(fxseq, starter: Path) -> None:
    text = fxseq("tune", str(starter), "--to", "5")
    assert (text.status, text.err) == (0, "")
    verdict, heading, flashes, free, kept, table, *_, figure = text.out.split("\n\n")
    assert verdict == "'rolling' keeps every limit up to 3 shots a second. The file has 2.5."
    assert (
        heading.startswith("What breaks")
        and free == "To go beyond the first one by your own decision: --despite flashes"
    )
    assert (
        flashes.splitlines()[0]
        == "   3.1  flashes  the eye     more than 3 flashes in a second (WCAG 2.2, 2.3.1)"
    )
    assert "0.006 sr" in flashes and "at 0.5 m (hand)" in " ".join(flashes.split())
    assert kept.startswith("Not broken up to 5 a second: light, sound, clipping, ")
    assert [line.split()[0] for line in table.splitlines()[2:]] == ["1", "2.5", "3", "5"]
    assert figure == "Figure: starter_tune/rolling.png\n"
    assert Path("starter_tune/rolling.png").read_bytes().startswith(b"\x89PNG")


def test_tune_says_where_nothing_breaks_or_even_the_slowest_rate_does(fxseq, starter: Path) -> None:
    assert fxseq(
        "tune", str(starter), "--from", "2", "--to", "2.5", "--no-pictures"
    ).out.startswith(
        "'rolling' keeps every limit up to 2.5 shots a second, the fastest that was tried. The file"
        " has 2.5.\n"
    )
    assert fxseq("tune", str(starter), "--from", "4", "--to", "6", "--no-pictures").out.startswith(
        "'rolling' breaks a limit even at 4 shots a second. The file has 2.5.\n"
    )
    assert not Path("starter_tune").exists()


def test_tune_finds_a_limit_to_a_tenth_of_a_small_step(fxseq, starter: Path) -> None:
    values = only_json(
        fxseq(
            "tune",
            str(starter),
            "--json",
            "--from",
            "3",
            "--to",
            "3.5",
            "--step",
            "0.5",
            "--out",
            "figures",
        )
    )
    (broken,) = values["breaks"]
    assert (broken["limit"], broken["from_rate_per_s"], values["fastest_rate_per_s"]) == (
        "flashes",
        3.05,
        3.0,
    )
    assert values["figure"] == str(Path("figures/rolling.png"))


def test_tune_writes_that_rate_alone_and_keeps_all_else(fxseq, starter: Path) -> None:
    edit(starter, "rate_per_s = 2.5", "rate_per_s = 2.5   # as the actor likes it")
    before = starter.read_text()
    text = fxseq("tune", str(starter), "--to", "4", "--write", "--no-pictures")
    assert (text.status, text.err) == (
        0,
        "starter.toml: triggers.rolling.rate_per_s = 3 (was 2.5)\n",
    )
    assert starter.read_text() == before.replace(
        "rate_per_s = 2.5   # as", "rate_per_s = 3.0   # as"
    )
    assert load(starter).triggers["rolling"].rate_per_s == 3
    again = fxseq("tune", str(starter), "--to", "4", "--write", "--no-pictures")
    assert (again.status, again.err) == (0, "starter.toml: triggers.rolling.rate_per_s stays 3\n")


def test_tune_never_takes_the_end_of_its_sweep_for_a_limit(fxseq, starter: Path) -> None:
    before = starter.read_text()
    text = fxseq("tune", str(starter), "--to", "2", "--write", "--no-pictures")
    assert (text.status, text.err) == (0, "starter.toml: triggers.rolling.rate_per_s stays 2.5\n")
    assert starter.read_text() == before


def test_tune_writes_a_decision_beside_the_rate_and_check_then_names_it(
    fxseq, starter: Path
) -> None:
    text = fxseq(
        "tune", str(starter), "--to", "6", "--despite", "flashes", "--write", "--no-pictures"
    )
    assert text.out.startswith(
        "'rolling' keeps every limit but flashes, as decided, up to 6 shots a second, the fastest"
        " that was tried."
    )
    assert "Post a notice" in " ".join(text.out.split())
    assert (
        text.err == "starter.toml: triggers.rolling.rate_per_s = 6 (was 2.5)\n"
        "starter.toml: triggers.rolling.despite = flashes: your decision; findings will name it\n"
    )
    rolling = load(starter).triggers["rolling"]
    assert (rolling.rate_per_s, rolling.despite) == (6, ["flashes"])
    checked = fxseq("check", str(starter), "--presses", "set ring rolling @0, hold lever @1..3")
    assert "warning, decided  group 'lamp': 6 general flashes" in checked.out
    assert (
        "    decided: triggers.rolling.despite\n    even so: Flashing light can bring on seizures"
        in checked.out
    )
    assert "2 warnings, 2 notes; 2 of them decided." in checked.out


def test_tune_writes_no_decision_that_the_rate_does_not_need(fxseq, starter: Path) -> None:
    assert (
        "despite"
        not in fxseq(
            "tune", str(starter), "--to", "6", "--despite", "sound", "--write", "--no-pictures"
        ).err
    )
    assert load(starter).triggers["rolling"].despite == []


def test_tune_writes_nothing_where_no_rate_is_good(fxseq, starter: Path) -> None:
    before = starter.read_bytes()
    text = fxseq("tune", str(starter), "--from", "5", "--to", "5", "--write", "--no-pictures")
    assert (text.status, text.err) == (
        1,
        "starter.toml: there is no good rate to write. Nothing was changed.\n",
    )
    assert starter.read_bytes() == before


def test_tune_without_write_leaves_the_file_alone(fxseq, starter: Path) -> None:
    before = starter.read_bytes()
    assert (
        fxseq("tune", str(starter), "--to", "2", "--despite", "flashes", "--no-pictures").status
        == 0
    )
    assert starter.read_bytes() == before


def test_tune_without_sound_or_speaker_has_dashes(fxseq, lamp: Path) -> None:
    edit(lamp, 'mode = "once"', 'mode = "repeat", rate_per_s = 2')
    text = fxseq("tune", str(lamp), "--from", "2", "--to", "2", "--no-pictures")
    assert ["2", "-", "-", "-", "-"] in [line.split()[:5] for line in text.out.splitlines()]


# ---- emit ----


def test_emit_writes_the_table_in_each_form(fxseq, lamp: Path) -> None:
    for form in ("bin", "hex", "c"):
        text = fxseq("emit", str(lamp), "--as", form)
        assert (text.status, text.out) == (
            0,
            f"lamp.{form}: {len(Path('lamp.bin').read_bytes())} bytes of table\n",
        )
        assert (
            text.err
            == "Next: write it where the board's firmware looks for its table. Or send it with"
            " `fxseq push`.\n"
        )
    data = Path("lamp.bin").read_bytes()
    assert decode(data) == load_prop(lamp).compiled.table
    assert IntelHex("lamp.hex").tobinstr() == data
    array = Path("lamp.c").read_text()
    assert bytes(int(word, 16) for word in re.findall("0x[0-9a-f]{2}", array)) == data
    assert f"const unsigned char lamp_table[{len(data)}]" in array


@pytest.mark.parametrize(
    ("address", "value"), [("4096", 4096), ("0x0800F000", 0x0800F000), ("0", 0)]
)
def test_emit_puts_intel_hex_at_the_address(fxseq, lamp: Path, address: str, value: int) -> None:
    assert (
        fxseq("emit", str(lamp), "--as", "hex", "--address", address, "--out", "there.hex").status
        == 0
    )
    image = IntelHex("there.hex")
    assert (image.minaddr(), image.tobinstr()) == (value, load_prop(lamp).compiled.data)


def test_emit_says_where_a_table_is_too_large_for_the_board(fxseq, lamp: Path) -> None:
    edit(lamp, 'board = { part = "pico" }', "board = { channels = 1, flash_for_table_bytes = 2000 }")
    text = fxseq("emit", str(lamp))
    assert text.status == 0
    size = len(Path("lamp.bin").read_bytes())
    assert (
        text.err
        == f"Too large: the table has {size} bytes, and the board in {lamp} has room for 2000."
        " `fxseq fit` finds what fits.\n"
    )


def test_emit_reaches_the_last_address(fxseq, lamp: Path) -> None:
    size = len(load_prop(lamp).compiled.data)
    assert fxseq("emit", str(lamp), "--as", "hex", "--address", hex(2**32 - size)).status == 0
    assert IntelHex("lamp.hex").maxaddr() == 2**32 - 1
    assert fxseq("emit", str(lamp), "--as", "hex", "--address", hex(2**32 - size + 1)).status == 2


def test_emit_prints_the_bytes_alone_where_it_is_asked_to(process, lamp: Path, here: Path) -> None:
    with open("out", "wb") as out:
        text = process("emit", "lamp.toml", "-o", "-", stdout=out.fileno())
    assert text == (0, "", "")
    assert Path("out").read_bytes() == load_prop(lamp).compiled.data


@pytest.mark.parametrize(
    ("stem", "name"),
    [
        ("Storm Lamp-2", "storm_lamp_2_table"),
        ("2nd", "table_2nd"),
        ("läm.p", "l_m_p_table"),
        ("_x", "table__x"),
        ("ärger", "table__rger"),
    ],
)
def test_emit_makes_a_c_name_of_any_file_name(fxseq, lamp: Path, stem: str, name: str) -> None:
    lamp.rename(f"{stem}.toml")
    assert fxseq("emit", f"{stem}.toml", "--as", "c").status == 0
    text = Path(f"{stem}.c").read_text()
    assert (
        re.search(r"^const unsigned char (\w+)\[", text, re.MULTILINE | re.ASCII).group(1) == name
    )
    if shutil.which("gcc"):
        strict = ["-std=c99", "-pedantic", "-Wall", "-Wextra", "-Werror"]
        subprocess.run(
            ["gcc", *strict, "-c", "-x", "c", "-", "-o", "lamp.o"],
            input=text,
            text=True,
            check=True,
        )


def test_emit_in_json(fxseq, lamp: Path) -> None:
    values = only_json(fxseq("emit", str(lamp), "--json", "--as", "hex"))
    table_bytes = len(load_prop(lamp).compiled.data)
    file_bytes = Path("lamp.hex").stat().st_size
    assert values == {
        "file": "lamp.hex",
        "form": "hex",
        "table_bytes": table_bytes,
        "names_bytes": 0,
        "file_bytes": file_bytes,
    }
    assert fxseq("emit", str(lamp), "--json").err == ""


# ---- ports, schema ----


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (
            [PortInfo("/dev/ttyUSB0", "Lamp board", True), PortInfo("/dev/ttyS0", "", False)],
            "/dev/ttyUSB0  Lamp board\n/dev/ttyS0\n",
        ),
        ([], "No serial port. `fxseq board --tcp 7000` runs a virtual board to try things on.\n"),
    ],
)
def test_ports_lists_what_the_system_has(
    fxseq, monkeypatch: pytest.MonkeyPatch, found: list[PortInfo], text: str
) -> None:
    monkeypatch.setattr(link, "list_ports", lambda: found)
    assert fxseq("ports") == (0, text, "")
    assert only_json(fxseq("ports", "--json")) == [port._asdict() for port in found]


def test_ports_of_this_machine_are_listed(fxseq) -> None:
    assert isinstance(only_json(fxseq("ports", "--json")), list)


def test_schema_in_text_says_what_each_key_means(fxseq) -> None:
    text = fxseq("schema", "--text")
    assert text.status == 0
    assert (
        "\n\n[board]\n" in text.out
        and "\n  channels\n    Number of dimmable outputs, numbered from 0. Default: as many as the groups need.\n    a whole number, 1 to 255\n"
        in text.out
    )


def test_schema_is_the_one_of_sequence_files(fxseq, starter: Path) -> None:
    values = only_json(fxseq("schema"))
    jsonschema.validate(tomllib.loads(starter.read_text()), values)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(
            tomllib.loads(starter.read_text().replace('mode = "once"', 'mode = "singel"')), values
        )
