"""The reference player: a table and presses in; samples, duties and a trace out
(firmware_spec/SPEC.md, sections 5 to 7).

May import `table`, `light`, `clips` and `sequence`. It jumps from event to event in plain Python
and fills whole stretches with numpy.
"""

from fxseq.player.events import Press, PressKind, TraceEvent, TraceKind
from fxseq.player.lights import DutyTrack
from fxseq.player.mix import ClipSamples, alone
from fxseq.player.player import Played, Player, duties
from fxseq.player.script import Script, default_script, parse_script
from fxseq.player.voices import Sounding

__all__ = [
    "ClipSamples", "DutyTrack", "Played", "Player", "Press", "PressKind", "Script", "Sounding",
    "TraceEvent", "TraceKind", "alone", "default_script", "duties", "parse_script",
]  # fmt: skip
