"""Clips fitted into a board."""

import json
import math
from pathlib import Path
from random import Random

import numpy as np
import pytest
from heard import measured_db, written

from fxseq.advice import Candidate, Fit, NothingFits
from fxseq.runs import prepare_clips

Picked = dict[str, Candidate]


def uniform(fitted: Fit) -> list[Picked]:
    """One rate and one coding for all clips, none cut."""
    kinds = {(each.rate_hz, each.coding) for found in fitted.candidates.values() for each in found}
    chosen = [
        {
            name: next(
                each for each in found if (each.rate_hz, each.coding, each.end_ms) == (*kind, None)
            )
            for name, found in fitted.candidates.items()
        }
        for kind in kinds
    ]
    assert len(chosen) == 5 * 5
    return chosen


def lost(picked: Picked) -> float:
    return sum(each.lost for each in picked.values())


def written_as(fitted: Fit, picked: Picked, file: Path, name: str) -> Path:
    chosen = {clip: fitted.settings(each) for clip, each in picked.items()}
    return written(
        file,
        {
            clip: settings and settings.model_dump(exclude_defaults=True)
            for clip, settings in chosen.items()
        },
        name,
    )


@pytest.mark.parametrize("room", [1200, 1900, 2600])
def test_what_is_promised_is_there(fitted: Fit, file: Path, room: int) -> None:
    """The written file played, against all clips uncut in 16 bits: shots of several pitches,
    some cut short by others, a level, a limiter, a loop.
    """
    assert any(sounding.cut_at for sounding in fitted.reference.played.soundings)
    picked = fitted.best(room)
    outcome = fitted.outcome(fitted.prop_with(picked))
    there_db = measured_db(file, written_as(fitted, picked, file, f"{room}.toml"))
    assert outcome.table_bytes <= room
    assert there_db == pytest.approx(outcome.below_sound_db, abs=0.3)
    # Each clip is judged alone, and together they hide more.
    assert there_db - 10 < fitted.foreseen_below_sound_db(picked) < there_db + 1


def test_a_cut_changes_nothing_before_it(fitted: Fit) -> None:
    """Nor the level: that of the whole clip counts, though what is left has another mean power."""
    cut = next(
        each
        for each in fitted.candidates["crack"]
        if each.end_ms and (each.rate_hz, each.coding) == (22050, "pcm16")
    )
    before, after = fitted.heard_at_board(cut)
    end = round(cut.end_ms * 22.05) - 221
    assert np.array_equal(before[:end], after[:end])
    assert before[end + 221 :].any() and not after[end + 221 :].any()


@pytest.mark.parametrize("seed", range(20))
def test_best_is_never_worse_than_one_rate_and_coding_for_all(fitted: Fit, seed: int) -> None:
    everywhere = uniform(fitted)
    sizes = sorted(map(fitted.bytes_of, everywhere))
    room = Random(seed).randint(sizes[0], sizes[-1])
    best = fitted.best(room)
    assert fitted.bytes_of(best) <= room
    assert lost(best) <= min(
        lost(picked) for picked in everywhere if fitted.bytes_of(picked) <= room
    )


def test_more_room_never_loses_more(fitted: Fit) -> None:
    curve = fitted.curve()
    assert all(
        after >= before - 1e-9 for (_, before), (_, after) in zip(curve, curve[1:], strict=False)
    )
    assert len({size for size, _ in curve}) > 10


def test_with_enough_room_no_loss_is_heard(fitted: Fit) -> None:
    """Nor is room taken for what is not heard."""
    best = fitted.best(1 << 30)
    assert {each.lost for each in best.values()} == {0}
    assert fitted.outcome(fitted.prop_with(best)).below_sound_db == math.inf
    assert fitted.bytes_of(best) < fitted.bytes_of(
        {name: found[0] for name, found in fitted.candidates.items()}
    )


