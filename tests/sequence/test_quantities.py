"""Numbers as they are said."""

import pytest

from fxseq.sequence.quantities import amount, fixed, from_to, number, off_by, percent_of


@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (1540.2, "mA", 3, "1540 mA"),
        (60_020, "mA", 4, "60.02 A"),
        (179.6, "W", 2, "180 W"),
        (2.1e3, "ml", 3, "2100 ml"),
        (1e6, "uF", 3, "1 F"),
        (47_000, "uF", 3, "47000 uF"),
        (2.2e6, "ohm", 3, "2.2 Mohm"),
        (4700, "ohm", 3, "4700 ohm"),
        (100_000, "ohm", 3, "100 kohm"),
        (0.00023, "W", 2, "230 uW"),
        (0.00995, "mA", 3, "9.95 uA"),
        (0.005, "ohm", 3, "0.005 ohm"),
        (9.4e-6, "sr", 2, "0.0000094 sr"),
        (-0.0, "dB", 3, "0 dB"),
        (-2.5, "dB", 3, "-2.5 dB"),
        (1.33e-131, "mA", 3, "0 mA"),
        (20.0, "mA", 3, "20 mA"),
        (6, "", 3, "6"),
        (float("inf"), "V", 3, "inf V"),
        (-20_000, "mA", 3, "-20 A"),
        (3e15, "g", 3, "more than 1000000 kg"),
        (1e6, "", 3, "1000000"),
    ],
)
def test_amount_has_no_powers_of_ten_and_a_unit_that_suits_it(
    value: float, unit: str, digits: int, text: str
) -> None:
    assert amount(value, unit, digits) == text


def test_number_keeps_significant_digits_at_any_size() -> None:
    assert [number(value) for value in (123_456, 0.123456, 1.0, 99.96, 0.000_123_456)] == [
        "123000",
        "0.123",
        "1",
        "100",
        "0.000123",
    ]


def test_fixed_never_shows_a_minus_before_zero() -> None:
    assert [
        fixed(-0.4),
        fixed(-0.04, 1),
        fixed(-0.06, 1),
        fixed(12.34, 1),
        fixed(float("-inf")),
    ] == ["0", "0.0", "-0.1", "12.3", "-inf"]


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [(4.0, 6.0, "4 to 6 V"), (6.0, 6.001, "6 V"), (0.004, 6.0, "4 mV to 6 V")],
)
def test_from_to_says_what_is_alike_once(low: float, high: float, text: str) -> None:
    assert from_to(low, high, "V") == text


def test_silly_percentages_are_said_as_times() -> None:
    assert [percent_of(percent, "that") for percent in (252.2, 85.4, 0.157)] == [
        "252 % of that",
        "85 % of that",
        "0.16 % of that",
    ]
    assert percent_of(49_160_493, "a day's dose") == "more than 1000 times a day's dose"
    assert (percent_of(100_000, "it"), percent_of(100_010, "it")) == (
        "100000 % of it",
        "more than 1000 times it",
    )
    assert [off_by(percent) for percent in (12.0, -0.2, -99.0, 1353, 1e9)] == [
        "+12 %",
        "0 %",
        "-99 %",
        "14.5 times as much",
        "more than 1000 times as much",
    ]
