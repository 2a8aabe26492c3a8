"""A finding: the result of one check, with its figure, its limit, where the limit comes from,
and a remedy.
"""

import re
from dataclasses import asdict, dataclass, field
from enum import IntEnum
from typing import Any, Literal

Kind = Literal[
    "a standard",
    "a handbook",
    "research",
    "data sheets",
    "your own files",
    "arithmetic",
    "common practice",
    "from memory",
]


class Weight(IntEnum):
    """How much a finding matters; findings are shown heaviest first."""

    NOTE = 0
    WARNING = 1
    FAULT = 2


@dataclass(frozen=True)
class Finding:
    """The result of one check.

    check: stable name of the check, `area.what`, for example `clip.dc`. weight: how much it
    matters. subject: what was checked, as the maker named it, for example `clip 'crack'`. figure:
    what was found, with its unit. limit: what it was held against, with its unit; empty for a note
    without a limit. source: where the limit comes from; "common practice, no source" where there is
    none. remedy: what to do. part_source: where the figures of a generic part come from, which is
    for those who ask for the working. decided: which key of the prop file says that this is meant
    so; empty where the finding is open. inputs: (symbol of the check's formula, value with its
    unit): the working behind the figure, which makes no finding another one.
    """

    check: str
    weight: Weight
    subject: str
    figure: str
    limit: str = ""
    source: str = ""
    remedy: str = ""
    inputs: tuple[tuple[str, str], ...] = field(default=(), compare=False)
    part_source: str = ""
    decided: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; the weight by its lower-case name, each input as a number
        with its unit, or as text.
        """
        inputs = {symbol: _measured(text) for symbol, text in self.inputs}
        return {**asdict(self), "weight": self.weight.name.lower(), "inputs": inputs}


_NUMBER = re.compile(r"(-?\d+(?:\.\d+)?)(?: ((?!to |of )[^\d\s,]\S*(?: s| m)?)|(%))?")


def _measured(text: str) -> dict[str, float | str] | str:
    """`0.43 mA` as `{"value": 0.43, "unit": "mA"}`; what is no number with its unit stays text."""
    match = _NUMBER.fullmatch(text)
    if match is None:
        return text
    number = float(match[1])
    return {
        "value": int(number) if number.is_integer() else number,
        "unit": match[2] or match[3] or "",
    }
