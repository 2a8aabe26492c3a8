"""What a maker asks before anything is settled: how fast a held trigger may repeat, and how loud clips can be on this speaker.

May import every floor below. Answers are tried, not calculated: each is played and put to the checks that a whole prop is put to.
"""
from fxseq.advice.for_speaker import Alone, Recommendation, Rig, recommend, rig_of
from fxseq.advice.sweep import Limit, RatePoint, hours_held, limits_of, measure, repeating_trigger
from fxseq.advice.tuning import Break, TuneReport, exempt_area_of, tune

__all__ = [
    "Alone", "Break", "Limit", "RatePoint", "Recommendation", "Rig", "TuneReport", "exempt_area_of", "hours_held", "limits_of", "measure",
    "recommend", "repeating_trigger", "rig_of", "tune",
]
