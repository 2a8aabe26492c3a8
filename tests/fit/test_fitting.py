"""Clips fitted into a board."""
import json
import math
from pathlib import Path
from random import Random

import numpy as np
import pytest

from fxseq.checks import load_prop
from fxseq.fit import Candidate, Fit, NothingFits, settings_of
from fxseq.sequence import Document


def uniform(fitted: Fit) -> list[dict[str, Candidate]]:
    """One rate and one coding for all clips, none cut."""
    kinds = {(each.rate_hz, each.coding) for found in fitted.candidates.values() for each in found}
    chosen = [
        {name: next(each for each in found if (each.rate_hz, each.coding, each.end_ms) == (*kind, None)) for name, found in fitted.candidates.items()}
        for kind in kinds
    ]
    assert len(chosen) == 5 * 4
    return chosen


@pytest.mark.parametrize("seed", range(20))
def test_best_is_never_worse_than_one_rate_and_coding_for_all(fitted: Fit, seed: int) -> None:
    everywhere = uniform(fitted)
    sizes = sorted(map(fitted.bytes_of, everywhere))
    room = Random(seed).randint(sizes[0], sizes[-1])
    best = fitted.best(room)
    assert fitted.bytes_of(best) <= room
    assert fitted.lost(best) <= min(fitted.lost(picked) for picked in everywhere if fitted.bytes_of(picked) <= room)


def test_more_room_never_loses_more(fitted: Fit) -> None:
    curve = fitted.curve()
    assert all(after >= before - 1e-9 for (_, before), (_, after) in zip(curve, curve[1:], strict=False))
    assert len({size for size, _ in curve}) > 10


def test_enough_room_loses_nothing(fitted: Fit) -> None:
    best = fitted.best(1 << 30)
    assert {(each.rate_hz, each.coding, each.end_ms) for each in best.values()} == {(22050, "pcm16", None)}
    assert (fitted.below_sound_db(best), fitted.level_db(best)) == (math.inf, -math.inf)


def test_what_is_no_number_is_none_in_plain_values(fitted: Fit) -> None:
    """JSON has no infinity."""
    plain = fitted.as_dict(fitted.best(1 << 30))
    assert (plain["lost_below_sound_db"], plain["lost_level_db"]) == (None, None)
    assert {clip["lost_below_sound_db"] for clip in plain["clips"].values()} == {None}
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def test_a_ratio_is_a_number_where_something_is_lost(fitted: Fit) -> None:
    picked = fitted.best(4000)
    expected_db = 10 * math.log10(fitted.heard / fitted.lost(picked))
    assert fitted.as_dict(picked)["lost_below_sound_db"] == pytest.approx(expected_db, abs=0.005)


def test_too_little_room_says_how_many_bytes_are_missing(fitted: Fit) -> None:
    least = fitted.other_bytes + sum(min(each.bytes for each in found) for found in fitted.candidates.values())
    assert fitted.bytes_of(fitted.best(least)) == least
    with pytest.raises(NothingFits) as error:
        fitted.best(least - 7)
    assert error.value.missing == 7


def test_candidates_are_what_prepare_makes_of_their_settings(fitted: Fit) -> None:
    """For a cut too, though its samples are not coded again to judge it. A record takes a few bytes more or fewer, by the length of its numbers."""
    picked = fitted.best(3000)
    assert any(each.end_ms for each in picked.values())
    table = fitted.compiled_bytes(picked)
    assert fitted.bytes_of(picked) - 8 * len(picked) <= table <= fitted.bytes_of(picked)


def test_loss_of_a_cut_is_that_of_the_clip_as_it_is_then_coded(fitted: Fit) -> None:
    picked = next(each for each in fitted.candidates["crack"] if each.end_ms and each.coding == "ima_adpcm" and each.rate_hz == 22050)
    before, after = fitted.heard_at_board(picked)
    lost = fitted.ear.energy(before.astype(float) - after, 22050)
    assert lost == pytest.approx(picked.lost, rel=0.2)


def test_plays_are_counted_by_gain_and_time(fitted: Fit) -> None:
    """Two shots (the second one at the hold), a tone at -20 dB, and a hum of 250 ms held for half a second and let go in 50 ms, at -6 dB."""
    assert fitted.weights["crack"] == pytest.approx(2, rel=0.01)
    assert fitted.weights["tone"] == pytest.approx(2 * 0.01, rel=0.01)
    assert fitted.weights["hum"] == pytest.approx((0.5 + 2 * 0.05 + 0.02) / 0.25 * 10**-0.6, rel=0.1)
    assert fitted.unplayed == ()


def test_loop_is_compared_at_its_own_pace(fitted: Fit) -> None:
    """At 16 kHz a tone of 2.4 kHz is nearly whole; a pace that is off by half a sample would lose it."""
    low = next(each for each in fitted.candidates["hum"] if (each.rate_hz, each.coding) == (16000, "pcm16"))
    assert fitted.clip_below_sound_db(low) > 20


def test_written_settings_give_the_picked_table(fitted: Fit, file: Path, tmp_path: Path) -> None:
    picked = fitted.best(4000)
    document = Document.read(file)
    for name, each in picked.items():
        for key, value in settings_of(fitted.prop.sequence.clips[name], each, fitted.prop.sequence.board).items():
            document.set(("clips", name, key), value)
    document.write(file.parent / "written.toml")
    written = load_prop(file.parent / "written.toml")
    assert len(written.compiled.data) <= 4000
    assert "# noise that dies away" in document.text
    assert {name: clip.coding for name, clip in written.sequence.clips.items()} == {name: each.coding for name, each in picked.items()}


def test_before_and_after_are_as_long_as_the_clip(fitted: Fit) -> None:
    for name, whole in fitted.meant.items():
        before, after = fitted.heard_at_board(fitted.candidates[name][-1])
        assert len(before) == len(after) == len(whole.samples)
        assert before.dtype == after.dtype == np.int16