def test_plain_samples_lose_nothing(fitted: Fit) -> None:
    best = {name: found[0] for name, found in fitted.candidates.items()}
    outcome = fitted.outcome(fitted.prop_with(best))
    assert outcome.below_sound_db == math.inf
    plain = fitted.as_dict(best, outcome)
    # JSON has no infinity.
    assert plain["lost_below_sound_db"] is None
    assert {clip["lost_below_sound_db"] for clip in plain["clips"].values()} == {None}
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def test_too_little_room_says_how_many_bytes_are_missing(fitted: Fit) -> None:
    least = fitted.other_bytes + sum(
        min(each.bytes for each in found) for found in fitted.candidates.values()
    )
    assert fitted.bytes_of(fitted.best(least)) == least
    with pytest.raises(NothingFits) as error:
        fitted.best(least - 7)
    assert error.value.missing == 7


def test_candidates_are_what_prepare_makes_of_their_settings(fitted: Fit, file: Path) -> None:
    picked = fitted.best(1500)
    assert any(each.end_ms for each in picked.values())
    made = prepare_clips(picked, fitted.sequence_with(picked), file.parent)
    assert {name: len(clip.data) for name, clip in made.items()} == {
        name: each.bytes for name, each in picked.items()
    }


def test_plays_are_counted_as_the_press_script_has_them(fitted: Fit) -> None:
    assert fitted.plays == {"crack": 3, "tone": 3, "hum": 3}
    assert fitted.unplayed == ()


def test_a_clip_counts_by_how_long_it_is_heard(fitted: Fit) -> None:
    """A hum of 200 ms, held for 20 ms, 20 ms and half a second, each time released over 50 ms,
    against the same heard once.
    """
    hum = fitted.reference.prop.clips["hum"]
    rate_hz = fitted.reference.rate_hz
    once = fitted.ear.loudness(fitted.ear.pressure(10 ** (-6 / 20) * hum.samples, rate_hz), rate_hz)
    assert fitted.heard["hum"] / once == pytest.approx((0.54 + 3 * 0.05) / 0.2, rel=0.1)


def test_a_soft_clip_is_judged_at_its_own_level(fitted: Fit) -> None:
    """The tone is played at -20 dB: a quarter of its loudness in quiet, not a hundredth."""
    tone = fitted.reference.prop.clips["tone"]
    rate_hz = fitted.reference.rate_hz
    full = fitted.ear.loudness(fitted.ear.pressure(tone.samples, rate_hz), rate_hz)
    assert 0.15 < fitted.heard["tone"] / 3 / full < 0.35


def test_no_clip_pays_for_another(fitted: Fit) -> None:
    """By energy the loud crack would take the room: the tone at -20 dB, and the hum, would be
    left with losses only 15.5 dB softer.
    """
    assert min(fitted.clip_below_sound_db(each) for each in fitted.best(1800).values()) > 17


def test_loop_is_compared_at_its_own_pace(fitted: Fit) -> None:
    """At 16 kHz a tone of 2.4 kHz is nearly whole; a pace that is off by half a sample would
    lose it.
    """
    low = next(
        each for each in fitted.candidates["hum"] if (each.rate_hz, each.coding) == (16000, "pcm16")
    )
    assert fitted.clip_below_sound_db(low) > 25


def test_what_is_stored_so_anyhow_needs_no_setting(fitted: Fit) -> None:
    plain = next(
        each
        for each in fitted.candidates["crack"]
        if (each.rate_hz, each.coding, each.end_ms) == (22050, "pcm16", None)
    )
    lower = next(
        each
        for each in fitted.candidates["crack"]
        if (each.rate_hz, each.coding, each.end_ms) == (16000, "pcm16", None)
    )
    assert fitted.settings(plain) is None
    assert fitted.settings(lower).model_dump(exclude_defaults=True) == {"rate_hz": 16000}


def test_before_and_after_are_as_long_as_the_clip(fitted: Fit) -> None:
    for name, whole in fitted.reference.prop.clips.items():
        before, after = fitted.heard_at_board(fitted.candidates[name][-1])
        assert len(before) == len(after) == len(whole.samples)
        assert before.dtype == after.dtype == np.int16
