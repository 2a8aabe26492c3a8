"""The table: the compiled bytes that every player reads, and nothing but them.

May import `sequence`, `clips` and `light`. `records` is the table as integers, `encode` and
`decode` its bytes (firmware_spec/SPEC.md), `compile` makes it from a sequence and its clips,
`export` writes Intel HEX and C.
"""

from fxseq.table.compile import Compiled, clips_in_reach, compile_sequence, effects_in_reach
from fxseq.table.decode import decode
from fxseq.table.encode import encode
from fxseq.table.errors import BadTable, Reason
from fxseq.table.export import c_array, intel_hex
from fxseq.table.names import BadNames, Called, Names, called_in
from fxseq.table.records import (
    RUNNING_EFFECTS,
    ChangeCount,
    ClipRecord,
    Coding,
    CounterRecord,
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    JointRecord,
    Merge,
    Mode,
    PlayClip,
    SelectorRecord,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    Use,
    VoiceRule,
)

__all__ = [
    "RUNNING_EFFECTS", "BadNames", "BadTable", "Called", "ChangeCount", "ClipRecord", "Coding",
    "Compiled", "CounterRecord", "EffectRecord", "GroupRecord", "InputKind", "InputRecord",
    "JointRecord", "Merge", "Mode", "Names", "PlayClip", "Reason", "SelectorRecord", "Shots",
    "StartFade", "Stay", "Table", "TriggerRecord", "Use", "VoiceRule", "c_array", "called_in",
    "clips_in_reach", "compile_sequence", "decode", "effects_in_reach", "encode", "intel_hex",
]  # fmt: skip
