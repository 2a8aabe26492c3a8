"""The prop file itself: what is missing in it, left over, or cannot come out as it is written."""

import math
from collections.abc import Iterator

import numpy as np

from fxseq.checks.check import PLAYED, PRACTICE, check, listed
from fxseq.checks.scopes import FILE, PROP, RUN, Described
from fxseq.light import FULL_LEVEL, duty_from_level, duty_table, level_from_percent
from fxseq.player import TraceKind
from fxseq.runs import Performance, Prop
from fxseq.sequence import Finding, Weight
from fxseq.sequence import model as m
from fxseq.sequence.quantities import number, quantity
from fxseq.table import RUNNING_EFFECTS, clips_in_reach, effects_in_reach
from fxseq.table.frame_work import MOST_SHARE, FrameWork, frame_cycles

_READ = "Certain: it is read from the file. Only you know whether you meant it so."


@check(
    PROP,
    "table.flash",
    "Does the table fit into the board's memory?",
    rule=(
        "The whole table is compiled and its bytes are counted. A fault where it has more than"
        " flash_for_table_bytes."
    ),
    source="the board in the prop file",
    kind="your own files",
    confidence="Exact, if the file describes the board correctly.",
    formula="{missing} = {size} - {room}",
    symbols={
        "missing": "bytes too many",
        "size": "size of the table, in bytes",
        "room": "flash_for_table_bytes of the board, in bytes",
    },
)
def table_flash(prop: Prop) -> Iterator[Finding]:
    """A table that does not fit, and what is largest in it."""
    size = len(prop.compiled.data)
    room = prop.sequence.board.flash_for_table_bytes
    if size <= room:
        return
    largest = sorted(
        zip(prop.compiled.table.clips, prop.compiled.names.clips, strict=True),
        key=lambda clip: -len(clip[0].data),
    )[:2]
    which = " and ".join(f"'{name}'" for _, name in largest)
    if which:
        cure = f"Cut {which}, store clips as mulaw instead of pcm16, or lower their rate_hz"
    else:
        cure = "Leave out effects or fades"
    yield table_flash.finding(
        Weight.FAULT,
        "table",
        f"{size} bytes",
        f"{room} bytes of memory for the table",
        f"{cure}: the table is {size - room} bytes too large.",
        {"missing": f"{size - room} bytes", "size": f"{size} bytes", "room": f"{room} bytes"},
    )


@check(
    PROP,
    "table.work",
    "Does the board's processor finish each frame in time?",
    rule=(
        "Worked out for the dearest frame that there can be: whatever triggers can start in one"
        " frame starts, as far as their inputs, waits and selectors allow it together, effects"
        " under way do what they may still do, all voices play the dearest clip, and a part of"
        " each fade ends on every light. A warning where that takes more than"
        f" {MOST_SHARE:.0%} of the time of a frame, for a board whose processor is described: the"
        " rest is for interrupts. What a ready-made board is known not to keep up with is refused"
        " before it comes to any check."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "A bound fitted to cycles that were counted in an emulator, not on a chip: no frame that"
        " was tried took more, and usual ones take far less."
    ),
    formula="{share} = ({sound} + {light} + {starts}) / {there}",
    symbols={
        "share": "share of the time of a frame, in %",
        "sound": "cycles for sound",
        "light": "cycles for a look at every light",
        "starts": "cycles for what triggers start and what goes on of it",
        "there": "cycles in the time of a frame",
    },
)
def table_work(prop: Prop) -> Iterator[Finding]:
    """A frame that may be late, and the trigger that does most in it."""
    processor = prop.sequence.board.processor
    table = prop.compiled.table
    if processor is None or not table.triggers:
        return
    work = FrameWork(table, processor.kind)
    there = frame_cycles(table, processor.clock_mhz * 1e6)
    share = work.worst_cycles / there
    if not MOST_SHARE < share < math.inf:
        return
    parts = (work.sound(), work.light(), work.starts())
    sound, light, starts = (units.cycles for units in parts)
    yield table_work.finding(
        Weight.WARNING,
        f"trigger '{prop.compiled.names.triggers[work.dearest_trigger]}'",
        f"a frame may take {share:.0%} of its time, of triggers most for this one: sound has gaps"
        " if it is late",
        f"{MOST_SHARE:.0%}",
        "Let its fades begin one after the other (at_ms, stagger_ms) or with from_percent, or use"
        " fewer voices, a cheaper coding, or a faster processor.",
        {
            "share": f"{100 * share:.1f} %",
            "sound": f"{sound:.0f}",
            "light": f"{light:.0f}",
            "starts": f"{starts:.0f}",
            "there": f"{there:.0f}",
        },
    )


