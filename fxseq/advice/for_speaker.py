"""As loud as this speaker can be: high-pass, gain and limiter for each clip, within excursion,
power, rail and full scale.

A cone moves most below its resonance, where it sounds least. So a corner there buys gain, and the
gain is taken until something allows no more. Every figure is one of the clip made ready with these
settings, as the table would hold it, so what is written does what is said.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import (
    LevelReport,
    Reach,
    Uncertainty,
    clipping_voltage_v,
    distance_uncertainty_db,
    full_scale_v,
    level_report,
    mounted_resonance_hz,
    reach,
    sensitivity_uncertainty_db,
    supply_current_a,
)
from fxseq.acoustics.decibels import known
from fxseq.clips import PreparedClip, read
from fxseq.clips.shaping import amplitude, level_db, quantised
from fxseq.power import (
    Steps,
    amplifier_load,
    before,
    changeover_diode,
    circuits,
    fresh_v,
    played_load,
    played_rail,
)
from fxseq.checks.scopes import Loudness
from fxseq.checks.sound import clipping
from fxseq.checks.speaker import excursion, speaker_power
from fxseq.runs.conditioning import as_played
from fxseq.runs.prop import prepare_as, prepare_clips, supply_of
from fxseq.sequence import Fault, FxError, clip_rate_hz
from fxseq.sequence import model as m
from fxseq.sequence.quantities import amount, fixed

SETTINGS = ("high_pass_hz", "gain_db", "limit_to_dbfs")
"""Keys of a clip that are recommended."""
MOST_LIMITING_DB = 6.0
"""Peaks are turned down by no more than this against the rest of a clip. Common practice, no
source. [dB]
"""
LIMITED_BY = {
    "rail": (
        "the amplifier would clip, or peaks would be turned down by more than"
        f" {MOST_LIMITING_DB:g} dB"
    ),
    "full scale": (
        f"samples would clip, or peaks would be turned down by more than {MOST_LIMITING_DB:g} dB"
    ),
    "excursion": "cone travel would be excessive",
    "power": "the speaker would get more than its rated power",
    "match_to": "it would be louder than the clip that it is matched to",
    "gain_db": "gain_db would be higher than a file allows",
}
"""What allows no more gain: what would be with more."""
_WORTH_DB = 0.5
"""A higher corner has to be louder by this, for it takes something from the sound. Common
practice, no source. [dB]
"""
_CORNERS = 7
"""From three octaves below the speaker's resonance up to it: above, a corner takes what the
speaker gives well.
"""
_HIGHEST_CORNER = 0.4
"""Highest corner, as a share of the lower one of the file's rate and the clip's."""
_CORNERS_HZ = (10.0, 2000.0)
_TONES_HZ = (20.0, 20_000.0)
_TONES = 301
_GAINS_DB = (-60.0, 18.0)
_LOWEST_LIMIT_DBFS = -30.0
_STEP_DB = 0.1
_MOST_STEPS = 30
_HALVINGS = 14
_BROKEN_BY = {speaker_power: "power", excursion: "excursion", clipping: "rail"}
"""What allows no more, by the check that finds something then."""


@dataclass(frozen=True, eq=False)
class Alone:
    """A clip played alone, as loud as the loudest of the timelines that play it.

    samples: the board's output, shape (n,), a loop three times. over: how many of them are beyond
    full scale and cut off. levels: at the hand. The hottest second of a shorter clip is its mean,
    as if it were repeated without a pause.
    """

    clip: m.Clip
    prepared: PreparedClip
    samples: NDArray[np.int16]
    over: int
    levels: LevelReport

    @property
    def laeq_db(self) -> float:
        """A-weighted level at the hand over its length; -inf for silence. [dB re 20 uPa]"""
        return self.levels.at["hand"].laeq_db

    @property
    def said_laeq(self) -> str:
        """That level as a figure, or the word for none."""
        if not math.isfinite(self.laeq_db):
            return "silence"
        return fixed(self.laeq_db, 1)

    @property
    def clipped_share(self) -> float:
        """Samples that the rail or full scale cuts off, 0..1."""
        return max(self.levels.clipped_share, self.over / len(self.samples))

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; the level of silence is None."""
        levels = self.levels
        return {
            **{key: getattr(self.clip, key) for key in SETTINGS},
            "limited_db": self.prepared.conditioning.limited_db,
            "laeq_db": known(self.laeq_db),
            "lafmax_db": known(levels.at["hand"].lafmax_db),
            "uncertainty_db": levels.uncertainty_db,
            "excursion_peak_mm": levels.excursion_peak_mm,
            "highest_power_w": levels.speaker_highest_power_w,
            "clipped_share": self.clipped_share,
            "bytes": len(self.prepared.data),
        }


