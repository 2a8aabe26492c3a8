"""Everything that can be said against a prop, heaviest first."""
import math
from collections.abc import Iterable, Iterator

from fxseq.acoustics import LevelReport, clipping_findings, part_findings, power_db, speaker_findings
from fxseq.acoustics.decibels import mean_square
from fxseq.checks.decisions import Decidable, with_decisions
from fxseq.checks.heat import heat_findings
from fxseq.checks.pulses import pulse_findings
from fxseq.checks.timing import delay_findings, timing_findings
from fxseq.checks.wiring import wiring_findings
from fxseq.clips.shaping import level_db
from fxseq.hazards import (
    FLASH_NOTICE, Exposure, adaptor_finding, eye_findings, flash_findings, hearing_findings, lithium_finding, pwm_findings, toy_findings,
)
from fxseq.light import duty_from_level, level_from_byte, luminance_from_lightness
from fxseq.player import TraceKind
from fxseq.power import adaptor_findings, dropout_findings, fuse_findings, rail_findings, run_time_findings, supply_findings
from fxseq.runs.heard import amplifier_span
from fxseq.runs.performance import Performance
from fxseq.runs.prop import Prop
from fxseq.sequence import Explanation, Finding, Weight, explained
from fxseq.sequence import model as m
from fxseq.sequence.quantities import amount, fixed, number, quantity
from fxseq.table import RUNNING_EFFECTS, PlayClip, StartFade, clips_in_reach, effects_in_reach, level_byte

_RULE = "common practice, no source"
_MOST_UNLIKE_DB = 3.0
_SATURATED_SHARE = _CLIPPED_SHARE = 0.001
_READ = "Certain: it is read from the file. Only you know whether you meant it so."
_PLAYED = "Exact for the presses that were played; play the busiest ones that you expect."

