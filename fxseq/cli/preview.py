"""fxseq preview."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.output import (
    finding_head,
    json_option,
    known_clips,
    load_prop,
    output_folder,
    pictures_option,
    press_text,
    presses_option,
    remark,
    result,
    sequence_argument,
    supply_option,
    theme_option,
    writable_folder,
)
from fxseq.sequence.quantities import fixed

if TYPE_CHECKING:
    from fxseq.runs import Performance
    from fxseq.sequence import Finding


@click.command()
@sequence_argument
@presses_option
@supply_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the results. Default: NAME_preview in the current folder.",
)
@click.option(
    "--clip",
    "clips",
    metavar="NAME",
    multiple=True,
    help="Play only this clip; give it again for another.",
)
@pictures_option
@click.option(
    "--play", "aloud", is_flag=True, help="Play the result on this computer's sound card."
)
@theme_option
@json_option
def command(
    sequence: Path,
    presses: str | None,
    supply: str | None,
    out: Path | None,
    clips: tuple[str, ...],
    pictures: bool,
    aloud: bool,
    theme: str,
    as_json: bool,
) -> None:
    """Press the trigger on the laptop: sound, light, current and level of a press script.

    It writes board.wav (what the board puts out), heard.wav (what is heard through amplifier and
    speaker), figure.png and lights.gif, and prints a summary.
    """
    from fxseq.checks import findings, loud_in_words
    from fxseq.runs import in_numbers, perform

    folder = writable_folder(out or Path(f"{sequence.stem}_preview"))
    prop = load_prop(sequence)
    if clips:
        prop = prop.with_clips(known_clips(clips, list(prop.clips)))
    script, text = prop.script(press_text(presses, prop.sequence))
    performance = perform(prop, script, supply)
    files = _write(performance, output_folder(folder), theme if pictures else None)
    found = findings(performance)
    places = {kind: str(folder / name) for kind, name in files.items()}
    words = loud_in_words(performance.heard.levels)
    values = {
        **in_numbers(performance),
        "loud_in_words": words,
        "presses_script": text,
        "files": places,
        "findings": [finding.as_dict() for finding in found],
    }
    summary = _summary(performance, text, f"{', '.join(files.values())} in {folder}", found)
    if clips:
        summary += f"\nOnly {' and '.join(clips)} sounded."
    result(summary, values, as_json)
    if aloud:
        from fxseq.cli.sound import play

        remark("Playing.")
        play(folder / files.get("heard", files["board"]))


def _write(performance: "Performance", folder: Path, theme: str | None) -> dict[str, str]:
    """theme: of the pictures; None for no pictures."""
    from fxseq.runs import board_wav, heard_wav
    from fxseq.sequence import write_whole

    files = {"board": "board.wav"}
    write_whole(folder / files["board"], board_wav(performance))
    heard = heard_wav(performance)
    if theme:
        files |= _draw(performance, folder, theme)
    if heard is not None:
        files["heard"] = "heard.wav"
        write_whole(folder / files["heard"], heard)
    return files


def _draw(performance: "Performance", folder: Path, theme: str) -> dict[str, str]:
    from fxseq.plots import animation, preview_figure, save

    save(preview_figure(performance, theme), folder / "figure.png")
    if not performance.prop.sequence.groups:
        return {"figure": "figure.png"}
    animation(performance, folder / "lights.gif", theme)
    return {"figure": "figure.png", "animation": "lights.gif"}


def _summary(performance: "Performance", script: str, files: str, found: list["Finding"]) -> str:
    from fxseq.runs import in_numbers

    values = in_numbers(performance)
    current = values["current"]
    table = values["table"]
    source = ""
    if values["supply"]:
        source = f", from '{values['supply']}'"
    rows = [
        ("shots", _shots(values)),
        ("clips", _clips(values)),
        (
            "voices",
            (
                f"at most {values['voices']['at_most']} of {values['voices']['available']} at once,"
                f" {values['voices']['cut']} cut short"
            ),
        ),
        ("delay", _delay(values)),
        *_loud(performance),
        *_levels(values),
        ("clipping", _clipping(values, performance)),
        (
            "current",
            f"{current['mean_ma']:.0f} mA on average, {current['peak_ma']:.0f} mA peak" + source,
        ),
        *_run_time(performance),
        ("flashes", f"at most {_flashes(values):g} in a second"),
        (
            "table",
            (
                f"{table['bytes']} bytes, {table['clip_bytes']} of them clips; the board has room"
                f" for {table['flash_bytes']}"
            ),
        ),
        ("files", files),
    ]
    lines = [
        f"{values['title']}, {values['duration_s']:.1f} s: {script}",
        "",
        *(f"  {name:<9} {text}" for name, text in rows),
    ]
    return "\n".join([*lines, *_heavy(found, performance)])


def _run_time(performance: "Performance") -> list[tuple[str, str]]:
    """How long cells last, or what is missing to know it."""
    from fxseq.checks import run_time_text

    if performance.run_time:
        return [("run time", run_time_text(performance.run_time))]
    runs_on_cells = performance.supply is not None and performance.supply[1].kind == "cells"
    if not runs_on_cells:
        return []
    return [("run time", "not known: the file has no day of use ([day])")]


def _heavy(found: list["Finding"], performance: "Performance") -> list[str]:
    """A line for each fault and warning, and where to read the rest."""
    from fxseq.sequence import Weight

    heavy = [finding for finding in found if finding.weight > Weight.NOTE]
    if not heavy:
        return []
    return [
        "",
        *(finding_head(finding) for finding in heavy),
        f"Limits, sources and remedies: fxseq check {performance.prop.path}",
    ]


def _shots(values: dict[str, Any]) -> str:
    return (
        ", ".join(f"{count} of {name}" for name, count in values["shots"].items() if count)
        or "none"
    )


def _clips(values: dict[str, Any]) -> str:
    played = ", ".join(f"{count} of {name}" for name, count in values["clips"].items() if count)
    if not played:
        return "none played"
    return f"{values['sounds']} sounds: {played}"


def _delay(values: dict[str, Any]) -> str:
    delay = values["trigger_to_sound_ms"]
    if delay is None:
        return "no press makes a sound at once"
    return f"at most {delay:.1f} ms from trigger to sound (one frame and the clip's own lead-in)"


def _loud(performance: "Performance") -> list[tuple[str, str]]:
    """Before any figure, what it is like for ears."""
    from fxseq.checks import EVERYDAY_SOURCE, loud_in_words

    words = loud_in_words(performance.heard.levels)
    lines = [
        f"{place}: at its loudest {told['like']}; {told['harmless']}"
        for place, told in words.items()
    ]
    if not lines:
        return []
    return list(zip(["loud", "", ""], [*lines, f"({EVERYDAY_SOURCE})"], strict=False))


def _levels(values: dict[str, Any]) -> list[tuple[str, str]]:
    levels = values["levels"]
    if levels is None:
        return [("level", "not known: amplifier, speaker or supply is not described")]
    places = [
        (
            "level" if index == 0 else "",
            (
                f"{_place(place)} at {place['distance_m']:g} m ({name}),"
                f" ±{levels['uncertainty_db']:.0f} dB"
            ),
        )
        for index, (name, place) in enumerate(levels["at"].items())
    ]
    return [*places, ("loudness", _loudness(levels))]


def _place(place: dict[str, Any]) -> str:
    if place["lafmax_db"] is None:
        return "silence"
    loudest = ", ".join(
        f"{name} {fixed(place[key])}"
        for name, key in (("LAFmax", "lafmax_db"), ("LASmax", "lasmax_db"), ("LAeq", "laeq_db"))
    )
    return f"{loudest} dB(A), LCpeak {fixed(place['lcpeak_db'])} dB(C)"


def _loudness(levels: dict[str, Any]) -> str:
    """Tell the loudness of the board's signal, whatever speaker plays it."""
    if levels["true_peak_dbtp"] is None:
        return "silence"
    keys = (("momentary", "momentary_max_lufs"), ("short-term", "short_term_max_lufs"))
    most = ", ".join(
        f"{fixed(levels[key], 1)} LUFS {span}" for span, key in keys if levels[key] is not None
    )
    whole = []
    if levels["integrated_lufs"] is not None:
        whole = [f"{fixed(levels['integrated_lufs'], 1)} LUFS integrated"]
    spread = []
    if levels["short_term_max_lufs"] is not None:
        spread = [f"range {fixed(levels['loudness_range_lu'], 1)} LU"]
    return "; ".join(
        [
            *whole,
            f"at most {most}",
            *spread,
            f"true peak {fixed(levels['true_peak_dbtp'], 1)} dBTP, of the board's signal",
        ]
    )


def _clipping(values: dict[str, Any], performance: "Performance") -> str:
    mixed = (
        f"{values['saturated_samples'] / max(len(performance.played.samples), 1):.2%} of the"
        " samples on the board"
    )
    if values["levels"] is None:
        return mixed
    return f"{mixed}, {values['levels']['clipped_share']:.2%} in the amplifier"


def _flashes(values: dict[str, Any]) -> float:
    lights = [values["flashes"]["together"], *values["flashes"]["alone"].values()]
    return max(
        max(light["general"]["flashes_per_s"], light["red"]["flashes_per_s"]) for light in lights
    )
