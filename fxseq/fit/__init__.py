"""Sound that fits the chip: the cut, rate and coding of every clip that together lose least of what is heard.

May import every floor below, and `checks`. Each clip is made ready in every way as it would be stored (`candidates`), and judged as the press
script plays it (`plays`, `loss`); the best of all combinations is found, not approached (`choose`); and what it loses is measured on the
whole run, the table compiled and played (`fitting`).
"""
from fxseq.fit.candidates import Candidate
from fxseq.fit.choose import NothingFits, choose
from fxseq.fit.decoding import decodes_in_time
from fxseq.fit.fitting import Fit, Outcome, as_meant, fit
from fxseq.fit.loss import FULL_SCALE_DB, Ear

__all__ = ["FULL_SCALE_DB", "Candidate", "Ear", "Fit", "NothingFits", "Outcome", "as_meant", "choose", "decodes_in_time", "fit"]
