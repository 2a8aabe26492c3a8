"""A prop judged: every check that there is, one module a subject, with its rule, its limit and its
words.

May import every floor below. `findings` says what is wrong with a run; `check.py` has the one kind
of check.
"""

from fxseq.checks.check import Check, put
from fxseq.checks.draw import run_time_text
from fxseq.checks.findings import (
    CHECKS,
    clip_findings,
    findings,
    findings_without_playing,
    wiring_findings,
)
from fxseq.checks.flashes import FLASH_NOTICE, exempt_area
from fxseq.checks.hearing import EVERYDAY_SOURCE, compared, harmless_for, loud_in_words
from fxseq.checks.supply import (
    ADAPTOR_CAUTION,
    CODES,
    HEAT,
    LITHIUM_CAUTION,
    wiring_cautions,
)

__all__ = [
    "ADAPTOR_CAUTION",
    "CHECKS",
    "CODES",
    "Check",
    "EVERYDAY_SOURCE",
    "FLASH_NOTICE",
    "HEAT",
    "LITHIUM_CAUTION",
    "clip_findings",
    "compared",
    "exempt_area",
    "findings",
    "findings_without_playing",
    "harmless_for",
    "loud_in_words",
    "put",
    "run_time_text",
    "wiring_cautions",
    "wiring_findings",
]
