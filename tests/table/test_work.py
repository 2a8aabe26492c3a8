"""What clips take of a processor; the cycles are those that tests/speed/cost.py prints."""

import pytest
from test_compile import Values, compiled, values  # noqa: F401

from fxseq.sequence import TableError
from fxseq.sequence.model import Board, Processor
from fxseq.table.work import decodes_in_time, sound_share

pytestmark = pytest.mark.quick


def board(kind: str, clock_mhz: float, voices: int = 4, sample_rate_hz: int = 22050) -> Board:
    return Board(
        channels=1,
        voices=voices,
        sample_rate_hz=sample_rate_hz,
        processor=Processor(kind=kind, clock_mhz=clock_mhz),
    )


@pytest.mark.parametrize(
    ("coding", "rate_hz", "expected"),
    [
        # 4 voices at 32 MHz, half of which is 16 million cycles a second: 4 * (51 * 22050 + 154 *
        # 22050) is 18 million, at 11025 Hz 11 million.
        ("qoa", 22050, False),
        ("qoa", 11025, True),
        ("ima_adpcm", 22050, True),
        ("mulaw", 22050, True),
        ("pcm16", 22050, True),
    ],
)
def test_small_cortex_decodes_qoa_only_at_low_rates(
    coding: str, rate_hz: int, expected: bool
) -> None:
    assert decodes_in_time(board("cortex_m", 32), coding, rate_hz) == expected


def test_avr_has_no_qoa_and_ima_at_8_khz() -> None:
    # (227 + 137) * 8000 is 2.9 million cycles, half of 16 MHz is 8 million; three voices are 8.7
    # million.
    assert not decodes_in_time(board("avr", 1000), "qoa", 4000)
    assert decodes_in_time(board("avr", 16, 1, 8000), "ima_adpcm", 8000)
    assert not decodes_in_time(board("avr", 16, 3, 8000), "ima_adpcm", 8000)


def test_board_without_a_processor_decodes_everything() -> None:
    assert decodes_in_time(Board(channels=1, voices=16, sample_rate_hz=48000), "qoa", 48000)


def test_share_of_the_time_is_that_of_all_voices() -> None:
    # 4 * (51 + 154) * 22050 cycles of 48 million.
    assert sound_share(board("cortex_m", 48), "qoa", 22050) == pytest.approx(0.37669, abs=1e-5)


def test_clip_that_the_processor_cannot_keep_up_with_is_refused(values: Values) -> None:  # noqa: F811
    values["board"]["processor"] = {"kind": "avr", "clock_mhz": 16}
    # 4 * (227 * 16000 + 72 * 16000) of 16 million is 120 %; at 8 kHz 4 * (227 * 16000 + 72 * 8000)
    # is 105 %.
    with pytest.raises(TableError) as caught:
        compiled(values)
    faults = str(caught.value)
    assert "clip 'beep': its coding mulaw takes 120% of the processor's time when all 4" in faults
    assert "clip 'low': its coding mulaw takes 105%" in faults
    values["board"]["voices"] = 2
    compiled(values)


def test_pitch_counts_too(values: Values) -> None:  # noqa: F811
    values["board"] |= {"voices": 2, "processor": {"kind": "avr", "clock_mhz": 13}}
    # 2 * (227 * 16000 + 72 * 16000) of 13 million is 73.6 %; a fifth higher 77.1 %.
    compiled(values)
    values["effects"]["bolt"]["pitch_spread_percent"] = 20
    with pytest.raises(TableError, match="clip 'beep': its coding mulaw takes 77%"):
        compiled(values)
