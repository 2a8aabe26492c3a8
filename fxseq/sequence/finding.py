"""A finding: the result of one check, with its figure, its limit, where the limit comes from, and a remedy. And what stands behind a check."""
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from enum import IntEnum
from typing import Any, Literal

Kind = Literal["a standard", "a handbook", "research", "data sheets", "your own files", "arithmetic", "common practice", "from memory"]


class Weight(IntEnum):
    """How much a finding matters; findings are shown heaviest first."""

    NOTE = 0
    WARNING = 1
    FAULT = 2


@dataclass(frozen=True)
class Finding:
    """The result of one check.

    check: stable name of the check, `area.what`, for example `clip.dc`.
    weight: how much it matters.
    subject: what was checked, as the maker named it, for example `clip 'crack'`.
    figure: what was found, with its unit.
    limit: what it was held against, with its unit; empty for a note without a limit.
    source: where the limit comes from; "common practice, no source" where there is none.
    remedy: what to do.
    part_source: where the figures of a generic part come from, which is for those who ask for the working.
    decided: which key of the prop file says that this is meant so; empty where the finding is open.
    inputs: (symbol of the check's explanation, value with its unit): the working behind the figure, which makes no finding another one.
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
        """Plain values for `--json`; the weight by its lower-case name, each input as a number with its unit, or as text."""
        inputs = {symbol: _measured(text) for symbol, text in self.inputs}
        return {**asdict(self), "weight": self.weight.name.lower(), "inputs": inputs}


_NUMBER = re.compile(r"(-?\d+(?:\.\d+)?)(?: ((?!to |of )[^\d\s,]\S*(?: s| m)?)|(%))?")


def _measured(text: str) -> dict[str, float | str] | str:
    """`0.43 mA` as `{"value": 0.43, "unit": "mA"}`; what is no number with its unit stays text."""
    match = _NUMBER.fullmatch(text)
    if match is None:
        return text
    number = float(match[1])
    return {"value": int(number) if number.is_integer() else number, "unit": match[2] or match[3] or ""}


@dataclass(frozen=True)
class Explanation:
    """What stands behind a check, for somebody who is no engineer. It stands in the module that makes the finding, and makes it.

    check: id of the check. about: what it asks, in one line. rule: when there is a finding, in plain words.
    source: where the limit comes from. kind: of the source of the limit.
    sureness: how far the figure and the limit can be trusted. formula: how the figure is got, symbols in braces; empty where nothing is
    calculated. symbols: meaning of every symbol, with its unit; every finding gives each its value.
    """

    check: str
    about: str
    rule: str
    source: str
    kind: Kind
    sureness: str
    formula: str = ""
    symbols: Mapping[str, str] = field(default_factory=dict)

    def finding(
        self, weight: Weight, subject: str, figure: str, limit: str = "", remedy: str = "", inputs: Mapping[str, str] | None = None,
        part_source: str = "",
    ) -> Finding:
        """A finding of this check. inputs: value of each symbol, with its unit. part_source: where the figures of the very part come from."""
        return Finding(self.check, weight, subject, figure, limit, self.source, remedy, tuple((inputs or {}).items()), part_source)

    def formula_with(self, values: Mapping[str, str]) -> str:
        """The formula with values in place of symbols; a symbol without a value stays."""
        return self.formula.format_map({symbol: values.get(symbol, symbol) for symbol in self.symbols})

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; the formula with its symbols."""
        return {**asdict(self), "formula": self.formula_with({})}


def explained(*explanations: Explanation) -> dict[str, Explanation]:
    """Explanations by the id of their check."""
    return {explanation.check: explanation for explanation in explanations}