EXPLAINED = explained(
    Explanation(
        "table.flash", "Does the table fit into the board's memory?",
        "The whole table is compiled and its bytes are counted. A fault where it has more than flash_for_table_bytes.",
        "the board in the prop file", "your own files", "Exact, if the file describes the board correctly.",
        formula="{missing} = {size} - {room}",
        symbols={"missing": "bytes too many", "size": "size of the table, in bytes", "room": "flash_for_table_bytes of the board, in bytes"}),
    Explanation(
        "sequence.unused", "Is there a part that nothing uses?",
        "Everything that the triggers reach is ticked off. A note for each part that is left over: it takes no memory on the board, but it may be a "
        "typing error.",
        _RULE, "common practice", _READ),
    Explanation(
        "clip.unmatched", "Do sounds that take turns differ in loudness?",
        "Where a trigger takes turns between effects, their sounds should be about as loud as each other. The loudest 125 ms of each are measured, "
        f"weighted for speaker and ear. A note where two differ by more than {_MOST_UNLIKE_DB:g} dB.",
        _RULE, "common practice", "Right within about 1 dB for the speaker in the file; how much difference is too much is a matter of taste.",
        formula="{difference} = {loud} - {soft}",
        symbols={"difference": "difference between the two, in dB", "loud": "level of the loudest, in dBFS",
                 "soft": "level of the softest, in dBFS"}),
    Explanation(
        "light.jump", "Does a light jump at the end of an effect?",
        "In a group where the latest effect wins, the light goes back to its ambient level when that effect ends. A finding where the effect's fade "
        "ends at 0 %, so that the light goes out and then jumps up.",
        _RULE, "common practice", _READ),
    Explanation(
        "light.dark", "Is a level of a fade too low to give any light?",
        "Each level of a fade is put through the table and the dimming, as on the board. A finding where a level above 0 % gives no light at all, "
        "because the lowest step of the dimming is brighter.",
        "CIE 1976 lightness and pwm_bits in the prop file", "your own files", "Exact, if the file describes the board correctly.",
        formula="{Y} * (2^{b} - 1) < 0.5",
        symbols={"Y": "light of that level, as a share of full light", "b": "pwm_bits of the board",
                 "least": "lowest level that lights, in %"}),
    Explanation(
        "light.endless", "Does a light stay on for ever after its trigger is let go?",
        "A looping fade ends only when another fade takes over its group. A finding where a held trigger starts such a fade and has no end effect with "
        "a fade on that group.",
        _RULE, "common practice", _READ),
    Explanation(
        "sequence.undescribed", "Is something missing that level and current depend on?",
        "Level and current follow from amplifier, speaker and supply. A note where there is sound and one of these is not described.",
        "the prop file, where it is missing", "your own files", _READ),
    Explanation(
        "sound.voices", "Are sounds cut short because too many play at once?",
        "Each sound takes a voice while it plays. Where no voice is free, another sound is cut short. A finding where that happens.",
        "the board in the prop file", "your own files", _PLAYED,
        formula="{cut} > 0",
        symbols={"cut": "sounds that are cut short", "sounds": "all sounds", "voices": "voices of the board"}),
    Explanation(
        "effect.places", "Do more effects run at once than a board has places for?",
        f"A board can run {RUNNING_EFFECTS} effects or staggered fades at once; what does not fit is left out. A finding where that happens.",
        "firmware_spec/SPEC.md 5.5 R3", "a standard", _PLAYED,
        formula="{refused} > 0", symbols={"refused": "effects that could not be finished"}),
    Explanation(
        "sound.saturated", "Do sounds that play together clip?",
        "The voices are added up, and whatever goes beyond full scale is clipped, which sounds harsh. A note where that happens at all, a warning above "
        f"{_SATURATED_SHARE:.1%} of the samples.",
        _RULE, "common practice", f"{_PLAYED} The share at which it becomes audible is a rule of thumb.",
        formula="{p} = {n} / {N}",
        symbols={"p": "share of the samples at full scale, in %", "n": "samples at full scale", "N": "all samples"}),
    Explanation(
        "sound.flat_supply", "Is the sound as loud and as clean when the supply is at its lowest?",
        "Levels are given for a fresh supply. The sound is put through the amplifier once more at the lowest voltage: for cells that at which the prop "
        "stops, for an adaptor the lower end of its tolerance. A note where more than 0.1 % of the samples clip then, but not with a fresh supply.",
        _RULE, "common practice", "The voltage counts as it is, without the further drop that the lights cause. The limit is a rule of thumb.",
        formula="{p} > 0.1 %",
        symbols={"p": "share of the samples that clip at the lowest voltage, in %", "V": "that voltage, in V",
                 "less": "by how much it is quieter then, in dB"}),
    Explanation(
        "sound.no_voltage", "Does the amplifier have any voltage left for sound?",
        "The output of an amplifier reaches the supply voltage less what its output stage loses. A fault where that loss is as much as the freshest "
        "supply has.",
        "lost_voltage_v and the supplies in the prop file", "your own files",
        "Certain if lost_voltage_v is that of the data sheet. The drop that the lights cause comes on top.",
        formula="{V} <= {lost}",
        symbols={"V": "voltage of the freshest supply, in V", "lost": "lost_voltage_v of the amplifier, in V"}),
)


