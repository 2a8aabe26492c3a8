"""A finding: the result of one check, with its figure, its limit, where the limit comes from, and a remedy."""
from dataclasses import asdict, dataclass
from enum import IntEnum


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
    """

    check: str
    weight: Weight
    subject: str
    figure: str
    limit: str = ""
    source: str = ""
    remedy: str = ""

    def as_dict(self) -> dict[str, str]:
        """Plain values for `--json`; the weight by its lower-case name."""
        return {**asdict(self), "weight": self.weight.name.lower()}
