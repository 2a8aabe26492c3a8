"""From a clip of the prop file to the samples that go into the table."""

from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.clips import shaping
from fxseq.clips.coding import Coding, decode
from fxseq.clips.encoding import Progress, encode
from fxseq.clips.shaping import high_passed, high_passed_loop
from fxseq.clips.limiter import limiter_gain, loop_limiter_gain
from fxseq.clips.coded import read_coded
from fxseq.clips.loop_finder import SHORTEST_SOUND_S, FoundLoop, find_loop, joined
from fxseq.clips.loudest import Hearing, hearing_at_bins, loudest
from fxseq.clips.measured import Conditioning, Measured, Shaped, measured
from fxseq.clips.recording import Recording, fault, read
from fxseq.sequence.derived import clip_coding, clip_rate_hz
from fxseq.sequence.errors import ClipError, Fault
from fxseq.sequence.model import Board, Clip, Fitted, Loop
from fxseq.sequence.quantities import quantity

SHORTEST_LOOP = 32
"""Samples. Bringing a shorter loop to a whole number of samples would move its pitch by more
than 1.6 %.
"""
_FULL_SCALE = 32768
_TRIM_MARGIN_S = 0.001
_UNIT_STEP = 65536
"""The table says a clip's rate in so many parts of the board's (SPEC 3.7)."""
_STEP_REACH = 200
"""A looped clip's rate may differ by this part of itself from the one asked for."""
_WORTH_IT = 0.98
"""Sharpening must lower the energy of the error to this share: a figure that machines round
differently must not decide.
"""
_TURNS = 10
"""Most turns of limiting and coding; three are usual."""
_MARGIN = 0.01
"""By so much more a peak is turned down than coding went over, and more with every turn, so that
it comes to an end.
"""

Span = tuple[int, int]