@dataclass(frozen=True, eq=False)
class Recommendation:
    """A clip as it is and as it is recommended.

    limited_by: what allows no more, a key of LIMITED_BY.
    """

    before: Alone
    after: Alone
    limited_by: str

    @property
    def changes(self) -> dict[str, float]:
        """The settings that are new."""
        return {
            key: getattr(self.after.clip, key)
            for key in SETTINGS
            if getattr(self.after.clip, key) != getattr(self.before.clip, key)
        }

    @property
    def text(self) -> str:
        """The settings, and what they do, in words."""
        corner_hz = self.after.clip.high_pass_hz
        before = self.before
        after = self.after
        corner = "No high-pass" if corner_hz is None else f"High-pass at {corner_hz:g} Hz"
        settings = (
            f"{corner}, gain {after.clip.gain_db:+g} dB, limiter at {after.clip.limit_to_dbfs:g}"
            " dBFS"
        )
        levels = (
            f"{before.said_laeq} dB(A) at the hand become {after.said_laeq}"
            f" ±{after.levels.uncertainty_db:.1f} dB"
        )
        return (
            f"{settings}: {levels}. Limited by {self.limited_by}: with more gain,"
            f" {LIMITED_BY[self.limited_by]}."
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "limited_by": self.limited_by,
            "changes": self.changes,
            "before": self.before.as_dict(),
            "after": self.after.as_dict(),
        }


@dataclass(frozen=True)
class Rig:
    """What clips are played on. supply_v: at the amplifier, taken as constant: what is left of
    the supply when it gives most. [V]
    """

    sequence: m.Sequence
    folder: Path
    amplifier: m.Amplifier
    speaker: m.Speaker
    supply_name: str
    supply_v: float

    def alone(self, name: str, clip: m.Clip, matched: PreparedClip | None) -> Alone:
        """Made ready with these settings and played. matched: the clip that it is matched to."""
        return self.play(clip, prepare_as(name, clip, self.sequence, self.folder, matched))

    def play(self, clip: m.Clip, prepared: PreparedClip) -> Alone:
        """What the rig makes of a clip."""
        board = self.sequence.board
        listening = self.sequence.listening
        played = as_played(prepared, board.sample_rate_hz) * amplitude(self.play_db(prepared.name))
        samples, over = quantised(played)
        levels = level_report(
            samples,
            board.sample_rate_hz,
            self.amplifier,
            self.speaker,
            {"hand": listening.hand_m},
            self.supply_v,
            listening.space,
            board,
        )
        return Alone(clip, prepared, samples, over, levels)

    def play_db(self, name: str) -> float:
        """Gain of the loudest of the timelines that play a clip; 0 where none does. [dB]"""
        return max(
            (
                sound.gain_db
                for effect in self.sequence.effects.values()
                for sound in effect.sounds
                if sound.clip == name
            ),
            default=0.0,
        )

    @property
    def rail_v(self) -> float:
        """Voltage at the speaker at which the amplifier clips. [V]"""
        return float(clipping_voltage_v(self.amplifier, self.supply_v, self.speaker.impedance_ohm))

    def reach(self) -> Reach:
        """What the speaker can do on it, tone by tone, as far up as the board's rate allows."""
        frequencies_hz = np.geomspace(
            _TONES_HZ[0], min(_TONES_HZ[1], self.sequence.board.sample_rate_hz / 2), _TONES
        )
        return reach(
            self.speaker,
            self.amplifier,
            self.supply_v,
            frequencies_hz,
            self.sequence.listening.hand_m,
            self.sequence.listening.space,
        )

    @property
    def tone_uncertainty_db(self) -> float:
        """What the level of a tone may be off by, either way; a leak of the chamber takes more
        from low ones. [dB]
        """
        return Uncertainty(
            sensitivity_uncertainty_db(self.speaker), distance_uncertainty_db(), 0.0
        ).total_db

    def ceiling(self, name: str) -> tuple[float, str]:
        """Level of a clip's samples at which they are cut off [dBFS], and by what."""
        play_db = self.play_db(name)
        rail_dbfs = level_db(self.rail_v / full_scale_v(self.amplifier)) - play_db
        full_dbfs = min(0.0, -play_db)
        if rail_dbfs < full_dbfs:
            return (rail_dbfs, "rail")
        return (full_dbfs, "full scale")

    def broken(self, alone: Alone) -> str:
        """What the clip asks too much of, or nothing."""
        loud = Loudness(alone.levels, self.speaker)
        for one, limited_by in _BROKEN_BY.items():
            if any(one.judge(loud)):
                return limited_by
        if alone.over:
            return "full scale"
        if alone.prepared.conditioning.limited_db > MOST_LIMITING_DB:
            return self.ceiling(alone.prepared.name)[1]
        return ""


