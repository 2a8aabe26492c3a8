"""Rules of clips, fades and effects: times that must fit, and parts that must go together."""

from fxseq.sequence.derived import fade_length_ms
from fxseq.sequence.model import (
    Clip,
    Count,
    Effect,
    Fade,
    Fitted,
    Group,
    Light,
    Loop,
    Segment,
    Sound,
)
from fxseq.sequence.paths import PathFault
from fxseq.sequence.quantities import quantity
from fxseq.sequence.rule_kit import Faults, Names, exclusive, needed, refer, unused
from fxseq.sequence.wording import found

_FLICKER = ("low_percent", "every_ms")


def clip_faults(clip: Clip, names: Names) -> Faults:
    """Every rule that the clip breaks, as far as can be said without its sound file."""
    yield from exclusive(clip, "start_ms", "start_cue")
    yield from exclusive(clip, "trim_below_dbfs", "loop")
    yield from exclusive(clip, "peak_to_dbfs", "rms_to_dbfs", "match_to")
    yield from refer("match_to", clip.match_to, "clips", names)
    length_ms = None
    if clip.end_ms is not None and not clip.start_cue:
        length_ms = clip.end_ms - clip.start_ms
    if length_ms is not None and length_ms <= 0:
        yield PathFault(
            ("end_ms",),
            f"is {quantity(clip.end_ms or 0, 'ms')}",
            f"more than start_ms, {quantity(clip.start_ms, 'ms')}",
        )
        return
    if length_ms is not None and clip.fade_in_ms + clip.fade_out_ms > length_ms:
        what = f"and fade_in_ms are {quantity(clip.fade_in_ms + clip.fade_out_ms, 'ms')} together"
        yield PathFault(
            ("fade_out_ms",), what, f"at most the length of the clip, {quantity(length_ms, 'ms')}"
        )
    if isinstance(clip.loop, Loop):
        yield from (fault.under("loop") for fault in _loop_faults(clip.loop, length_ms))
    if clip.fitted:
        yield from (fault.under("fitted") for fault in _fitted_faults(clip, clip.fitted))


def _fitted_faults(clip: Clip, fitted: Fitted) -> Faults:
    remedy = "Delete fitted, and run `fxseq fit` again."
    if fitted.end_ms is None:
        yield from unused(fitted, ("fade_out_ms",), "end_ms is not", remedy)
    elif clip.loop:
        yield PathFault(
            ("end_ms",),
            f"is {quantity(fitted.end_ms, 'ms')}, but a clip with a loop has no end",
            "",
            remedy,
        )
    elif not clip.start_cue and fitted.end_ms <= clip.start_ms:
        yield PathFault(
            ("end_ms",),
            f"is {quantity(fitted.end_ms, 'ms')}",
            f"more than start_ms, {quantity(clip.start_ms, 'ms')}",
            remedy,
        )


def _loop_faults(loop: Loop, clip_length_ms: float | None) -> Faults:
    if loop.end_ms is not None and loop.end_ms <= loop.start_ms:
        yield PathFault(
            ("end_ms",),
            f"is {quantity(loop.end_ms, 'ms')}",
            f"more than start_ms, {quantity(loop.start_ms, 'ms')}",
        )
    key = "start_ms"
    last_ms = loop.start_ms
    if loop.end_ms is not None:
        key = "end_ms"
        last_ms = loop.end_ms
    if clip_length_ms is not None and (last_ms > clip_length_ms or loop.start_ms >= clip_length_ms):
        yield PathFault(
            (key,),
            f"is {quantity(last_ms, 'ms')}",
            f"within the length of the clip, {quantity(clip_length_ms, 'ms')}",
        )


def match_faults(clips: dict[str, Clip]) -> Faults:
    """Clips that are matched to each other in a circle, each circle at the first of its clips."""
    seen: set[str] = set()
    for name in clips:
        chain: list[str] = []
        at: str | None = name
        while at in clips and at not in seen:
            seen.add(at)
            chain.append(at)
            at = clips[at].match_to
        if at in chain:
            circle = chain[chain.index(at) :]
            first = min(circle, key=list(clips).index)
            turned = circle[circle.index(first) :] + circle[: circle.index(first)]
            whom = "the clip itself"
            if len(turned) > 1:
                whom = f"in a circle: {', '.join([*turned, first])}"
            what = f"is {found(clips[first].match_to)}, {whom}"
            yield PathFault(
                (first, "match_to"), what, "", "Delete it in the clip that the others should match."
            )