def findings(performance: Performance) -> list[Finding]:
    """Findings of the description and of one run of it, heaviest first, and behind them those that the file has decided on."""
    prop, supply, levels = performance.prop, performance.supply, performance.heard.levels
    found = [*_described(prop), *_voices(performance), *delay_findings(performance), *_flashing(performance)]
    if supply is not None:
        found += [*supply_findings(*supply, performance.load.draw, performance.load.flat_peak_ma), *adaptor_findings(*supply, performance.load.draw)]
    if supply is not None and performance.load.rail is not None:
        found += [*rail_findings(*supply, performance.load.rail, performance.load.stops_at_v), *dropout_findings(*supply, prop.sequence, performance.load.rail),
                  *pulse_findings(performance), *heat_findings(performance), *fuse_findings(*supply, performance.load.current_ma)]
    if supply is not None and performance.run_time is not None and prop.sequence.day is not None:
        found += run_time_findings(f"supply '{supply[0]}'", performance.run_time, prop.sequence.day.hours)
    if levels is not None and prop.sequence.speaker is not None:
        hardest = performance.heard.loudest_levels()
        found += [*_clipping(performance), *_at_the_lowest(performance), *speaker_findings(hardest, prop.sequence.speaker),
                  *_heard(exposures(hardest, prop.sequence.listening))]
    return _heaviest_first(with_decisions(performance, found, _DECIDABLE))


def findings_without_playing(prop: Prop) -> list[Finding]:
    """Findings of the description alone, heaviest first."""
    return _heaviest_first(_described(prop))


def _heaviest_first(found: Iterable[Finding]) -> list[Finding]:
    return sorted(found, key=lambda finding: (bool(finding.decided), -finding.weight))


def _flashing(performance: Performance) -> list[Finding]:
    listening = performance.prop.sequence.listening
    return list(flash_findings(performance.flashes, {"hand": listening.hand_m, "audience": listening.audience_m}))


def _clipping(performance: Performance) -> list[Finding]:
    return list(clipping_findings(performance.heard.levels)) if performance.heard.levels else []


def _described(prop: Prop) -> list[Finding]:
    clip_findings = [finding for clip in prop.clips.values() for finding in clip.findings]
    return [*clip_findings, *_flash_budget(prop), *_unmatched(prop), *timing_findings(prop), *_unused(prop.sequence), *_jumps(prop.sequence),
            *_endless_light(prop.sequence), *_too_dark(prop.sequence), *_undescribed(prop.sequence), *_voiceless(prop.sequence),
            *wiring_findings(prop.sequence, prop.circuits),
            *part_findings(prop.sequence.speaker, prop.sequence.amplifier, prop.sequence.board.sound_bits), *_cautions(prop.sequence)]


def _cautions(sequence: m.Sequence) -> list[Finding]:
    """What goes with the parts themselves."""
    found = [finding for name, group in sequence.groups.items() for finding in eye_findings(name, group)]
    if sequence.groups and sequence.board.dimming_hz is not None:
        found += pwm_findings(sequence.board.dimming_hz)
    for name, supply in sequence.supplies.items():
        if supply.cell == "li_ion":
            found.append(lithium_finding(f"supply '{name}'"))
        if supply.kind == "wall":
            found.append(adaptor_finding(f"supply '{name}'"))
    return found


def exposures(levels: LevelReport, listening: m.Listening) -> list[Exposure]:
    """What each place hears, for as long a day as the file says."""
    return [
        Exposure(place, at.distance_m, at.laeq_db, at.lafmax_db, at.lcpeak_db, levels.uncertainty_db, listening.hours_a_day)
        for place, at in levels.at.items()
    ]


def _heard(heard: list[Exposure]) -> list[Finding]:
    return [*(finding for exposure in heard for finding in hearing_findings(exposure)), *toy_findings(heard)]


def _at_the_lowest(performance: Performance) -> list[Finding]:
    """What becomes of the sound when the supply is at its lowest."""
    if performance.heard.levels.clipped_share > _CLIPPED_SHARE:
        return []
    lowest_v = amplifier_span(performance.prop.sequence, performance.supply[1]).flat_v
    volts, clipped = performance.sound.volts_at(lowest_v)
    if clipped <= _CLIPPED_SHARE:
        return []
    less_db = float(power_db(mean_square(performance.heard.volts)) - power_db(mean_square(volts)))
    silent = math.isinf(less_db)
    return [EXPLAINED["sound.flat_supply"].finding(
        Weight.NOTE, "amplifier", f"at {amount(lowest_v, 'V')}, the lowest of its supply, it clips at {clipped:.2%} of the samples and is "
        f"{'silent' if silent else f'{fixed(less_db, 1)} dB quieter'}",
        f"{_CLIPPED_SHARE:.1%} of the samples", "If it should sound the same to the end, lower the amplifier's gain or the clips' levels.",
        {"p": f"{number(100 * clipped)} %", "V": f"{number(lowest_v)} V", "less": "all of it" if silent else f"{fixed(less_db, 1)} dB"})]


