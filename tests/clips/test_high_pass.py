"""The high-pass of clips."""

import numpy as np
import pytest

from fxseq.clips.shaping import high_passed, high_passed_loop

RATE_HZ = 22_050


@pytest.mark.parametrize("corner_hz", [20.0, 150.0, 800.0, 2000.0])
def test_it_has_the_gain_of_a_butterworth_filter_of_4th_order(corner_hz: float) -> None:
    """S. Butterworth, "On the Theory of Filter Amplifiers" (1930): |H|^2 = 1 / (1 + (fc/f)^8),
    here with the tangent of the bilinear transform in place of the frequency (both from memory).
    """
    impulse = np.zeros(4 * RATE_HZ)
    impulse[0] = 1
    frequencies_hz = np.fft.rfftfreq(len(impulse), 1 / RATE_HZ)[4:-1]
    ratio = np.tan(np.pi * corner_hz / RATE_HZ) / np.tan(np.pi * frequencies_hz / RATE_HZ)
    gain = np.abs(np.fft.rfft(high_passed(impulse, RATE_HZ, corner_hz))[4:-1])
    assert gain == pytest.approx(1 / np.sqrt(1 + ratio**8), abs=1e-6)


def test_it_takes_24_db_an_octave() -> None:
    """An octave below the corner 1 / (1 + 2^8) of the power is left, 24.1 dB less; the tangent
    makes it 24.1 dB within 0.1 dB here.
    """
    tone = np.sin(2 * np.pi * 100 * np.arange(2 * RATE_HZ) / RATE_HZ)
    left = high_passed(tone, RATE_HZ, 200)[RATE_HZ:]
    assert 20 * np.log10(np.abs(left).max()) == pytest.approx(-24.1, abs=0.1)


def test_nothing_is_heard_before_the_sound() -> None:
    sound = np.zeros(1000)
    sound[500:] = 0.5
    assert not high_passed(sound, RATE_HZ, 300)[:500].any()


@pytest.mark.parametrize(("start", "length"), [(0, 100), (0, 30_000), (2000, 100), (2000, 30_000)])
def test_a_loop_is_filtered_as_if_it_had_gone_round_for_ever(start: int, length: int) -> None:
    """And what comes before it runs into it: up to the loop's end, all is as in a sound that
    goes on.
    """
    sound = np.random.default_rng(1).normal(size=start + length) + 0.5
    filtered, loop = high_passed_loop(sound, (start, start + length), RATE_HZ, 100)
    turns = 2 + 30_000 // length
    for_ever = high_passed(np.concatenate([sound, np.tile(sound[start:], turns)]), RATE_HZ, 100)
    assert (loop[1] - loop[0], loop[1]) == (length, len(filtered))
    last = loop[0] + (turns - 1) // 2 * length
    assert filtered[loop[0] :] == pytest.approx(for_ever[last : last + length], abs=1e-3)
    if start:
        assert np.array_equal(filtered, for_ever[: len(filtered)])
    else:
        assert loop == (0, length)
