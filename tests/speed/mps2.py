"""What a frame costs on Cortex-M processors, in instructions: `python tests/speed/mps2.py` (needs qemu-system-arm and gcc-arm-none-eabi).

The player runs on the emulated board of firmware_spec/ports/mps2, whose clock goes on by 1024 ns with each instruction, so the board's
timer counts instructions exactly and the same every time. It is built once for the Cortex-M3 and once with the instructions of the
Cortex-M0, which a Cortex-M3 has too. Instructions are not cycles: a Cortex-M0 takes 1 cycle for most, 2 for a load or store, 3 for a
branch that is taken (from memory of Arm DDI 0432; QEMU models none of this). The figure of the design is in cycles of a Cortex-M0, so a
count above it misses it, and one below it may still; tests/speed/cortex_m0.py charges cycles.
"""
import argparse
import random
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "boards"))

from mps2_board import Case, build, instructions, run_all  # noqa: E402

from fxseq.light import FadeCurve, FadeSegment, Shape  # noqa: E402
from fxseq.player import Press, PressKind  # noqa: E402
from fxseq.table import (  # noqa: E402
    ClipRecord, Coding, EffectRecord, GroupRecord, InputKind, InputRecord, Merge, Mode, PlayClip, Shots, StartFade, Stay, Table,
    TriggerRecord, VoiceRule, encode,
)

DESIGN_CLOCK_HZ, DESIGN_SHARE = 48e6, 0.25
RATE_HZ, SAMPLES_PER_FRAME = 22050, 21
FRAMES, SETTLED_FROM = 600, 250
"""A shot every 60 frames for sounds of 286 frames: from then on all voices sound."""

FLICKER = FadeCurve((FadeSegment(Shape.FLICKER, 2000, 200, 50, 60),), None, True)
EASE = FadeCurve((FadeSegment(Shape.EASE, 700, 255), FadeSegment(Shape.EASE, 700, 10)), None, True)
SOUND, ALIKE, ONE_BY_ONE = PlayClip(0, 0, 3000), StartFade(0, 0, 1), StartFade(0, 0, 1, 1)
CASES = {
    # voices, channels, what is shot every 60 frames, whether the ambient layer flickers below
    "idle": (4, 24, (), False),
    "1 voice": (1, 24, (SOUND,), False),
    "2 voices": (2, 24, (SOUND,), False),
    "4 voices": (4, 24, (SOUND,), False),
    "42 channels fading alike": (4, 42, (ALIKE,), False),
    "42 channels fading one by one": (4, 42, (ONE_BY_ONE,), False),
    "4 voices, 24 channels alike": (4, 24, (SOUND, ALIKE), False),
    "4 voices, 24 one by one over flicker": (4, 24, (SOUND, ONE_BY_ONE), True),
    "4 voices, 42 one by one over flicker": (4, 42, (SOUND, ONE_BY_ONE), True),
}


def make_table(voices: int, channels: int, steps: tuple[PlayClip | StartFade, ...], flickers: bool) -> bytes:
    """All channels in one group; the clip in mu-law with a spread of the pitch, so that every sample lies between two of the clip."""
    effects = (EffectRecord(steps, pitch_spread=80, gain_spread=40), EffectRecord((StartFade(0, 0, 0),), ambient=True))
    shooting = (TriggerRecord(Mode.REPEAT, Shots((0,), period=256 * 60), input=0),) if steps else ()
    flickering = (TriggerRecord(Mode.ALWAYS, Stay(begin=1)),) if flickers else ()
    clip = ClipRecord(Coding.MULAW, 65536, 6000, random.Random(2).randbytes(6000))
    return encode(Table(
        RATE_HZ, SAMPLES_PER_FRAME, channels, 12, voices, VoiceRule.OLDEST, 88, 7, (InputRecord(InputKind.BUTTON, 20),), (), (),
        (GroupRecord(0, channels, Merge.HIGHEST),), (FLICKER, EASE), (clip,), effects, shooting + flickering))


def measure(**variables: str) -> list[tuple[int, int]]:
    """Instructions of the usual and of the dearest frame of each case. variables: of the port's Makefile."""
    cases = [Case(make_table(*case), [Press(6, PressKind.PRESS, 0, 0)], FRAMES) for case in CASES.values()]
    with tempfile.TemporaryDirectory() as folder:
        results = run_all(build(Path(folder), **variables), Path(folder), cases)
    for name, result in zip(CASES, results, strict=True):
        assert result.status == 0, name
    counts = [instructions(result.ticks) for result in results]
    # Frame 0 writes every duty, once.
    return [(int(np.median(count[SETTLED_FROM:])), int(count[1:].max())) for count in counts]


def main() -> None:
    """Print a line a case."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    most = DESIGN_SHARE * DESIGN_CLOCK_HZ * SAMPLES_PER_FRAME / RATE_HZ
    builds = {f"{cpu} {optimize}": measure(CPU=cpu, OPTIMIZE=optimize) for cpu in ("cortex-m0", "cortex-m3") for optimize in ("-Os", "-O2")}
    print(f"Instructions in a frame of {SAMPLES_PER_FRAME} samples at {RATE_HZ} Hz: usual / dearest. Counted in QEMU; they are not cycles.")
    print(f"Design: the worst frame of 4 voices and 24 channels within {most:.0f} cycles of a {DESIGN_CLOCK_HZ / 1e6:.0f} MHz Cortex-M0.\n")
    print(" " * 37 + "".join(f"{name:>16}" for name in builds))
    for row, name in enumerate(CASES):
        print(f"{name:37}" + "".join(f"{'{} / {}'.format(*counts[row]):>16}" for counts in builds.values()))


if __name__ == "__main__":
    main()
