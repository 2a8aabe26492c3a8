"""Clips: their recordings, and what became of them."""

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import true_peak_db
from fxseq.checks.check import PRACTICE, check, listed
from fxseq.checks.scopes import CLIP, FILE, PROP, SILENT_DBFS, ClipSeen, Described
from fxseq.clips.coding import decode
from fxseq.clips.measured import AUDIBLE_DBFS, FULL_SCALE, SAMPLES_AT_RAIL
from fxseq.clips.shaping import level_db
from fxseq.runs import Prop
from fxseq.sequence import Finding, Weight
from fxseq.sequence.quantities import fixed, number
from fxseq.table.work import MOST_SHARE, sound_share

_LARGEST_DC_PERCENT = 1
_LARGEST_JUMP_PERCENT = 3
_LARGEST_SEAM_STEPS = 2
_LONGEST_DELAY_MS = 10
_LARGEST_FLASH_PERCENT = 50
_MOST_LIMITED_DB = 12
_POOREST_MATCH = 0.8
_MOST_OFF_BEAT_MS = 30
_MOST_UNLIKE_DB = 3.0
_TRUE_PEAK_DB = 0.1
_BESIDE = 64
"""Samples before and behind a clip that take part in what is between its first and last ones."""
_COUNTED = "The count is exact. How much of it you hear is a rule of thumb, so listen."


@check(
    CLIP,
    "clip.truncated",
    "Is part of the sound file missing?",
    rule="A sound file says at its beginning how long it is. A finding where it ends sooner.",
    source="the file's own header",
    kind="your own files",
    confidence="Exact, unless the header is wrong.",
    formula="{lost} = {missing} / {claimed}",
    symbols={
        "lost": "share that is missing, in %",
        "missing": "length that is missing, in ms",
        "claimed": "length stated in the header, in ms",
    },
)
def truncated(seen: ClipSeen) -> Iterator[Finding]:
    missing_ms = seen.measured.missing_ms
    claimed_ms = seen.measured.claimed_ms
    if not missing_ms:
        return
    share = f"{100 * missing_ms / claimed_ms:.1f} %"
    yield truncated.finding(
        Weight.WARNING,
        seen.subject,
        f"{share} ({missing_ms:.0f} ms) of the sound is missing",
        f"{claimed_ms:.0f} ms",
        "Export or copy the file again; it ends too soon.",
        {"lost": share, "missing": f"{missing_ms:.0f} ms", "claimed": f"{claimed_ms:.0f} ms"},
    )


