"""fxseq clips."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.for_speaker import show
from fxseq.cli.output import (
    finding_head,
    json_option,
    known_clips,
    output_folder,
    pictures_option,
    result,
    sequence_argument,
    supply_option,
    table_text,
    theme_option,
    writable_folder,
)

if TYPE_CHECKING:
    from fxseq.runs import Conditioned
    from fxseq.sequence import Finding


@click.command()
@sequence_argument
@click.argument("names", metavar="[CLIP]...", nargs=-1)
@click.option(
    "--for-speaker",
    is_flag=True,
    help=(
        "Find the high-pass, gain and limiter that make each clip as loud as the speaker can"
        " play it."
    ),
)
@click.option("--write", is_flag=True, help="Write these three settings into the prop file.")
@supply_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help=(
        "Folder for figures and sounds. Default: NAME_clips or NAME_for_speaker in the current"
        " folder."
    ),
)
@pictures_option
@theme_option
@json_option
def command(
    sequence: Path,
    names: tuple[str, ...],
    for_speaker: bool,
    write: bool,
    supply: str | None,
    out: Path | None,
    pictures: bool,
    theme: str,
    as_json: bool,
) -> None:
    """Prepare the clips and show each before and after: waveform, spectrum, numbers and sounds.

    Before is the recording as read and cut. After is what the board plays, a loop three times. For
    every clip, or for those that you name, it writes CLIP.png, CLIP_before.wav and CLIP_after.wav.

    With --for-speaker, before is the clip as it is now. After is as loud as amplifier and speaker
    can play it alone without clipping, excessive cone travel or too much power. the-speaker.png
    shows the speaker alone, tone by tone. Loud sound harms ears: `fxseq check` says how long it may
    be heard.
    """
    from fxseq.checks import clip_findings
    from fxseq.runs import condition_clips
    from fxseq.sequence import load

    if write and not for_speaker:
        raise click.UsageError("--write needs --for-speaker.")
    if supply is not None and not for_speaker:
        raise click.UsageError("--supply needs --for-speaker.")
    kind = "for_speaker" if for_speaker else "clips"
    folder = writable_folder(out or Path(f"{sequence.stem}_{kind}"))
    prop = load(sequence)
    chosen = known_clips(names, list(prop.clips))
    theme_drawn = theme if pictures else None
    if for_speaker:
        show(sequence, prop, chosen, supply, write, folder, theme_drawn, as_json)
        return
    clips = condition_clips(chosen, prop, sequence.parent)
    found = clip_findings(prop, {name: clip.prepared for name, clip in clips.items()})
    output_folder(folder)
    for name, clip in clips.items():
        _write(folder, name, clip, prop.speaker, theme_drawn)
    values = {
        name: {**clip.as_dict(), "findings": [each.as_dict() for each in found[name]]}
        for name, clip in clips.items()
    }
    result(_text(clips, found, folder, pictures), {"clips": values, "folder": str(folder)}, as_json)


def _write(folder: Path, name: str, clip: "Conditioned", speaker: Any, theme: str | None) -> None:
    """theme: of the figure; None for no figure."""
    from fxseq.cli.sound import write_wav
    from fxseq.clips.shaping import quantised

    if theme:
        from fxseq.plots import clip_figure, save

        save(clip_figure(clip, speaker, theme), folder / f"{name}.png")
    write_wav(folder / f"{name}_before.wav", quantised(clip.before.samples)[0], clip.before.rate_hz)
    write_wav(folder / f"{name}_after.wav", quantised(clip.played)[0], clip.board_rate_hz)


def _text(
    clips: dict[str, "Conditioned"], found: "dict[str, list[Finding]]", folder: Path, pictures: bool
) -> str:
    head = ["clip", "", "ms", "Hz", "peak dBFS", "RMS dBFS", "loudest dBFS", "coding", "bytes"]
    rows = [row for name, clip in clips.items() for row in _rows(name, clip)]
    heads = [finding_head(finding) for each in found.values() for finding in each]
    done = [f"{name}: {'; '.join(clip.text)}." for name, clip in clips.items() if clip.text]
    notes = [
        (
            "Loudest: the loudest 125 ms, weighted by speaker and ear; a tone of 1 kHz counts as"
            " it is."
        ),
        *done,
        *heads,
    ]
    return "\n".join(
        [
            table_text(head, rows),
            "",
            *notes,
            (
                f"{'Figure, before.wav' if pictures else 'Before.wav'} and after.wav of each clip:"
                f" {folder}"
            ),
        ]
    )


def _rows(name: str, clip: "Conditioned") -> list[list[str]]:
    def row(values: dict[str, Any]) -> list[str]:
        levels = (values[f"{key}_dbfs"] for key in ("peak", "rms", "loudest"))
        return [
            f"{values['duration_ms']:.0f}",
            str(values["rate_hz"]),
            *("silence" if level is None else f"{level:.1f}" for level in levels),
        ]

    return [
        [name, "before", *row(clip.before.as_dict()), "", ""],
        [
            "",
            "after",
            *row(clip.after.as_dict()),
            clip.prepared.coding,
            str(len(clip.prepared.data)),
        ],
    ]
