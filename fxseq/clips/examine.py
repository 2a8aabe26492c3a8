"""What to tell the maker about a clip: findings on its recording and on what became of it."""
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.coding import byte_count
from fxseq.clips.loop_finder import FoundLoop
from fxseq.clips.recording import Recording
from fxseq.clips.shaping import amplitude, level_db
from fxseq.sequence.derived import clip_coding
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Board, Clip
from fxseq.sequence.quantities import fixed, number

_PRACTICE = "common practice, no source"
_FULL_SCALE = 32768
_SILENT_DBFS = -70
_AUDIBLE_DBFS = -50
_LARGEST_DC_PERCENT = 1
_SAMPLES_AT_RAIL = 3
_LARGEST_JUMP_PERCENT = 3
_LARGEST_SEAM_STEPS = 2
_LONGEST_DELAY_MS = 10
_LARGEST_FLASH_PERCENT = 50
_MOST_LIMITED_DB = 12
_POOREST_MATCH = 0.8
_MOST_OFF_BEAT_MS = 30
_COUNTED = "The count is exact. How much of it you hear is a rule of thumb, so listen."

EXPLAINED = explained(
    Explanation(
        "clip.truncated", "Is part of the sound file missing?",
        "A sound file says at its beginning how long it is. A finding where it ends sooner.",
        "the file's own header", "your own files", "Exact, unless the header is wrong.",
        formula="{lost} = {missing} / {claimed}",
        symbols={"lost": "share that is missing, in %", "missing": "length that is missing, in ms", "claimed": "length stated in the header, in ms"}),
    Explanation(
        "clip.silent", "Is there any sound in the clip?",
        f"The peak of the finished clip is measured. A finding where it is not above {_SILENT_DBFS} dBFS.",
        _PRACTICE, "common practice", _COUNTED,
        formula=f"{{peak}} <= {_SILENT_DBFS} dBFS", symbols={"peak": "peak of the clip, in dBFS"}),
    Explanation(
        "clip.dc", "Does the recording have a DC offset?",
        "The mean of a sound's samples should be 0. An offset of the whole wave makes a click at both ends and wastes level. A finding where the mean "
        f"is off by more than {_LARGEST_DC_PERCENT} % of full scale and remove_dc is not set.",
        _PRACTICE, "common practice", _COUNTED,
        formula=f"|{{m}}| > {_LARGEST_DC_PERCENT} %", symbols={"m": "mean of the samples, in % of full scale"}),
    Explanation(
        "clip.clipped_source", "Did the recording clip?",
        f"Where a sound is louder than a file can hold, its peaks are cut flat. A finding where {_SAMPLES_AT_RAIL} or more samples in a row are at full "
        "scale.",
        _PRACTICE, "common practice",
        "Several full-scale samples in a row are nearly always a clipped peak; a square wave made on purpose looks the same.",
        formula=f"{{longest}} >= {_SAMPLES_AT_RAIL}",
        symbols={"tops": "clipped peaks in the recording", "longest": "length of the longest, in samples"}),
    Explanation(
        "clip.clipped_by_gain", "Does the clip's gain push it over full scale?",
        "After gain_db, or after setting a level, samples beyond full scale are clipped. A finding where there are any.",
        "16-bit full scale", "arithmetic", "Exact: the samples are counted.",
        formula="{p} = {n} / {N}",
        symbols={"p": "share of the samples that are clipped, in %", "n": "samples that are clipped", "N": "all samples"}),
    Explanation(
        "clip.limited", "Does the limiter turn the clip down too much?",
        "The limiter turns peaks down to limit_to_dbfs. A clip with much gain, above all one matched to a clip that the speaker plays much louder, then "
        f"sounds flat and is still softer. A finding where the limiter turns it down by more than {_MOST_LIMITED_DB} dB.",
        _PRACTICE, "common practice", "The figure is exact. Some sounds tolerate more limiting than others, so listen.",
        formula="{cut} = {peak} - {limit}",
        symbols={"cut": "the most that the limiter turns down, in dB", "peak": "peak before the limiter, in dBFS", "limit": "limit_to_dbfs, in dBFS"}),
    Explanation(
        "clip.over_after_coding", "Does coding push peaks over the limit?",
        "Coding changes samples a little, and peaks with them. The stored clip is decoded as the board does it. A finding where samples are then above "
        "limit_to_dbfs; without that key, where they clip at full scale and did not before.",
        "the clip's own limit_to_dbfs; 16-bit full scale", "arithmetic", "Exact: the samples are counted.",
        formula="{over} = {peak} - {limit}",
        symbols={"over": "how far the highest is over, in dB", "peak": "highest sample as the board plays it, in dBFS",
                 "limit": "limit_to_dbfs, or full scale, in dBFS"}),
    Explanation(
        "clip.long", "Does one clip fill most of the board's memory?",
        f"The size of the finished clip is compared with the memory that the board has for the table. A note above {_LARGEST_FLASH_PERCENT} %.",
        _PRACTICE, "common practice", "The size is exact; whether it is too much is for you to decide.",
        formula="{share} = {B} / {room}",
        symbols={"share": "share of the memory, in %", "B": "size of the clip, in bytes", "room": "flash_for_table_bytes of the board, in bytes"}),
    Explanation(
        "clip.starts_with_jump", "Does the clip start with a click?",
        f"Before a sound there is silence, 0. A finding where the first sample is more than {_LARGEST_JUMP_PERCENT} % of full scale away from 0.",
        _PRACTICE, "common practice", _COUNTED, formula="{j} = {x} / 32768",
        symbols={"j": "first sample, in % of full scale", "x": "first sample, as a 16-bit number without its sign"}),
    Explanation(
        "clip.ends_with_jump", "Does the clip end with a click?",
        f"After a sound there is silence, 0. A finding where the last sample is more than {_LARGEST_JUMP_PERCENT} % of full scale away from 0, unless "
        "the clip loops.",
        _PRACTICE, "common practice", _COUNTED, formula="{j} = {x} / 32768",
        symbols={"j": "last sample, in % of full scale", "x": "last sample, as a 16-bit number without its sign"}),
    Explanation(
        "clip.loop_seam", "Does a loop click at every pass?",
        f"At the seam a loop jumps from its last sample to its first. A finding where that step is more than {_LARGEST_SEAM_STEPS} times the largest "
        f"step inside the loop, and more than {_LARGEST_JUMP_PERCENT} % of full scale.",
        _PRACTICE, "common practice", _COUNTED, formula=f"{{seam}} > {_LARGEST_SEAM_STEPS} * {{inside}}",
        symbols={"seam": "step at the seam, in % of full scale", "inside": "largest step inside the loop, in % of full scale"}),
    Explanation(
        "clip.loop_match", "Does a found loop fit at its seam?",
        "A found loop is faded from its end into what is before its start. The two are compared: 1 is equal, 0 unrelated. A note below "
        f"{_POOREST_MATCH:g}: of wind or rain nothing may be heard, of a tone a stutter.",
        _PRACTICE, "common practice", "The figure is exact; what is heard of it depends on the sound, so listen.",
        formula=f"{{match}} < {_POOREST_MATCH:g}", symbols={"match": "2 ab / (aa + bb) of the two stretches a and b"}),
    Explanation(
        "clip.loop_off_beat", "Does a found loop stumble?",
        "Where the rises of a sound repeat in time, the loop should last a whole number of beats. A note where it is off by more than "
        f"{_MOST_OFF_BEAT_MS} ms.",
        _PRACTICE, "common practice", "Beats are told to about 5 ms; a sound whose rises repeat by chance may be taken for one with a beat.",
        formula=f"|{{off}}| > {_MOST_OFF_BEAT_MS} ms", symbols={"off": "length of the loop less a whole number of beats, in ms"}),
    Explanation(
        "clip.leading_silence", "Does silence at the start of the clip make its sound late?",
        f"The time until the clip first reaches {_AUDIBLE_DBFS} dBFS. A finding above {_LONGEST_DELAY_MS} ms.",
        _PRACTICE, "common practice", "The time is exact. When a hand feels a sound as late differs: see sound.delay for the whole delay.",
        formula="{t} = {n} / {rate}",
        symbols={"t": "time until the sound begins, in ms", "n": "samples before the sound begins", "rate": "samples a second, in Hz"}),
)


