"""A prop's clips fitted into its board: what to store of each, and what that costs the ear."""
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import REFERENCE_PRESSURE_PA, power_db
from fxseq.acoustics.decibels import known
from fxseq.checks import Performance, Prop, prepare_clip
from fxseq.clips import Coding
from fxseq.fit.candidates import Candidate, Meant, as_played, candidates, meant
from fxseq.fit.choose import choose
from fxseq.fit.loss import Ear
from fxseq.sequence import Fault, FxError
from fxseq.sequence import model as m
from fxseq.table import compile_sequence
from fxseq.table.limits import UNITY_GAIN

_RESERVE_BYTES = 4
"""A clip's record may take so many bytes more than now, as its samples, its place and its loop need longer numbers."""


@dataclass(frozen=True, eq=False)
class Fit:
    """The clips of a prop, all candidates of each, and how often and how loud each is heard.

    weights: plays of each clip, each by the square of its gain; unplayed: clips that the press script does not play, counted as one play.
    other_bytes: of the table without clip data.
    """

    prop: Prop
    ear: Ear
    duration_s: float
    meant: Mapping[str, Meant]
    candidates: Mapping[str, tuple[Candidate, ...]]
    weights: Mapping[str, float]
    unplayed: tuple[str, ...]
    other_bytes: int

    def best(self, table_bytes: int) -> dict[str, Candidate]:
        """The candidate of each clip that together lose least in a table of at most so many bytes. Raises NothingFits."""
        choices = [[(each.bytes, self.weights[name] * each.lost) for each in found] for name, found in self.candidates.items()]
        picked = choose(choices, table_bytes - self.other_bytes)
        return {name: found[index] for (name, found), index in zip(self.candidates.items(), picked, strict=True)}

    def bytes_of(self, picked: Mapping[str, Candidate]) -> int:
        """Bytes of the table."""
        return self.other_bytes + sum(each.bytes for each in picked.values())

    def compiled_bytes(self, picked: Mapping[str, Candidate]) -> int:
        """Bytes of the table as it comes out, compiled anew."""
        sequence, folder = self.sequence(picked), self.prop.path.parent
        return len(compile_sequence(sequence, {name: prepare_clip(name, sequence, folder) for name in picked}).data)

    def heard_at_board(self, candidate: Candidate) -> tuple[NDArray[np.int16], NDArray[np.int16]]:
        """What the board puts out for a clip as it is meant, and as it is stored; shape (n,) each, at the board's rate."""
        name, sequence = candidate.clip, self.sequence({candidate.clip: candidate})
        whole = self.meant[name]
        stored = prepare_clip(name, sequence, self.prop.path.parent)
        return whole.samples.astype(np.int16), np.trunc(as_played(stored, whole, sequence.board.sample_rate_hz)).astype(np.int16)

    def lost(self, picked: Mapping[str, Candidate]) -> float:
        """Weighted energy of all differences over the press script."""
        return sum(self.weights[name] * each.lost for name, each in picked.items())

    @cached_property
    def heard(self) -> float:
        """Weighted energy of all clips over the press script."""
        return sum(self.weights[name] * whole.energy for name, whole in self.meant.items())

    def below_sound_db(self, picked: Mapping[str, Candidate]) -> float:
        """How far the differences are below the sound, A-weighted, at the ear; infinite where nothing is lost. [dB]"""
        return _below_db(self.heard, self.lost(picked))

    def clip_below_sound_db(self, candidate: Candidate) -> float:
        """The same for one clip by itself. [dB]"""
        return _below_db(self.meant[candidate.clip].energy, candidate.lost)

    def level_db(self, picked: Mapping[str, Candidate]) -> float:
        """Level of the differences at the hand, LAeq over the press script; dB of full scale where the speaker is not described; -inf for none. [dB]"""
        reference = REFERENCE_PRESSURE_PA**2 if self.ear.in_air else 0.5
        return float(power_db(self.lost(picked) / self.duration_s / reference))

    def curve(self, points: int = 24) -> list[tuple[int, float]]:
        """Bytes of the table and how far below the sound the loss then is, from the least that fits to the best there is."""
        least = self.other_bytes + sum(min(each.bytes for each in found) for found in self.candidates.values())
        best = self.best(1 << 40)
        rooms = np.geomspace(least, max(self.bytes_of(best), least + 1), points).astype(int)
        picks = [self.best(max(int(room), least)) for room in rooms]
        return [(self.bytes_of(picked), self.below_sound_db(picked)) for picked in picks]

    def savings(self) -> list[tuple[str, int, float]]:
        """What leaving out a clip would save: name, bytes at its smallest, and its share of all that is heard; least missed per byte first."""
        found = [
            (name, min(each.bytes for each in self.candidates[name]), self.weights[name] * whole.energy / self.heard)
            for name, whole in self.meant.items()
        ]
        return sorted(found, key=lambda item: item[2] / item[1])

    def sequence(self, picked: Mapping[str, Candidate]) -> m.Sequence:
        """The sequence with the picked settings."""
        clips = {name: clip.model_copy(update=settings_of(clip, picked[name], self.prop.sequence.board)) if name in picked else clip
                 for name, clip in self.prop.sequence.clips.items()}
        return self.prop.sequence.model_copy(update={"clips": clips})

    def as_dict(self, picked: Mapping[str, Candidate]) -> dict[str, Any]:
        """Plain values for `--json`; a level or ratio that is no number, as where nothing is lost, is None."""
        return {
            "table_bytes": self.bytes_of(picked), "lost_below_sound_db": known(round(self.below_sound_db(picked), 2)),
            "lost_level_db": known(round(self.level_db(picked), 2)),
            "clips": {name: {
                "rate_hz": each.rate_hz, "coding": each.coding, "end_ms": each.end_ms, "bytes": each.bytes,
                "lost_below_sound_db": known(round(self.clip_below_sound_db(each), 2)), "plays": self.weights[name],
            } for name, each in picked.items()},
        }


