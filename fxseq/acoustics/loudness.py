"""Programme loudness: K-weighting, momentary, short-term and gated integrated loudness.

Source: Recommendation ITU-R BS.1770-5 (11/2023), Annex 1, and EBU Tech 3341 (2023), both read in
full. Loudness of silence is -inf.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics.decibels import power_db
from fxseq.acoustics.response import Response, apply_responses, settling_time_s

CHANNEL_WEIGHTS = (1.0, 1.0, 1.0, 1.41, 1.41)
"""Left, right, centre, left surround, right surround (BS.1770-5 Table 3); the low-frequency
channel is left out of the signal.
"""

_DESIGN_RATE_HZ = 48_000
_OFFSET_DB = -0.691
_ABSOLUTE_GATE_LUFS = -70.0
_RELATIVE_GATE_LU = -10.0
_HOPS_PER_S = 100
_MOMENTARY_HOPS = 40
_SHORT_TERM_HOPS = 300
_GATING_STEP_HOPS = 10

# The analogue form that gives the tables of BS.1770-5 back to 1e-15 at 48 kHz (as published in the
# source of the libebur128 library).
_SHELF_HZ = 1681.974450955533
_SHELF_DB = 3.999843853973347
_SHELF_Q = 0.7071752369554196
_SHELF_MID_POWER = 0.4996667741545416
_HIGH_PASS_HZ = 38.13547087602444
_HIGH_PASS_Q = 0.5003270373238773
_SETTLING_S = settling_time_s(math.pi * _HIGH_PASS_HZ / _HIGH_PASS_Q)

Section = tuple[NDArray[np.float64], NDArray[np.float64]]


def k_weighting_sections(rate_hz: float) -> tuple[Section, Section]:
    """Coefficients (b, a), three each, of the shelf and of the high-pass at a sample rate."""
    k = math.tan(math.pi * _SHELF_HZ / rate_hz)
    high = 10 ** (_SHELF_DB / 20)
    mid = high**_SHELF_MID_POWER
    a0 = 1 + k / _SHELF_Q + k * k
    cross = mid * k / _SHELF_Q
    shelf_b = np.array([high + cross + k * k, 2 * (k * k - high), high - cross + k * k]) / a0
    shelf_a = np.array([a0, 2 * (k * k - 1), 1 - k / _SHELF_Q + k * k]) / a0
    k = math.tan(math.pi * _HIGH_PASS_HZ / rate_hz)
    a0 = 1 + k / _HIGH_PASS_Q + k * k
    high_pass_a = np.array([a0, 2 * (k * k - 1), 1 - k / _HIGH_PASS_Q + k * k]) / a0
    return (shelf_b, shelf_a), (np.array([1.0, -2.0, 1.0]), high_pass_a)


@lru_cache(maxsize=8)
def k_weighting_response(rate_hz: float) -> Response:
    """Transfer function of the K-weighting for a signal of any sample rate.

    Below 48 kHz it is the very response of the 48 kHz filters, with no error of a design at the
    lower rate (0.5 dB at 8 kHz).
    """
    design_hz = max(rate_hz, _DESIGN_RATE_HZ)
    sections = k_weighting_sections(design_hz)

    def response(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        delay = np.exp(-2j * np.pi * frequencies_hz / design_hz)
        gain = np.ones_like(delay)
        for b, a in sections:
            gain *= (b[0] + delay * (b[1] + delay * b[2])) / (a[0] + delay * (a[1] + delay * a[2]))
        return gain

    return response


@dataclass(frozen=True)
class Loudness:
    """Loudness of a signal. [LUFS]

    momentary: windows of 0.4 s wholly inside the signal, every 10 ms; shape (m,), empty for a
    signal shorter than 0.4 s. short_term: windows of 3 s wholly inside the signal, every 10 ms;
    shape (s,). integrated: gated, -inf where nothing passes the gate or the signal is shorter than
    0.4 s. padded_momentary_max: largest momentary loudness where the signal counts as followed by
    silence, so that sounds shorter than 0.4 s have a figure too: a steady tone of T < 0.4 s reads
    10 lg(T / 0.4 s) lower than a long one. BS.1770 gives no figure for these; this is ours.
    """

    momentary: NDArray[np.float64]
    short_term: NDArray[np.float64]
    integrated: float
    padded_momentary_max: float


def _hop_energies(
    signal: NDArray[np.floating], rate_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """K-weighted, channel-weighted sums of squares over hops of 10 ms of a signal (n, channels),
    and the edges of the hops in samples.
    """
    edges = np.round(
        np.arange(signal.shape[0] * _HOPS_PER_S // rate_hz + 1) * rate_hz / _HOPS_PER_S
    ).astype(np.int64)
    energies = np.zeros(edges.size - 1)
    response = k_weighting_response(rate_hz)
    for channel, weight in zip(signal.T, CHANNEL_WEIGHTS, strict=False):
        weighted = apply_responses(channel, rate_hz, [response], _SETTLING_S)[0]
        if energies.size:
            energies += weight * np.add.reduceat(np.square(weighted[: edges[-1]]), edges[:-1])
    return energies, edges


def _window_means(
    energies: NDArray[np.float64], edges: NDArray[np.int64], hops: int
) -> NDArray[np.float64]:
    """Mean squares of every window of `hops` hops that fits, hop by hop."""
    if energies.size < hops:
        return np.zeros(0)
    total = np.lib.stride_tricks.sliding_window_view(energies, hops).sum(axis=1)
    return total / (edges[hops:] - edges[:-hops])


def loudness_from_mean_square(mean_square: ArrayLike) -> NDArray[np.float64]:
    """-0.691 + 10 lg of a K- and channel-weighted mean square, element by element. [LUFS]"""
    return power_db(mean_square) + _OFFSET_DB


def gated_loudness(blocks: NDArray[np.float64]) -> float:
    """Integrated loudness of mean squares of 0.4 s blocks, three quarters overlapping, shape
    (b,). [LUFS]
    """
    blocks = blocks[loudness_from_mean_square(blocks) > _ABSOLUTE_GATE_LUFS]
    if not blocks.size:
        return -math.inf
    gate = loudness_from_mean_square(blocks.mean()) + _RELATIVE_GATE_LU
    return float(loudness_from_mean_square(blocks[loudness_from_mean_square(blocks) > gate].mean()))


def loudness_range(short_term: NDArray[np.float64]) -> float:
    """Spread of the short-term loudness over time, from its 10th to its 95th percentile; 0 for less
    than 3 s or for silence. [LU]

    short_term: of `Loudness`, shape (s,). Gated at -70 LUFS, and 20 LU below the mean of what is
    left. Source: EBU Tech 3342 (2023), read; Table 1 of it is the test.
    """
    squares = 10 ** ((short_term[short_term > _ABSOLUTE_GATE_LUFS] - _OFFSET_DB) / 10)
    if not squares.size:
        return 0.0
    heard = loudness_from_mean_square(squares[squares > squares.mean() / 100])
    low, high = np.percentile(heard, [10, 95])
    return float(high - low)


def loudness(signal: NDArray[np.floating], rate_hz: float) -> Loudness:
    """Loudness of a signal with full scale 1.

    signal: shape (n,) for one channel, or (n, channels) in the order of CHANNEL_WEIGHTS. rate_hz:
    100 or more. A board's output counts as one channel: a full-scale 997 Hz sine reads -3.01 LUFS.
    """
    columns = signal if signal.ndim == 2 else signal[:, np.newaxis]
    # Silence for one window and the rest of a hop, so that the last sample lies in a window that
    # begins with the sound.
    silence = np.zeros(
        (math.ceil(rate_hz * (_MOMENTARY_HOPS + 1) / _HOPS_PER_S), columns.shape[1]),
        dtype=columns.dtype,
    )
    energies, edges = _hop_energies(np.concatenate([columns, silence]), rate_hz)
    padded = _window_means(energies, edges, _MOMENTARY_HOPS)
    inside = int(np.searchsorted(edges, columns.shape[0], side="right")) - 1
    momentary = padded[: max(inside - _MOMENTARY_HOPS + 1, 0)]
    short_term = _window_means(energies[:inside], edges[: inside + 1], _SHORT_TERM_HOPS)
    return Loudness(
        momentary=loudness_from_mean_square(momentary),
        short_term=loudness_from_mean_square(short_term),
        integrated=gated_loudness(momentary[::_GATING_STEP_HOPS]),
        padded_momentary_max=float(loudness_from_mean_square(padded.max(initial=0.0))),
    )
