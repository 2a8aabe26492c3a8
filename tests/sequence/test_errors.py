"""Faults, errors and findings."""

import pytest

from fxseq.sequence import (
    ClipError,
    Fault,
    Finding,
    FxError,
    LinkError,
    OutputError,
    SequenceError,
    TableError,
    UsageError,
    Weight,
)


@pytest.mark.parametrize(
    ("fault", "text"),
    [
        (Fault("here", "it is 3"), "here: it is 3."),
        (Fault("here", "it is 3", "1 to 2"), "here: it is 3; allowed: 1 to 2."),
        (Fault("here", "it is 3", "", "Lower it."), "here: it is 3. Lower it."),
        (
            Fault("here", "it is 3", "1 to 2", "Lower it."),
            "here: it is 3; allowed: 1 to 2. Lower it.",
        ),
    ],
)
def test_fault_says_where_what_allowed_and_remedy(fault, text):
    assert str(fault) == text


def test_error_has_a_line_for_each_fault():
    error = SequenceError(Fault("a", "x"), Fault("b", "y"))
    assert str(error) == "a: x.\nb: y."
    assert error.faults == (Fault("a", "x"), Fault("b", "y"))


@pytest.mark.parametrize("kind", [ClipError, LinkError, OutputError, SequenceError, TableError])
def test_fault_of_input_or_device_ends_with_status_1(kind):
    assert issubclass(kind, FxError)
    assert kind.exit_status == 1


def test_fault_of_usage_ends_with_status_2():
    assert UsageError.exit_status == 2


def test_finding_is_given_as_plain_values():
    finding = Finding(
        "clip.dc",
        Weight.WARNING,
        "clip 'hum'",
        "2 %",
        "1 %",
        "common practice, no source",
        "Use remove_dc.",
        (("m", "2 %"),),
    )
    assert finding.as_dict() == {
        "check": "clip.dc",
        "weight": "warning",
        "subject": "clip 'hum'",
        "figure": "2 %",
        "limit": "1 %",
        "source": "common practice, no source",
        "remedy": "Use remove_dc.",
        "inputs": {"m": {"value": 2, "unit": "%"}},
        "part_source": "",
        "decided": "",
    }


def test_heavier_findings_sort_later():
    assert sorted([Weight.FAULT, Weight.NOTE, Weight.WARNING]) == [
        Weight.NOTE,
        Weight.WARNING,
        Weight.FAULT,
    ]
