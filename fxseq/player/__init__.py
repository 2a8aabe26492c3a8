"""The reference player: a table and presses in; samples, duties and a trace out
(firmware_spec/SPEC.md, sections 5 to 7).

May import `table`, `light`, `clips` and `sequence`. It jumps from event to event in plain Python
and fills whole stretches with numpy.
"""

from fxseq.player.events import Press, PressKind, TraceEvent, TraceKind
from fxseq.player.lights import DutyTrack
from fxseq.player.mix import ClipSamples, alone
from fxseq.player.player import Played, Player, duties
from fxseq.player.script import TAP_S, Item, Script, default_script, parse_script, script_items
from fxseq.player.voices import Sounding

__all__ = [
    "ClipSamples", "DutyTrack", "Item", "Played", "Player", "Press", "PressKind", "Script",
    "Sounding", "TAP_S", "TraceEvent", "TraceKind", "alone", "default_script", "duties",
    "parse_script", "script_items",
]  # fmt: skip
