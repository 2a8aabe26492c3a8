"""Light, sound and contacts of the RP2040's firmware, at its pins: what is decoded from their edges
is what the reference player puts out for the same table and the same presses.
"""

import dataclasses
import sys
from collections.abc import Iterable
from itertools import product
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from pico_pins import (
    HZ,
    PIN_PERIOD,
    PLANES,
    UNIT,
    Pins,
    Run,
    of_use,
    pin_periods,
    pulses,
    run,
    shift_periods,
)

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.player import Player, Press, PressKind, duties
from fxseq.sequence.board_parts import board_parts
from fxseq.table import (
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    JointRecord,
    Merge,
    Mode,
    SelectorRecord,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    Use,
)

sys.path.insert(0, str(Path(__file__).parents[1] / "speed"))

from cases import ONE_BY_ONE, SOUND, Case, Clock, case_table  # noqa: E402

CLOCK = Clock(22050, 21)
FRAME = HZ * CLOCK.samples_per_frame / CLOCK.rate_hz
"""Cycles."""
MS = HZ // 1000
BUTTON = 22
FULL = FadeCurve((FadeSegment(Shape.STEP, 0, 65535),))


def lit_table(channels: int, joints: tuple[JointRecord, ...]) -> Table:
    """Most channels flicker always; a press plays a sound and fades them one by one. The last two
    are full on, the two before never on.
    """
    table = case_table(Case(4, channels, (SOUND, ONE_BY_ONE), True), CLOCK)
    shot, always = table.effects
    most = channels - 4
    return dataclasses.replace(
        table,
        groups=(
            GroupRecord(0, most, Merge.HIGHEST),
            GroupRecord(most, 2, Merge.HIGHEST),
            GroupRecord(most + 2, 2, Merge.HIGHEST),
        ),
        fades=(*table.fades, FULL),
        effects=(
            shot,
            dataclasses.replace(
                always, steps=(*always.steps, StartFade(0, 2, len(table.fades), ambient=True))
            ),
        ),
        joints=joints,
    )


def played(table: Table, presses: Iterable[Press], frames: int) -> tuple[NDArray, NDArray]:
    """Samples and duties of the reference."""
    run = Player(table).play(presses, frames)
    return run.samples, duties(run)


def frames_shown(
    at: NDArray[np.int64], shown: NDArray[np.int64], reference: NDArray[np.integer], first: float
) -> NDArray[np.int64]:
    """Which frame each light period shows whole, up to the last frame of the reference: the last
    one with these duties that had begun by then, frame 0 at cycle `first`. -1: none does.
    """
    at = at[at < first + (len(reference) - 1) * FRAME]
    found = np.full(len(at), -1)
    for period, begin in enumerate(at):
        newest = min(int((begin - first) / FRAME), len(reference) - 1)
        for frame in range(newest, max(newest - 12, -1), -1):
            if (reference[frame] == shown[period]).all():
                found[period] = frame
                break
    return found


# Sixteen pins, I2S, a button.

PIN_LIGHTS = JointRecord(Use.LIGHTS, 0, 2, 16)
PIN_TABLE = dataclasses.replace(
    lit_table(16, (PIN_LIGHTS, JointRecord(Use.CONTACT, 0, BUTTON), JointRecord(Use.I2S, 0, 18))),
    pwm_bits=16,
)
"""More bits than pins have: they show the upper ones."""
GLITCH = [(55.0, BUTTON, 0), (55.06, BUTTON, 1)]
"""Shorter than between two readings."""
PRESS = [(70.0, BUTTON, 0), (70.4, BUTTON, 1), (70.8, BUTTON, 0), (72.1, BUTTON, 1), (72.4, BUTTON, 0)]
RELEASE = [(95.0, BUTTON, 1), (95.5, BUTTON, 0), (95.9, BUTTON, 1)]
TAP = [(125.0, BUTTON, 0), (125.4, BUTTON, 1)]
"""Shorter than a frame."""
RUN_MS = 160
FRAMES = 130


@pytest.fixture(scope="module")
def sixteen_run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    folder = tmp_path_factory.mktemp("pico-pins")
    return run(folder, PIN_TABLE, RUN_MS, [*GLITCH, *PRESS, *RELEASE, *TAP])


@pytest.fixture(scope="module")
def sixteen(sixteen_run: Run) -> Pins:
    return sixteen_run.pins