@check(
    CLIP,
    "clip.dc",
    "Does the recording have a DC offset?",
    rule=(
        "The mean of a sound's samples should be 0. An offset of the whole wave makes a click at"
        " both ends and wastes level. A finding where the mean is off by more than"
        f" {_LARGEST_DC_PERCENT} % of full scale and remove_dc is not set."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_COUNTED,
    formula=f"|{{m}}| > {_LARGEST_DC_PERCENT} %",
    symbols={"m": "mean of the samples, in % of full scale"},
)
def dc(seen: ClipSeen) -> Iterator[Finding]:
    mean_percent = 100 * seen.measured.mean
    if seen.clip.remove_dc or abs(mean_percent) <= _LARGEST_DC_PERCENT:
        return
    yield dc.finding(
        Weight.WARNING,
        seen.subject,
        f"the mean is {mean_percent:+.1f} % of full scale",
        f"{_LARGEST_DC_PERCENT} %",
        "Set remove_dc = true: an offset wastes level and clicks at the ends.",
        {"m": f"{mean_percent:+.2f} %"},
    )


@check(
    CLIP,
    "clip.clipped_source",
    "Did the recording clip?",
    rule=(
        "Where a sound is louder than a file can hold, its peaks are cut flat. A finding where"
        f" {SAMPLES_AT_RAIL} or more samples in a row are at full scale."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "Several full-scale samples in a row are nearly always a clipped peak; a square wave made"
        " on purpose looks the same."
    ),
    formula=f"{{longest}} >= {SAMPLES_AT_RAIL}",
    symbols={
        "tops": "clipped peaks in the recording",
        "longest": "length of the longest, in samples",
    },
)
def clipped_source(seen: ClipSeen) -> Iterator[Finding]:
    tops = seen.measured.clipped_peaks
    longest = seen.measured.longest_clipped
    if not tops:
        return
    yield clipped_source.finding(
        Weight.WARNING,
        seen.subject,
        f"{tops} clipped peaks, the longest of {longest} samples at full scale",
        f"fewer than {SAMPLES_AT_RAIL} samples in a row",
        "Record or export the file at a lower level.",
        {"tops": f"{tops}", "longest": f"{longest}"},
    )


@check(
    CLIP,
    "clip.clipped_by_gain",
    "Does the clip's gain push it over full scale?",
    rule=(
        "After gain_db, or after setting a level, samples beyond full scale are clipped. A finding"
        " where there are any."
    ),
    source="16-bit full scale",
    kind="arithmetic",
    confidence="Exact: the samples are counted.",
    formula="{p} = {n} / {N}",
    symbols={
        "p": "share of the samples that are clipped, in %",
        "n": "samples that are clipped",
        "N": "all samples",
    },
)
def clipped_by_gain(seen: ClipSeen) -> Iterator[Finding]:
    over = seen.measured.over
    count = len(seen.prepared.samples)
    if not over:
        return
    share = f"{number(100 * over / count, 2)} %"
    key = "peak"
    if seen.clip.match_to or seen.clip.rms_to_dbfs is not None:
        key = "limit"
    yield clipped_by_gain.finding(
        Weight.WARNING,
        seen.subject,
        f"{over} samples ({share}) are beyond full scale",
        "0 samples",
        f"Lower gain_db, or set {key}_to_dbfs = -1.",
        {"p": share, "n": f"{over}", "N": f"{count}"},
    )


@check(
    CLIP,
    "clip.limited",
    "Does the limiter turn the clip down too much?",
    rule=(
        "The limiter turns peaks down to limit_to_dbfs. A clip with much gain, above all one"
        " matched to a clip that the speaker plays much louder, then sounds flat and is still"
        f" softer. A finding where the limiter turns it down by more than {_MOST_LIMITED_DB} dB."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence="The figure is exact. Some sounds tolerate more limiting than others, so listen.",
    formula="{cut} = {peak} - {limit}",
    symbols={
        "cut": "the most that the limiter turns down, in dB",
        "peak": "peak before the limiter, in dBFS",
        "limit": "limit_to_dbfs, in dBFS",
    },
)
def limited(seen: ClipSeen) -> Iterator[Finding]:
    """What a clip is asked to give that it has not: a match to one that is much louder, above
    all.
    """
    clip = seen.clip
    limited_db = seen.prepared.conditioning.limited_db
    if limited_db <= _MOST_LIMITED_DB or clip.limit_to_dbfs is None:
        return
    remedy = (
        "Lower gain_db, or raise high_pass_hz towards the speaker's resonance: lows that nobody"
        " hears use up the headroom."
    )
    if clip.match_to is not None:
        remedy = (
            f"Through this speaker it cannot be as loud as '{clip.match_to}': lower the gain_db of"
            f" that clip. {remedy}"
        )
    yield limited.finding(
        Weight.WARNING,
        seen.subject,
        f"peaks are turned down by up to {limited_db:.0f} dB: little is left of the attack",
        f"{_MOST_LIMITED_DB} dB",
        remedy,
        {
            "cut": f"{limited_db:.1f} dB",
            "peak": f"{fixed(clip.limit_to_dbfs + limited_db, 1)} dBFS",
            "limit": f"{clip.limit_to_dbfs:g} dBFS",
        },
    )


@check(
    CLIP,
    "clip.over_after_coding",
    "Does coding push peaks over the limit?",
    rule=(
        "Coding changes samples a little, and peaks with them. The stored clip is decoded as the"
        " board does it. A finding where samples are then above limit_to_dbfs; without that key,"
        " where they clip at full scale and did not before."
    ),
    source="the clip's own limit_to_dbfs; 16-bit full scale",
    kind="arithmetic",
    confidence="Exact: the samples are counted.",
    formula="{over} = {peak} - {limit}",
    symbols={
        "over": "how far the highest is over, in dB",
        "peak": "highest sample as the board plays it, in dBFS",
        "limit": "limit_to_dbfs, or full scale, in dBFS",
    },
)
def over_after_coding(seen: ClipSeen) -> Iterator[Finding]:
    over = seen.measured.coded_over
    limit_dbfs = seen.clip.limit_to_dbfs or 0.0
    if not over:
        return
    peak_dbfs = level_db(seen.measured.coded_peak / FULL_SCALE)
    if seen.clip.limit_to_dbfs:
        remedy = "Lower limit_to_dbfs by 1 dB, or take another coding."
    else:
        remedy = "Set limit_to_dbfs = -1, or lower gain_db."
    yield over_after_coding.finding(
        Weight.NOTE,
        seen.subject,
        f"{over} samples, the highest at {fixed(peak_dbfs, 1)} dBFS as the board plays them",
        f"{limit_dbfs:g} dBFS",
        remedy,
        {
            "over": f"{fixed(peak_dbfs - limit_dbfs, 1)} dB",
            "peak": f"{fixed(peak_dbfs, 1)} dBFS",
            "limit": f"{limit_dbfs:g} dBFS",
        },
    )


@check(
    CLIP,
    "clip.true_peak",
    "Does the sound go over full scale between its samples?",
    rule=(
        "The wave that leaves a converter passes through all samples, and can be higher between two"
        " of them than at either. The stored clip is decoded as the board does it, at the highest"
        " gain that an effect gives it. A note where the wave is then"
        f" {_TRUE_PEAK_DB:g} dB or more over full scale: the filter of a converter or amplifier may"
        " clip there, which sounds harsh."
    ),
    source="ITU-R BS.1770-5, Annex 2",
    kind="a standard",
    confidence=(
        "Right within about 0.2 dB. Whether it clips depends on the headroom of your converter and"
        " amplifier, which the prop file does not say."
    ),
    formula=f"{{peak}} + {{gain}} >= {_TRUE_PEAK_DB:g} dB",
    symbols={
        "peak": "true peak of the clip as the board plays it, in dBTP",
        "gain": "highest gain_db of an effect that plays it, with its spread, in dB",
    },
)
def true_peak(seen: ClipSeen) -> Iterator[Finding]:
    """Samples that are beyond full scale themselves are told by `clipped_by_gain`."""
    peak_db = true_peak_db(_as_played(seen) / FULL_SCALE)
    over_db = peak_db + seen.gain_db
    if seen.measured.over or over_db < _TRUE_PEAK_DB:
        return
    clip = seen.clip
    key = next(
        (key for key in ("limit_to_dbfs", "peak_to_dbfs") if getattr(clip, key) is not None),
        "gain_db",
    )
    yield true_peak.finding(
        Weight.NOTE,
        seen.subject,
        f"the wave goes {fixed(over_db, 1)} dB over full scale between its samples: the board's"
        " converter or the amplifier may clip",
        f"less than {_TRUE_PEAK_DB:g} dB over full scale",
        f"Lower {key} by {math.ceil(10 * over_db) / 10:g} dB.",
        {"peak": f"{fixed(peak_db, 1)} dBTP", "gain": f"{fixed(seen.gain_db, 1)} dB"},
    )


def _as_played(seen: ClipSeen) -> NDArray[np.float64]:
    """Samples of the board, before gain, between silence and silence or into the loop's next pass,
    shape (n,): straight lines between those of the clip (SPEC 6.1 R4).
    """
    clip = seen.prepared
    start = clip.loop and clip.loop[0]
    samples = decode(clip.data, clip.coding, len(clip.samples), start)
    behind = np.zeros(_BESIDE) if start is None else np.resize(samples[start:], _BESIDE)
    stored = np.concatenate([np.zeros(_BESIDE), samples, behind])
    per_sample = clip.rate_hz / seen.board.sample_rate_hz
    return np.interp(np.arange(0, len(stored) - 1, per_sample), np.arange(len(stored)), stored)


@check(
    CLIP,
    "clip.decoding",
    "Can the processor decode the clip in all voices at once?",
    rule=(
        "Every coding takes its cycles a sample. A finding where all voices with this clip would"
        f" take more than {MOST_SHARE:.0%} of the processor's time, for a board whose processor is"
        " described: the rest is for light, inputs and interrupts."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence="Cycles were counted in an emulator, not on a chip.",
    formula="{share} = {n} * {cycles} / {clock}",
    symbols={
        "share": "share of the processor's time, in %",
        "n": "voices",
        "cycles": "million cycles a second for decoding and mixing one voice",
        "clock": "million cycles a second of the processor",
    },
)
def decoding(seen: ClipSeen) -> Iterator[Finding]:
    processor = seen.board.processor
    share = sound_share(seen.board, seen.prepared.coding, seen.prepared.rate_hz)
    if processor is None or not MOST_SHARE < share < math.inf:
        return
    clock_mhz = processor.clock_mhz
    told = f"{share:.0%} of the processor's time"
    yield decoding.finding(
        Weight.WARNING,
        seen.subject,
        f"its coding {seen.prepared.coding} takes {told} in {seen.board.voices} voices at once",
        f"{MOST_SHARE:.0%}",
        "Choose another coding or a lower rate_hz for it, or fewer voices.",
        {
            "share": f"{100 * share:.1f} %",
            "n": f"{seen.board.voices}",
            "cycles": number(share * clock_mhz / seen.board.voices, 4),
            "clock": number(clock_mhz, 4),
        },
    )


@check(
    CLIP,
    "clip.long",
    "Does one clip fill most of the board's memory?",
    rule=(
        "The size of the finished clip is compared with the memory that the board has for the"
        f" table. A note above {_LARGEST_FLASH_PERCENT} %."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence="The size is exact; whether it is too much is for you to decide.",
    formula="{share} = {B} / {room}",
    symbols={
        "share": "share of the memory, in %",
        "B": "size of the clip, in bytes",
        "room": "flash_for_table_bytes of the board, in bytes",
    },
)
def long(seen: ClipSeen) -> Iterator[Finding]:
    size = len(seen.prepared.data)
    room = seen.board.flash_for_table_bytes
    coding = seen.prepared.coding
    share = 100 * size / room
    if share <= _LARGEST_FLASH_PERCENT:
        return
    duration_s = len(seen.prepared.samples) / seen.prepared.rate_hz
    recoding = ""
    if coding != "mulaw":
        recoding = ", or use coding mulaw"
    yield long.finding(
        Weight.NOTE,
        seen.subject,
        f"{duration_s:.1f} s take {size} bytes, {share:.0f} % of the board's memory for the table",
        f"{_LARGEST_FLASH_PERCENT} %",
        f"Cut it shorter, loop a part of it, or lower rate_hz{recoding}.",
        {"share": f"{share:.0f} %", "B": f"{size} bytes", "room": f"{room} bytes"},
    )


@check(
    CLIP,
    "clip.silent",
    "Is there any sound in the clip?",
    rule=(
        f"The peak of the finished clip is measured. A finding where it is not above {SILENT_DBFS}"
        " dBFS."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_COUNTED,
    formula=f"{{peak}} <= {SILENT_DBFS} dBFS",
    symbols={"peak": "peak of the clip, in dBFS"},
)
def silent(seen: ClipSeen) -> Iterator[Finding]:
    if not seen.is_silent:
        return
    peak_dbfs = level_db(seen.measured.peak / FULL_SCALE)
    level = f"{fixed(peak_dbfs, 1)} dBFS"
    nothing = seen.measured.peak == 0
    yield silent.finding(
        Weight.WARNING,
        seen.subject,
        "no sample differs from 0" if nothing else f"peak {level}",
        f"above {SILENT_DBFS} dBFS",
        "Check the file and the cut; raise gain_db or set peak_to_dbfs.",
        {"peak": "silence" if nothing else level},
    )


def _percent(sample: int) -> float:
    """Percent of full scale. [%]"""
    return 100 * sample / FULL_SCALE


@check(
    CLIP,
    "clip.starts_with_jump",
    "Does the clip start with a click?",
    rule=(
        "Before a sound there is silence, 0. A finding where the first sample is more than"
        f" {_LARGEST_JUMP_PERCENT} % of full scale away from 0."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_COUNTED,
    formula="{j} = {x} / 32768",
    symbols={
        "j": "first sample, in % of full scale",
        "x": "first sample, as a 16-bit number without its sign",
    },
)
def starts_with_jump(seen: ClipSeen) -> Iterator[Finding]:
    first = seen.measured.first
    if seen.is_silent or _percent(first) <= _LARGEST_JUMP_PERCENT:
        return
    yield starts_with_jump.finding(
        Weight.WARNING,
        seen.subject,
        f"the first sample is at {_percent(first):.0f} % of full scale: a click",
        f"{_LARGEST_JUMP_PERCENT} %",
        "Set fade_in_ms = 1, or start earlier.",
        {"j": f"{_percent(first):.1f} %", "x": f"{first}"},
    )


@check(
    CLIP,
    "clip.ends_with_jump",
    "Does the clip end with a click?",
    rule=(
        "After a sound there is silence, 0. A finding where the last sample is more than"
        f" {_LARGEST_JUMP_PERCENT} % of full scale away from 0, unless the clip loops."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_COUNTED,
    formula="{j} = {x} / 32768",
    symbols={
        "j": "last sample, in % of full scale",
        "x": "last sample, as a 16-bit number without its sign",
    },
)
def ends_with_jump(seen: ClipSeen) -> Iterator[Finding]:
    """A loop is left by the release of its sound, so its last sample makes no click."""
    last = seen.measured.last
    if seen.is_silent or seen.prepared.loop or _percent(last) <= _LARGEST_JUMP_PERCENT:
        return
    yield ends_with_jump.finding(
        Weight.WARNING,
        seen.subject,
        f"the last sample is at {_percent(last):.0f} % of full scale: a click",
        f"{_LARGEST_JUMP_PERCENT} %",
        "Set fade_out_ms = 5, or end later.",
        {"j": f"{_percent(last):.1f} %", "x": f"{last}"},
    )


@check(
    CLIP,
    "clip.loop_seam",
    "Does a loop click at every pass?",
    rule=(
        "At the seam a loop jumps from its last sample to its first. A finding where that step is"
        f" more than {_LARGEST_SEAM_STEPS} times the largest step inside the loop, and more than"
        f" {_LARGEST_JUMP_PERCENT} % of full scale."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_COUNTED,
    formula=f"{{seam}} > {_LARGEST_SEAM_STEPS} * {{inside}}",
    symbols={
        "seam": "step at the seam, in % of full scale",
        "inside": "largest step inside the loop, in % of full scale",
    },
)
def loop_seam(seen: ClipSeen) -> Iterator[Finding]:
    seam = seen.measured.seam
    inside = seen.measured.inside
    if (
        seen.is_silent
        or _percent(seam) <= _LARGEST_JUMP_PERCENT
        or seam <= _LARGEST_SEAM_STEPS * inside
    ):
        return
    yield loop_seam.finding(
        Weight.WARNING,
        seen.subject,
        f"the loop jumps by {_percent(seam):.0f} % of full scale at its seam: a click at every"
        " pass",
        f"{_LARGEST_SEAM_STEPS} times the largest step inside the loop,"
        f" {_percent(_LARGEST_SEAM_STEPS * inside):.0f} %",
        "Put both ends of the loop where the sound is alike.",
        {"seam": f"{_percent(seam):.1f} %", "inside": f"{_percent(inside):.1f} %"},
    )


@check(
    CLIP,
    "clip.loop_match",
    "Does a found loop fit at its seam?",
    rule=(
        "A found loop is faded from its end into what is before its start. The two are compared: 1"
        f" is equal, 0 unrelated. A note below {_POOREST_MATCH:g}: of wind or rain nothing may be"
        " heard, of a tone a stutter."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence="The figure is exact; what is heard of it depends on the sound, so listen.",
    formula=f"{{match}} < {_POOREST_MATCH:g}",
    symbols={"match": "2 ab / (aa + bb) of the two stretches a and b"},
)
def loop_match(seen: ClipSeen) -> Iterator[Finding]:
    loop = seen.prepared.conditioning.found_loop
    if seen.is_silent or loop is None or loop.match >= _POOREST_MATCH:
        return
    yield loop_match.finding(
        Weight.NOTE,
        seen.subject,
        f"the ends of the found loop are alike by {fixed(loop.match, 2)}, where 1 is equal",
        f"{_POOREST_MATCH:g}",
        "Listen to the seam. If it is heard, take a longer recording, or set the loop in a sound"
        " editor.",
        {"match": f"{fixed(loop.match, 2)}"},
    )


@check(
    CLIP,
    "clip.loop_off_beat",
    "Does a found loop stumble?",
    rule=(
        "Where the rises of a sound repeat in time, the loop should last a whole number of beats."
        f" A note where it is off by more than {_MOST_OFF_BEAT_MS} ms."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "Beats are told to about 5 ms; a sound whose rises repeat by chance may be taken for one"
        " with a beat."
    ),
    formula=f"|{{off}}| > {_MOST_OFF_BEAT_MS} ms",
    symbols={"off": "length of the loop less a whole number of beats, in ms"},
)
def loop_off_beat(seen: ClipSeen) -> Iterator[Finding]:
    loop = seen.prepared.conditioning.found_loop
    if seen.is_silent or loop is None or abs(loop.off_beat_s) * 1000 <= _MOST_OFF_BEAT_MS:
        return
    off_ms = 1000 * loop.off_beat_s
    how = "too long" if off_ms > 0 else "too short"
    yield loop_off_beat.finding(
        Weight.NOTE,
        seen.subject,
        f"the found loop is {abs(off_ms):.0f} ms {how} for a whole number of beats",
        f"{_MOST_OFF_BEAT_MS} ms",
        "Cut the clip to whole bars and set loop to whole, or set the loop in a sound editor.",
        {"off": f"{fixed(off_ms, 0)} ms"},
    )


@check(
    CLIP,
    "clip.leading_silence",
    "Does silence at the start of the clip make its sound late?",
    rule=(
        f"The time until the clip first reaches {AUDIBLE_DBFS} dBFS. A finding above"
        f" {_LONGEST_DELAY_MS} ms."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "The time is exact. When a hand feels a sound as late differs: see sound.delay for the"
        " whole delay."
    ),
    formula="{t} = {n} / {rate}",
    symbols={
        "t": "time until the sound begins, in ms",
        "n": "samples before the sound begins",
        "rate": "samples a second, in Hz",
    },
)
def leading_silence(seen: ClipSeen) -> Iterator[Finding]:
    count = seen.measured.silent_samples
    rate_hz = seen.prepared.rate_hz
    delay_ms = 1000 * count / rate_hz
    if seen.is_silent or delay_ms <= _LONGEST_DELAY_MS:
        return
    trimming = ""
    if not seen.prepared.loop:
        trimming = f", or set trim_below_dbfs = {AUDIBLE_DBFS}"
    yield leading_silence.finding(
        Weight.WARNING,
        seen.subject,
        f"{delay_ms:.0f} ms from the trigger until the sound reaches {AUDIBLE_DBFS} dBFS",
        f"{_LONGEST_DELAY_MS} ms",
        f"Cut it with start_ms{trimming}.",
        {"t": f"{delay_ms:.0f} ms", "n": f"{count}", "rate": f"{rate_hz:.0f} Hz"},
    )


@check(
    PROP,
    "clip.unmatched",
    "Do sounds that take turns differ in loudness?",
    rule=(
        "Where a trigger takes turns between effects, their sounds should be about as loud as each"
        " other. The loudest 125 ms of each are measured, weighted for speaker and ear. A note"
        f" where two differ by more than {_MOST_UNLIKE_DB:g} dB."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "Right within about 1 dB for the speaker in the file; how much difference is too much is a"
        " matter of taste."
    ),
    formula="{difference} = {loud} - {soft}",
    symbols={
        "difference": "difference between the two, in dB",
        "loud": "level of the loudest, in dBFS",
        "soft": "level of the softest, in dBFS",
    },
)
def unmatched(prop: Prop) -> Iterator[Finding]:
    """Alternatives of a trigger, by the sounds at the same place of their timelines, of which
    one is much louder than another.
    """
    for name, trigger in prop.sequence.triggers.items():
        timelines = [
            prop.sequence.effects[effect].sounds for effect in dict.fromkeys(trigger.effects)
        ]
        if len(timelines) < 2:
            continue
        for sounds in zip(*timelines, strict=False):
            heard = [(prop.clips[sound.clip].loudest, sound) for sound in sounds]
            levels = sorted(
                (level_db(loudest) + sound.gain_db, sound.clip)
                for loudest, sound in heard
                if loudest
            )
            if levels and levels[-1][0] - levels[0][0] > _MOST_UNLIKE_DB:
                yield _unlike(prop, name, *levels[0], *levels[-1])


def _unlike(
    prop: Prop, trigger: str, low_db: float, soft: str, high_db: float, loud: str
) -> Finding:
    if soft == loud or prop.sequence.clips[soft].match_to:
        remedy = "Even out their gain_db"
    else:
        remedy = f'Set match_to = "{loud}" in [clips.{soft}]'
    return unmatched.finding(
        Weight.NOTE,
        f"trigger '{trigger}', clips '{soft}' and '{loud}'",
        f"their loudest 125 ms, weighted for speaker and ear, differ by {high_db - low_db:.1f} dB",
        f"{_MOST_UNLIKE_DB:g} dB",
        f"{remedy}, unless they are meant to differ.",
        {
            "difference": f"{high_db - low_db:.1f} dB",
            "loud": f"{fixed(high_db, 1)} dB",
            "soft": f"{fixed(low_db, 1)} dB",
        },
    )


@check(
    FILE,
    "clip.source",
    "Is it said where each sound comes from?",
    rule=(
        "A prop whose file names its maker is handed over, and its sounds with it. A note where"
        " clips of such a file do not say their source."
    ),
    source="the prop file, where it is missing",
    kind="your own files",
    confidence="Certain: it is read from the file. What you may hand over, only the licence says.",
)
def source(described: Described) -> Iterator[Finding]:
    """Clips whose source nobody knows later."""
    sequence = described.sequence
    silent = [name for name, clip in sequence.clips.items() if clip.source is None]
    if sequence.maker and silent:
        yield source.finding(
            Weight.NOTE,
            listed(silent),
            "where it comes from, and under which licence, is not said",
            remedy="Write it beside each clip (source), or do not hand the sound on.",
        )
