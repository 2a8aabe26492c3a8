"""fxseq new."""

import io
from importlib import resources
from pathlib import Path

import click
import numpy as np

from fxseq.cli.output import SEQUENCE, output_folder, remark
from fxseq.sequence import Fault, OutputError
from fxseq.sequence.edits import written
from fxseq.sequence.titles import LONGEST_TITLE, visible
from fxseq.sequence.writing import write_whole

EXAMPLE_CLIP = "example_chirp.wav"


@click.command()
@click.argument("sequence", type=SEQUENCE, metavar="FILE")
@click.option("--title", default=None, help="Name of the prop. Default: the file's name.")
def command(sequence: Path, title: str | None) -> None:
    """Write a commented prop file to start from.

    It comes with one short sound in the folder clips/, so that you can preview the prop at once.
    """
    if sequence.exists():
        raise OutputError(
            Fault(
                str(sequence), "the file exists", remedy="Nothing was changed. Choose another name."
            )
        )
    if title is not None and not 1 <= len(title) <= LONGEST_TITLE:
        raise click.UsageError(
            f"--title has {len(title)} characters; allowed: 1 to {LONGEST_TITLE}."
        )
    words = title or sequence.stem.replace("_", " ").replace("-", " ").capitalize()[:LONGEST_TITLE]
    words = visible(words)
    text = resources.files("fxseq.cli").joinpath("starter.toml").read_text(encoding="utf-8")
    clip = output_folder(sequence.parent / "clips", "Choose another name.") / EXAMPLE_CLIP
    if not clip.exists():
        write_whole(clip, _example_clip())
    write_whole(
        sequence,
        text.replace('"@TITLE@"', written(words)).encode(errors="replace"),
    )
    click.echo(f"{sequence} and {clip}")
    remark(f"Next: fxseq preview {sequence}")


def _example_clip() -> bytes:
    """A falling chirp of 0.3 s, as WAV."""
    import soundfile

    rate_hz = 22050
    time_s = np.arange(int(0.3 * rate_hz)) / rate_hz
    chirp = np.sin(2 * np.pi * (2600 * time_s - 3000 * time_s**2)) * np.exp(-time_s / 0.08) * 0.8
    chirp *= np.minimum(1, np.minimum(time_s, time_s[::-1]) / 0.004)
    buffer = io.BytesIO()
    soundfile.write(buffer, chirp, rate_hz, format="WAV", subtype="PCM_16")
    return buffer.getvalue()
