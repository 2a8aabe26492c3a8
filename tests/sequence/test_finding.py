"""Findings as values for programs."""

import pytest

from fxseq.sequence import Finding, Weight


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0.43 mA", {"value": 0.43, "unit": "mA"}),
        ("-3 dB", {"value": -3, "unit": "dB"}),
        ("37", {"value": 37, "unit": ""}),
        ("12 %", {"value": 12, "unit": "%"}),
        ("0.0001 A^2 s", {"value": 0.0001, "unit": "A^2 s"}),
        ("collapse", "collapse"),
        ("4 to 6 V", "4 to 6 V"),
        ("more than 1000 kg", "more than 1000 kg"),
    ],
)
def test_an_input_is_a_number_with_its_unit(text: str, value: object) -> None:
    assert Finding("a.b", Weight.NOTE, "lamp", "it", inputs=(("x", text),)).as_dict()["inputs"] == {
        "x": value
    }
