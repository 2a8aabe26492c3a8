"""Finds where a sound can go round without a seam being heard, and joins the ends."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fxseq.clips.shaping import Samples

SHORTEST_S = 0.3
"""A shorter loop has a pitch or a beat of its own. Common practice, no source. [s]"""
LONGEST_JOIN_S = 0.05
"""Longest cross-fade at the seam. Common practice, no source. [s]"""
SHORTEST_SOUND_S = 0.02
"""A sound in which a loop can be looked for. [s]"""
AS_GOOD = 0.02
"""The longest loop is taken among those that match as well as the best but for this."""
ALIKE = 0.5
"""Where no two places match better than this, nothing repeats, as in wind and rain; then places
of like level do.
"""
HAS_BEAT = 0.5
"""Autocorrelation of its rises from which on a sound has a beat. Common practice, no source."""
_BEATS_S = (0.2, 2.0)
"""Shortest and longest beat. [s]"""
_HOP_S = 0.005
_LEVEL_HOPS = 8
_LEAST_RISE = 0.1
_FLOOR = 0.01
"""Levels are told apart down to 40 dB below the highest."""
_SEARCH_HZ = 8000
_STARTS = 64
"""Places that are tried for the start; for each, every sample is tried for the end."""
_CLOSER = 64
"""Loops of the search at a low rate that are looked at in full: so many of the longest and as
many of the best.
"""
_SILENCE = 1e-4
"""RMS (-80 dBFS) of stretches in which there is nothing to match."""
_GRID = 1e6
"""Matches are told apart to this part, above the last bits in which machines differ."""

_Likeness = Callable[[Samples, Samples], Samples]
_Tried = tuple[float, int, int]
"""How alike its ends are, start, end."""


@dataclass(frozen=True)
class FoundLoop:
    """Where a sound goes round: (start, end) in its samples, end exclusive.

    join: samples before the end over which the sound is faded into what is before the start. match:
    how alike these two stretches are, 2 ab / (aa + bb): 1 for equal ones, 0 for unrelated ones,
    below that for opposite ones. off_beat_s: by how much it is longer than a whole number of beats;
    0.0 where there is no beat. [s]
    """

    start: int
    end: int
    join: int
    match: float
    off_beat_s: float = 0.0


def find_loop(samples: Samples, rate_hz: int, earliest: int = 0) -> FoundLoop:
    """The longest loop whose ends are about as alike as any. samples: shape (n,), from
    SHORTEST_SOUND_S on and from 2 * earliest on.

    earliest: sample before which it must not start. It lasts SHORTEST_S or more; in a sound too
    short for that, half of what there is.
    """
    from scipy.signal import resample_poly

    join = max(min(round(LONGEST_JOIN_S * rate_hz), len(samples) // 8), 1)
    step = max(rate_hz // _SEARCH_HZ, 1)
    whole = samples[: len(samples) // step * step]
    tried = _looked_for(samples, resample_poly(whole, 1, step), rate_hz, earliest, join, _matches)
    if max(tried)[0] < ALIKE:
        envelope = np.sqrt(np.mean(np.square(whole).reshape(-1, step), axis=1))
        # The level of noise is known only over a while.
        width = max(min(round(SHORTEST_S * rate_hz), len(samples) // 8), 1)
        tried = _looked_for(samples, envelope, rate_hz, earliest, width, _levels)
    _, start, end = _longest_first(tried)[0]
    match = _matches(samples[end - join : end], samples[start - join : start])
    return FoundLoop(start, end, join, float(match[0]), off_beat_s(samples, rate_hz, start, end))


def _looked_for(
    samples: Samples, low: Samples, rate_hz: int, earliest: int, width: int, likeness: _Likeness
) -> list[_Tried]:
    """Loops whose ends are alike over a width in `low`, which has fewer samples, each then set
    to the sample in the whole.
    """
    step = len(samples) // len(low)
    earliest = max(earliest, width)
    shortest = min(round(SHORTEST_S * rate_hz), (len(samples) - earliest) // 2)
    first = -(-earliest // step)
    least = -(-shortest // step)
    part = max(width // step, 1)
    places = np.unique(np.linspace(first, len(low) - least, _STARTS, dtype=int))
    found = [loop for start in places for loop in _tops(low, int(start), least, part, likeness)]
    closer = dict.fromkeys(
        [*sorted(found, reverse=True)[:_CLOSER], *_longest_first(found)[:_CLOSER]]
    )
    return [
        _set(samples, step * start, step * end, width, 2 * step, shortest, likeness)
        for _, start, end in closer
    ]


def _longest_first(tried: list[_Tried]) -> list[_Tried]:
    """Those whose ends are as alike as the best but for AS_GOOD, the longest first."""
    least = max(tried)[0] - AS_GOOD
    return sorted(
        (loop for loop in tried if loop[0] >= least),
        key=lambda loop: (loop[1] - loop[2], -loop[0], loop[1]),
    )


def _tops(
    samples: Samples, start: int, shortest: int, join: int, likeness: _Likeness
) -> list[_Tried]:
    """Loops from this start whose ends are more alike than if they ended a little sooner or
    later: the best, and the longest of the good.
    """
    alike = likeness(samples[start + shortest - join :], samples[start - join : start])
    walled = np.concatenate([[-np.inf], alike, [-np.inf]])
    tops = np.flatnonzero((alike >= walled[:-2]) & (alike >= walled[2:]))
    best = tops[np.argsort(-alike[tops], kind="stable")[:_CLOSER]]
    longest = tops[alike[tops] >= alike.max() - AS_GOOD][-_CLOSER:]
    return [
        (float(alike[top]), start, start + shortest + int(top)) for top in np.union1d(best, longest)
    ]


def _set(
    samples: Samples,
    start: int,
    end: int,
    join: int,
    reach: int,
    shortest: int,
    likeness: _Likeness,
) -> _Tried:
    """The loop with its end moved by up to `reach` samples to where it is most alike."""
    first = max(end - reach, start + shortest)
    alike = likeness(samples[first - join : end + reach], samples[start - join : start])
    return float(alike.max()), start, first + int(alike.argmax())


def _matches(samples: Samples, pattern: Samples) -> Samples:
    """How well each stretch of the samples matches a pattern of m, by the stretch's first
    sample; shape (n - m + 1,).
    """
    from scipy.signal import oaconvolve

    energies = _energies(samples, len(pattern)) + pattern @ pattern
    return _rounded(
        2
        * oaconvolve(samples, pattern[::-1], "valid")
        / np.maximum(energies, len(pattern) * _SILENCE**2)
    )


def _levels(samples: Samples, pattern: Samples) -> Samples:
    """The match that each stretch would have if it had the wave of the pattern at its own level."""
    stretches = np.maximum(_energies(samples, len(pattern)), 0.0)
    own = float(pattern @ pattern)
    return _rounded(
        2 * np.sqrt(stretches * own) / np.maximum(stretches + own, len(pattern) * _SILENCE**2)
    )


def _energies(samples: Samples, length: int) -> Samples:
    together = np.cumsum(np.concatenate([[0.0], np.square(samples)]))
    return np.asarray(together[length:] - together[:-length])


def _rounded(alike: Samples) -> Samples:
    return np.asarray(np.round(alike * _GRID) / _GRID)


def off_beat_s(samples: Samples, rate_hz: int, start: int, end: int) -> float:
    """By how much a loop, (start, end) in the samples, is longer than a whole number of beats; 0.0
    where there is no beat to tell. [s]

    A beat is a lag at which the rises of the level repeat (their normalised autocorrelation is
    HAS_BEAT or more); the loop is compared with the lag within half a beat of it at which they
    repeat best.
    """
    hop = max(round(_HOP_S * rate_hz), 1)
    rises = _rises(samples, hop)
    length = round((end - start) / hop)
    shortest = round(_BEATS_S[0] / _HOP_S)
    longest = min(round(_BEATS_S[1] / _HOP_S), len(rises) // 3)
    if longest <= shortest or length >= 0.8 * len(rises):
        return 0.0
    again = np.array([_again(rises, lag) for lag in range(shortest, longest)])
    if again.max() < HAS_BEAT:
        return 0.0
    # Two beats repeat as well as one; half of the shortest counts.
    half = (shortest + int(np.argmax(again >= 0.8 * again.max()))) // 2
    lags = range(max(length - half, 1), min(length + half, round(0.9 * len(rises))) + 1)
    around = np.array([_again(rises, lag) for lag in lags])
    best = lags[int(around.argmax())]
    if around.max() >= HAS_BEAT:
        return (end - start) / rate_hz - best * _HOP_S
    return 0.0


def _rises(samples: Samples, hop: int) -> Samples:
    """How much the level rises from one piece of `hop` samples to the next, less the mean, shape (n
    // hop - 1,).

    The level is that over _LEVEL_HOPS pieces, and small rises count as none: a low tone would have
    a rise in each period.
    """
    pieces = samples[: len(samples) // hop * hop].reshape(-1, hop)
    level = np.sqrt(
        np.convolve(np.mean(np.square(pieces), axis=1), np.ones(_LEVEL_HOPS) / _LEVEL_HOPS, "same")
    )
    steps = np.diff(np.log(level + _FLOOR * max(level.max(initial=0.0), _SILENCE)))
    rises = np.where(steps > _LEAST_RISE, steps, 0.0)
    if rises.size:
        return np.asarray(rises - rises.mean())
    return rises


def _again(rises: Samples, lag: int) -> float:
    first = rises[:-lag]
    later = rises[lag:]
    power = float(np.sqrt((first @ first) * (later @ later)))
    if power > 0:
        return float(first @ later) / power
    return 0.0


def joined(samples: Samples, found: FoundLoop) -> Samples:
    """The sound up to the loop's end, its last samples faded into those before the loop's start;
    shape (found.end,).

    The fade keeps the power of what it mixes: stretches that are alike are mixed by amplitude,
    unrelated ones by power, others in between.
    """
    share = 0.5 - 0.5 * np.cos(np.pi * np.arange(1, found.join + 1) / (found.join + 1))
    leaving, coming = (samples[end - found.join : end] for end in (found.end, found.start))
    alike = max(_correlation(leaving, coming), 0.0)
    mixed = (1 - share) * leaving + share * coming
    power = np.sqrt((1 - share) ** 2 + share**2 + 2 * alike * share * (1 - share))
    return np.concatenate([samples[: found.end - found.join], mixed / power])


def _correlation(first: Samples, second: Samples) -> float:
    """-1..1; 1 where one of them is silent, so that nothing is made louder."""
    power = float(np.sqrt((first @ first) * (second @ second)))
    if power > len(first) * _SILENCE**2:
        return float(first @ second) / power
    return 1.0