def _all_heard(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    return np.ones(len(frequencies_hz), complex)


@dataclass(frozen=True, eq=False)
class Sound:
    """Samples of shape (n,), full scale 1, their rate, and the loop in them, (start, end)."""

    samples: shaping.Samples
    rate_hz: float
    loop: Span | None

    def louder(self, gain: float) -> "Sound":
        """This sound times a factor."""
        return replace(self, samples=self.samples * gain)


@dataclass(frozen=True, eq=False)
class PreparedClip:
    """A clip ready for the table.

    samples: shape (n,), int16, read-only; nothing after the end of a loop. rate_hz: samples a
    second at which the clip sounds as recorded, a whole number of 1/65536 of the board's. coding:
    how the table stores it. data: its bytes there. loop: (start, end) in samples, end exclusive;
    None without a loop. measured: what was measured of it, for those who judge it. loudest: RMS of
    its loudest 125 ms as it is heard, as an amplitude (see `loudest`); before coding. conditioning:
    what was trimmed, found and limited. loudest_as_meant: as `loudest`, at the board's rate and
    uncut, however the clip is stored. meant_samples: how many samples that are.
    """

    name: str
    samples: NDArray[np.int16]
    rate_hz: float
    coding: Coding
    data: bytes
    loop: Span | None
    measured: Measured = Measured()
    loudest: float = 0.0
    conditioning: Conditioning = Conditioning()
    loudest_as_meant: float = 0.0
    meant_samples: int = 0


@dataclass(frozen=True, eq=False)
class Draft:
    """A clip as it is meant, from which it can be stored in several ways.

    source: at the rate of its file; meant: at that of the board, before gain. found: the loop that
    was found.
    """

    name: str
    clip: Clip
    board: Board
    recording: Recording
    kept: Recording
    source: Sound
    meant: Sound
    found: FoundLoop | None
    gain: float
    hearing: Hearing
    _at_rates: dict[int, Sound] = field(default_factory=dict)

    @property
    def first_ms(self) -> float:
        """Where the sound begins in its file. [ms]"""
        return 1000 * self.kept.first_frame / self.kept.rate_hz

    def stored(self, fitted: Fitted | None, progress: Progress = None) -> PreparedClip:
        """The clip ready for the table. fitted: in place of what the clip says. Raises ClipError
        where the loop becomes too short.
        """
        clip = self.clip.model_copy(update={"fitted": fitted})
        before = self._coded_before(clip)
        if before is not None:
            return self._prepared(clip, *before)
        rate_hz = clip_rate_hz(clip, self.board)
        if rate_hz not in self._at_rates:
            self._at_rates[rate_hz] = _at_stored_rate(
                clip, self.board, self.source, self.meant, self.hearing
            )
        sound = self._at_rates[rate_hz]
        _check_loop(self.name, clip, sound)
        shaped, data = _stored(clip, sound.louder(self.gain), self.first_ms, self.found, progress)
        shaped = replace(
            shaped,
            conditioning=replace(
                shaped.conditioning, trimmed_ms=_trimmed_ms(self.recording, self.kept)
            ),
        )
        return self._prepared(clip, shaped, data)

    def _coded_before(self, clip: Clip) -> tuple[Shaped, bytes] | None:
        """The clip as it stands coded in its file, where that is what is asked for."""
        coded = read_coded(self.recording.marks.coded)
        if coded is None or not coded.is_wanted(clip, self.board.sample_rate_hz):
            return None
        samples = coded.samples_if(self.recording.samples)
        if samples is None:
            return None
        samples.setflags(write=False)
        loop = None if coded.loop_start is None else (coded.loop_start, len(samples))
        return Shaped(samples, coded.rate_hz, loop, 0, Conditioning(), samples), coded.data

    def _prepared(self, clip: Clip, shaped: Shaped, data: bytes) -> PreparedClip:
        return PreparedClip(
            self.name,
            shaped.samples,
            shaped.rate_hz,
            clip_coding(clip),
            data,
            shaped.loop,
            measured(self.recording, shaped, clip.limit_to_dbfs),
            loudest(shaped.samples / _FULL_SCALE, shaped.rate_hz, self.hearing, shaped.loop),
            shaped.conditioning,
            self._loudest_as_meant,
            len(self.meant.samples),
        )

    @cached_property
    def _loudest_as_meant(self) -> float:
        whole = self.meant.louder(self.gain)
        if self.clip.limit_to_dbfs is not None:
            whole = replace(
                whole,
                samples=whole.samples
                * _limiter_gain(whole, shaping.amplitude(self.clip.limit_to_dbfs)),
            )
        return loudest(whole.samples, whole.rate_hz, self.hearing, whole.loop)


def prepare(
    name: str,
    clip: Clip,
    board: Board,
    folder: Path,
    hearing: Hearing = _all_heard,
    matched: PreparedClip | None = None,
    progress: Progress = None,
) -> PreparedClip:
    """Read, cut, trim, take off the mean, high-pass, find the loop, resample, fade, level or match,
    gain, limit, fit and round a clip, in this order.

    Arguments as `draft` has them. Raises ClipError with every fault found.

    The same WAV, AIFF or FLAC file gives the same samples on every machine: all steps are float64,
    and the rounding at the end hides the last bits in which machines differ (`shaping.quantised`).
    OGG and MP3 are decoded in ways that differ by a step now and then.
    """
    return draft(name, clip, board, folder, hearing, matched, progress).stored(
        clip.fitted, progress
    )


def draft(
    name: str,
    clip: Clip,
    board: Board,
    folder: Path,
    hearing: Hearing = _all_heard,
    matched: PreparedClip | None = None,
    progress: Progress = None,
) -> Draft:
    """All that is done to a clip before it is known how it is stored.

    folder: where the clip's file name starts, that of the prop file. hearing: what becomes of
    samples on their way to an ear, by which loudness is measured; all alike unless given. matched:
    the clip of `clip.match_to`. progress: as `read` takes it. Raises ClipError with every fault
    found.
    """
    faults = _setting_faults(name, clip, board)
    try:
        recording = read(name, clip, folder, progress)
    except ClipError as error:
        raise ClipError(*faults, *error.faults) from None
    kept = trimmed(recording, clip)
    loop, loop_faults = _loop(name, clip, kept)
    faults += (
        loop_faults
        + _fade_faults(name, clip, kept, loop)
        + _corner_faults(name, clip, board, kept)
        + _fitted_faults(name, clip, kept)
    )
    if faults:
        raise ClipError(*faults)
    source, found = _shape(clip, kept, loop)
    meant = _at_board_rate(clip, board, source)
    gain = _level_gain(clip, meant, hearing, matched) * shaping.amplitude(clip.gain_db)
    return Draft(name, clip, board, recording, kept, source, meant, found, gain, hearing)


def _check_loop(name: str, clip: Clip, sound: Sound) -> None:
    if sound.loop is None:
        return
    length = sound.loop[1] - sound.loop[0]
    if length < SHORTEST_LOOP:
        what = f"the loop is {length} samples long at {sound.rate_hz:.0f} Hz"
        allowed = f"{SHORTEST_LOOP} samples or more"
        raise ClipError(
            fault(name, clip, what, allowed, "Make the loop longer, for example several periods.")
        )


def trimmed(recording: Recording, clip: Clip) -> Recording:
    """The recording without the silence before and behind the sound, if the clip asks for that;
    silence alone stays as it is.
    """
    if clip.trim_below_dbfs is None:
        return recording
    swing = recording.samples
    if clip.remove_dc:
        # A constant offset is no sound, and is gone soon.
        swing = swing - swing.mean()
    part = shaping.sounding(swing, clip.trim_below_dbfs, round(_TRIM_MARGIN_S * recording.rate_hz))
    first = recording.first_frame + (part.start or 0)
    return replace(
        recording,
        samples=recording.samples[part],
        at_rail=recording.at_rail[part],
        first_frame=first,
    )


def _trimmed_ms(recording: Recording, kept: Recording) -> tuple[float, float]:
    before = kept.first_frame - recording.first_frame
    behind = len(recording.samples) - before - len(kept.samples)
    return 1000 * before / recording.rate_hz, 1000 * behind / recording.rate_hz


def _setting_faults(name: str, clip: Clip, board: Board) -> list[Fault]:
    """Settings that cannot be right, whatever the file holds."""
    faults = []
    for key, rate_hz in (
        ("rate_hz", clip.rate_hz),
        ("fitted.rate_hz", clip.fitted and clip.fitted.rate_hz),
    ):
        if rate_hz and rate_hz > board.sample_rate_hz:
            allowed = f"up to the board's {board.sample_rate_hz} Hz"
            remedy = "A higher rate takes flash and cannot be heard."
            faults.append(fault(name, clip, f"{key} is {rate_hz} Hz", allowed, remedy))
    if clip.peak_to_dbfs is not None and clip.rms_to_dbfs is not None:
        faults.append(fault(name, clip, "both peak_to_dbfs and rms_to_dbfs are set", "one of them"))
    if clip.loop and clip.fade_out_ms:
        remedy = "Leave it out; the sound's release_ms ends a loop."
        faults.append(
            fault(name, clip, "fade_out_ms is set, but a clip with a loop has no end", "", remedy)
        )
    return faults


def _fade_faults(name: str, clip: Clip, recording: Recording, loop: Span | None) -> list[Fault]:
    """Fades that take more than there is, or would make a loop swell at every turn."""
    kept_ms = 1000 * len(recording.samples) / recording.rate_hz
    fades_ms = clip.fade_in_ms + clip.fade_out_ms
    if loop and clip.fade_in_ms > 1000 * loop[0] / recording.rate_hz:
        what = f"the fade-in of {quantity(clip.fade_in_ms, 'ms')} reaches into the loop"
        return [
            fault(
                name,
                clip,
                what,
                f"up to {1000 * loop[0] / recording.rate_hz:.0f} ms, the loop's start",
            )
        ]
    if clip.loop == "find" and clip.fade_in_ms > kept_ms / 2:
        what = (
            f"the fade-in of {quantity(clip.fade_in_ms, 'ms')} leaves too little to find a loop in"
        )
        return [fault(name, clip, what, f"up to {kept_ms / 2:.0f} ms, half of the clip")]
    if fades_ms > kept_ms:
        return [
            fault(
                name,
                clip,
                f"the fades take {quantity(fades_ms, 'ms')} together",
                f"up to the {kept_ms:.0f} ms that the cut keeps",
            )
        ]
    return []


def _fitted_faults(name: str, clip: Clip, kept: Recording) -> list[Fault]:
    """A cut before the sound begins."""
    first_ms = 1000 * kept.first_frame / kept.rate_hz
    if clip.fitted is None or clip.fitted.end_ms is None or clip.fitted.end_ms > first_ms:
        return []
    what = (
        f"nothing is left: it starts at {first_ms:.0f} ms, fitted.end_ms is"
        f" {quantity(clip.fitted.end_ms, 'ms')}"
    )
    return [
        fault(
            name,
            clip,
            what,
            "fitted.end_ms after the start",
            "Delete fitted, and run `fxseq fit` again.",
        )
    ]


def _corner_faults(name: str, clip: Clip, board: Board, recording: Recording) -> list[Fault]:
    """A high-pass that would leave nothing."""
    highest_hz = min(recording.rate_hz, clip_rate_hz(clip, board)) / 2
    if clip.high_pass_hz is None or clip.high_pass_hz < highest_hz:
        return []
    what = f"high_pass_hz is {clip.high_pass_hz:g} Hz, and no sound is left above that"
    return [fault(name, clip, what, f"below {highest_hz:g} Hz, half of the rate")]


def _loop(name: str, clip: Clip, recording: Recording) -> tuple[Span | None, list[Fault]]:
    """The loop in frames of the recording, before resampling; None where there is none or none
    yet.
    """
    frames = len(recording.samples)
    rate_hz = recording.rate_hz
    if clip.loop is None:
        return None, []
    if clip.loop == "find":
        if frames >= SHORTEST_SOUND_S * rate_hz:
            return None, []
        what = f"{1000 * frames / rate_hz:.0f} ms are too short to find a loop in"
        allowed = f"{1000 * SHORTEST_SOUND_S:.0f} ms or more"
        return None, [fault(name, clip, what, allowed)]
    if clip.loop == "whole":
        return (0, frames), []
    if isinstance(clip.loop, Loop):
        end = frames if clip.loop.end_ms is None else round(clip.loop.end_ms * rate_hz / 1000)
        if end == frames + 1:
            # Both ends of the cut are rounded to samples: what is meant to be its end may be one
            # on.
            end = frames
        return _inside(name, clip, recording, round(clip.loop.start_ms * rate_hz / 1000), end)
    if not recording.marks.loops:
        remedy = "Set the loop in the sound editor and export as WAV, or give start_ms and end_ms."
        return None, [
            fault(
                name,
                clip,
                "loop is file, but the file has no loop",
                "a smpl chunk with a forward loop",
                remedy,
            )
        ]
    start, end = recording.marks.loops[0]
    return _inside(
        name, clip, recording, start - recording.first_frame, end - recording.first_frame
    )


def _inside(
    name: str, clip: Clip, recording: Recording, start: int, end: int
) -> tuple[Span | None, list[Fault]]:
    """The loop, or a fault where it is not inside the cut."""
    frames = len(recording.samples)
    rate_hz = recording.rate_hz
    if 0 <= start < end <= frames:
        return (start, end), []
    what = (
        f"the loop is from {1000 * start / rate_hz:.0f} to {1000 * end / rate_hz:.0f} ms of the cut"
        " clip"
    )
    return None, [
        fault(
            name,
            clip,
            what,
            f"inside 0 to {1000 * frames / rate_hz:.0f} ms, end after start",
            "Move the loop or the cut.",
        )
    ]


def _shape(clip: Clip, recording: Recording, loop: Span | None) -> tuple[Sound, FoundLoop | None]:
    """What is done at the rate of the file: without mean, without what is below the corner, and
    with the loop found.
    """
    samples = recording.samples
    if clip.remove_dc:
        samples = samples - samples.mean()
    if clip.high_pass_hz is not None and loop is None:
        samples = high_passed(samples, recording.rate_hz, clip.high_pass_hz)
    elif clip.high_pass_hz is not None and loop is not None:
        samples, loop = high_passed_loop(samples, loop, recording.rate_hz, clip.high_pass_hz)
    if clip.loop != "find":
        return Sound(samples, recording.rate_hz, loop), None
    found = find_loop(samples, recording.rate_hz, round(clip.fade_in_ms * recording.rate_hz / 1000))
    return Sound(joined(samples, found), recording.rate_hz, (found.start, found.end)), found


def _at_board_rate(clip: Clip, board: Board, source: Sound) -> Sound:
    """At the rate of the board, with its fades."""
    board_hz = board.sample_rate_hz
    if source.loop is None:
        return _faded(
            clip, Sound(shaping.resample(source.samples, source.rate_hz, board_hz), board_hz, None)
        )
    length = max(1, round((source.loop[1] - source.loop[0]) * board_hz / source.rate_hz))
    samples, loop = shaping.resample_loop(source.samples, source.loop, length)
    return _faded(clip, Sound(samples, board_hz, loop))


def _at_stored_rate(
    clip: Clip, board: Board, source: Sound, meant: Sound, hearing: Hearing
) -> Sound:
    """At the rate of the table, with its fades; sharpened where that brings what is heard closer
    to what is meant.
    """
    wanted_hz = clip_rate_hz(clip, board)
    if wanted_hz == board.sample_rate_hz:
        return meant
    step = round(wanted_hz * _UNIT_STEP / board.sample_rate_hz)
    length = 0
    if meant.loop is not None:
        step, length = _step_of_loop(step, meant.loop[1] - meant.loop[0])
    rate_hz = step * board.sample_rate_hz / _UNIT_STEP

    def made(sharpen: bool) -> Sound:
        if source.loop is None:
            return _faded(
                clip,
                Sound(
                    shaping.resample(source.samples, source.rate_hz, rate_hz, sharpen),
                    rate_hz,
                    None,
                ),
            )
        samples, loop = shaping.resample_loop(source.samples, source.loop, length, sharpen)
        return _faded(clip, Sound(samples, rate_hz, loop))

    plain = made(False)
    sharp = made(True)
    if _missed(sharp, meant, hearing) < _WORTH_IT * _missed(plain, meant, hearing):
        return sharp
    return plain


def _step_of_loop(nominal: int, turn: int) -> tuple[int, int]:
    """A step near the nominal one at which a loop of so many samples of the board comes to a whole
    number, nearly; and that number.

    A loop that is stored a little too long or short runs away from the others, and the longer it is
    held the farther.
    """
    reach = max(nominal // _STEP_REACH, 1)
    steps = range(max(nominal - reach, 1), min(nominal + reach, _UNIT_STEP - 1) + 1)

    def off(step: int) -> int:
        part = step * turn % _UNIT_STEP
        return min(part, _UNIT_STEP - part)

    best = min(steps, key=lambda step: (off(step), abs(step - nominal)))
    return best, max(1, (2 * best * turn + _UNIT_STEP) // (2 * _UNIT_STEP))


def _missed(sound: Sound, meant: Sound, hearing: Hearing) -> float:
    """Energy, as heard, of what straight lines between the samples of a sound make different
    from what is meant.
    """
    places = np.arange(len(meant.samples)) * (sound.rate_hz / meant.rate_hz)
    behind = sound.samples[sound.loop[0]] if sound.loop else 0.0
    error = meant.samples - np.interp(
        places, np.arange(len(sound.samples) + 1), np.append(sound.samples, behind), right=behind
    )
    size = 1 << (len(error) - 1).bit_length()
    heard = np.fft.rfft(error, size) * hearing_at_bins(hearing, size, meant.rate_hz)
    return float(np.square(np.abs(heard)).sum())


def _faded(clip: Clip, sound: Sound) -> Sound:
    count = len(sound.samples)
    fade_in, fade_out = (
        min(round(ms * sound.rate_hz / 1000), count) for ms in (clip.fade_in_ms, clip.fade_out_ms)
    )
    return replace(sound, samples=shaping.faded(sound.samples, fade_in, fade_out))


def _level_gain(clip: Clip, sound: Sound, hearing: Hearing, matched: PreparedClip | None) -> float:
    """Factor to the level asked for, or to that of the clip to match."""
    if clip.match_to is None:
        return shaping.gain_to(sound.samples, clip.peak_to_dbfs, clip.rms_to_dbfs)
    if matched is None:
        raise ValueError(f"clip '{clip.match_to}' is needed to match to")
    return shaping.ratio(
        matched.loudest_as_meant, loudest(sound.samples, sound.rate_hz, hearing, sound.loop)
    )


def _limiter_gain(sound: Sound, threshold: float) -> shaping.Samples:
    if sound.loop is None:
        return limiter_gain(sound.samples, sound.rate_hz, threshold)
    return loop_limiter_gain(sound.samples, sound.loop, sound.rate_hz, threshold)


def _cut(clip: Clip, sound: Sound, first_ms: float) -> Sound:
    """Cut and faded as fitted. first_ms: where the sound begins in its file."""
    if clip.fitted is None or clip.fitted.end_ms is None:
        return sound
    end = min(
        max(round((clip.fitted.end_ms - first_ms) * sound.rate_hz / 1000), 1), len(sound.samples)
    )
    if end == len(sound.samples):
        return sound
    fade = min(round(clip.fitted.fade_out_ms * sound.rate_hz / 1000), end)
    return replace(sound, samples=shaping.faded(sound.samples[:end], 0, fade))


def _stored(
    clip: Clip,
    sound: Sound,
    first_ms: float,
    found: FoundLoop | None,
    progress: Progress,
) -> tuple[Shaped, bytes]:
    """Limited, cut, rounded and coded.

    Coding adds an error. Where what comes out is over limit_to_dbfs, the limiter is told of a
    louder peak, and the clip is coded again.
    """
    if clip.limit_to_dbfs is None:
        return _coded(clip, sound, first_ms, Conditioning(found_loop=found), progress)
    ceiling = shaping.amplitude(clip.limit_to_dbfs)
    louder = np.ones(len(sound.samples))
    for turn in range(_TURNS):
        gain = _limiter_gain(replace(sound, samples=sound.samples * louder), ceiling)
        conditioning = Conditioning(
            found_loop=found, limited_db=shaping.level_db(1 / float(gain.min()))
        )
        limited = replace(sound, samples=sound.samples * gain)
        shaped, data = _coded(clip, limited, first_ms, conditioning, progress)
        played = np.abs(shaped.decoded / _FULL_SCALE)
        over = np.flatnonzero(played > ceiling + 1 / _FULL_SCALE)
        if not len(over):
            break
        louder[over] *= (1 + _MARGIN * (turn + 1)) * played[over] / ceiling
    return shaped, data


def _coded(
    clip: Clip,
    sound: Sound,
    first_ms: float,
    conditioning: Conditioning,
    progress: Progress,
) -> tuple[Shaped, bytes]:
    kept = _cut(clip, sound, first_ms)
    coding = clip_coding(clip)
    rounded, over = shaping.quantised(kept.samples)
    rounded.setflags(write=False)
    start = kept.loop and kept.loop[0]
    data = encode(rounded, coding, start, progress, round(kept.rate_hz))
    return (
        Shaped(
            rounded,
            kept.rate_hz,
            kept.loop,
            over,
            conditioning,
            decode(data, coding, len(rounded), start),
        ),
        data,
    )