@dataclass(frozen=True)
class Conditioning:
    """What was done to a clip, where that shows only when it is done.

    trimmed_ms: cut before and behind the sound. found_loop: in samples of the recording at its own rate, counted from the cut.
    limited_db: the most by which the limiter turned down.
    """

    trimmed_ms: tuple[float, float] = (0.0, 0.0)
    found_loop: FoundLoop | None = None
    limited_db: float = 0.0


@dataclass(frozen=True, eq=False)
class Shaped:
    """What became of a recording: samples as they go into the table, how many were beyond full scale on the way, and what was done.

    decoded: what the table gives back, shape (n,).
    """

    samples: NDArray[np.int16]
    rate_hz: float
    loop: tuple[int, int] | None
    over: int
    conditioning: Conditioning
    decoded: NDArray[np.int16]


def examine(name: str, clip: Clip, board: Board, recording: Recording, shaped: Shaped) -> tuple[Finding, ...]:
    """Every finding of a clip."""
    subject = f"clip '{name}'"
    found = [
        _truncated(subject, recording),
        _dc(subject, clip, recording),
        _clipped_source(subject, recording),
        _clipped_by_gain(subject, clip, shaped),
        _limited(subject, clip, shaped),
        _over_after_coding(subject, clip, shaped),
        _long(subject, clip, board, shaped),
    ]
    if _silent_until(shaped, _SILENT_DBFS) == len(shaped.samples):
        found.append(_silent(subject, shaped))
    else:
        found += [_starts_with_jump(subject, shaped), _ends_with_jump(subject, shaped), _loop_seam(subject, shaped)]
        found += [_loop_match(subject, shaped), _loop_off_beat(subject, shaped), _leading_silence(subject, shaped)]
    return tuple(finding for finding in found if finding)