def _below_db(sound: float, lost: float) -> float:
    """How far an energy is below another. [dB]"""
    return float(power_db(sound / lost)) if lost else math.inf


def settings_of(clip: m.Clip, picked: Candidate, board: m.Board) -> dict[str, Any]:
    """The settings of a clip that have to change."""
    wanted: dict[str, Any] = {"coding": picked.coding}
    if picked.rate_hz != (clip.rate_hz or board.sample_rate_hz):
        wanted["rate_hz"] = picked.rate_hz
    if picked.end_ms is not None:
        wanted |= {"end_ms": picked.end_ms, "fade_out_ms": picked.fade_out_ms}
    return {key: value for key, value in wanted.items() if getattr(clip, key) != value}


def fit(performance: Performance, codings: Sequence[Coding], progress: Callable[[str], None] = lambda name: None) -> Fit:
    """Try every candidate of every clip that a trigger can play. progress: called with each clip's name before its turn.

    Raises FxError where the board's processor is too slow for any.
    """
    prop = performance.prop
    sequence, folder, ear = prop.sequence, prop.path.parent, Ear.of(prop.sequence)
    wholes, found = {}, {}
    for name in prop.clips:
        progress(name)
        wholes[name] = meant(name, sequence, folder, ear)
        found[name] = tuple(candidates(name, sequence, folder, ear, codings, wholes[name]))
        if not found[name]:
            raise _nothing_decoded(prop)
    weights = _weights(performance, wholes)
    unplayed = tuple(name for name in wholes if name not in weights)
    data = sum({clip.data: len(clip.data) for clip in prop.compiled.table.clips}.values())
    other = len(prop.compiled.data) - data + _RESERVE_BYTES * len(wholes)
    return Fit(prop, ear, performance.duration_s, wholes, found, {name: weights.get(name, 1.0) for name in wholes}, unplayed, other)


def _nothing_decoded(prop: Prop) -> FxError:
    board = prop.sequence.board
    what = f"its processor cannot decode {board.voices} voices at {board.sample_rate_hz} Hz in any of the codings allowed"
    return FxError(Fault(f"{prop.path}: board", what, "half of its time", "Use fewer voices, a lower sample_rate_hz, or a faster processor."))


def _weights(performance: Performance, wholes: Mapping[str, Meant]) -> dict[str, float]:
    """Of each clip that is played, the sum of its plays by the square of their gain. What is cut short or loops counts for as long as it sounds."""
    names, weights = performance.prop.compiled.names.clips, {}
    end = performance.played.until_frame * performance.prop.compiled.table.samples_per_frame
    for sounding in performance.played.soundings:
        name = names[sounding.clip]
        share = (min(sounding.end, end) - sounding.begin) / len(wholes[name].samples)
        weights[name] = weights.get(name, 0.0) + share * (sounding.gain / UNITY_GAIN) ** 2
    return weights
