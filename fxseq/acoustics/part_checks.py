"""What can be said of speaker and amplifier before anything is played."""
from fxseq.acoustics.converter import quantisation_ratio_db
from fxseq.acoustics.parameters import Contradiction, contradictions, suspects
from fxseq.acoustics.speaker import mounted_resonance_hz, stated_quantities
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.parts import Amplifier, Speaker
from fxseq.sequence.sound_parts import sound_parts

QUIET_DB = 60.0
"""Noise this far below full scale goes unheard behind effects. Common practice, no source. [dB]"""
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
            found.append(Finding(
                "sound.generic", Weight.NOTE, kind, f"a generic {part.part}", "", sound_parts()[table][part.part]["source"],
                "Give the figures of your own data sheet; they take the place of the generic ones."))
    return (*found, *_coarse(sound_bits))


def _contradictions(speaker: Speaker) -> list[Finding]:
    stated = stated_quantities(speaker)
    likely = [_SHOWN[name][0] for name in suspects(stated)]
    doubt = f"Look at {' and '.join(likely)} first. " if len(likely) in (1, 2) else ""
    return [
        Finding(
            "sound.parameters", Weight.WARNING, "speaker", _said(contradiction), "within a tenth; a sensitivity within 3 dB",
            f"{contradiction.relation} (Thiele and Small); limit: common practice, no source",
            f"{doubt}Check the data sheet: one of {', '.join(_SHOWN[name][0] for name in (contradiction.name, *contradiction.others))} is wrong.")
        for contradiction in contradictions(stated)
    ]


def _said(contradiction: Contradiction) -> str:
    key, factor, unit = _SHOWN[contradiction.name]
    others = ", ".join(_SHOWN[name][0] for name in contradiction.others)
    if contradiction.expected is None or contradiction.off_percent is None:
        return f"{key} is {contradiction.stated * factor:.3g}{unit}, which {others} leave no room for"
    return f"{key} is {contradiction.stated * factor:.3g}{unit}, but {others} make {contradiction.expected * factor:.3g}{unit} " \
        f"({contradiction.off_percent:+.0f} %)"


def _chamber(speaker: Speaker) -> list[Finding]:
    if speaker.free_resonance_hz is None or speaker.chamber_ml is not None:
        return []
    return [Finding(
        "sound.chamber", Weight.NOTE, "speaker", f"counted with its resonance in free air, {mounted_resonance_hz(speaker):.0f} Hz", "",
        "common practice, no source",
        "Give chamber_ml: a small chamber raises the resonance and takes lows; with an open back what is behind the cone cancels them.")]


def _coarse(sound_bits: int) -> list[Finding]:
    ratio_db = quantisation_ratio_db(sound_bits)
    if ratio_db >= QUIET_DB:
        return []
    return [Finding(
        "sound.bits", Weight.NOTE, "board", f"{sound_bits} bits of sound output: noise {ratio_db:.0f} dB below full scale", f"{QUIET_DB:g} dB",
        "6.02 dB a bit and 1.76 dB (textbook, full-scale sine); limit: common practice, no source",
        "Use an output of 10 bits or more, or keep the clips near full scale.")]