def _silent_until(shaped: Shaped, level_dbfs: float) -> int:
    """Index of the first sample above a level; the number of samples where there is none."""
    above = np.abs(shaped.samples.astype(np.int32)) > _FULL_SCALE * amplitude(level_dbfs)
    return int(above.argmax()) if above.any() else len(above)


def _percent_of_full_scale(sample: float) -> float:
    return float(100 * abs(sample) / _FULL_SCALE)


def _truncated(subject: str, recording: Recording) -> Finding | None:
    if not recording.missing_frames:
        return None
    claimed = recording.first_frame + len(recording.samples) + recording.missing_frames
    missing_ms, claimed_ms = (1000 * frames / recording.rate_hz for frames in (recording.missing_frames, claimed))
    figure = f"{100 * recording.missing_frames / claimed:.1f} % ({missing_ms:.0f} ms) of the sound is missing"
    remedy = "Export or copy the file again; it ends too soon."
    inputs = {"lost": f"{100 * missing_ms / claimed_ms:.1f} %", "missing": f"{missing_ms:.0f} ms", "claimed": f"{claimed_ms:.0f} ms"}
    return EXPLAINED["clip.truncated"].finding(Weight.WARNING, subject, figure, f"{claimed_ms:.0f} ms", remedy, inputs)


def _silent(subject: str, shaped: Shaped) -> Finding:
    level = level_db(float(np.abs(shaped.samples.astype(np.int32)).max()) / _FULL_SCALE)
    figure = "no sample differs from 0" if level == -np.inf else f"peak {fixed(level, 1)} dBFS"
    remedy = "Check the file and the cut; raise gain_db or set peak_to_dbfs."
    inputs = {"peak": "silence" if level == -np.inf else f"{fixed(level, 1)} dBFS"}
    return EXPLAINED["clip.silent"].finding(Weight.WARNING, subject, figure, f"above {_SILENT_DBFS} dBFS", remedy, inputs)


def _dc(subject: str, clip: Clip, recording: Recording) -> Finding | None:
    offset = float(100 * recording.samples.mean())
    if clip.remove_dc or abs(offset) <= _LARGEST_DC_PERCENT:
        return None
    figure, limit = f"the mean is {offset:+.1f} % of full scale", f"{_LARGEST_DC_PERCENT} %"
    remedy = "Set remove_dc = true: an offset wastes level and clicks at the ends."
    return EXPLAINED["clip.dc"].finding(Weight.WARNING, subject, figure, limit, remedy, {"m": f"{offset:+.2f} %"})


def _clipped_source(subject: str, recording: Recording) -> Finding | None:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], recording.at_rail.view(np.int8), [0]])))
    lengths = edges[1::2] - edges[::2]
    runs = lengths[lengths >= _SAMPLES_AT_RAIL]
    if not runs.size:
        return None
    figure = f"{runs.size} clipped peaks, the longest of {runs.max()} samples at full scale"
    limit = f"fewer than {_SAMPLES_AT_RAIL} samples in a row"
    inputs = {"tops": f"{runs.size}", "longest": f"{runs.max()}"}
    return EXPLAINED["clip.clipped_source"].finding(Weight.WARNING, subject, figure, limit, "Record or export the file at a lower level.", inputs)


