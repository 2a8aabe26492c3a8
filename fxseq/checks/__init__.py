"""A prop judged: every check there is, its rule, its limit and its words.

May import every floor below. `findings` says what is wrong with a run.
"""
from fxseq.checks.everyday import EVERYDAY_SOURCE, compared, harmless_for, loud_in_words
from fxseq.checks.explanations import EXPLANATIONS
from fxseq.checks.findings import findings, findings_without_playing
from fxseq.checks.for_speaker import Alone, Recommendation, Rig, recommend, rig_of
from fxseq.checks.wiring import wiring_cautions, wiring_findings, wiring_of

__all__ = [
    "Alone", "EVERYDAY_SOURCE", "EXPLANATIONS", "Recommendation", "Rig", "compared", "findings", "findings_without_playing", "harmless_for", "loud_in_words", "recommend", "rig_of", "wiring_cautions",
    "wiring_findings", "wiring_of",
]
