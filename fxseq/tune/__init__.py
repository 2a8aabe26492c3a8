"""How fast a held trigger may repeat: the rate swept, each rate played and measured, and of each limit the rate from which on it is broken.

May import `checks` and every floor below it.
"""
from fxseq.tune.answer import Break, TuneReport, exempt_area_of, tune
from fxseq.tune.sweep import Limit, RatePoint, hours_held, limits_of, measure, repeating_trigger

__all__ = ["Break", "Limit", "RatePoint", "TuneReport", "exempt_area_of", "hours_held", "limits_of", "measure", "repeating_trigger", "tune"]