def _clipped_by_gain(subject: str, clip: Clip, shaped: Shaped) -> Finding | None:
    if not shaped.over:
        return None
    figure = f"{shaped.over} samples ({number(100 * shaped.over / len(shaped.samples), 2)} %) are beyond full scale"
    remedy = f"Lower gain_db, or set {'limit' if clip.match_to or clip.rms_to_dbfs is not None else 'peak'}_to_dbfs = -1."
    inputs = {"p": f"{number(100 * shaped.over / len(shaped.samples), 2)} %", "n": f"{shaped.over}", "N": f"{len(shaped.samples)}"}
    return EXPLAINED["clip.clipped_by_gain"].finding(Weight.WARNING, subject, figure, "0 samples", remedy, inputs)


def _limited(subject: str, clip: Clip, shaped: Shaped) -> Finding | None:
    """What a clip is asked to give that it has not: a match to one that is much louder, above all."""
    limited_db = shaped.conditioning.limited_db
    if limited_db <= _MOST_LIMITED_DB or clip.limit_to_dbfs is None:
        return None
    figure = f"peaks are turned down by up to {limited_db:.0f} dB: little is left of the attack"
    remedy = "Lower gain_db, or raise high_pass_hz towards the speaker's resonance: lows that nobody hears use up the headroom."
    if clip.match_to is not None:
        remedy = f"Through this speaker it cannot be as loud as '{clip.match_to}': lower the gain_db of that clip. {remedy}"
    inputs = {"cut": f"{limited_db:.1f} dB", "peak": f"{fixed(clip.limit_to_dbfs + limited_db, 1)} dBFS", "limit": f"{clip.limit_to_dbfs:g} dBFS"}
    return EXPLAINED["clip.limited"].finding(Weight.WARNING, subject, figure, f"{_MOST_LIMITED_DB} dB", remedy, inputs)


def _over_after_coding(subject: str, clip: Clip, shaped: Shaped) -> Finding | None:
    played, before = (np.abs(samples.astype(np.int32)) for samples in (shaped.decoded, shaped.samples))
    limit_dbfs = clip.limit_to_dbfs or 0.0
    allowed = round(amplitude(limit_dbfs) * _FULL_SCALE) + 1 if clip.limit_to_dbfs else _FULL_SCALE - 2
    over = (played > allowed) & (before <= allowed)
    if not over.any():
        return None
    peak_dbfs = level_db(float(played.max()) / _FULL_SCALE)
    figure = f"{np.count_nonzero(over)} samples, the highest at {fixed(peak_dbfs, 1)} dBFS as the board plays them"
    remedy = "Lower limit_to_dbfs by 1 dB, or take another coding." if clip.limit_to_dbfs else "Set limit_to_dbfs = -1, or lower gain_db."
    inputs = {"over": f"{fixed(peak_dbfs - limit_dbfs, 1)} dB", "peak": f"{fixed(peak_dbfs, 1)} dBFS", "limit": f"{limit_dbfs:g} dBFS"}
    return EXPLAINED["clip.over_after_coding"].finding(Weight.NOTE, subject, figure, f"{limit_dbfs:g} dBFS", remedy, inputs)


def _long(subject: str, clip: Clip, board: Board, shaped: Shaped) -> Finding | None:
    size = byte_count(clip_coding(clip), len(shaped.samples), shaped.loop and shaped.loop[0])
    share = 100 * size / board.flash_for_table_bytes
    if share <= _LARGEST_FLASH_PERCENT:
        return None
    figure = f"{len(shaped.samples) / shaped.rate_hz:.1f} s take {size} bytes, {share:.0f} % of the board's memory for the table"
    remedy = "Cut it shorter, loop a part of it, or lower rate_hz" + ("." if clip_coding(clip) == "mulaw" else ", or use coding mulaw.")
    inputs = {"share": f"{share:.0f} %", "B": f"{size} bytes", "room": f"{board.flash_for_table_bytes} bytes"}
    return EXPLAINED["clip.long"].finding(Weight.NOTE, subject, figure, f"{_LARGEST_FLASH_PERCENT} %", remedy, inputs)


def _starts_with_jump(subject: str, shaped: Shaped) -> Finding | None:
    jump = _percent_of_full_scale(int(shaped.samples[0]))
    if jump <= _LARGEST_JUMP_PERCENT:
        return None
    figure, limit = f"the first sample is at {jump:.0f} % of full scale: a click", f"{_LARGEST_JUMP_PERCENT} %"
    inputs = {"j": f"{jump:.1f} %", "x": f"{abs(int(shaped.samples[0]))}"}
    return EXPLAINED["clip.starts_with_jump"].finding(Weight.WARNING, subject, figure, limit, "Set fade_in_ms = 1, or start earlier.", inputs)


