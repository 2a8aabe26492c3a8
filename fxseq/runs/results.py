"""What is given out of a run: its numbers as plain values for `--json`, its sound as the bytes of
WAV files.
"""

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.player import TraceKind
from fxseq.runs.performance import Performance

PEAK = 10 ** (-1 / 20)
"""Peak of what is heard in its file: 1 dB below full scale. Its true level stands in the
summary.
"""


def in_numbers(run: Performance) -> dict[str, Any]:
    """What a preview tells of a run; a figure that is not known is None."""
    table = run.prop.compiled.table
    data = run.prop.compiled.data
    clip_bytes = sum(len(clip) for clip in {clip.data for clip in table.clips})
    return {
        "title": run.prop.sequence.title,
        "duration_s": run.duration_s,
        "presses": len(run.events(TraceKind.PRESS)),
        "shots": {
            name: sum(shot.trigger == name for shot in run.shots)
            for name in run.prop.compiled.names.triggers
        },
        "sounds": len(run.events(TraceKind.SOUND)),
        "clips": {
            name: sum(event.value == index for event in run.events(TraceKind.SOUND))
            for index, name in enumerate(run.prop.compiled.names.clips)
        },
        "voices": {
            "at_most": run.played.most_voices,
            "available": table.voices,
            "cut": len(run.events(TraceKind.CUT)),
        },
        "saturated_samples": run.played.saturated,
        "trigger_to_sound_ms": max(run.delays_ms, default=None),
        "table": {
            "bytes": len(data),
            "clip_bytes": clip_bytes,
            "flash_bytes": run.prop.sequence.board.flash_for_table_bytes,
        },
        "supply": run.supply and run.supply[0],
        "current": run.load.draw.as_dict(),
        "strings": {name: run.load.string_ma(name) for name in run.prop.circuits},
        "rail": run.load.rail and run.load.rail.as_dict(),
        "run_time": run.run_time and run.run_time.as_dict(),
        "levels": run.heard.levels and run.heard.levels.as_dict(),
        "flashes": run.flashes.as_dict(),
    }


def board_wav(performance: Performance) -> bytes:
    """What the board puts out: its samples, bit for bit, at its rate."""
    return wav_bytes(performance.played.samples, performance.rate_hz)


def heard_wav(performance: Performance) -> bytes | None:
    """What is heard at the hand through amplifier and speaker, brought to -1 dBFS; None where
    those are not described.
    """
    pressure = performance.heard.pressure_pa(performance.prop.sequence.listening.hand_m)
    if pressure is None:
        return None
    loudest = float(np.abs(pressure).max(initial=0.0))
    if loudest:
        pressure = pressure * (PEAK * 32767 / loudest)
    return wav_bytes(np.rint(pressure).astype(np.int16), performance.rate_hz)


def wav_bytes(samples: NDArray[np.int16], rate_hz: int) -> bytes:
    """16 bit WAV, one channel. samples: shape (n,)."""
    import soundfile

    data = io.BytesIO()
    soundfile.write(data, samples, rate_hz, format="WAV", subtype="PCM_16")
    return data.getvalue()