def words_heard(pins: Pins, table: Table) -> tuple[int, NDArray[np.int16]]:
    """The cycle at which the first word ended, and a sample for each two pairs of words."""
    words = pins.words(of_use(table, Use.I2S))
    words = words[: len(words) // 4 * 4]
    assert (words[:, 2] == 16).all()
    assert (words[:, 1] == np.tile([0, 1], len(words) // 2)).all()
    samples = words[:, 3].astype(np.uint16).astype(np.int16).reshape(-1, 4)
    assert (samples == samples[:, :1]).all()
    return int(words[0, 0]), samples[:, 0]


LEAD_IN_S = 1 / 25
"""Rest before the first frame (README.md of the port)."""
BUFFERS = 2


def first_sample() -> int:
    """Of frame 0, behind the words of rest."""
    rest = int(CLOCK.rate_hz * LEAD_IN_S)
    return (-(-rest // CLOCK.samples_per_frame) + BUFFERS) * CLOCK.samples_per_frame


class Heard(NamedTuple):
    """What the board put out from frame 0 on. begin: the cycle at which that is heard."""

    begin: float
    samples: NDArray[np.int16]

    def frames_of(self, ms: float) -> range:
        """The frames in which a change of a contact can be seen: contacts are read when the frame
        before begins to be heard, and a change counts after two readings, 125 us apart.
        """
        first = int(np.ceil((ms * MS - self.begin) / FRAME)) + 1
        return range(first, first + 2)


def heard(pins: Pins, table: Table) -> Heard:
    """By I2S."""
    begin, samples = words_heard(pins, table)
    first = first_sample()
    assert not samples[:first].any()
    return Heard(begin + first * HZ / CLOCK.rate_hz, samples[first:])


class Found(NamedTuple):
    """The only run of the reference that sounds as the board."""

    heard: Heard
    samples: NDArray[np.int16]
    duties: NDArray[np.uint16]


def pressed_at(frames: Iterable[int]) -> list[Press]:
    """Press, release, and a tap, at these frames."""
    press, release, tap = frames
    return [
        Press(press, PressKind.PRESS, 0, 0),
        Press(release, PressKind.RELEASE, 0, 0),
        Press(tap, PressKind.PRESS, 0, 0),
        Press(tap, PressKind.RELEASE, 0, 0),
    ]


@pytest.fixture(scope="module")
def found(sixteen: Pins) -> Found:
    """Which of the frames in which the board may have seen the button it was."""
    sound = heard(sixteen, PIN_TABLE)
    frames = len(sound.samples) // CLOCK.samples_per_frame
    matching = []
    for seen in product(*(sound.frames_of(change[0][0]) for change in (PRESS, RELEASE, TAP))):
        samples, lights = played(PIN_TABLE, pressed_at(seen), frames)
        if (samples == sound.samples[: len(samples)]).all():
            matching.append(Found(sound, samples, lights))
    assert matching, "no presses in those frames sound like that"
    return matching[0]


def test_a_button_is_seen_once_however_it_bounces_and_not_for_a_glitch(found: Found):
    assert found.samples.any()  # three presses, or a press in a glitch, would sound otherwise


def test_words_are_the_samples_of_the_reference_bit_for_bit(found: Found):
    count = len(found.samples)
    assert count > 100 * CLOCK.samples_per_frame
    np.testing.assert_array_equal(found.heard.samples[:count], found.samples)


def test_words_keep_the_rate_within_a_hundred_millionths(sixteen: Pins):
    words = sixteen.words(of_use(PIN_TABLE, Use.I2S))
    rate_hz = HZ * (len(words) - 1) / (words[-1, 0] - words[0, 0]) / 4
    assert rate_hz == pytest.approx(CLOCK.rate_hz, rel=100e-6)


def test_each_light_period_of_pins_shows_one_frame_whole(sixteen: Pins, found: Found):
    pins = range(PIN_LIGHTS.pin, PIN_LIGHTS.pin + PIN_LIGHTS.value)
    at, shown = pin_periods(sixteen.edges(PIN_LIGHTS), pins, RUN_MS * MS)
    frames = frames_shown(at, shown, found.duties >> 16 - PLANES, found.heard.begin - FRAME - 1)
    assert len(frames) > 100
    assert (frames >= 0).all()
    assert (np.diff(frames) >= 0).all()
    assert (np.diff(frames) <= 2).all()
    late = (at[: len(frames)] - found.heard.begin) / FRAME - frames
    assert (np.abs(late[1:]) < 1).all()  # light comes with its sound, within a frame


def test_pins_are_low_before_the_first_frame(sixteen: Pins, found: Found):
    assert sixteen.edges(PIN_LIGHTS)[0, 0] >= found.heard.begin - FRAME - 1


def test_full_is_on_without_a_gap_and_nothing_is_off(sixteen: Pins):
    edges = sixteen.edges(PIN_LIGHTS)
    pins, counts = np.unique(edges[:, 1], return_counts=True)
    full, off = (16, 17), (14, 15)
    assert [counts[pins == pin].tolist() for pin in full] == [[1], [1]]
    assert not np.isin(off, pins).any()


def test_the_processor_has_most_of_its_time_left(sixteen_run: Run):
    assert sixteen_run.busy[60:].max() < 0.2
    assert (sixteen_run.resets, sixteen_run.broken) == (0, [])


# 42 outputs on shift registers and on drivers, pulses with an amplifier.

REGISTERS = JointRecord(Use.SHIFT_REGISTERS, 0, 2, 42)
DRIVERS = JointRecord(Use.DRIVERS, 0, 6, 42)
PULSES = JointRecord(Use.PWM, 0, 18)
AMPLIFIER = JointRecord(Use.AMPLIFIER, 0, 19)
CHAIN_TABLE = lit_table(
    42, (REGISTERS, DRIVERS, PULSES, AMPLIFIER, JointRecord(Use.CONTACT, 0, BUTTON))
)
CHAIN_PRESS = [(370.0, BUTTON, 0)]
CHAIN_RUN_MS = 430
COPIES = 3
LEVELS = 945
"""Pulses a sample, at the least multiple of its rate from 50 kHz on, and widths of a pulse, of two
cycles each.
"""
RAMP_STEP = 131072 // CLOCK.rate_hz


@pytest.fixture(scope="module")
def chains_run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    return run(tmp_path_factory.mktemp("pico-chains"), CHAIN_TABLE, CHAIN_RUN_MS, CHAIN_PRESS)


@pytest.fixture(scope="module")
def chains(chains_run: Run) -> Pins:
    return chains_run.pins


def lead_in() -> NDArray[np.int64]:
    """What is put out before frame 0: nothing, a ramp to the middle, and rest."""
    frame = CLOCK.samples_per_frame
    ramp = np.append(np.arange(-32768, 0, RAMP_STEP), 0)
    frames = -(-(len(ramp) - 1) // frame) - 1 + -(-int(CLOCK.rate_hz * LEAD_IN_S) // frame)
    return np.concatenate([np.full(BUFFERS * frame, -32768), ramp, np.zeros(frames * frame, int)])[
        : (BUFFERS + frames) * frame
    ]


def widths_of(samples: NDArray[np.integer]) -> NDArray[np.int64]:
    """Width of each pulse from the first one on: what is left of one goes into the next."""
    exact = np.repeat((samples.astype(np.int64) + 32768) * LEVELS, COPIES)
    return np.diff(np.cumsum(exact) // 65536, prepend=0)


class Pulsed(NamedTuple):
    """The only run of the reference that has these pulses. begin: the cycle at which frame 0 is
    heard; widths: from there on.
    """

    begin: int
    widths: NDArray[np.int64]
    samples: NDArray[np.int16]
    duties: NDArray[np.uint16]


@pytest.fixture(scope="module")
def pulsed(chains: Pins) -> Pulsed:
    at, widths = pulses(chains.edges(PULSES), 2 * LEVELS)
    before = lead_in()
    empty = int(np.flatnonzero(widths_of(before))[0])
    pulses_before = len(before) * COPIES - empty
    begin = at + pulses_before * 2 * LEVELS
    frames = (len(widths) - pulses_before) // COPIES // CLOCK.samples_per_frame
    for frame in Heard(begin, np.empty(0, np.int16)).frames_of(CHAIN_PRESS[0][0]):
        samples, lights = played(CHAIN_TABLE, [Press(frame, PressKind.PRESS, 0, 0)], frames)
        expected = widths_of(np.concatenate([before, samples]))[empty:]
        if (expected == widths[: len(expected)]).all():
            return Pulsed(begin, expected[pulses_before:], samples, lights)
    raise AssertionError("no press in those frames has these pulses")


def test_pulses_have_the_widths_of_the_samples(pulsed: Pulsed):
    assert np.abs(pulsed.samples.astype(int)).max() > 1000
    assert (pulsed.widths.reshape(-1, COPIES).sum(axis=1) > 0).all()


def held(heights: NDArray[np.floating], hz: NDArray[np.integer]) -> NDArray[np.complexfloating]:
    """Spectrum of a staircase of samples, in seconds."""
    period_s = 2 * LEVELS * COPIES / HZ
    turn = -2j * np.pi * hz * period_s
    steps = np.exp(turn[:, None] * np.arange(len(heights)))
    return (heights * steps).sum(axis=1) * (np.exp(turn) - 1) / turn * period_s


def pulsing(widths: NDArray[np.integer], hz: NDArray[np.integer]) -> NDArray[np.complexfloating]:
    """Spectrum of pulses, each high at both ends of its period, in seconds."""
    turn = -2j * np.pi * hz[:, None] / HZ
    begins = np.arange(len(widths)) * 2 * LEVELS
    ends = begins + 2 * LEVELS
    halves = ((begins, begins + widths), (ends - widths, ends))
    return sum(
        ((np.exp(turn * end) - np.exp(turn * begin)) / turn).sum(axis=1) for begin, end in halves
    ) / HZ  # fmt: skip


def test_pulses_behind_a_low_pass_are_the_samples_within_their_noise(pulsed: Pulsed):
    # What a low-pass of 10 kHz lets through of the pulses, beside that of the samples, which are
    # noise of nearly full scale: the hardest sound for pulses.
    hz = np.arange(20, 10_000, 20)
    count = len(pulsed.samples)
    wrong = pulsing(pulsed.widths, hz) - held((pulsed.samples / 65536) + 0.5, hz)
    sine = held(np.sin(2 * np.pi * 1000 * np.arange(count) / CLOCK.rate_hz) / 2, hz)
    below_full_db = 10 * np.log10((np.abs(wrong) ** 2).mean() / (np.abs(sine) ** 2).mean())
    assert below_full_db < -62


def test_there_is_no_click_before_the_first_frame(chains: Pins, pulsed: Pulsed):
    at, widths = pulses(chains.edges(PULSES), 2 * LEVELS)
    before = widths[: (pulsed.begin - at) // (2 * LEVELS)]
    pairs = before[: len(before) // 6 * 6].reshape(-1, 6)
    means = pairs.mean(axis=1) / LEVELS
    assert np.abs(np.diff(means)).max() < 1 / 2000
    assert widths[0] <= 1
    ((switched_on, _, level),) = chains.edges(AMPLIFIER)
    middle = at + np.flatnonzero(np.abs(widths - LEVELS / 2) <= 1)[0] * 2 * LEVELS
    assert level == 1
    assert middle < switched_on < pulsed.begin - 10 * MS


def test_each_light_period_of_shift_registers_shows_one_frame_whole(chains: Pins, pulsed: Pulsed):
    at, shown = shift_periods(chains.chain(REGISTERS), 42)
    frames = frames_shown(at[:-1], shown, pulsed.duties, pulsed.begin - FRAME - 1)
    assert len(frames) > 80
    assert (frames >= 0).all()
    assert (np.diff(frames) >= 0).all()
    assert (np.diff(frames) <= 2).all()
    assert (np.diff(at) == at[1] - at[0]).all()
    late_ms = (at[: len(frames)] - pulsed.begin - frames * FRAME) / MS
    assert late_ms.max() < 3


def test_light_is_steady_to_the_eye_and_full_loses_little(chains: Pins):
    at, _ = shift_periods(chains.chain(REGISTERS), 42)
    period = at[1] - at[0]
    # The part's dimming_hz is that of the slowest chain. Full is dark while bits are shifted.
    assert HZ / period > board_parts()["pico"].lights["shift_registers"]["dimming_hz"] > 1250
    assert HZ / PIN_PERIOD > board_parts()["pico"].lights["pins"]["dimming_hz"] > 1250
    assert UNIT * (2**PLANES - 1) / period > 0.97


def test_drivers_are_told_one_frame_whole(chains: Pins, pulsed: Pulsed):
    latched = chains.chain(DRIVERS).latched
    at = np.array([cycle for cycle, _ in latched])
    told = np.array([values for _, values in latched])
    assert told.shape[1] == 48
    assert not told[:, 42:].any()
    frames = frames_shown(at, told[:, :42], pulsed.duties, pulsed.begin - FRAME - 1)
    assert len(frames) > 10
    assert (frames >= 0).all()
    assert (np.diff(at) == HZ // 200).all()
    late_ms = (at[: len(frames)] - pulsed.begin - frames * FRAME) / MS
    assert late_ms.max() < 6


@pytest.mark.parametrize("chain", [REGISTERS, DRIVERS], ids=["registers", "drivers"])
def test_a_chain_is_dark_until_the_first_frame_is_latched(chains: Pins, chain: JointRecord):
    found = chains.chain(chain)
    assert found.blanks[0] == (found.latched[0][0] + (0 if chain is REGISTERS else 8), 0)


def test_drivers_begin_anew_with_each_latch(chains: Pins):
    found = chains.chain(DRIVERS)
    latches = [at for at, _ in found.latched[1:]]
    assert [at for at, level in found.blanks if level == 1] == latches
    assert [at for at, level in found.blanks if level == 0][1:] == [at + 8 for at in latches]


@pytest.mark.parametrize("chain", [REGISTERS, DRIVERS], ids=["registers", "drivers"])
def test_a_chain_has_the_times_that_its_chips_ask_for(chains: Pins, chain: JointRecord):
    # 74HC595 at 3.3 V and TLC5947: 30 ns each, from memory of their data sheets.
    shortest = chains.chain(chain).shortest
    assert set(shortest) == {"setup", "high", "low", "latch", "latchSetup"}
    assert min(shortest.values()) * 1e9 / HZ >= 30


def test_two_chains_leave_the_processor_most_of_its_time(chains_run: Run):
    assert chains_run.busy[20:].max() < 0.4
    assert (chains_run.resets, chains_run.broken) == (0, [])


# Selectors, the volume and the cells, beside an input.

SELECTOR = {0: 2, 1: 3, 2: 4}
"""Pin of each position of selector 0."""
CODE_PIN, CODE_BITS = 5, 2
CELLS_PIN, VOLUME_PIN, SUPPLY_V = 27, 26, 3.3
CELLS_AT = 128
"""Low below half of 3.3 V."""
CONTROL_JOINTS = (
    *(JointRecord(Use.POSITION, 0, pin, position) for position, pin in SELECTOR.items()),
    JointRecord(Use.CODED, 1, CODE_PIN, CODE_BITS),
    JointRecord(Use.VOLUME, 0, VOLUME_PIN),
    JointRecord(Use.CELLS, 1, CELLS_PIN, CELLS_AT),
    JointRecord(Use.CONTACT, 0, BUTTON),
    JointRecord(Use.I2S, 0, 18),
)
LAMPS_PIN = 8
LAMPS = 8
"""Three for the positions of selector 0, three for 0 to 2 of selector 1, the cells, the button."""
CELLS_LAMP, BUTTON_LAMP = 6, 7
DARK = FadeCurve((FadeSegment(Shape.STEP, 0, 0),))
CONTROL_RUN_MS = 260
CONTROL_LEVELS = [
    (0.0, SELECTOR[0], 0),
    (100.0, SELECTOR[0], 1),  # between two positions
    (110.0, SELECTOR[1], 0),
    (111.0, SELECTOR[1], 1),  # bounce
    (112.0, SELECTOR[1], 0),
    (160.0, SELECTOR[2], 0),  # two at one time
    (100.0, CODE_PIN, 0),  # 1, on the way
    (110.0, CODE_PIN, 1),
    (110.0, CODE_PIN + 1, 0),  # to 2
]
CONTROL_VOLTS = [
    (0.0, VOLUME_PIN, SUPPLY_V / 2),
    (80.0, VOLUME_PIN, SUPPLY_V / 2 + 0.008),  # it trembles
    (140.0, VOLUME_PIN, SUPPLY_V),
    (0.0, CELLS_PIN, 3.0),
    (100.0, CELLS_PIN, 0.5),  # a dip of 3 ms
    (103.0, CELLS_PIN, 3.0),
    (150.0, CELLS_PIN, 1.5),
    (200.0, CELLS_PIN, 3.3),
]
SETTLES_MS = 20
MEAN_MS = 20


def _lamp_while(lamp: int, **when) -> TriggerRecord:
    mode = Mode.WHILE_HELD if "input" in when else Mode.ALWAYS
    return TriggerRecord(mode, Stay(begin=2 * lamp, end=2 * lamp + 1), **when)


def control_table() -> Table:
    """A lamp for each state, and a sound that goes on."""
    plain = case_table(Case(4, LAMPS, (SOUND,)), CLOCK)
    effects = [
        EffectRecord((StartFade(0, lamp, fade),)) for lamp in range(LAMPS) for fade in (0, 1)
    ]
    return dataclasses.replace(
        plain,
        light_mask=0,
        inputs=(InputRecord(InputKind.BUTTON, 20), InputRecord(InputKind.LOW_BATTERY, 20)),
        selectors=(SelectorRecord(3, 0), SelectorRecord(4, 3)),
        groups=tuple(GroupRecord(lamp, 1, Merge.LATEST) for lamp in range(LAMPS)),
        fades=(FULL, DARK),
        effects=(*effects, EffectRecord((SOUND,))),
        triggers=(
            *(_lamp_while(position, conditions=((0, 1 << position),)) for position in range(3)),
            *(_lamp_while(3 + code, conditions=((1, 1 << code),)) for code in range(3)),
            _lamp_while(CELLS_LAMP, input=1),
            _lamp_while(BUTTON_LAMP, input=0),
            TriggerRecord(Mode.ALWAYS, Stay(begin=len(effects))),
        ),
        joints=(JointRecord(Use.LIGHTS, 0, LAMPS_PIN, LAMPS), *CONTROL_JOINTS),
    )


CONTROL_TABLE = control_table()


@pytest.fixture(scope="module")
def controls_run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    folder = tmp_path_factory.mktemp("pico-controls")
    return run(folder, CONTROL_TABLE, CONTROL_RUN_MS, CONTROL_LEVELS, CONTROL_VOLTS)


@pytest.fixture(scope="module")
def controls(controls_run: Run) -> Pins:
    return controls_run.pins


def lamp_changes(pins: Pins, lamp: int) -> list[tuple[float, int]]:
    """When a lamp goes on (1) and off, in milliseconds."""
    edges = pins.edges(CONTROL_TABLE.joints[0])
    return [(at / MS, level) for at, pin, level in edges.tolist() if pin == LAMPS_PIN + lamp]


SOON_MS = 3
"""Two frames, and a light period."""


def test_a_selector_is_where_it_last_settled(controls: Pins):
    begun_ms = heard(controls, CONTROL_TABLE).begin / MS
    (on, off), (next_on,) = lamp_changes(controls, 0), lamp_changes(controls, 1)
    assert on == (pytest.approx(begun_ms, abs=1), 1)  # from frame 0 on
    assert 112 + SETTLES_MS < off[0] < 112 + SETTLES_MS + SOON_MS
    assert next_on == (off[0], 1)  # and stays, with two at one time
    assert lamp_changes(controls, 2) == []


def test_a_coded_selector_shows_nothing_on_its_way(controls: Pins):
    (_, off), (on,) = lamp_changes(controls, 3), lamp_changes(controls, 5)
    assert 110 + SETTLES_MS < off[0] < 110 + SETTLES_MS + SOON_MS
    assert on == (off[0], 1)
    assert lamp_changes(controls, 4) == []


def test_cells_are_low_by_their_mean_and_stay_low_for_a_while(controls: Pins):
    (low,) = lamp_changes(controls, CELLS_LAMP)  # not in the dip, and still after 60 ms at 3.3 V
    assert low[1] == 1
    assert 150 < low[0] < 150 + 2 * MEAN_MS + SOON_MS


def test_volume_is_that_of_the_potentiometer(controls: Pins):
    sound = heard(controls, CONTROL_TABLE)
    frames = len(sound.samples) // CLOCK.samples_per_frame
    half, full = (
        played(CONTROL_TABLE, [Press(0, PressKind.VOLUME, 0, volume)], frames)[0]
        for volume in (128, 256)
    )
    turned = sound.frames_of(140.0).start * CLOCK.samples_per_frame
    way_ms = 2 * MEAN_MS + 2 * SOON_MS  # to the mean, and the player's own ramp
    reached = turned + way_ms * CLOCK.rate_hz // 1000
    np.testing.assert_array_equal(sound.samples[:turned], half[:turned])
    np.testing.assert_array_equal(sound.samples[reached : len(full)], full[reached:])
    assert full[reached:].any()
