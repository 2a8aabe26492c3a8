"""The searching encoder of QOA: against the published encoder and FFmpeg's decoder on
recordings, and what its settings do.
"""

import io
from functools import cache

import av
import numpy as np
import pytest
import qoa_reference
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from qoa_file import qoa_file
from real_sounds import recordings

from fxseq.clips import decode, qoa, qoa_search
from fxseq.clips.coding import runs
from fxseq.clips.qoa_beam import search

RECORDINGS = 40
RATE_HZ = 11_025


@cache
def sounds() -> tuple[tuple[str, NDArray[np.int16]], ...]:
    return tuple(recordings(RECORDINGS, RATE_HZ, most_s=1.0))


@cache
def coded(number: int) -> bytes:
    """A recording, coded by a narrow search: what holds for it holds for a wider one."""
    return qoa_search.encode(sounds()[number][1], width=4)


def error_energy(samples: NDArray[np.int16], data: bytes, loop_start: int = 0) -> float:
    """Energy of the error."""
    error = samples.astype(float) - decode(data, "qoa", len(samples), loop_start)
    return float((error**2).sum())


def heard_by_ffmpeg(file: bytes) -> NDArray[np.int16]:
    """Samples of a .qoa file as FFmpeg's own decoder (libavcodec/qoadec.c) gives them."""
    with av.open(io.BytesIO(file), format="qoa") as container:
        return np.concatenate(
            [frame.to_ndarray().reshape(-1) for frame in container.decode(audio=0)]
        )


@pytest.mark.parametrize("number", range(RECORDINGS))
def test_ffmpeg_decodes_a_recording_to_the_same_samples(number: int) -> None:
    samples = sounds()[number][1]
    decoded = qoa.decode(coded(number), len(samples))
    assert (heard_by_ffmpeg(qoa_file(coded(number), len(samples), RATE_HZ)) == decoded).all()


@pytest.mark.parametrize("number", range(RECORDINGS))
def test_a_recording_has_less_error_than_from_the_published_encoder_at_the_same_bytes(
    number: int,
) -> None:
    samples = sounds()[number][1]
    reference = qoa_reference.encode(samples)
    assert len(coded(number)) == len(reference)
    assert error_energy(samples, coded(number)) < error_energy(samples, reference)


def test_the_rival_is_the_published_encoder() -> None:
    # Source: the golden file of test_qoa.py, made with the reference encoder (phoboslab/qoa, qoa.h,
    # commit 769a116f).
    samples = [
        0, 100, 400, 900, 1500, 2100, 2500, 2600, 2300, 1600, 600, -500, -1600, -2500, -3000, -3000,
        -2500, -1600, -500, 600, 1500, 2000, 2000, 1500,
    ]  # fmt: skip
    file = qoa_file(qoa_reference.encode(np.array(samples, np.int16)), 24, 16000)
    assert (
        file.hex()
        == "716f61660000001801003e8000180028000000000000000000000000e0004000406045db582a48814afb000000000000"
    )


def test_a_wider_search_leaves_less_error() -> None:
    totals = [
        sum(
            error_energy(x, qoa_search.encode(x, width=width)) / (x.astype(float) ** 2).sum()
            for _, x in sounds()[::8]
        )
        for width in (1, 4, 16)
    ]
    assert totals[0] > totals[1] > totals[2]


def test_the_bytes_are_the_same_on_any_number_of_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    samples = np.concatenate([x for _, x in sounds()[:8]])
    found = set()
    for cores in (1, 2, 7):
        monkeypatch.setattr(qoa_search.os, "cpu_count", lambda cores=cores: cores)
        found.add(qoa_search.encode(samples, width=2))
    assert len(found) == 1


def test_progress_counts_the_frames_of_both_runs() -> None:
    told: list[tuple[int, int]] = []
    qoa_search.encode(
        np.zeros(12_000, np.int16),
        loop_start=1,
        width=1,
        progress=lambda done, of: told.append((done, of)),
    )
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_a_loop_begins_with_a_state_of_its_own() -> None:
    samples = sounds()[1][1]
    both = qoa_search.encode(samples, loop_start=777, width=4)
    decoded = decode(both, "qoa", len(samples), 777)
    second = both[qoa.byte_count(777) :]
    assert (qoa.decode(second, len(samples) - 777) == decoded[777:]).all()
    assert error_energy(samples, both, loop_start=777) < 1.1 * error_energy(samples, coded(1))


sound = st.lists(
    st.one_of(st.integers(-32768, 32767), st.sampled_from([-32768, 0, 32767])),
    min_size=1,
    max_size=150,
)


@given(values=sound, loop_start=st.integers(0, 150), width=st.integers(1, 5))
@settings(max_examples=200)
def test_any_samples_become_a_valid_clip_that_ffmpeg_decodes_alike(
    values: list[int], loop_start: int, width: int
) -> None:
    samples = np.array(values, np.int16)
    loop_start = min(loop_start, len(values) - 1)
    data = qoa_search.encode(samples, loop_start, width)
    decoded = decode(data, "qoa", len(samples), loop_start)
    at = 0
    first = 0
    for run in runs(len(samples), loop_start):
        part = data[at : at + qoa.byte_count(run)]
        assert (heard_by_ffmpeg(qoa_file(part, run, RATE_HZ)) == decoded[first : first + run]).all()
        at = at + len(part)
        first = first + run


def test_a_search_that_can_only_take_a_weight_beyond_16_bits_leaves_the_weights_alone() -> None:
    # By hand: with all weights at their largest and history of both signs, any change of weights
    # overflows, and the residual of 1 changes none.
    start = np.array([1000, -1000, 1000, -1000, 32767, 32767, 32767, 32767], np.int32)
    codes, _ = search(np.full(20, -32768), start, 4)
    assert codes.tolist() == [0]


@pytest.mark.parametrize("value", [0, 1, -1, 32767, -32768])
def test_a_steady_level_is_held_to_three_steps(value: int) -> None:
    # The smallest residual is one step and never zero (qoa.h, qoa_dequant_tab), so silence cannot
    # be met exactly.
    samples = np.full(6000, value, np.int16)
    assert (
        np.abs(qoa.decode(qoa_search.encode(samples, width=4), 6000).astype(int) - value).max() <= 3
    )
