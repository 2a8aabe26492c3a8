"""What the page needs to show one effect on a strip of time, and to have it heard alone."""

import base64
from typing import Any

import numpy as np

from fxseq.bench.body import Refused
from fxseq.bench.desk import Desk, Version
from fxseq.clips import PreparedClip
from fxseq.runs import prepare_clips
from fxseq.sequence import Effect, Fault, Input, Sequence, Trigger

COLUMNS = 400
"""Of a drawn clip: more than there is room for on most screens."""
HEARD_LOOPED_S = 2.0
"""How long an effect that goes on by itself is held, to be heard."""
SHORTEST_S = 0.1
"""How long an effect is held that is over at once."""
LISTENED_S = 1.0
"""How long what was let go is still listened to."""
_HAND = "_hand"
"""Button and trigger of an audition. A name of a file begins with a letter."""

Values = dict[str, Any]


def effect_view(name: str, version: Version) -> Values:
    """Clips of an effect by name: {duration_ms, loop_ms, peaks}, the last two numbers for each
    column, its lowest and highest sample in 1/127 of full scale. frame_ms: of the board.

    Raises Refused where there is no such effect, ClipError where a clip cannot be made ready.
    """
    effect = _effect(name, version.prop.sequence)
    prop = version.prop
    names = dict.fromkeys(sound.clip for sound in effect.sounds)
    # What no trigger reaches is not in the table.
    missing = [clip for clip in names if clip not in prop.clips]
    clips = {**prop.clips, **prepare_clips(missing, prop.sequence, prop.path.parent)}
    return {
        "revision": version.revision,
        "frame_ms": 1000 / prop.compiled.table.frame_rate_hz,
        "clips": {clip: _clip(clips[clip]) for clip in names},
    }


def audition(name: str, desk: Desk) -> Values:
    """The prop's table with one more button, the last one, under which this effect is begun; with
    its inputs and effects by name, and for how many frames to hold the button.

    Raises Refused, or FxError where the table has no room for it.
    """
    sequence = desk.now.prop.sequence
    effect = _effect(name, sequence)
    trigger = Trigger(mode="while_held", begin=name).model_copy(update={"input": _HAND})
    prop = desk.compile(
        sequence.model_copy(
            update={
                "inputs": {**sequence.inputs, _HAND: Input(lockout_ms=0.0)},
                "triggers": {**sequence.triggers, _HAND: trigger},
            }
        )
    )
    table, names = prop.compiled.table, prop.compiled.names
    length_s = table.effects[names.effects.index(name)].length / table.frame_rate_hz
    held_s = max(length_s, HEARD_LOOPED_S if _goes_on(effect, sequence) else SHORTEST_S)
    return {
        "revision": desk.now.revision,
        "table": base64.b64encode(prop.compiled.data).decode(),
        "names": {"inputs": list(names.inputs), "selectors": list(names.selectors)},
        "effects": list(names.effects),
        "button": names.inputs.index(_HAND),
        "hold_frames": round(held_s * table.frame_rate_hz),
        "lasts_s": held_s + LISTENED_S,
    }


def _effect(name: str, sequence: Sequence) -> Effect:
    if name not in sequence.effects:
        raise Refused(404, Fault("effect", f"there is none called '{name}'"))
    return sequence.effects[name]


def _clip(clip: PreparedClip) -> Values:
    ms = 1000 / clip.rate_hz
    edges = np.linspace(0, len(clip.samples), COLUMNS + 1).astype(int)[:-1]
    # Of a clip of fewer samples than columns, some are drawn twice.
    low = np.minimum.reduceat(clip.samples, edges)
    high = np.maximum.reduceat(clip.samples, edges)
    peaks = np.stack([low, high], axis=1).astype(np.int32) * 127 // 32768
    return {
        "duration_ms": len(clip.samples) * ms,
        "loop_ms": clip.loop and [edge * ms for edge in clip.loop],
        "peaks": peaks.ravel().tolist(),
    }


def _goes_on(effect: Effect, sequence: Sequence) -> bool:
    """Whether it has a part that ends only when it is let go."""
    return any(sound.loop for sound in effect.sounds) or any(
        sequence.fades[light.fade].loop for light in effect.lights
    )
