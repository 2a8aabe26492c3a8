"""fxseq fit."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import (
    ProgressLine,
    WholeNumber,
    json_option,
    output_folder,
    press_text,
    presses_option,
    remark,
    result,
    sequence_argument,
    table_text,
    theme_option,
    writable_folder,
)

if TYPE_CHECKING:
    from fxseq.advice import Candidate, Fit, Outcome
    from fxseq.sequence import model as m


@click.command()
@sequence_argument
@click.option(
    "--table-bytes",
    type=WholeNumber(256),
    help="Memory for the table. Default: the board's flash_for_table_bytes. [bytes]",
)
@click.option(
    "--coding",
    "codings",
    multiple=True,
    type=click.Choice(["pcm16", "mulaw", "ima_adpcm", "qoa", "lpc_rice"]),
    help=(
        "Coding that may be used; give it again for another. Default: all that the board can play."
    ),
)
@presses_option
@click.option(
    "--write",
    is_flag=True,
    help=(
        "Write the choice into the prop file, as `fitted` of each clip, in place of an earlier one."
    ),
)
@click.option(
    "--undo",
    is_flag=True,
    help="Take `fitted` out of every clip of the prop file, and do nothing else.",
)
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for figure and sounds. Default: NAME_fit in the current folder.",
)
@theme_option
@json_option
def command(
    sequence: Path,
    table_bytes: int | None,
    codings: tuple[str, ...],
    presses: str | None,
    write: bool,
    undo: bool,
    out: Path | None,
    theme: str,
    as_json: bool,
) -> None:
    """Make the table fit: choose cut, rate and coding of every clip so that least is lost.

    It makes every clip ready at several rates, codings and cuts. It works out how loud the loss of
    each is to an ear, through amplifier and speaker, as the press script plays it, and picks the
    combination with the softest loss that the board keeps up with. What the sound itself hides does
    not count. Then it plays that combination and says what is lost in all. It writes a figure, and
    before.wav and after.wav of each clip.

    An earlier choice does not count: every run starts from the clips as you meant them.
    """
    from fxseq.sequence import load

    if undo:
        _undo(sequence)
        return
    folder = writable_folder(out or Path(f"{sequence.stem}_fit"))
    read = load(sequence)
    room = table_bytes or read.board.flash_for_table_bytes
    fitted, picked, outcome = _picked(
        sequence, read, codings or tuple(read.board.codings), presses, room
    )
    output_folder(folder)
    _write_results(fitted, picked, outcome, room, folder, theme)
    values = {**fitted.as_dict(picked, outcome), "room_bytes": room, "folder": str(folder)}
    result(_text(fitted, picked, outcome, room, folder), values, as_json)
    if write:
        _write(sequence, fitted, picked)


def _picked(
    path: Path, sequence: "m.Sequence", codings: tuple[str, ...], presses: str | None, room: int
) -> tuple["Fit", dict[str, "Candidate"], "Outcome"]:
    from fxseq.advice import as_meant, best_that_fits, fit
    from fxseq.runs import perform

    prop = as_meant(path, sequence)
    fitted = fit(
        perform(prop, prop.script(press_text(presses, prop.sequence))[0]),
        codings,
        _Told(len(prop.clips)),
    )
    return fitted, *best_that_fits(fitted, room)


class _Told:
    """Says on stderr which clip is being tried, and how far it is."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._clip = ""
        self._number = 0
        self._line = ProgressLine()

    def __call__(self, clip: str, done: int, total: int) -> None:
        if clip != self._clip:
            self._clip = clip
            self._number = self._number + 1
            remark(f"{self._number} of {self._total}: {clip}")
            self._line.finish()
        self._line.show_clip(clip, done, total)
        if done == total:
            self._line.finish()


def _write_results(
    fitted: "Fit",
    picked: Mapping[str, "Candidate"],
    outcome: "Outcome",
    room: int,
    folder: Path,
    theme: str,
) -> None:
    from fxseq.cli.sound import write_wav
    from fxseq.plots import fit_figure, save

    save(fit_figure(fitted, picked, outcome, room, theme), folder / "figure.png")
    for name, each in picked.items():
        before, after = fitted.heard_at_board(each)
        write_wav(folder / f"{name}_before.wav", before, fitted.reference.rate_hz)
        write_wav(folder / f"{name}_after.wav", after, fitted.reference.rate_hz)


def _text(
    fitted: "Fit", picked: Mapping[str, "Candidate"], outcome: "Outcome", room: int, folder: Path
) -> str:
    from fxseq.advice import FULL_SCALE_DB

    head = ["clip", "rate Hz", "coding", "ends ms", "bytes", "plays", "loss: dB softer"]
    rows = [
        [
            name,
            str(each.rate_hz),
            each.coding,
            "-" if each.end_ms is None else f"{each.end_ms:g}",
            str(each.bytes),
            str(fitted.plays[name]),
            _softer(fitted.clip_below_sound_db(each)),
        ]
        for name, each in picked.items()
    ]
    softer_db = outcome.below_sound_db
    if math.isinf(softer_db):
        loss = "No loss is heard."
    else:
        loss = f"What is lost sounds {softer_db:.1f} dB softer than the sound."
    lines = [
        table_text(head, rows),
        "",
        f"Table: {outcome.table_bytes} of {room} bytes. {loss}",
        (
            "Loss: how much softer it sounds than the clip, to the ear of who holds the prop. 10 dB"
            " softer is half as loud."
        ),
    ]
    if not fitted.ear.in_air:
        lines.append(
            "Without amplifier and speaker in the file, full scale is taken to be"
            f" {FULL_SCALE_DB:g} dB at the ear."
        )
    if fitted.unplayed:
        lines.append(
            "Not in the press script, so judged by one play at full gain each:"
            f" {', '.join(fitted.unplayed)}."
        )
    return "\n".join([*lines, f"Figure, and each clip before and after: {folder}"])


def _softer(below_db: float) -> str:
    if math.isinf(below_db):
        return "none"
    return f"{below_db:.1f}"


def _write(sequence: Path, fitted: "Fit", picked: Mapping[str, "Candidate"]) -> None:
    """What stands in the file as chosen stays; what was fitted otherwise before, or needs not
    be, goes.
    """
    from fxseq.sequence import Document

    document = Document.read(sequence)
    for name, each in picked.items():
        settings = fitted.settings(each)
        if settings is None:
            document.remove(("clips", name, "fitted"))
            continue
        values = settings.model_dump(exclude_defaults=True)
        document.set(("clips", name, "fitted"), values)
        remark(
            f"{sequence}: clips.{name}.fitted: "
            + ", ".join(f"{key} = {value}" for key, value in values.items())
        )
    document.write()


def _undo(sequence: Path) -> None:
    from fxseq.sequence import Document

    document = Document.read(sequence)
    names = [name for name, clip in document.sequence.clips.items() if clip.fitted]
    for name in names:
        document.remove(("clips", name, "fitted"))
    document.write()
    if names:
        remark(f"{sequence}: taken back: {', '.join(names)}")
    else:
        remark(f"{sequence}: nothing was fitted.")
