"""What happens when something is pressed, in sentences."""

from collections.abc import Iterator

from fxseq.sequence.model import Sequence, Trigger
from fxseq.sequence.quantities import number
from fxseq.sequence.wording import series


def said(name: str) -> str:
    """A name of the file as it is spoken."""
    return name.replace("_", " ")


def begun(words: str) -> str:
    """As a sentence begins; names keep their capitals."""
    return words[:1].upper() + words[1:]


def press_sentences(sequence: Sequence) -> list[str]:
    """One for each trigger, in the order of the file."""
    return [_sentence(sequence, trigger) for trigger in sequence.triggers.values()]


def pressed(sequence: Sequence) -> dict[str, list[str]]:
    """The sentences by what is pressed; those of no button under an empty name."""
    found: dict[str, list[str]] = {name: [] for name in sequence.inputs}
    for trigger in sequence.triggers.values():
        found.setdefault(trigger.input or "", []).append(_sentence(sequence, trigger))
    return {name: rows for name, rows in found.items() if rows}


def _sentence(sequence: Sequence, trigger: Trigger) -> str:
    text = f"{_when(sequence, trigger)}: {_does(trigger)}"
    more = list(_more(trigger))
    return f"{text}{''.join(f'; {each}' for each in more)}."


def _when(sequence: Sequence, trigger: Trigger) -> str:
    conditions = []
    for selector, positions in trigger.when.items():
        on = [positions] if isinstance(positions, str) else positions
        conditions.append(f"{said(selector)} on {_or(list(map(said, on)))}")
    where = f" with {series(conditions, 'and')}" if conditions else ""
    first, comma, others = _pressed(sequence, trigger).partition(",")
    return f"{first}{where}{comma}{others}"


def _pressed(sequence: Sequence, trigger: Trigger) -> str:
    if trigger.input is None:
        return "All the time" if trigger.mode == "always" else "By itself"
    name = said(trigger.input)
    if sequence.inputs[trigger.input].kind == "low_battery":
        return "When the cells are low"
    held_s = trigger.after_held_ms / 1000
    if held_s:
        return f"When {name} has been held for {number(held_s)} s"
    return {
        "once": f"Each press of {name}",
        "repeat": f"While {name} is held",
        "while_held": f"While {name} is held",
        "on_off": f"A press of {name}, until the next press",
        "always": "All the time",
    }[trigger.mode]


def _does(trigger: Trigger) -> str:
    if trigger.effects:
        effects = _or(list(map(said, trigger.effects)))
        order = {"in_turn": " in turn", "random": " at random"}[trigger.choice]
        text = effects + order * (len(trigger.effects) > 1)
        if trigger.mode == "repeat" and trigger.rate_per_s:
            text += f", {_rate(trigger.rate_per_s)}"
        return text
    stays = [
        f"{said(effect)} {when}".strip()
        for effect, when in (
            (trigger.begin, "first"),
            (trigger.during, "as long as it lasts" if trigger.begin or trigger.end else ""),
            (trigger.end, "at the end"),
        )
        if effect
    ]
    return ", ".join(stays)


def _more(trigger: Trigger) -> Iterator[str]:
    if trigger.first_delay_ms is not None:
        yield f"the second one after {number(trigger.first_delay_ms / 1000)} s"
    if trigger.ramp_to_rate_per_s and trigger.rate_per_s:
        how = "faster" if trigger.ramp_to_rate_per_s > trigger.rate_per_s else "slower"
        end = _rate(trigger.ramp_to_rate_per_s)
        yield f"then {how}, {end} after {trigger.ramp_shots} more"
    if trigger.burst > 1:
        yield f"at least {trigger.burst}, even if it is let go sooner"
    if trigger.limit:
        yield f"at most {trigger.limit} a press"
    if trigger.needs:
        empty = f", then {said(trigger.empty)}" if trigger.empty else ", then nothing"
        yield f"until {said(trigger.needs)} is used up{empty}"


def _rate(rate_per_s: float) -> str:
    """What is slow is said by its period."""
    if rate_per_s < 1:
        return f"every {number(1 / rate_per_s)} s"
    return f"{number(rate_per_s)} a second"


def _or(words: list[str]) -> str:
    return series(words, "or") if len(words) > 1 else words[0]