def rig_of(path: Path, sequence: m.Sequence, supply: str | None = None) -> Rig:
    """Amplifier, speaker and a supply of a file. Raises FxError where one of them is not
    described, or the amplifier can give nothing.
    """
    source = supply_of(path, sequence, supply)
    amplifier = sequence.amplifier
    speaker = sequence.speaker
    if source is None or amplifier is None or speaker is None:
        missing = [
            name for name in ("amplifier", "speaker", "supplies") if not getattr(sequence, name)
        ]
        what = f"lacks {', '.join(missing)}, so there is no limit for how loud a clip may be"
        raise FxError(
            Fault(
                str(path), what, remedy="Describe them; `fxseq new` writes a file that shows how."
            )
        )
    rig = Rig(
        sequence,
        path.parent,
        amplifier,
        speaker,
        source[0],
        _least_v(sequence, source[1], amplifier, speaker),
    )
    if rig.rail_v <= 0:
        what = (
            f"it has no voltage left: its output loses {amount(amplifier.lost_voltage_v, 'V')} of"
            f" {amount(rig.supply_v, 'V')} from '{rig.supply_name}'"
        )
        raise FxError(
            Fault(
                f"{path}: amplifier",
                what,
                remedy=(
                    "There is no sound. Use a higher supply voltage, or an amplifier with a lower"
                    " lost_voltage_v."
                ),
            )
        )
    return rig


def _least_v(
    sequence: m.Sequence, supply: m.Supply, amplifier: m.Amplifier, speaker: m.Speaker
) -> float:
    """What is left for the amplifier of a fresh supply with all groups lit and itself as far up as
    that lets it; all of it where the lights take all. [V]

    Found by halving: the more voltage there is, the more the amplifier takes and the less it
    leaves. Behind a regulator, what that gives of it.
    """
    regulator = before("amplifier", sequence)
    wired = circuits(sequence)
    begin_s = np.zeros(1)
    second_s = 1.0
    full = {name: Steps(begin_s, np.ones(1), second_s) for name in wired}

    def given_v(rail_v: float) -> float:
        if regulator:
            return float(regulator.given_v(rail_v))
        return rail_v

    def left_v(feed_v: float) -> float:
        swing_v = min(
            full_scale_v(amplifier),
            float(clipping_voltage_v(amplifier, feed_v, speaker.impedance_ohm)),
        )
        sound_a = supply_current_a(np.array([swing_v]), speaker, amplifier, feed_v, 1)
        times_s, _, lights = played_load(sequence, wired, full, begin_s, second_s)
        rail = played_rail(
            supply,
            lights + amplifier_load(sequence, sound_a, feed_v),
            times_s,
            second_s,
            changeover_diode(sequence),
        )
        return given_v(float(np.nan_to_num(rail.volts.values).min()))

    low_v = 0.0
    high_v = given_v(fresh_v(supply).typical)
    if high_v <= 0 or left_v(high_v) >= high_v:
        return high_v
    for _ in range(_HALVINGS):
        middle_v = (low_v + high_v) / 2
        if left_v(middle_v) >= middle_v:
            low_v = middle_v
        else:
            high_v = middle_v
    return low_v or given_v(fresh_v(supply).typical)


def recommend(
    names: Iterable[str], rig: Rig, told: Callable[[str, int], None] = lambda name, done: None
) -> dict[str, Recommendation | None]:
    """For each clip of these names the loudest of a range of corners, each with the most gain that
    its limits allow; None for silence.

    What is matched to another clip follows that one as recommended, if it is among the names, and
    is never louder. told: called with each clip's name and how many are done before it. Raises
    ClipError with the faults of all.
    """
    names = list(dict.fromkeys(names))
    settled = prepare_clips(names, rig.sequence, rig.folder)
    found: dict[str, Recommendation | None] = {}
    for name in [name for name in settled if name in names]:
        told(name, len(found))
        clip = rig.sequence.clips[name]
        before = rig.play(clip, settled[name])
        if before.samples.any():
            done = _loudest(rig, before, settled.get(clip.match_to or ""))
            settled[name] = done.after.prepared
            found[name] = done
        else:
            found[name] = None
    return {name: found[name] for name in names}


