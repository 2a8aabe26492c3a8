"""No click from the RP2040's sound while a table is pushed over the one that plays: what the
amplifier gets never jumps, whether the table that plays is in RAM or read from the flash memory
that is being changed, and whether or not the next one has the same rate.
"""

import json
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from pico_board import HZ, IMAGE, TABLE_ROOM, EmulatedBoard, clock, unpacked, with_table
from pico_pins import Pins, rows

from fxseq.link import open_port, push
from fxseq.table import (
    ClipRecord,
    Coding,
    EffectRecord,
    JointRecord,
    Mode,
    PlayClip,
    Stay,
    Table,
    TriggerRecord,
    Use,
    VoiceRule,
    encode,
)

TONE_HZ = 441
PEAK = 20000
I2S = JointRecord(Use.I2S, 0, 18)
PULSES = JointRecord(Use.PWM, 0, 18)


def humming(
    rate_hz: int, samples_per_frame: int, joint: JointRecord, filling: int = 0, gain: int = 4096
) -> Table:
    """A tone from power-up on; so many bytes are in the table for nothing."""
    count = 10 * rate_hz // TONE_HZ
    tone = np.rint(PEAK * np.sin(2 * np.pi * np.arange(count) * 10 / count)).astype("<i2")
    clips = [ClipRecord(Coding.PCM16, 65536, count, tone.tobytes(), 0)]
    effects = [EffectRecord((PlayClip(0, 0, gain, 20),))]
    if filling:
        clips.append(ClipRecord(Coding.PCM16, 65536, filling // 2, bytes(filling)))
    return Table(
        rate_hz, samples_per_frame, 1, 12, 2, VoiceRule.OLDEST, 0, 7,
        clips=tuple(clips),
        effects=tuple(effects),
        triggers=(TriggerRecord(Mode.ALWAYS, Stay(during=0)),),
        joints=(joint,),
    )  # fmt: skip


class Case(NamedTuple):
    """What plays and what is pushed over it."""

    playing: Table
    pushed: Table


CASES = {
    "in RAM": Case(humming(22050, 21, I2S), humming(22050, 21, I2S, 4000)),
    "in flash memory": Case(humming(22050, 21, I2S, TABLE_ROOM), humming(22050, 21, I2S)),
    "copied": Case(humming(22050, 21, I2S, 30_000), humming(22050, 21, I2S, 30_000, 4000)),
    "to another rate": Case(humming(22050, 21, I2S), humming(16000, 16, I2S)),
    "pulses to another rate": Case(humming(22050, 21, PULSES), humming(16000, 16, PULSES)),
}


HEARD_FRAMES = 100
"""That the old table plays before the push."""


def pushed_over(case: Case, folder: Path) -> Pins:
    """What came out of the pins while it was pushed, and for a while before and behind."""
    flash, joints, result = (folder / name for name in ("flash", "joints", "result"))
    flash.write_bytes(with_table(unpacked(IMAGE.read_bytes()), encode(case.playing)))
    joints.write_text(json.dumps(rows(case.playing)))
    with EmulatedBoard(flash, "--speed", "8", "--pins", f"{joints}:{result}") as board:
        with open_port(board.where) as port:
            while clock(port) < HEARD_FRAMES:
                pass
            report = push(port, encode(case.pushed))
        board.wait(0.08)
    old, new = ({clip.data for clip in table.clips} for table in case)
    kept = len(old & new)
    assert report.kept_sounds in (0, kept) and (kept < 2 or report.sent_bytes < 2000)
    return Pins(case.playing, json.loads(result.read_text()))


FALL = 64
"""What is between two tables falls to nothing by a 64th a sample (sound.c)."""
RISE_MS = 300
"""Pulses rise from nothing and settle within these (firmware_spec/ports/pico/README.md)."""
LEAST_FRAMES = 100


def steepest(case: Case) -> float:
    """Of all that may be put out: the tone's steepest slope at the lower rate, a sample, and the
    fall of the largest gap that there can be between two of its samples.
    """
    rate_hz = min(case.playing.sample_rate_hz, case.pushed.sample_rate_hz)
    return PEAK * 2 * np.pi * TONE_HZ / rate_hz + 2 * PEAK / FALL + 2


def heights(edges: NDArray[np.int64]) -> NDArray[np.floating]:
    """Of pulses as samples, one a pulse: what part of it is high, between the middles of the gaps
    at both sides. A period that changes from one to the next is taken as the mean of the two.
    """
    risen = edges[edges[:, 0] > edges[0, 0] + RISE_MS * HZ // 1000]
    first = int(np.argmax(risen[:, 2] == 0))
    falls, rises = risen[first::2, 0], risen[first + 1 :: 2, 0]
    falls = falls[: len(rises)]
    middles = (falls + rises) / 2
    low = (rises - falls)[1:-1] / ((middles[2:] - middles[:-2]) / 2)
    return 65536 * (1 - low) - 32768


def put_out(pins: Pins, joint: JointRecord) -> NDArray[np.floating]:
    """What the amplifier gets, of I2S on the left."""
    if joint.use is Use.PWM:
        return heights(pins.edges(joint))
    left = pins.words(joint)[::2, 3]
    return left.astype(np.uint16).astype(np.int16).astype(float)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_what_the_amplifier_gets_never_jumps_in_a_push(case: Case, tmp_path: Path) -> None:
    (joint,) = case.playing.joints
    samples = put_out(pushed_over(case, tmp_path), joint)
    assert len(samples) > LEAST_FRAMES * case.playing.samples_per_frame
    assert np.abs(samples[:5000]).max() > 0.9 * PEAK  # the old table is heard
    assert np.abs(samples[-2000:]).max() > 0.9 * PEAK  # the next one is
    assert np.abs(np.diff(samples)).max() <= steepest(case)
