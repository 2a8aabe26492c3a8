"""fxseq fit."""
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import (
    WholeNumber, json_option, load_prop, output_folder, press_text, presses_option, remark, result, sequence_argument, table_text, theme_option,
    writable_folder,
)

if TYPE_CHECKING:
    from fxseq.checks import Performance
    from fxseq.fit import Candidate, Fit


@click.command()
@sequence_argument
@click.option("--table-bytes", type=WholeNumber(256), help="Memory for the table. Default: the board's flash_for_table_bytes. [bytes]")
@click.option("--coding", "codings", multiple=True, type=click.Choice(["pcm16", "mulaw", "ima_adpcm", "qoa"]),
              help="Coding that may be used; give it again for another. Default: all that the board can play.")
@presses_option
@click.option("--write", is_flag=True, help="Write the settings into the prop file.")
@click.option("--out", type=click.Path(file_okay=False, path_type=Path),
              help="Folder for figure and sounds. Default: NAME_fit in the current folder.")
@theme_option
@json_option
def command(sequence: Path, table_bytes: int | None, codings: tuple[str, ...], presses: str | None, write: bool, out: Path | None, theme: str,
            as_json: bool) -> None:
    """Make the table fit: choose cut, rate and coding of every clip so that least is lost.

    It tries every clip at several rates, codings and cuts. It measures what each loses through amplifier and speaker, A-weighted, and weighs
    that by how loud and how often the press script plays the clip. Then it picks the combination that loses least. It writes a figure, and
    before.wav and after.wav of each clip.
    """
    from fxseq.checks import perform
    from fxseq.cli.sound import write_wav
    from fxseq.plots import fit_figure, save

    folder = writable_folder(out or Path(f"{sequence.stem}_fit"))
    prop = load_prop(sequence)
    room = table_bytes or prop.sequence.board.flash_for_table_bytes
    performance = perform(prop, prop.script(press_text(presses))[0])
    fitted, picked = _picked(performance, codings or tuple(prop.sequence.board.codings), room)
    output_folder(folder)
    save(fit_figure(fitted, picked, room, theme), folder / "figure.png")
    for name in picked:
        before, after = fitted.heard_at_board(picked[name])
        write_wav(folder / f"{name}_before.wav", before, performance.rate_hz)
        write_wav(folder / f"{name}_after.wav", after, performance.rate_hz)
    result(_text(fitted, picked, room, folder), {**fitted.as_dict(picked), "room_bytes": room, "folder": str(folder)}, as_json)
    if write:
        _write(sequence, fitted, picked)


def _picked(performance: "Performance", codings: tuple[str, ...], room: int) -> tuple["Fit", dict[str, "Candidate"]]:
    """The best that fits; where the table comes out a little larger than foreseen, with so much less room."""
    from fxseq.fit import NothingFits, fit

    total = len(performance.prop.clips)
    names = iter(range(1, total + 1))
    fitted = fit(performance, codings, lambda name: remark(f"{next(names)} of {total}: {name}"))
    left = room
    try:
        while (over := fitted.compiled_bytes(picked := fitted.best(left)) - room) > 0:
            left -= over
    except NothingFits as error:
        raise _nothing_fits(fitted, room, error.missing) from None
    return fitted, picked


def _nothing_fits(fitted: "Fit", room: int, missing: int) -> Exception:
    from fxseq.sequence import Fault, FxError

    ways = [f"without '{name}' {size} fewer ({share:.1%} of what is heard)" for name, size, share in fitted.savings()[:3]]
    remedy = f"Shorten or leave out clips: {'; '.join(ways)}. Or choose a board with more flash."
    return FxError(Fault(str(fitted.prop.path), f"even the smallest table is {missing} bytes too large", f"{room} bytes", remedy))


def _text(fitted: "Fit", picked: Mapping[str, "Candidate"], room: int, folder: Path) -> str:
    head = ["clip", "rate Hz", "coding", "ends ms", "bytes", "plays", "loss dB below sound"]
    rows = [
        [name, str(each.rate_hz), each.coding, "-" if each.end_ms is None else f"{each.end_ms:g}", str(each.bytes), f"{fitted.weights[name]:.1f}",
         f"{fitted.clip_below_sound_db(each):.1f}" if each.lost else "none"]
        for name, each in picked.items()
    ]
    unit = "dB(A) at the hand" if fitted.ear.in_air else "dB of full scale, A-weighted"
    loss = f"What is lost is {fitted.below_sound_db(picked):.1f} dB below the sound: {fitted.level_db(picked):.0f} {unit}."
    lines = [
        table_text(head, rows), "",
        f"Table: {fitted.bytes_of(picked)} of {room} bytes. {loss if fitted.lost(picked) else 'Nothing is lost.'}",
    ]
    if fitted.unplayed:
        lines.append(f"Not in the press script, counted as one play each: {', '.join(fitted.unplayed)}.")
    return "\n".join([*lines, f"Figure, and each clip before and after: {folder}"])


def _write(sequence: Path, fitted: "Fit", picked: Mapping[str, "Candidate"]) -> None:
    from fxseq.fit import settings_of
    from fxseq.sequence import Document

    document, board = Document.read(sequence), fitted.prop.sequence.board
    for name, each in picked.items():
        changes = settings_of(fitted.prop.sequence.clips[name], each, board)
        for key, value in changes.items():
            document.set(("clips", name, key), value)
        if changes:
            remark(f"{sequence}: clips.{name}: " + ", ".join(f"{key} = {value}" for key, value in changes.items()))
    document.write()
