"""Rules of one trigger: what its mode needs, what its mode has no use for, and the names it
refers to.
"""

from fxseq.sequence.model import Selector, Trigger
from fxseq.sequence.paths import PathFault
from fxseq.sequence.rule_kit import Faults, Names, given, needed, refer, unused
from fxseq.sequence.suggest import did_you_mean
from fxseq.sequence.wording import found, series

_SHOTS = ("effects", "choice")
_REPEAT = ("rate_per_s", "first_delay_ms", "burst", "limit", "ramp_to_rate_per_s", "ramp_shots")
_STAY = ("begin", "during", "end")
_ASKS = ("input", "after_held_ms", "needs", "empty")

_NEEDED = {
    "once": ("input", "effects"),
    "repeat": ("input", "effects", "rate_per_s"),
    "while_held": ("input",),
    "on_off": ("input",),
    "always": (),
}
_UNUSED = {
    "once": (*_REPEAT, *_STAY),
    "repeat": _STAY,
    "while_held": (*_SHOTS, *_REPEAT),
    "on_off": (*_SHOTS, *_REPEAT),
    "always": (*_SHOTS, *_REPEAT, *_ASKS),
}


def unused_keys(mode: str) -> tuple[str, ...]:
    """Keys that a trigger of the mode has no use for."""
    return _UNUSED.get(mode, ())


def trigger_faults(trigger: Trigger, names: Names, selectors: dict[str, Selector]) -> Faults:
    """Every rule that the trigger breaks."""
    yield from _mode_faults(trigger)
    yield from _shot_faults(trigger)
    yield from _name_faults(trigger, names)
    yield from _condition_faults(trigger, names, selectors)


def _mode_faults(trigger: Trigger) -> Faults:
    mode = f'mode "{trigger.mode}"'
    yield from needed(trigger, _NEEDED[trigger.mode], f"{mode} needs it")
    yield from unused(
        trigger,
        _UNUSED[trigger.mode],
        f"{mode} has no use for it",
        "Delete it, or change the mode.",
    )
    if trigger.mode not in ("once", "repeat") and not any(given(trigger, key) for key in _STAY):
        why = f"is missing: {mode} needs at least one of {series(list(_STAY), 'and')}"
        yield PathFault(("during",), why, "", "Add one of them.", missing=True)


def _shot_faults(trigger: Trigger) -> Faults:
    if trigger.ramp_to_rate_per_s is not None:
        yield from needed(trigger, ["ramp_shots"], "ramp_to_rate_per_s needs it")
    if trigger.ramp_shots is not None:
        yield from needed(trigger, ["ramp_to_rate_per_s"], "ramp_shots needs it")
    if trigger.limit is not None and trigger.limit < trigger.burst:
        yield PathFault(
            ("limit",),
            f"is {trigger.limit}, below the burst of {trigger.burst}",
            f"{trigger.burst} or more",
        )
    if trigger.empty is not None and trigger.mode != "always":
        yield from needed(trigger, ["needs"], "empty plays when the counter named there is at zero")


def _name_faults(trigger: Trigger, names: Names) -> Faults:
    yield from refer("input", trigger.input, "inputs", names)
    yield from refer("needs", trigger.needs, "counters", names)
    for key in ("empty", *_STAY):
        yield from refer(key, getattr(trigger, key), "effects", names)
    for index, effect in enumerate(trigger.effects):
        yield from (
            fault._replace(path=("effects", index))
            for fault in refer("effects", effect, "effects", names)
        )


def _condition_faults(trigger: Trigger, names: Names, selectors: dict[str, Selector]) -> Faults:
    for selector, wanted in trigger.when.items():
        yield from (
            fault.under("when") for fault in _wanted_faults(selector, wanted, names, selectors)
        )


def _wanted_faults(
    selector: str, wanted: str | list[str], names: Names, selectors: dict[str, Selector]
) -> Faults:
    yield from (
        fault._replace(what="is not the name of a selector")
        for fault in refer(selector, selector, "selectors", names)
    )
    if not wanted:
        yield PathFault(
            (selector,), "is an empty list, so the condition never holds", "at least one position"
        )
    if selector not in selectors:
        return
    known = selectors[selector].positions
    places = {(selector,): wanted}
    if not isinstance(wanted, str):
        places = {(selector, index): position for index, position in enumerate(wanted)}
    for path, position in places.items():
        if position not in known:
            yield PathFault(
                path,
                f"is {found(position)}, which is not a position",
                series(known),
                did_you_mean(position, known),
            )