def _flash_budget(prop: Prop) -> list[Finding]:
    size, room = len(prop.compiled.data), prop.sequence.board.flash_for_table_bytes
    if size <= room:
        return []
    largest = sorted(zip(prop.compiled.table.clips, prop.compiled.names.clips, strict=True), key=lambda clip: -len(clip[0].data))[:2]
    which = " and ".join(f"'{name}'" for _, name in largest)
    cure = f"Cut {which}, store clips as mulaw instead of pcm16, or lower their rate_hz" if which else "Leave out effects or fades"
    return [EXPLAINED["table.flash"].finding(
        Weight.FAULT, "table", f"{size} bytes", f"{room} bytes of memory for the table", f"{cure}: the table is {size - room} bytes too large.",
        {"missing": f"{size - room} bytes", "size": f"{size} bytes", "room": f"{room} bytes"})]


def _unused(sequence: m.Sequence) -> list[Finding]:
    effects = [sequence.effects[name] for name in effects_in_reach(sequence)]
    triggers = sequence.triggers.values()
    used: dict[str, set[str | None]] = {
        "clip": _clips_used(sequence),
        "effect": set(effects_in_reach(sequence)),
        "fade": {light.fade for effect in effects for light in effect.lights},
        "group": {light.group for effect in effects for light in effect.lights}
        | {name for name, group in sequence.groups.items() if group.gauge},
        "input": {trigger.input for trigger in triggers},
        "selector": {name for trigger in triggers for name in trigger.when},
        "counter": {trigger.needs for trigger in triggers} | {group.gauge for group in sequence.groups.values()}
        | {count.counter for effect in effects for count in effect.counts},
    }
    return [
        EXPLAINED["sequence.unused"].finding(
            Weight.NOTE, f"{kind} '{name}'", "nothing that a trigger reaches uses it", remedy="Use it, or delete it.")
        for kind, names in used.items() for name in getattr(sequence, f"{kind}s") if name not in names
    ]


def _clips_used(sequence: m.Sequence) -> set[str | None]:
    """Clips that are played, and those that they are matched to."""
    used: set[str | None] = set()
    for name in clips_in_reach(sequence):
        at: str | None = name
        while at is not None and at not in used:
            used.add(at)
            at = sequence.clips[at].match_to
    return used


def _unmatched(prop: Prop) -> list[Finding]:
    """Alternatives of a trigger, by the sounds at the same place of their timelines, of which one is much louder than another."""
    found = []
    for name, trigger in prop.sequence.triggers.items():
        timelines = [prop.sequence.effects[effect].sounds for effect in dict.fromkeys(trigger.effects)]
        for sounds in zip(*timelines, strict=False) if len(timelines) > 1 else ():
            heard = [(prop.clips[sound.clip].loudest, sound) for sound in sounds]
            levels = sorted((level_db(loudest) + sound.gain_db, sound.clip) for loudest, sound in heard if loudest)
            if levels and levels[-1][0] - levels[0][0] > _MOST_UNLIKE_DB:
                found.append(_unlike(prop, name, *levels[0], *levels[-1]))
    return found


