"""What a fitted prop loses, measured from its file alone: both runs through the amplifier, speaker and weighting of `acoustics` in time."""
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import output_voltage_v, pressure_pa, weighted_pa
from fxseq.runs import load_prop, perform
from fxseq.sequence import Document, load

_NO_RAIL_V = 1000.0
"""No amplifier clips at it."""


def written(file: Path, fitted: dict[str, dict[str, object] | None], name: str) -> Path:
    """A copy of a prop file beside it with these `fitted` of its clips."""
    document = Document.read(file)
    for clip, values in fitted.items():
        if values is None:
            document.remove(("clips", clip, "fitted"))
        else:
            document.set(("clips", clip, "fitted"), values)
    document.write(file.with_name(name))
    return file.with_name(name)


def measured_db(file: Path, fitted: Path) -> float:
    """How far the difference is below the sound: the fitted file's run against that of the file with each clip uncut, in 16 bits, at the board's rate."""
    sequence = load(file)
    plain = {"rate_hz": sequence.board.sample_rate_hz, "coding": "pcm16"}
    whole = load_prop(written(file, dict.fromkeys(sequence.clips, plain), f"{fitted.stem}_whole.toml"))
    script = whole.script()[1]
    samples = [perform(prop, prop.script(script)[0]).played.samples.astype(np.float64) for prop in (whole, load_prop(fitted))]
    heard, lost = (_energy(file, each) for each in (samples[0], samples[0] - samples[1]))
    return float(10 * np.log10(heard / lost))


def _energy(file: Path, samples: NDArray[np.float64]) -> float:
    sequence = load(file)
    rate_hz, padded = sequence.board.sample_rate_hz, np.pad(samples, (0, sequence.board.sample_rate_hz))
    if sequence.amplifier is None or sequence.speaker is None:
        pressure = padded
    else:
        volts = output_voltage_v(padded, sequence.amplifier, _NO_RAIL_V)[0]
        pressure = pressure_pa(volts, rate_hz, sequence.speaker, sequence.listening.hand_m)
    return float(np.sum(np.square(weighted_pa(pressure, rate_hz, "A").astype(np.float64))))