@check(
    FILE,
    "sequence.unused",
    "Is there a part that nothing uses?",
    rule=(
        "Everything that the triggers reach is ticked off. A note for each part that is left over:"
        " it takes no memory on the board, but it may be a typing error."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_READ,
)
def unused(described: Described) -> Iterator[Finding]:
    """Parts that no trigger reaches."""
    sequence = described.sequence
    effects = [sequence.effects[name] for name in effects_in_reach(sequence)]
    triggers = sequence.triggers.values()
    used: dict[str, set[str | None]] = {
        "clip": _clips_used(sequence),
        "effect": set(effects_in_reach(sequence)),
        "fade": {light.fade for effect in effects for light in effect.lights},
        "group": (
            {light.group for effect in effects for light in effect.lights}
            | {name for name, group in sequence.groups.items() if group.gauge}
        ),
        "input": {trigger.input for trigger in triggers},
        "selector": {name for trigger in triggers for name in trigger.when},
        "counter": (
            {trigger.needs for trigger in triggers}
            | {group.gauge for group in sequence.groups.values()}
            | {count.counter for effect in effects for count in effect.counts}
        ),
    }
    for kind, names in used.items():
        for name in getattr(sequence, f"{kind}s"):
            if name not in names:
                yield unused.finding(
                    Weight.NOTE,
                    f"{kind} '{name}'",
                    "nothing that a trigger reaches uses it",
                    remedy="Use it, or delete it.",
                )


def _clips_used(sequence: m.Sequence) -> set[str | None]:
    """Clips that are played, and those that they are matched to."""
    used: set[str | None] = set()
    for name in clips_in_reach(sequence):
        at: str | None = name
        while at is not None and at not in used:
            used.add(at)
            at = sequence.clips[at].match_to
    return used


@check(
    FILE,
    "light.jump",
    "Does a light jump at the end of an effect?",
    rule=(
        "In a group where the latest effect wins, the light goes back to its ambient level when"
        " that effect ends. A finding where the effect's fade ends at 0 %, so that the light goes"
        " out and then jumps up."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_READ,
)
def jump(described: Described) -> Iterator[Finding]:
    """A group that merges by latest falls to its ambient level at once where an effect's fade
    ends dark.
    """
    sequence = described.sequence
    reached = {name: sequence.effects[name] for name in effects_in_reach(sequence)}
    lit_below = {
        light.group
        for effect in reached.values()
        for light in effect.lights
        if effect.layer == "ambient"
    }
    for name, effect in reached.items():
        for light in effect.lights if effect.layer == "effect" else ():
            fade = sequence.fades[light.fade]
            ends_dark = not fade.loop and fade.segments[-1].to_percent == 0
            if (
                sequence.groups[light.group].merge == "latest"
                and light.group in lit_below
                and ends_dark
            ):
                yield jump.finding(
                    Weight.WARNING,
                    f"effect '{name}', fade '{light.fade}' on group '{light.group}'",
                    "ends at 0 % and then jumps to the ambient light",
                    "no jump",
                    'End the fade with a segment of to_percent = "ambient".',
                )


@check(
    FILE,
    "light.endless",
    "Does a light stay on for ever after its trigger is let go?",
    rule=(
        "A looping fade ends only when another fade takes over its group. A finding where a held"
        " trigger starts such a fade and has no end effect with a fade on that group."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=_READ,
)
def endless(described: Described) -> Iterator[Finding]:
    """A looping fade of a held effect goes on after the trigger is let go, unless its end effect
    takes the group over.
    """
    sequence = described.sequence
    for name, trigger in sequence.triggers.items():
        if trigger.mode == "always" and not trigger.when:
            continue
        ended = set()
        if trigger.end:
            ended = {light.group for light in sequence.effects[trigger.end].lights}
        for effect in filter(None, (trigger.begin, trigger.during)):
            looping = {
                light.group
                for light in sequence.effects[effect].lights
                if sequence.fades[light.fade].loop
            }
            for group in sorted(looping - ended):
                yield endless.finding(
                    Weight.WARNING,
                    f"trigger '{name}', group '{group}'",
                    f"effect '{effect}' loops a fade that nothing ends",
                    "an end effect of the trigger that takes over the group",
                    "Give the trigger an end effect with a fade on this group.",
                )


@check(
    FILE,
    "light.dark",
    "Is a level of a fade too low to give any light?",
    rule=(
        "Each level of a fade is put through the table and the dimming, as on the board. A finding"
        " where a level above 0 % gives no light at all, because the lowest step of the dimming is"
        " brighter. A level that does light comes out up to about half a step too bright or too"
        " dark. Light and current are given for the step that the board puts out."
    ),
    source="CIE 1976 lightness and pwm_bits in the prop file",
    kind="your own files",
    confidence="Exact, if the file describes the board correctly.",
    formula="{Y} * (2^{b} - 1) < 0.5",
    symbols={
        "Y": "light of that level, as a share of full light",
        "b": "pwm_bits of the board",
        "least": "lowest level that lights, in %",
    },
)
def dark(described: Described) -> Iterator[Finding]:
    """Levels of fades above 0 % that come out of the dimming as no light."""
    sequence = described.sequence
    bits = described.sequence.board.pwm_bits
    least = int(np.argmax(duty_table(bits) > 0))
    least_percent = f"{number(100 * least / FULL_LEVEL, 2)} %"
    for name in dict.fromkeys(
        light.fade
        for effect in effects_in_reach(sequence)
        for light in sequence.effects[effect].lights
    ):
        for key, percent in _levels_of(sequence.fades[name]):
            level = level_from_percent(percent)
            if percent > 0 and level < least:
                # As the table's formula has it, before its last rounding.
                light = int(duty_from_level(level, 16)) / FULL_LEVEL
                yield dark.finding(
                    Weight.WARNING,
                    f"fade '{name}'",
                    f"{key} is {quantity(percent, '%')}, too low to give light with {bits} bits of"
                    " dimming",
                    f"{least_percent} is the lowest level that lights",
                    "Raise it, raise pwm_bits if the chip can dim in finer steps, or write 0 if you"
                    " want darkness.",
                    {"Y": number(light), "b": f"{bits}", "least": least_percent},
                )


def _levels_of(fade: m.Fade) -> Iterator[tuple[str, float]]:
    """Each level that a fade says, with its key."""
    yield "from_percent", fade.from_percent or 0.0
    for segment in fade.segments:
        yield "to_percent", 0.0 if segment.to_percent == "ambient" else segment.to_percent
        yield "low_percent", segment.low_percent or 0.0


@check(
    FILE,
    "sequence.undescribed",
    "Is something missing that level and current depend on?",
    rule=(
        "Level and current follow from amplifier, speaker and supply. A note where there is sound"
        " and one of these is not described."
    ),
    source="the prop file, where it is missing",
    kind="your own files",
    confidence=_READ,
)
def undescribed(described: Described) -> Iterator[Finding]:
    """What level and current hang on, and is missing."""
    missing = [
        name
        for name in ("amplifier", "speaker", "supplies")
        if not getattr(described.sequence, name)
    ]
    if missing and described.sequence.clips:
        yield undescribed.finding(
            Weight.NOTE,
            ", ".join(missing),
            "not described, so level and amplifier current cannot be given",
            remedy="Describe them; `fxseq new` writes a file that shows how.",
        )


@check(
    RUN,
    "effect.places",
    "Do more effects run at once than a board has places for?",
    rule=(
        f"A board can run {RUNNING_EFFECTS} effects or staggered fades at once; what does not fit"
        " is left out. A finding where that happens."
    ),
    source="firmware_spec/SPEC.md 5.5 R3",
    kind="a standard",
    confidence=PLAYED,
    formula="{refused} > 0",
    symbols={"refused": "effects that could not be finished"},
)
def places(run: Performance) -> Iterator[Finding]:
    """Effects that found no place."""
    refused = run.events(TraceKind.REFUSED)
    if refused:
        effects = sorted({run.prop.compiled.names.effects[event.index] for event in refused})
        yield places.finding(
            Weight.WARNING,
            listed(effects),
            f"{len(refused)} effects could not be finished",
            f"{RUNNING_EFFECTS} effects or staggered fades at once",
            "Shorten the timelines or staggers, or repeat more slowly.",
            {"refused": f"{len(refused)}"},
        )
