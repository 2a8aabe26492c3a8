"""Cautions that go with parts: cells, adaptors, bright LEDs. They replace no local code and no licensed practice."""
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.model import Group

BRIGHT_LED_MA = 100.0
"""Current of one LED from which it counts as a bright one. Common practice, no source. [mA]"""
_BLUE_IN_IT = ("blue", "violet", "cyan", "white")
_RULE = "common practice, no source"


def eye_findings(name: str, group: Group) -> tuple[Finding, ...]:
    """A note for bright bare LEDs with blue in their light, which IEC 62471 sorts into risk groups that only their maker knows."""
    if group.current_ma < BRIGHT_LED_MA or group.colour not in _BLUE_IN_IT:
        return ()
    return (Finding(
        "hazard.eye", Weight.NOTE, f"group '{name}'", f"{group.colour} LEDs of {group.current_ma:g} mA each",
        "risk group of the LED by IEC 62471", "IEC 62471 (scope and groups as seen on public pages; its numbers are not checked here)",
        "Ask the LED's maker for its risk group; put a diffuser before it and do not let anybody look into it from close by."),)


def lithium_finding(subject: str) -> Finding:
    """For any lithium cell or pack."""
    return Finding(
        "hazard.lithium", Weight.NOTE, subject, "lithium cells", "", _RULE,
        "Use cells with a protection circuit, a fuse at the pack, and the charger made for them; charge under supervision and out of the "
        "prop where you can; never use a cell that is swollen, dented or has been wet. Rules for transport and venues differ: ask.")


def adaptor_finding(subject: str) -> Finding:
    """For any supply from the mains."""
    return Finding(
        "hazard.adaptor", Weight.NOTE, subject, "mains adaptor", "", _RULE,
        "Use a ready-made adaptor with the safety marks of your country and safety extra-low voltage at its plug; nothing at mains voltage "
        "belongs into a prop. Work on the mains is for licensed people.")
