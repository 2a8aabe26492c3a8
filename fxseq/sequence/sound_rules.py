"""What has to agree within the description of a speaker."""

from fxseq.sequence.parts import Speaker
from fxseq.sequence.paths import PathFault
from fxseq.sequence.rule_kit import Faults, exclusive, given, needed, unused
from fxseq.sequence.wording import found

_OF_FREE_AIR = (
    "chamber_ml",
    "q_electrical",
    "equivalent_volume_ml",
    "moving_mass_g",
    "compliance_mm_per_n",
    "force_factor_tm",
)
_OF_SPRING = ("moving_mass_g", "compliance_mm_per_n", "equivalent_volume_ml")
_OF_DRIVE = ("q_total", "q_electrical", "force_factor_tm")


def speaker_faults(speaker: Speaker) -> Faults:
    """One resonance, one convention of sensitivity, and numbers enough to work out a level."""
    yield from exclusive(speaker, "resonance_hz", "free_resonance_hz")
    if not given(speaker, "free_resonance_hz"):
        yield from needed(
            speaker,
            ("resonance_hz",),
            "it tells how low the speaker plays; free_resonance_hz with chamber_ml does too",
        )
        yield from unused(
            speaker,
            _OF_FREE_AIR,
            "resonance_hz is the resonance in the chamber, so this is not used",
            "Delete it, or give free_resonance_hz in place of resonance_hz.",
        )
    for key in ("q_mechanical", "q_electrical"):
        part = getattr(speaker, key)
        if speaker.q_total is not None and part is not None and part <= speaker.q_total:
            yield PathFault(
                (key,),
                f"is {found(part)}, which leaves no room for the other Q",
                f"above q_total, {found(speaker.q_total)}",
            )
    yield from exclusive(speaker, "sensitivity_power_w", "sensitivity_voltage_v")
    if not given(speaker, "sensitivity_db"):
        yield from _level_without_sensitivity(speaker)


def _level_without_sensitivity(speaker: Speaker) -> Faults:
    yield from unused(
        speaker,
        ("sensitivity_voltage_v", "sensitivity_baffle"),
        "sensitivity_db is not",
        "Add sensitivity_db, or delete it.",
    )
    if not any(given(speaker, key) for key in _OF_SPRING) or not any(
        given(speaker, key) for key in _OF_DRIVE
    ):
        yield PathFault(
            ("sensitivity_db",),
            "is missing: without it, a level needs one of moving_mass_g, compliance_mm_per_n and"
            " equivalent_volume_ml, and one of q_total, q_electrical and force_factor_tm",
            "",
            "Add it.",
            missing=True,
        )
