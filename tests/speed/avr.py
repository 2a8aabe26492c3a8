"""What the player takes on an ATmega328P: code, memory, and cycles a frame, counted by libsimavr.

    .venv/bin/python tests/speed/avr.py

Cycles are those in which the pin PB0 is high, that is fxp_frame and the interrupts that come meanwhile, of the firmware as it is.
"""
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "boards"))

from avr_board import CLOCK_HZ, MOST_CHANNELS, PORT, Built, EmulatedBoard, build

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.link import open_port, prove, push
from fxseq.player import Press, PressKind
from fxseq.table import (
    ClipRecord, Coding, EffectRecord, GroupRecord, InputKind, InputRecord, Merge, Mode, PlayClip, Shots, StartFade, Stay, Table,
    TriggerRecord, VoiceRule, encode,
)

FRAMES = 330
CLOCKS = ((11025, 11), (8000, 16))  # samples a second, samples a frame

FLICKER = FadeCurve((FadeSegment(Shape.FLICKER, 2000, 200, 50, 60),), None, True)
DECAY = FadeCurve((FadeSegment(Shape.STEP, 0, 255), FadeSegment(Shape.DECAY, 400, 0)))
SHOT, ALIKE, ONE_BY_ONE = PlayClip(0, 0, 3000), StartFade(0, 0, 1), StartFade(0, 0, 1, 1)
CASES = {  # steps of the effect that is shot every 60 frames, whether the ambient layer flickers, voices
    "idle": ((), False, 2),
    "1 voice": ((SHOT,), False, 1),
    "2 voices": ((SHOT,), False, 2),
    f"{MOST_CHANNELS} channels fading alike": ((ALIKE,), False, 2),
    f"{MOST_CHANNELS} channels fading one by one": ((ONE_BY_ONE,), False, 2),
    f"{MOST_CHANNELS} channels flickering": ((), True, 2),
    "2 voices, all channels fading one by one over flicker": ((SHOT, ONE_BY_ONE), True, 2),
}


def case_table(rate_hz: int, samples_per_frame: int, steps: tuple[PlayClip | StartFade, ...], flickers: bool, voices: int) -> bytes:
    """All channels in one group; clips in mu-law with a spread of the pitch, so that every sample is interpolated."""
    effects = (EffectRecord(steps, pitch_spread=80, gain_spread=40), EffectRecord((StartFade(0, 0, 0),), ambient=True))
    triggers = [TriggerRecord(Mode.REPEAT, Shots((0,), period=256 * 60), input=0)] if steps else []
    triggers += [TriggerRecord(Mode.ALWAYS, Stay(begin=1))] if flickers else []
    clip = ClipRecord(Coding.MULAW, 65536, 2500, random.Random(2).randbytes(2500))
    return encode(Table(
        rate_hz, samples_per_frame, MOST_CHANNELS, 12, voices, VoiceRule.OLDEST, 44, 7, (InputRecord(InputKind.BUTTON, 20),), (), (),
        (GroupRecord(0, MOST_CHANNELS, Merge.HIGHEST),), (FLICKER, DECAY), (clip,), effects, tuple(triggers)))


def costs(built: Built, image: Path, table: bytes) -> np.ndarray:
    """Cycles of each frame of a run with the input held from frame 5 on, past frame 0, which is longer. (frames,)"""
    with EmulatedBoard(built, image) as board:
        with open_port(board.where) as port:
            push(port, table)
            prove(port, [Press(5, PressKind.PRESS, 0, 0)], FRAMES)
        board.end()
        return board.runs(MOST_CHANNELS, 12)[-2].costs[6:FRAMES]


def sizes(built: Built, image: Path, table: bytes) -> None:
    """Print code by unit, RAM, and what stack and variables leave."""
    symbols = subprocess.run(["avr-nm", "-S", built.firmware], check=True, capture_output=True, text=True).stdout
    state = {parts[3]: int(parts[1], 16) for line in symbols.splitlines() if len(parts := line.split()) >= 4}
    make = ["make", "-s", "-C", PORT, f"BUILD={built.firmware.parent}", "sizes"]
    print(subprocess.run(make, check=True, capture_output=True, text=True).stdout.strip())
    print(f"state of the player: {state['player']} bytes; of the link: {state['session']} bytes")
    with EmulatedBoard(built, image) as board:
        with open_port(board.where) as port:
            push(port, table)
            prove(port, [Press(5, PressKind.PRESS, 0, 0)], FRAMES)
        print(f"RAM never used by stack or variables: {board.figures()['untouched']} of 2048 bytes; a table with a gauge leaves less")


def main() -> None:
    """Print sizes, then the middle and the worst frame of each case."""
    with tempfile.TemporaryDirectory() as folder:
        built, image = build(Path(folder)), Path(folder) / "image"
        sizes(built, image, case_table(*CLOCKS[0], *list(CASES.values())[-1]))
        for clock in CLOCKS:
            budget = CLOCK_HZ * clock[1] / clock[0]
            print(f"\na frame of {clock[1]} samples at {clock[0]} Hz is {budget:.0f} cycles")
            for name, case in CASES.items():
                found = costs(built, image, case_table(*clock, *case))
                middle, worst = np.median(found[150:]), found.max()
                print(f"{name:55} usual {middle:6.0f} ({middle / budget:6.1%})   worst {worst:6} ({worst / budget:6.1%})", flush=True)


if __name__ == "__main__":
    main()
