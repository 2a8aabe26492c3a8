"""Every check there is, with what stands behind it."""
from fxseq.acoustics import levels, part_checks
from fxseq.checks import heat, pulses, timing
from fxseq.checks.findings import EXPLAINED
from fxseq.clips import examine
from fxseq.hazards import cautions, flicker, hearing, report
from fxseq.power import changeover, current, layout, lines, protection, regulator_checks, run_time
from fxseq.power import findings as circuit_findings
from fxseq.sequence import Explanation, explained

_MODULES = (examine, levels, part_checks, changeover, current, layout, lines, protection, regulator_checks, run_time, circuit_findings,
            cautions, flicker, hearing, report, heat, pulses, timing)
_ALL = [*EXPLAINED.values(), *(explanation for module in _MODULES for explanation in module.EXPLAINED.values())]

EXPLANATIONS: dict[str, Explanation] = explained(*sorted(_ALL, key=lambda explanation: explanation.check))
"""By the id of the check, in order of the alphabet."""
