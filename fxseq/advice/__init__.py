"""What a maker asks before anything is settled: how fast may a trigger repeat, how loud can clips
be, what fits the board's memory.

May import every floor below. Answers are tried, not calculated: each is played, and `tune` and the
advice for a speaker put it to the checks that a whole prop is put to.

For `fit` each clip is made ready in every way as it would be stored (`candidates`), and judged as
the press script plays it (`plays`, `loss`); the best of all combinations is found, not approached
(`choose`); and what it loses is measured on the whole run, the table compiled and played
(`fitting`).
"""

from fxseq.advice.candidates import Candidate
from fxseq.advice.choose import NothingFits, choose
from fxseq.advice.fitting import Fit, Outcome, as_meant, best_that_fits, fit
from fxseq.advice.for_speaker import Alone, Recommendation, Rig, recommend, rig_of
from fxseq.advice.loss import FULL_SCALE_DB, Ear
from fxseq.advice.sweep import Limit, RatePoint, hours_held, limits_of, measure, repeating_trigger
from fxseq.advice.tuning import Break, TuneReport, exempt_area_of, tune

__all__ = [
    "Alone", "Break", "Candidate", "Ear", "FULL_SCALE_DB", "Fit", "Limit", "NothingFits", "Outcome",
    "RatePoint", "Recommendation", "Rig", "TuneReport", "as_meant", "best_that_fits", "choose",
    "exempt_area_of", "fit", "hours_held", "limits_of", "measure", "recommend", "repeating_trigger",
    "rig_of", "tune",
]  # fmt: skip
