"""How fast a held trigger may repeat: the rate swept, each rate played and measured, and the limit that binds named.

May import `checks` and every floor below it.
"""
from fxseq.tune.sweep import Limit, RatePoint, TuneReport, hours_held, limits_of, repeating_trigger, sweep

__all__ = ["Limit", "RatePoint", "TuneReport", "hours_held", "limits_of", "repeating_trigger", "sweep"]