def _unlike(prop: Prop, trigger: str, low_db: float, soft: str, high_db: float, loud: str) -> Finding:
    remedy = "Even out their gain_db" if soft == loud or prop.sequence.clips[soft].match_to else f'Set match_to = "{loud}" in [clips.{soft}]'
    return EXPLAINED["clip.unmatched"].finding(
        Weight.NOTE, f"trigger '{trigger}', clips '{soft}' and '{loud}'",
        f"their loudest 125 ms, weighted for speaker and ear, differ by {high_db - low_db:.1f} dB", f"{_MOST_UNLIKE_DB:g} dB",
        f"{remedy}, unless they are meant to differ.",
        {"difference": f"{high_db - low_db:.1f} dB", "loud": f"{fixed(high_db, 1)} dB", "soft": f"{fixed(low_db, 1)} dB"})


def _jumps(sequence: m.Sequence) -> list[Finding]:
    """A group that merges by latest falls to its ambient level at once where an effect's fade ends dark."""
    lit_below = {light.group for name in effects_in_reach(sequence) for light in sequence.effects[name].lights
                 if sequence.effects[name].layer == "ambient"}
    found = []
    for name in effects_in_reach(sequence):
        for light in sequence.effects[name].lights:
            group, fade = sequence.groups[light.group], sequence.fades[light.fade]
            ends_dark = not fade.loop and fade.segments[-1].to_percent == 0
            if group.merge == "latest" and light.group in lit_below and sequence.effects[name].layer == "effect" and ends_dark:
                found.append(EXPLAINED["light.jump"].finding(
                    Weight.WARNING, f"effect '{name}', fade '{light.fade}' on group '{light.group}'",
                    "ends at 0 % and then jumps to the ambient light", "no jump",
                    'End the fade with a segment of to_percent = "ambient".'))
    return found


def _endless_light(sequence: m.Sequence) -> list[Finding]:
    """A looping fade of a held effect goes on after the trigger is let go, unless its end effect takes the group over."""
    found = []
    for name, trigger in sequence.triggers.items():
        ended = {light.group for light in sequence.effects[trigger.end].lights} if trigger.end else set()
        for effect in filter(None, (trigger.begin, trigger.during)):
            looping = {light.group for light in sequence.effects[effect].lights if sequence.fades[light.fade].loop}
            if trigger.mode != "always" or trigger.when:
                found += [EXPLAINED["light.endless"].finding(
                    Weight.WARNING, f"trigger '{name}', group '{group}'",
                    f"effect '{effect}' loops a fade that nothing ends", "an end effect of the trigger that takes over the group",
                    "Give the trigger an end effect with a fade on this group.")
                    for group in sorted(looping - ended)]
    return found


def _too_dark(sequence: m.Sequence) -> list[Finding]:
    """Levels of fades above 0 % that come out of the dimming as no light."""
    bits = sequence.board.pwm_bits
    least = next(byte for byte in range(256) if duty_from_level(level_from_byte(byte), bits) > 0)
    least_percent = f"{number(100 * least / 255, 2)} %"
    fades = dict.fromkeys(light.fade for name in effects_in_reach(sequence) for light in sequence.effects[name].lights)
    found = []
    for name in fades:
        for key, percent in _levels_of(sequence.fades[name]):
            if percent > 0 and level_byte(percent) < least:
                light = float(luminance_from_lightness(100 * level_byte(percent) / 255))
                found.append(EXPLAINED["light.dark"].finding(
                    Weight.WARNING, f"fade '{name}'",
                    f"{key} is {quantity(percent, '%')}, too low to give light with {bits} bits of dimming",
                    f"{least_percent} is the lowest level that lights",
                    "Raise it, raise pwm_bits if the chip can dim in finer steps, or write 0 if you want darkness.",
                    {"Y": number(light, 2), "b": f"{bits}", "least": least_percent}))
    return found


def _levels_of(fade: m.Fade) -> Iterator[tuple[str, float]]:
    """Each level that a fade says, with its key."""
    yield "from_percent", fade.from_percent or 0.0
    for segment in fade.segments:
        yield "to_percent", 0.0 if segment.to_percent == "ambient" else segment.to_percent
        yield "low_percent", segment.low_percent or 0.0


