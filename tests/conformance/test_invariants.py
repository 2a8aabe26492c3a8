"""What holds in every run, whatever the table (SPEC 1 R2, and the ranges of sections 5 and 6)."""

from collections.abc import Iterator
from itertools import pairwise

from hypothesis import given
from plain_player import EVENT_KINDS, PlainPlayer
from plain_reader import read
from running import Result, play_reference, told
from strategies import Run, often, runs

from fxseq.table import encode


def reference(run: Run) -> Result:
    return play_reference(run.table, run.presses, run.until_frame)


@often(20)
@given(runs())
def test_trace_ascends_and_names_only_what_the_table_has(run: Run) -> None:
    table = run.table
    counts = {
        "PRESS": len(table.inputs),
        "RELEASE": len(table.inputs),
        "SELECT": len(table.selectors),
        "VOLUME": 1,
        "START": len(table.triggers),
        "STOP": len(table.triggers),
        "SHOT": len(table.triggers),
        "EMPTY": len(table.triggers),
        "EFFECT": len(table.effects),
        "SOUND": table.voices,
        "CUT": table.voices,
        "RELEASED": table.voices,
        "FADE": len(table.groups),
        "COUNT": len(table.counters),
        "REFUSED": len(table.effects),
    }
    trace = told(reference(run))
    assert set(counts) == set(EVENT_KINDS)
    assert all(index < counts[name] and 0 <= value <= 65535 for _, name, index, value in trace)
    assert all(0 <= one[0] <= other[0] < run.until_frame for one, other in pairwise(trace))


@often(20)
@given(runs())
def test_counters_duties_and_samples_stay_within_their_ranges(run: Run) -> None:
    result = reference(run)
    assert all(
        value <= run.table.counters[index].maximum for _, _, index, value in told(result, "COUNT")
    )
    assert all(0 <= duty < 2**run.table.pwm_bits for frame in result.duties for duty in frame)
    assert all(-32768 <= sample <= 32767 for sample in result.samples)
    assert (
        len(result.samples) == run.until_frame * run.table.samples_per_frame
        and len(result.duties) == run.until_frame
    )


@often(20)
@given(runs())
def test_what_starts_stops_before_it_starts_again(run: Run) -> None:
    events = told(reference(run), "START", "STOP")
    for trigger in range(len(run.table.triggers)):
        words = [name for _, name, index, _ in events if index == trigger]
        assert words == ["START", "STOP"] * (len(words) // 2) + ["START"] * (len(words) % 2)


def sounds(run: Run) -> Iterator[tuple[bool, bool]]:
    """For each SOUND: whether a lower voice was free, and whether its own was free or, if it was
    not, CUT just before.
    """
    player = PlainPlayer(read(encode(run.table)))
    for frame in range(run.until_frame):
        sounding = [voice is not None for voice in player.mixer.voices]
        seen = len(player.trace)
        player.play_frame([tuple(event) for event in run.presses if event.frame == frame])
        for (_, before, cut_voice, _), (_, kind, voice, _) in pairwise(
            [(frame, 0, 0, 0), *player.trace[seen:]]
        ):
            if kind == EVENT_KINDS["SOUND"]:
                cut = before == EVENT_KINDS["CUT"] and cut_voice == voice
                yield not all(sounding[:voice]), cut == sounding[voice]
                sounding[voice] = True


@often(20)
@given(runs())
def test_sound_takes_the_lowest_voice_that_is_free_or_one_cut_just_before(run: Run) -> None:
    assert all(taken_well and not lower_was_free for lower_was_free, taken_well in sounds(run))
