"""Every way of storing a clip that is worth a look, with its bytes and what it loses."""
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.checks import prepare_clip
from fxseq.clips import Coding, PreparedClip, byte_count, decode, read, trimmed
from fxseq.fit.decoding import decodes_in_time
from fxseq.fit.loss import Ear
from fxseq.sequence import model as m

RATES_HZ = (22050, 16000, 11025, 8000, 5512)
"""Rates that are tried besides the board's and the clip's own, where they are lower than the board's."""
CUTS_DB = (-20.0, -26.0, -32.0, -40.0)
"""A clip is also tried cut where so much of its weighted energy is left behind the cut."""
CUT_FADE_MS = 10.0
_SHORTEST_MS = 60.0


@dataclass(frozen=True)
class Candidate:
    """One way of storing a clip.

    end_ms: where the clip is cut, from its file's start; None where it is as long as it was. fade_out_ms: then.
    bytes: of clip data. lost: weighted energy of the difference to the clip as it is meant, for one play at full gain (see `Ear.energy`).
    """

    clip: str
    rate_hz: int
    coding: Coding
    end_ms: float | None
    fade_out_ms: float | None
    bytes: int
    lost: float


@dataclass(frozen=True, eq=False)
class Meant:
    """A clip as it is meant: at the board's rate, 16 bits, uncut.

    samples: shape (n,). energy: of one play. start_ms: where it starts in its file.
    """

    samples: NDArray[np.float64]
    loop: tuple[int, int] | None
    energy: float
    start_ms: float


def meant(name: str, sequence: m.Sequence, folder: Path, ear: Ear) -> Meant:
    """The reference that all candidates of a clip are compared with."""
    best = prepare_clip(name, changed(sequence, name, {"rate_hz": None, "coding": "pcm16"}), folder)
    samples = best.samples.astype(np.float64)
    recording = trimmed(read(name, sequence.clips[name], folder), sequence.clips[name])
    return Meant(samples, best.loop, ear.energy(samples, sequence.board.sample_rate_hz), 1000 * recording.first_frame / recording.rate_hz)


def changed(sequence: m.Sequence, name: str, settings: dict[str, Any]) -> m.Sequence:
    """The sequence with other settings of one clip."""
    return sequence.model_copy(update={"clips": {**sequence.clips, name: sequence.clips[name].model_copy(update=settings)}})


def candidates(name: str, sequence: m.Sequence, folder: Path, ear: Ear, codings: Sequence[Coding], whole: Meant) -> Iterator[Candidate]:
    """All candidates of a clip: each rate, each coding that the board decodes in time, and for a clip without a loop each cut."""
    board_hz = sequence.board.sample_rate_hz
    cuts = [] if whole.loop else _cuts(whole, board_hz, ear)
    rates = {rate for rate in (*RATES_HZ, sequence.clips[name].rate_hz or 0) if 0 < rate < board_hz}
    for rate_hz in sorted({board_hz, *rates}, reverse=True):
        for coding in (coding for coding in codings if decodes_in_time(sequence.board, coding, rate_hz)):
            stored = prepare_clip(name, changed(sequence, name, {"rate_hz": rate_hz, "coding": coding}), folder)
            played = as_played(stored, whole, board_hz)
            yield Candidate(name, rate_hz, coding, None, None, len(stored.data), ear.energy(whole.samples - played, board_hz))
            yield from (_cut(stored, board_hz, ear, whole, played, cut) for cut in cuts)


def as_played(stored: PreparedClip, whole: Meant, board_rate_hz: int) -> NDArray[np.float64]:
    """What the board makes of a stored clip at its own rate, as long as the clip is meant, shape (n,).

    A loop is stored with a whole number of samples, which moves its rate a little; it is compared at the pace at which both loops last as long.
    """
    decoded = decode(stored.data, stored.coding, len(stored.samples), stored.loop and stored.loop[0]).astype(np.float64)
    ratio = stored.rate_hz / board_rate_hz
    if stored.loop and whole.loop:
        ratio = (stored.loop[1] - stored.loop[0]) / (whole.loop[1] - whole.loop[0])
    return np.interp(np.arange(len(whole.samples)) * ratio, np.arange(len(decoded) + 1), np.append(decoded, 0.0), right=0.0)


def _cuts(whole: Meant, rate_hz: int, ear: Ear) -> list[int]:
    """Samples at which so little of the energy is left as CUTS_DB says; each is found by halving, since what is left only shrinks."""
    shortest, found = round(_SHORTEST_MS * rate_hz / 1000), []
    for left_db in CUTS_DB:
        low, high = 0, len(whole.samples)
        while high - low > rate_hz // 200:
            middle = (low + high) // 2
            little = ear.energy(whole.samples[middle:], rate_hz) <= whole.energy * 10 ** (left_db / 10)
            low, high = (low, middle) if little else (middle, high)
        if shortest <= high < len(whole.samples):
            found.append(high)
    return sorted(set(found))


def _cut(stored: PreparedClip, board_hz: int, ear: Ear, whole: Meant, played: NDArray[np.float64], end: int) -> Candidate:
    """The candidate cut at a sample of the board's rate.

    The samples before a cut are coded as without it but for the fade, so they need not be coded again to be judged.
    """
    fade = min(round(CUT_FADE_MS * board_hz / 1000), end)
    window = np.zeros(len(played))
    window[:end] = 1
    window[end - fade:end] = 0.5 + 0.5 * np.cos(np.pi * np.arange(fade) / max(fade, 1))
    size = byte_count(stored.coding, max(1, round(end * stored.rate_hz / board_hz)))
    end_ms = round(whole.start_ms + 1000 * end / board_hz, 1)
    lost = ear.energy(whole.samples - played * window, board_hz)
    return Candidate(stored.name, stored.rate_hz, stored.coding, end_ms, CUT_FADE_MS, size, lost)