def _loudest(rig: Rig, before: Alone, matched: PreparedClip | None) -> Recommendation:
    """The best corner, from the lowest up, once more as the clip is stored."""
    options = (
        _most_gain(rig, before, corner_hz, matched) for corner_hz in _corners_hz(rig, before)
    )
    best, limited_by = next(options)
    for option, bound in options:
        if option.laeq_db > best.laeq_db + _WORTH_DB:
            best = option
            limited_by = bound
    return Recommendation(before, _as_stored(rig, before, best.clip, matched), limited_by)


def _corners_hz(rig: Rig, before: Alone) -> list[float | None]:
    """What the clip has, and what is higher, up to the speaker's resonance."""
    clip = before.clip
    resonance_hz = mounted_resonance_hz(rig.speaker)
    rate_hz = min(
        read(before.prepared.name, clip, rig.folder).rate_hz, clip_rate_hz(clip, rig.sequence.board)
    )
    low_hz = max(_CORNERS_HZ[0], clip.high_pass_hz or 0.0)
    high_hz = min(_CORNERS_HZ[1], _HIGHEST_CORNER * rate_hz)
    tried = [
        float(f"{corner_hz:.2g}")
        for corner_hz in np.geomspace(resonance_hz / 8, resonance_hz, _CORNERS)
    ]
    return [clip.high_pass_hz, *(corner_hz for corner_hz in tried if low_hz < corner_hz < high_hz)]


def _limit_dbfs(rig: Rig, name: str) -> float:
    """At the ceiling or less than a step below it, where a clip may say so."""
    return round(
        max(math.floor(rig.ceiling(name)[0] / _STEP_DB + 1e-6) * _STEP_DB, _LOWEST_LIMIT_DBFS), 1
    )


def _most_gain(
    rig: Rig, before: Alone, corner_hz: float | None, matched: PreparedClip | None
) -> tuple[Alone, str]:
    """Found by halving, in steps: what a clip asks for grows with its gain. With 16 bits a
    sample, whose coding takes no time.
    """
    limit_dbfs = _limit_dbfs(rig, before.prepared.name)

    def at(steps: int) -> tuple[Alone, str]:
        changes = {
            "high_pass_hz": corner_hz,
            "gain_db": round(steps * _STEP_DB, 1),
            "limit_to_dbfs": limit_dbfs,
            "coding": "pcm16",
        }
        alone = rig.alone(before.prepared.name, before.clip.model_copy(update=changes), matched)
        return alone, rig.broken(alone)

    low, high = (round(gain_db / _STEP_DB) for gain_db in _GAINS_DB)
    limited_by = "gain_db"
    if matched is not None:
        high = min(high, math.floor(before.clip.gain_db / _STEP_DB + 1e-6))
        limited_by = "match_to"
    alone, broken = at(high)
    over_db = alone.prepared.conditioning.limited_db - MOST_LIMITING_DB
    if over_db > 0:
        # Each decibel less of gain is one less for the limiter to take.
        high = max(high - math.ceil(over_db / _STEP_DB), low)
        limited_by = rig.ceiling(before.prepared.name)[1]
        alone, broken = at(high)
    if not broken:
        return alone, limited_by
    while high - low > 1:
        middle = (low + high) // 2
        reason = at(middle)[1]
        if reason:
            high = middle
            broken = reason
        else:
            low = middle
    return at(low)[0], broken


def _as_stored(rig: Rig, before: Alone, clip: m.Clip, matched: PreparedClip | None) -> Alone:
    """In the coding of the clip, whose errors may go beyond a limit that the samples keep: then
    all is a few steps lower.
    """
    for steps in range(_MOST_STEPS):
        lower_db = steps * _STEP_DB
        changes = {
            "coding": before.clip.coding,
            "gain_db": round(max(clip.gain_db - lower_db, _GAINS_DB[0]), 1),
            "limit_to_dbfs": round(
                max((clip.limit_to_dbfs or 0.0) - lower_db, _LOWEST_LIMIT_DBFS), 1
            ),
        }
        alone = rig.alone(before.prepared.name, clip.model_copy(update=changes), matched)
        if not rig.broken(alone):
            break
    return alone