def fade_faults(fade: Fade) -> Faults:
    """Every rule that the fade breaks."""
    for index, segment in enumerate(fade.segments):
        yield from (fault.under("segments", index) for fault in _segment_faults(segment))
    if fade.loop and fade_length_ms(fade) == 0:
        yield PathFault(
            ("loop",),
            "is true, but the segments take no time",
            "",
            "Give a segment a length_ms above 0.",
        )


def _segment_faults(segment: Segment) -> Faults:
    if segment.shape != "flicker":
        yield from unused(
            segment, _FLICKER, "only a flicker has it", 'Delete it, or write shape = "flicker".'
        )
        return
    yield from needed(segment, (*_FLICKER, "length_ms"), "a flicker needs it")
    if segment.to_percent == "ambient":
        yield PathFault(
            ("to_percent",),
            'is "ambient", where a flicker needs the upper end of its range',
            "0 to 100 %",
        )
    elif segment.low_percent is not None and segment.low_percent > segment.to_percent:
        what = f"is {quantity(segment.low_percent, '%')}"
        yield PathFault(
            ("low_percent",), what, f"at most to_percent, {quantity(segment.to_percent, '%')}"
        )


def effect_faults(
    effect: Effect,
    names: Names,
    clips: dict[str, Clip],
    fades: dict[str, Fade],
    groups: dict[str, Group],
) -> Faults:
    """Every rule that the effect breaks."""
    for index, sound in enumerate(effect.sounds):
        yield from (fault.under("sounds", index) for fault in _sound_faults(sound, names, clips))
    for index, light in enumerate(effect.lights):
        yield from (fault.under("lights", index) for fault in _light_faults(light, names))
        if effect.layer == "ambient":
            yield from (
                fault.under("lights", index) for fault in _ambient_faults(light, fades, groups)
            )
    for index, count in enumerate(effect.counts):
        yield from (fault.under("counts", index) for fault in _count_faults(count, names))


def _sound_faults(sound: Sound, names: Names, clips: dict[str, Clip]) -> Faults:
    yield from refer("clip", sound.clip, "clips", names)
    if not sound.loop:
        yield from unused(
            sound, ["release_ms"], "the sound does not loop", "Delete it, or write loop = true."
        )
    elif sound.clip in clips and clips[sound.clip].loop is None:
        remedy = (
            f'Write loop = "whole" in [clips.{sound.clip}], or give there the part that repeats.'
        )
        yield PathFault(("loop",), f"is true, but clip '{sound.clip}' has no loop", "", remedy)


def _light_faults(light: Light, names: Names) -> Faults:
    yield from refer("group", light.group, "groups", names)
    yield from refer("fade", light.fade, "fades", names)


def _ambient_faults(light: Light, fades: dict[str, Fade], groups: dict[str, Group]) -> Faults:
    """The ambient layer has no layer below it, and under a gauge it is the counter."""
    if light.fade in fades and any(
        segment.to_percent == "ambient" for segment in fades[light.fade].segments
    ):
        what = (
            f'is {found(light.fade)}, which goes to "ambient", but the effect itself plays on the'
            " ambient layer"
        )
        yield PathFault(("fade",), what, "", "Give the last segment a level in percent.")
    if light.group in groups and groups[light.group].gauge:
        what = (
            f"is {found(light.group)}, whose ambient level is the counter"
            f" '{groups[light.group].gauge}'"
        )
        yield PathFault(
            ("group",), what, "a group without gauge", "Or let the effect play on the effect layer."
        )


def _count_faults(count: Count, names: Names) -> Faults:
    yield from refer("counter", count.counter, "counters", names)
    if count.change == 0:
        yield PathFault(("change",), "is 0, which changes nothing", "a whole number other than 0")