def _ends_with_jump(subject: str, shaped: Shaped) -> Finding | None:
    """A loop is left by the release of its sound, so its last sample makes no click."""
    jump = _percent_of_full_scale(int(shaped.samples[-1]))
    if shaped.loop or jump <= _LARGEST_JUMP_PERCENT:
        return None
    figure, limit = f"the last sample is at {jump:.0f} % of full scale: a click", f"{_LARGEST_JUMP_PERCENT} %"
    inputs = {"j": f"{jump:.1f} %", "x": f"{abs(int(shaped.samples[-1]))}"}
    return EXPLAINED["clip.ends_with_jump"].finding(Weight.WARNING, subject, figure, limit, "Set fade_out_ms = 5, or end later.", inputs)


def _loop_seam(subject: str, shaped: Shaped) -> Finding | None:
    """The step from the loop's last sample to its first, against the largest step inside the loop."""
    if shaped.loop is None:
        return None
    turn = shaped.samples[slice(*shaped.loop)].astype(np.int32)
    seam, inside = abs(int(turn[0] - turn[-1])), int(np.abs(np.diff(turn)).max())
    if _percent_of_full_scale(seam) <= _LARGEST_JUMP_PERCENT or seam <= _LARGEST_SEAM_STEPS * inside:
        return None
    figure = f"the loop jumps by {_percent_of_full_scale(seam):.0f} % of full scale at its seam: a click at every pass"
    limit = f"{_LARGEST_SEAM_STEPS} times the largest step inside the loop, {_percent_of_full_scale(_LARGEST_SEAM_STEPS * inside):.0f} %"
    inputs = {"seam": f"{_percent_of_full_scale(seam):.1f} %", "inside": f"{_percent_of_full_scale(inside):.1f} %"}
    return EXPLAINED["clip.loop_seam"].finding(Weight.WARNING, subject, figure, limit, "Put both ends of the loop where the sound is alike.", inputs)


def _loop_match(subject: str, shaped: Shaped) -> Finding | None:
    loop = shaped.conditioning.found_loop
    if loop is None or loop.match >= _POOREST_MATCH:
        return None
    figure = f"the ends of the found loop are alike by {fixed(loop.match, 2)}, where 1 is equal"
    remedy = "Listen to the seam. If it is heard, take a longer recording, or set the loop in a sound editor."
    inputs = {"match": f"{fixed(loop.match, 2)}"}
    return EXPLAINED["clip.loop_match"].finding(Weight.NOTE, subject, figure, f"{_POOREST_MATCH:g}", remedy, inputs)


def _loop_off_beat(subject: str, shaped: Shaped) -> Finding | None:
    loop = shaped.conditioning.found_loop
    if loop is None or abs(loop.off_beat_s) * 1000 <= _MOST_OFF_BEAT_MS:
        return None
    off_ms = 1000 * loop.off_beat_s
    figure = f"the found loop is {abs(off_ms):.0f} ms too {'long' if off_ms > 0 else 'short'} for a whole number of beats"
    remedy = "Cut the clip to whole bars and set loop to whole, or set the loop in a sound editor."
    inputs = {"off": f"{fixed(off_ms, 0)} ms"}
    return EXPLAINED["clip.loop_off_beat"].finding(Weight.NOTE, subject, figure, f"{_MOST_OFF_BEAT_MS} ms", remedy, inputs)


def _leading_silence(subject: str, shaped: Shaped) -> Finding | None:
    silent = _silent_until(shaped, _AUDIBLE_DBFS)
    delay_ms = 1000 * silent / shaped.rate_hz
    if delay_ms <= _LONGEST_DELAY_MS:
        return None
    figure = f"{delay_ms:.0f} ms from the trigger until the sound reaches {_AUDIBLE_DBFS} dBFS"
    remedy = "Cut it with start_ms" + ("." if shaped.loop else f", or set trim_below_dbfs = {_AUDIBLE_DBFS}.")
    inputs = {"t": f"{delay_ms:.0f} ms", "n": f"{silent}", "rate": f"{shaped.rate_hz:.0f} Hz"}
    return EXPLAINED["clip.leading_silence"].finding(Weight.WARNING, subject, figure, f"{_LONGEST_DELAY_MS} ms", remedy, inputs)
