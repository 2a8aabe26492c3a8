"""Sound that fits the chip: the cut, rate and coding of every clip that together lose least of what is heard.

May import every floor below, and `checks`. Bytes and losses of every choice are measured, not estimated (`candidates`, `loss`), and the best
of all combinations is found, not approached (`choose`).
"""
from fxseq.fit.candidates import Candidate, candidates
from fxseq.fit.choose import NothingFits, choose
from fxseq.fit.decoding import decodes_in_time
from fxseq.fit.fitting import Fit, fit, settings_of
from fxseq.fit.loss import Ear

__all__ = ["Candidate", "Ear", "Fit", "NothingFits", "candidates", "choose", "decodes_in_time", "fit", "settings_of"]
