"""A prop's clips fitted into its board: what to store of each, and what that costs the ear."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import softer_db
from fxseq.acoustics.decibels import known
from fxseq.advice.candidates import Candidate, candidate, ways
from fxseq.advice.choose import NothingFits, choose
from fxseq.advice.loss import Ear
from fxseq.advice.plays import Play, plays_of
from fxseq.clips import Coding, Draft
from fxseq.runs import Performance, Prop, draft_clip, make_prop, perform, prepare_clips
from fxseq.runs.in_time import late_work
from fxseq.sequence import Fault, FxError
from fxseq.sequence import model as m
from fxseq.table.work import sound_share

Progress = Callable[[str, int, int], None]

_RESERVE_BYTES = 4
"""A clip's record may take so many bytes more than now, as its samples, its place and its loop
need longer numbers.
"""


@dataclass(frozen=True)
class Outcome:
    """A choice played: bytes of its table; loudness over the time of the press script of all
    that is heard, and of what is lost. [sone s]
    """

    table_bytes: int
    heard: float
    lost: float

    @property
    def below_sound_db(self) -> float:
        """By how much what is lost sounds softer than the sound; infinite where no loss is
        heard. [dB]
        """
        return softer_db(self.heard, self.lost)


@dataclass(frozen=True, eq=False)
class Fit:
    """The clips of a prop, all candidates of each, and how often and how loud each is heard.

    sequence: the file without what was fitted before. reference: the press script played with all
    clips as they are meant. heard: loudness over time of all plays of each clip [sone s]; plays:
    how many these are; unplayed: clips that the press script does not play, judged by one play at
    full gain. other_bytes: of the table without clip data.
    """

    sequence: m.Sequence
    reference: Performance
    ear: Ear
    candidates: Mapping[str, tuple[Candidate, ...]]
    heard: Mapping[str, float]
    plays: Mapping[str, int]
    unplayed: tuple[str, ...]
    other_bytes: int

    def best(self, table_bytes: int) -> dict[str, Candidate]:
        """The candidate of each clip that together lose least in a table of at most so many
        bytes. Raises NothingFits.
        """
        choices = [
            [(each.bytes, each.lost) for each in found] for found in self.candidates.values()
        ]
        picked = choose(choices, table_bytes - self.other_bytes)
        return {
            name: found[index]
            for (name, found), index in zip(self.candidates.items(), picked, strict=True)
        }

    def bytes_of(self, picked: Mapping[str, Candidate]) -> int:
        """Bytes of the table, at the most."""
        return self.other_bytes + sum(each.bytes for each in picked.values())

    def prop_with(self, picked: Mapping[str, Candidate]) -> Prop:
        """The prop with its clips stored so."""
        return make_prop(self.reference.prop.path, self.sequence_with(picked))

    def outcome(self, prop: Prop) -> Outcome:
        """The prop with a choice, played against the same press script with all clips as they are
        meant.
        """
        samples = self.reference.played.samples
        rate_hz = self.reference.rate_hz
        error = samples - perform(prop, self.reference.script).played.samples.astype(np.int32)
        pressure = self.ear.pressure(samples, rate_hz)
        return Outcome(
            len(prop.compiled.data),
            self.ear.loudness(pressure, rate_hz),
            self.ear.lost(pressure, error, rate_hz),
        )

    def quicker_than(self, picked: Mapping[str, Candidate]) -> "Fit":
        """Without all that takes the board as long to decode as the dearest clip of a choice.
        Raises FxError where a clip cannot be stored otherwise.
        """
        board = self.sequence.board

        def share(each: Candidate) -> float:
            return sound_share(board, each.coding, each.rate_hz)

        most = max(map(share, picked.values()))
        left = {
            name: tuple(each for each in found if share(each) < most)
            for name, found in self.candidates.items()
        }
        if not all(left.values()):
            raise _never_in_time(self.reference.prop)
        return replace(self, candidates=left)

    def heard_at_board(self, candidate: Candidate) -> tuple[NDArray[np.int16], NDArray[np.int16]]:
        """What the board puts out for a clip as it is meant, and as it is stored; shape (n,)
        each, at the board's rate.
        """
        name = candidate.clip
        folder = self.reference.prop.path.parent
        whole = self.reference.prop.clips[name]
        stored = prepare_clips([name], self.sequence_with({name: candidate}), folder)[name]
        play = Play.whole(whole, self.ear, self.reference.rate_hz)
        return whole.samples, play.of(stored, self.reference.rate_hz).astype(np.int16)

    def foreseen_below_sound_db(self, picked: Mapping[str, Candidate]) -> float:
        """By how much the loss sounds softer than the sound, by the sum of what each clip loses
        alone; infinite where none is heard. [dB]
        """
        return softer_db(sum(self.heard.values()), sum(each.lost for each in picked.values()))

    def clip_below_sound_db(self, candidate: Candidate) -> float:
        """By how much what a clip loses sounds softer than the clip; infinite where no loss is
        heard. [dB]
        """
        return softer_db(self.heard[candidate.clip], candidate.lost)

    def curve(self, points: int = 24) -> list[tuple[int, float]]:
        """Bytes of the table and how far below the sound the loss then is, from the least that
        fits to the best there is.
        """
        least = self.other_bytes + sum(
            min(each.bytes for each in found) for found in self.candidates.values()
        )
        best = self.best(1 << 40)
        rooms = np.geomspace(least, max(self.bytes_of(best), least + 1), points).astype(int)
        picks = [self.best(max(int(room), least)) for room in rooms]
        return [(self.bytes_of(picked), self.foreseen_below_sound_db(picked)) for picked in picks]

    def savings(self) -> list[tuple[str, int, float]]:
        """What leaving out a clip would save: name, bytes at its smallest, and its share of all
        that is heard; least missed per byte first.
        """
        everything = sum(self.heard.values())
        found = [
            (name, min(each.bytes for each in self.candidates[name]), heard / everything)
            for name, heard in self.heard.items()
        ]
        return sorted(found, key=lambda item: item[2] / item[1])

    def sequence_with(self, picked: Mapping[str, Candidate]) -> m.Sequence:
        """The sequence with the picked settings."""
        return _with_fitted(
            self.sequence, {name: self.settings(each) for name, each in picked.items()}
        )

    def settings(self, picked: Candidate) -> m.Fitted | None:
        """What stands beside a clip to have it stored so; None where it is stored so anyhow."""
        clip = self.sequence.clips[picked.clip]
        board_hz = self.sequence.board.sample_rate_hz
        changes = {}
        if picked.rate_hz == (clip.rate_hz or board_hz):
            changes["rate_hz"] = None
        if picked.coding == clip.coding:
            changes["coding"] = None
        fitted = picked.fitted.model_copy(update=changes)
        if fitted == m.Fitted():
            return None
        return fitted

    def as_dict(self, picked: Mapping[str, Candidate], outcome: Outcome) -> dict[str, Any]:
        """Plain values for `--json`; a ratio is None where no loss is heard."""
        return {
            "table_bytes": outcome.table_bytes,
            "lost_below_sound_db": known(round(outcome.below_sound_db, 2)),
            "clips": {
                name: {
                    "rate_hz": each.rate_hz,
                    "coding": each.coding,
                    "end_ms": each.end_ms,
                    "bytes": each.bytes,
                    "lost_below_sound_db": known(round(self.clip_below_sound_db(each), 2)),
                    "plays": self.plays[name],
                }
                for name, each in picked.items()
            },
        }


def _with_fitted(sequence: m.Sequence, fitted: Mapping[str, m.Fitted | None]) -> m.Sequence:
    changed = {
        name: sequence.clips[name].model_copy(update={"fitted": settings})
        for name, settings in fitted.items()
    }
    return sequence.model_copy(update={"clips": sequence.clips | changed})


def as_meant(path: Path, sequence: m.Sequence) -> Prop:
    """The prop with every clip as it is meant: uncut, at the board's rate and in 16 bits. Raises
    FxError as `make_prop`.
    """
    plain = m.Fitted(rate_hz=sequence.board.sample_rate_hz, coding="pcm16")
    return make_prop(path, _with_fitted(sequence, dict.fromkeys(sequence.clips, plain)))


def fit(
    reference: Performance,
    codings: Sequence[Coding],
    progress: Progress = lambda name, done, total: None,
) -> Fit:
    """Try every candidate of every clip that a trigger can play.

    reference: a press script played on the prop `as_meant`. progress: called with a clip's name,
    how many of its candidates were tried, and how many there are, before the first and after each.
    Raises FxError where the board's processor is too slow for any.
    """
    prop = reference.prop
    sequence = _with_fitted(prop.sequence, dict.fromkeys(prop.sequence.clips))
    ear = Ear.of(prop.sequence)
    found = {}
    heard = {}
    plays = {}
    unplayed = []
    for name, whole in prop.clips.items():
        played = plays_of(reference, name, ear)
        standing = played or [Play.whole(whole, ear, reference.rate_hz)]
        found[name] = _candidates(_draft(prop, name), ear, codings, standing, progress)
        if not found[name]:
            raise _nothing_decoded(prop)
        heard[name] = sum(play.heard(ear, reference.rate_hz) for play in standing)
        plays[name] = sum(play.count for play in played)
        if not played:
            unplayed.append(name)
    data = sum({clip.data: len(clip.data) for clip in prop.compiled.table.clips}.values())
    other = len(prop.compiled.data) - data + _RESERVE_BYTES * len(found)
    return Fit(sequence, reference, ear, found, heard, plays, tuple(unplayed), other)


def best_that_fits(fitted: Fit, room_bytes: int) -> tuple[dict[str, Candidate], Outcome]:
    """The candidates that lose least, and what they come to played; where the table comes out a
    little larger than foreseen, with so much less room, and where the board would not keep up,
    without what it decodes slowest. Raises FxError where nothing fits.
    """
    left_bytes = room_bytes
    try:
        while True:
            picked = fitted.best(left_bytes)
            prop = fitted.prop_with(picked)
            excess_bytes = len(prop.compiled.data) - room_bytes
            if excess_bytes > 0:
                left_bytes -= excess_bytes
            elif late_work(prop.sequence.board, prop.compiled):
                fitted, left_bytes = fitted.quicker_than(picked), room_bytes
            else:
                return picked, fitted.outcome(prop)
    except NothingFits as error:
        raise _nothing_fits(fitted, room_bytes, error.missing) from None


def _nothing_fits(fitted: Fit, room_bytes: int, missing_bytes: int) -> FxError:
    ways = [
        f"without '{name}' {size} fewer ({share:.1%} of what is heard)"
        for name, size, share in fitted.savings()[:3]
    ]
    return FxError(
        Fault(
            str(fitted.reference.prop.path),
            f"even the smallest table is {missing_bytes} bytes too large",
            f"{room_bytes} bytes",
            f"Shorten or leave out clips: {'; '.join(ways)}. Or choose a board with more flash.",
        )
    )


def _never_in_time(prop: Prop) -> FxError:
    what = "its board cannot keep up with it, however the clips are stored"
    remedy = "`fxseq check` says in which frame, and what to change."
    return FxError(Fault(str(prop.path), what, remedy=remedy))


def _candidates(
    draft: Draft, ear: Ear, codings: Sequence[Coding], plays: Sequence[Play], progress: Progress
) -> tuple[Candidate, ...]:
    found: list[Candidate] = []
    to_try = ways(draft, ear, codings)
    progress(draft.name, 0, len(to_try))
    for way in to_try:
        found.append(candidate(draft, ear, plays, way))
        progress(draft.name, len(found), len(to_try))
    return tuple(found)


def _draft(prop: Prop, name: str) -> Draft:
    folder = prop.path.parent
    other = prop.sequence.clips[name].match_to
    matched = None
    if other is not None:
        matched = prop.clips.get(other) or prepare_clips([other], prop.sequence, folder)[other]
    return draft_clip(name, prop.sequence.clips[name], prop.sequence, folder, matched)


def _nothing_decoded(prop: Prop) -> FxError:
    board = prop.sequence.board
    what = (
        f"its processor cannot decode {board.voices} voices at {board.sample_rate_hz} Hz in any of"
        " the codings allowed"
    )
    return FxError(
        Fault(
            f"{prop.path}: board",
            what,
            "half of its time",
            "Use fewer voices, a lower sample_rate_hz, or a faster processor.",
        )
    )
