"""Cautions that go with parts: cells, adaptors, bright LEDs. They replace no local code and no licensed practice."""
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Group

BRIGHT_LED_MA = 100.0
"""Current of one LED from which it counts as a bright one. Common practice, no source. [mA]"""
_BLUE_IN_IT = ("blue", "violet", "cyan", "white")
_RULE = "common practice, no source"

EXPLAINED = explained(
    Explanation(
        "hazard.eye", "Are there bare LEDs bright enough to hurt eyes?",
        f"Blue light from a small bright spot can harm the retina. A note for every group of LEDs of {BRIGHT_LED_MA:g} "
        "mA or more each whose light has blue in it: blue, violet, cyan or white.",
        "IEC 62471 (scope and groups as seen on public pages; its numbers are not checked here)", "a standard",
        "A reminder that goes by current alone. Only the LED's maker knows its risk group, and only a measurement shows that of the prop.",
        formula=f"{{I}} >= {BRIGHT_LED_MA:g} mA", symbols={"I": "current of one LED, in mA"}),
    Explanation(
        "hazard.lithium", "Are there lithium cells in the prop?",
        "A short circuit, a dent or the wrong charger can set a lithium cell on fire. A note for every supply of such cells, whatever its figures.",
        "common practice; pages of cell makers and shops on the handling of lithium cells, as read", "common practice",
        "A caution that always holds. It replaces neither the rules of carriers and venues nor the advice of licensed people."),
    Explanation(
        "hazard.adaptor", "Is the prop fed from the mains?",
        "Mains voltage can kill. A note for every mains adaptor, whatever its figures: only its low-voltage side belongs to the prop.",
        _RULE, "common practice", "A caution that always holds. Local codes and licensed practice decide; nothing here stands in for them."),
)


def eye_findings(name: str, group: Group) -> tuple[Finding, ...]:
    """A note for bright bare LEDs with blue in their light, which IEC 62471 sorts into risk groups that only their maker knows."""
    if group.current_ma < BRIGHT_LED_MA or group.colour not in _BLUE_IN_IT:
        return ()
    return (EXPLAINED["hazard.eye"].finding(
        Weight.NOTE, f"group '{name}'", f"{group.colour} LEDs of {group.current_ma:g} mA each", "risk group of the LED by IEC 62471",
        "Ask the LED's maker for its risk group, put a diffuser in front of it, and let nobody look into it from close by.",
        {"I": f"{group.current_ma:g} mA"}),)


def lithium_finding(subject: str) -> Finding:
    """For any lithium cell or pack."""
    return EXPLAINED["hazard.lithium"].finding(
        Weight.NOTE, subject, "lithium cells", "",
        "Use ready-made packs with a protection circuit, a fuse at the pack, and the charger made for them; charge under supervision, away from "
        "anything that burns, between 0 and 45 degrees Celsius, and out of the prop where you can. Do not mix old and new cells or makes. Do not charge "
        "a cell that has rested below 2.5 V. Never use one that is swollen, dented or has been wet. If a cell swells, gets hot, hisses or smells: stop "
        "and get away from it. Rules for transport and venues differ: ask.")


def adaptor_finding(subject: str) -> Finding:
    """For any supply from the mains."""
    return EXPLAINED["hazard.adaptor"].finding(
        Weight.NOTE, subject, "mains adaptor", "",
        "Use a ready-made, regulated adaptor with the safety marks of your country and safety extra-low voltage at its plug, and check the polarity "
        "printed on it. Nothing at mains voltage belongs in a prop. Work on the mains is for licensed people.")