def _undescribed(sequence: m.Sequence) -> list[Finding]:
    missing = [name for name in ("amplifier", "speaker", "supplies") if not getattr(sequence, name)]
    if not missing or not sequence.clips:
        return []
    return [EXPLAINED["sequence.undescribed"].finding(
        Weight.NOTE, ", ".join(missing), "not described, so level and amplifier current cannot be given",
        remedy="Describe them; `fxseq new` writes a file that shows how.")]


def _voiceless(sequence: m.Sequence) -> list[Finding]:
    """Supplies of whose voltage the amplifier has nothing left."""
    if sequence.amplifier is None:
        return []
    lost_v = sequence.amplifier.lost_voltage_v
    fresh_v = {name: amplifier_span(sequence, supply).fresh_v for name, supply in sequence.supplies.items()}
    return [EXPLAINED["sound.no_voltage"].finding(
        Weight.FAULT, f"amplifier on supply '{name}'", f"it has no voltage left: its output loses {amount(lost_v, 'V')} of {amount(volts, 'V')}",
        f"a supply of more than {amount(lost_v, 'V')}", "There is no sound. Use a higher supply voltage, or an amplifier with a lower lost_voltage_v.",
        {"V": f"{number(volts)} V", "lost": f"{number(lost_v)} V"})
        for name, volts in fresh_v.items() if volts <= lost_v]


def _voices(performance: Performance) -> list[Finding]:
    names, played = performance.prop.compiled.names, performance.played
    cut = performance.events(TraceKind.CUT)
    refused = performance.events(TraceKind.REFUSED)
    found = []
    if cut:
        clips = sorted({names.clips[event.value] for event in cut})
        sounds, voices = len(performance.events(TraceKind.SOUND)), performance.prop.compiled.table.voices
        found.append(EXPLAINED["sound.voices"].finding(
            Weight.WARNING, "voices", f"{len(cut)} of {sounds} sounds are cut short ({_listed(clips)})", f"{voices} voices",
            "Shorten the clips, repeat more slowly, or use more voices.",
            {"cut": f"{len(cut)}", "sounds": f"{sounds}", "voices": f"{voices}"}))
    if refused:
        effects = sorted({names.effects[event.index] for event in refused})
        found.append(EXPLAINED["effect.places"].finding(
            Weight.WARNING, _listed(effects), f"{len(refused)} effects could not be finished",
            f"{RUNNING_EFFECTS} effects or staggered fades at once", "Shorten the timelines or staggers, or repeat more slowly.",
            {"refused": f"{len(refused)}"}))
    if played.saturated:
        share = played.saturated / max(len(played.samples), 1)
        found.append(EXPLAINED["sound.saturated"].finding(
            Weight.WARNING if share > _SATURATED_SHARE else Weight.NOTE, "sum of the voices",
            f"{share:.2%} of the samples are at full scale", "0.1 % of the samples",
            "Lower gain_db of the sounds that play together, or the level of their clips.",
            {"p": f"{share:.2%}", "n": f"{played.saturated}", "N": f"{len(played.samples)}"}))
    return found


def _listed(names: list[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)


_LISTEN = "It does no harm; listen whether it sounds as you want it."
_DECIDABLE = {
    "flashes": Decidable({"light.flash", "light.red_flash", "hazard.long_flashing"}, StartFade, _flashing, FLASH_NOTICE),
    "voices": Decidable({"sound.voices"}, PlayClip, _voices, _LISTEN),
    "saturation": Decidable({"sound.saturated"}, PlayClip, _voices, _LISTEN),
    "clipping": Decidable({"sound.clipping"}, PlayClip, _clipping, _LISTEN),
}
"""What a trigger may have decided on (`despite`), of what is judged here; whether shots are distinct is judged by `tune` alone."""
