"""What can be said of speaker and amplifier before anything is played."""
from fxseq.acoustics.converter import quantisation_ratio_db
from fxseq.acoustics.parameters import RELATIONS, Contradiction, contradictions, suspects
from fxseq.acoustics.speaker import mounted_resonance_hz, stated_quantities
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.parts import Amplifier, Speaker
from fxseq.sequence.sound_parts import sound_parts

QUIET_DB = 60.0
"""Noise this far below full scale goes unheard behind effects. Common practice, no source. [dB]"""
_RULE = "common practice, no source"

EXPLAINED = explained(
    Explanation(
        "sound.generic", "Is a part described by a generic kind alone?",
        "Where the file names a kind of speaker or amplifier, the figures of a common part of that kind are used. A note for each.",
        "generic parts of this program", "data sheets", "Your own part may well differ by 3 dB, or its resonance by a fifth."),
    Explanation(
        "sound.parameters", "Do the numbers of the speaker's data sheet go together?",
        f"Many of these numbers follow from each other: {'; '.join(relation.text for relation in RELATIONS)}. A finding where one is off by more "
        "than a tenth from what the others make of it, or a sensitivity by more than 3 dB.",
        f"small-signal model of Thiele and Small; limit: {_RULE}", "a handbook",
        "That one of the numbers is wrong is sure within what makers round. Which one it is cannot be told for sure.",
        formula="{relation}: {stated}, where the others make {expected}",
        symbols={"relation": "the formula that does not hold", "stated": "its first number as the file has it",
                 "expected": "the same number as the others make it"}),
    Explanation(
        "sound.chamber", "Is it said what is behind the speaker?",
        "The air in a chamber is a second spring behind the cone: the smaller, the higher the resonance and the fewer the lows. A note where a "
        "resonance in free air is given and no chamber.",
        _RULE, "common practice", "Without a chamber the lows may be off by many dB.",
        symbols={"fs": "resonance used, in Hz"}),
    Explanation(
        "sound.bits", "Is the board's sound output fine enough?",
        f"Each bit halves the steps of the output and so its noise. A note where the noise is less than {QUIET_DB:g} dB below full scale.",
        f"6.02 dB a bit and 1.76 dB (textbook, full-scale sine); limit: {_RULE}", "a handbook",
        "The formula is exact for an ideal output; a real one is noisier. Whether it is heard depends on the sounds.",
        formula="{S} = 6.02 dB * {b} + 1.76 dB", symbols={"S": "full scale over noise, in dB", "b": "sound_bits of the board"}),
)
# Quantity: key of the description, factor from SI, unit.
_SHOWN = {
    "resonance_hz": ("free_resonance_hz", 1.0, " Hz"), "q_mechanical": ("q_mechanical", 1.0, ""), "q_electrical": ("q_electrical", 1.0, ""),
    "q_total": ("q_total", 1.0, ""), "equivalent_volume_m3": ("equivalent_volume_ml", 1e6, " ml"), "coil_ohm": ("coil_ohm", 1.0, " ohm"),
    "moving_mass_kg": ("moving_mass_g", 1e3, " g"), "compliance_m_per_n": ("compliance_mm_per_n", 1e3, " mm/N"),
    "force_factor_tm": ("force_factor_tm", 1.0, " T m"), "area_m2": ("cone_area_cm2", 1e4, " cm^2"),
    "flat_pa_per_v": ("sensitivity_db", 1.0, " Pa/V at 1 m"),
}


def part_findings(speaker: Speaker | None, amplifier: Amplifier | None, sound_bits: int) -> tuple[Finding, ...]:
    """Contradictions in a data sheet, a chamber that is not described, generic parts, and a coarse converter."""
    found: list[Finding] = []
    if speaker is not None:
        found += [*_contradictions(speaker), *_chamber(speaker)]
    for table, kind, part in (("speakers", "speaker", speaker), ("amplifiers", "amplifier", amplifier)):
        if part is not None and part.part is not None:
            found.append(EXPLAINED["sound.generic"].finding(
                Weight.NOTE, kind, f"a generic {part.part}", "",
                "Give the figures of your own data sheet; they take the place of the generic ones.",
                part_source=sound_parts()[table][part.part]["source"]))
    return (*found, *_coarse(sound_bits))


def _contradictions(speaker: Speaker) -> list[Finding]:
    stated = stated_quantities(speaker)
    likely = [_SHOWN[name][0] for name in suspects(stated)]
    doubt = f"Look at {' and '.join(likely)} first. " if len(likely) in (1, 2) else ""
    return [
        EXPLAINED["sound.parameters"].finding(
            Weight.WARNING, "speaker", _said(contradiction), "within a tenth; a sensitivity within 3 dB",
            f"{doubt}Check the data sheet: one of {', '.join(_SHOWN[name][0] for name in (contradiction.name, *contradiction.others))} is wrong.",
            {"relation": contradiction.relation, "stated": _number(contradiction.name, contradiction.stated),
             "expected": _number(contradiction.name, contradiction.expected)})
        for contradiction in contradictions(stated)
    ]


def _number(name: str, value: float | None) -> str:
    _, factor, unit = _SHOWN[name]
    return "no number at all" if value is None else f"{value * factor:.3g}{unit}"


def _said(contradiction: Contradiction) -> str:
    key, stated = _SHOWN[contradiction.name][0], _number(contradiction.name, contradiction.stated)
    others = ", ".join(_SHOWN[name][0] for name in contradiction.others)
    if contradiction.expected is None or contradiction.off_percent is None:
        return f"{key} is {stated}, which {others} leave no room for"
    return f"{key} is {stated}, but {others} make {_number(contradiction.name, contradiction.expected)} ({contradiction.off_percent:+.0f} %)"


def _chamber(speaker: Speaker) -> list[Finding]:
    if speaker.free_resonance_hz is None or speaker.chamber_ml is not None:
        return []
    resonance = f"{mounted_resonance_hz(speaker):.0f} Hz"
    return [EXPLAINED["sound.chamber"].finding(
        Weight.NOTE, "speaker", f"counted with its resonance in free air, {resonance}", "",
        "Give chamber_ml: a small chamber raises the resonance and takes lows; with an open back what is behind the cone cancels them.",
        {"fs": resonance})]


def _coarse(sound_bits: int) -> list[Finding]:
    ratio_db = quantisation_ratio_db(sound_bits)
    if ratio_db >= QUIET_DB:
        return []
    return [EXPLAINED["sound.bits"].finding(
        Weight.NOTE, "board", f"{sound_bits} bits of sound output: noise {ratio_db:.0f} dB below full scale", f"{QUIET_DB:g} dB",
        "Use an output of 10 bits or more, or keep the clips near full scale.", {"S": f"{ratio_db:.1f} dB", "b": f"{sound_bits}"})]
