"""What is measured of a recording and of the clip made from it: numbers alone, for those who
judge them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.loop_finder import FoundLoop
from fxseq.clips.recording import Recording
from fxseq.clips.shaping import amplitude

SAMPLES_AT_RAIL = 3
"""So many samples at full scale in a row are a clipped peak. Common practice, no source."""
AUDIBLE_DBFS = -50
"""Level from which a sound counts as begun. Common practice, no source."""
FULL_SCALE = 32768


@dataclass(frozen=True)
class Conditioning:
    """What was done to a clip, where that shows only when it is done.

    trimmed_ms: cut before and behind the sound. found_loop: in samples of the recording at its own
    rate, counted from the cut. limited_db: the most by which the limiter turned down.
    """

    trimmed_ms: tuple[float, float] = (0.0, 0.0)
    found_loop: FoundLoop | None = None
    limited_db: float = 0.0


@dataclass(frozen=True, eq=False)
class Shaped:
    """What became of a recording: samples as they go into the table, how many were beyond full
    scale on the way, and what was done.

    decoded: what the table gives back, shape (n,).
    """

    samples: NDArray[np.int16]
    rate_hz: float
    loop: tuple[int, int] | None
    over: int
    conditioning: Conditioning
    decoded: NDArray[np.int16]


@dataclass(frozen=True)
class Measured:
    """Measures of a recording: claimed_ms, as its header has it, and missing_ms of that; its mean;
    its clipped peaks, and samples of the longest.

    Of the clip, in samples or 16-bit steps: over, how many were beyond full scale before they were
    rounded; peak; first and last, without their sign; seam, the step from the end of its loop to
    its start, and inside, the largest step within; silent_samples, until it is audible. Of the clip
    as the table gives it back: coded_over, how many are beyond the limit only there, and
    coded_peak.
    """

    claimed_ms: float = 0.0
    missing_ms: float = 0.0
    mean: float = 0.0
    clipped_peaks: int = 0
    longest_clipped: int = 0
    over: int = 0
    peak: int = FULL_SCALE - 1
    first: int = 0
    last: int = 0
    seam: int = 0
    inside: int = 0
    silent_samples: int = 0
    coded_over: int = 0
    coded_peak: int = 0


def measured(recording: Recording, shaped: Shaped, limit_to_dbfs: float | None) -> Measured:
    """Measure a clip. limit_to_dbfs: what its peaks are held to, None for full scale."""
    claimed = recording.first_frame + len(recording.samples) + recording.missing_frames
    ms = 1000 / recording.rate_hz
    clipped = _runs(recording.at_rail)
    before, played = (
        np.abs(samples.astype(np.int32)) for samples in (shaped.samples, shaped.decoded)
    )
    allowed = FULL_SCALE - 2
    if limit_to_dbfs:
        allowed = round(amplitude(limit_to_dbfs) * FULL_SCALE) + 1
    audible = before > FULL_SCALE * amplitude(AUDIBLE_DBFS)
    seam, inside = _seam(shaped)
    return Measured(
        claimed_ms=claimed * ms,
        missing_ms=recording.missing_frames * ms,
        mean=float(recording.samples.mean()),
        clipped_peaks=clipped.size,
        longest_clipped=int(clipped.max(initial=0)),
        over=shaped.over,
        peak=int(before.max(initial=0)),
        first=int(before[0]),
        last=int(before[-1]),
        seam=seam,
        inside=inside,
        silent_samples=int(audible.argmax()) if audible.any() else len(audible),
        coded_over=int(np.count_nonzero((played > allowed) & (before <= allowed))),
        coded_peak=int(played.max(initial=0)),
    )


def _runs(at_rail: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Lengths of the clipped peaks, in samples."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], at_rail.view(np.int8), [0]])))
    lengths = edges[1::2] - edges[::2]
    return lengths[lengths >= SAMPLES_AT_RAIL]


def _seam(shaped: Shaped) -> tuple[int, int]:
    """Step from the loop's last sample to its first, and the largest step inside; 0 without a
    loop.
    """
    if shaped.loop is None:
        return 0, 0
    turn = shaped.samples[slice(*shaped.loop)].astype(np.int32)
    return abs(int(turn[0] - turn[-1])), int(np.abs(np.diff(turn)).max())
