"""What differs between two descriptions of a prop, thing by thing, in words.

A key that is left out is the same as one that says its default. A thing that only got another name
is told as that, wherever the name is used.
"""

from collections.abc import Iterator
from itertools import zip_longest
from typing import Any, NamedTuple

from fxseq.sequence.matching import aligned, alike
from fxseq.sequence.model import Sequence
from fxseq.sequence.names import ANY, REFERENCES
from fxseq.sequence.paths import NAMED, Path, place_name
from fxseq.sequence.quantities import quantity
from fxseq.sequence.wording import found, unit_of

SUBJECTS = {
    "What happens": (
        "triggers", "effects", "fades", "inputs", "selectors", "counters", "scripts",
    ),
    "Sounds": ("clips",),
    "Light": ("groups", "picture"),
    "Parts": (
        "board", "supplies", "changeover", "rail_load_ohm", "regulator", "amplifier", "speaker",
        "listening", "day",
    ),
    "The prop": ("title", "revision", "maker", "format"),
}  # fmt: skip
"""Keys at the top of a file, by what they are about."""

_USED_BEFORE_USING = (
    "counters", "inputs", "selectors", "groups", "clips", "fades", "effects", "triggers",
)  # fmt: skip
"""Kinds of things; each uses names of those before it alone."""
_SAME_THING = 0.7
"""Share of its values that a thing with another name has to have kept to be the same one."""


class Difference(NamedTuple):
    """At a place. words: a sentence without its full stop."""

    path: Path
    words: str

    @property
    def subject(self) -> str:
        """One of SUBJECTS."""
        return next(name for name, keys in SUBJECTS.items() if self.path[0] in keys)


def differences(before: Sequence, after: Sequence) -> list[Difference]:
    """All of them, in the order of SUBJECTS."""
    old, new = before.model_dump(), after.model_dump()
    renamed = {kind: _renamed(old[kind], new[kind]) for kind in NAMED}
    listed = [
        Difference((kind, name), f"{place_name((kind, name))} is called '{fresh}' now")
        for kind, names in renamed.items()
        for name, fresh in names.items()
    ]
    listed += _between(with_names(old, renamed), new, ())
    return sorted(listed, key=lambda one: list(SUBJECTS).index(one.subject))


def _renamed(old: dict[str, Any], new: dict[str, Any]) -> dict[str, str]:
    """Names that are gone, each with the new name of the thing that is most like it."""
    gone = [name for name in old if name not in new]
    fresh = [name for name in new if name not in old]
    pairs = sorted(
        ((alike(old[name], new[other]), name, other) for name in gone for other in fresh),
        key=lambda pair: -pair[0],
    )
    names: dict[str, str] = {}
    for share, name, other in pairs:
        if share >= _SAME_THING and name not in names and other not in names.values():
            names[name] = other
    return names


def same_things(before: dict[str, Any], after: dict[str, Any]) -> dict[str, dict[str, str]]:
    """Of two props' values, the things of the later one that were in the earlier one, whatever they
    are called, by what they say and by their order: kind to name to earlier name.
    """
    found: dict[str, dict[str, str]] = {kind: {} for kind in NAMED}
    for kind in _USED_BEFORE_USING:
        own = with_names(after, found)[kind]
        old, new = list(before[kind]), list(own)
        pairs = aligned([before[kind][name] for name in old], [own[name] for name in new])
        found[kind] = {
            # A new thing must not be taken for an old one by its name.
            new[at]: f"new {new[at]}" if place is None else old[place]
            for place, at in pairs
            if at is not None
        }
    return {
        kind: {name: old for name, old in names.items() if old in before[kind]}
        for kind, names in found.items()
        if names
    }


def with_names(old: dict[str, Any], renamed: dict[str, dict[str, str]]) -> dict[str, Any]:
    """The old values with the new names, also where they are used."""
    values = {
        key: (
            {renamed[key].get(name, name): thing for name, thing in part.items()}
            if key in NAMED
            else part
        )
        for key, part in old.items()
    }
    return _used(values, (), renamed)


def _used(value: Any, path: Path, renamed: dict[str, dict[str, str]]) -> Any:
    if isinstance(value, dict):
        selectors = renamed["selectors"] if path[-1:] == ("when",) else {}
        return {
            selectors.get(key, key): _used(part, (*path, key), renamed)
            for key, part in value.items()
        }
    if isinstance(value, list):
        return [_used(part, (*path, at), renamed) for at, part in enumerate(value)]
    for pattern, kind in REFERENCES.items():
        if len(pattern) == len(path) and all(
            step in (ANY, at) for step, at in zip(pattern, path, strict=True)
        ):
            return renamed[kind].get(value, value)
    return value


def _between(before: Any, after: Any, path: Path) -> Iterator[Difference]:
    if before == after:
        return
    if isinstance(before, dict) and isinstance(after, dict):
        for key in dict.fromkeys([*before, *after]):
            yield from _at_key(before, after, key, path)
    elif _are_rows(before, after):
        yield from _between_rows(before, after, path)
    elif isinstance(before, dict) or isinstance(after, dict) or _are_new_points(before, after):
        words = "is not given any more" if after is None else "is described now"
        if before is not None and after is not None:
            words = "is said in another way now"
        yield Difference(path, f"{place_name(path)} {words}")
    elif _are_points(before, after):
        moved = sum(one != other for one, other in zip_longest(before, after))
        most = max(len(before), len(after))
        yield Difference(path, f"{place_name(path)}: {moved} of {most} are elsewhere")
    else:
        yield Difference(
            path, f"{place_name(path)} is {_said(after, path)}, was {_said(before, path)}"
        )


def _at_key(
    before: dict[str, Any], after: dict[str, Any], key: str, path: Path
) -> Iterator[Difference]:
    there = (*path, key)
    is_thing = len(there) == 2 and path[0] in NAMED
    if is_thing and key not in before:
        yield Difference(there, f"{place_name(there)} is new")
    elif is_thing and key not in after:
        yield Difference(there, f"{place_name(there)} is gone")
    else:
        yield from _between(before.get(key), after.get(key), there)


def _between_rows(before: list[Any], after: list[Any], path: Path) -> Iterator[Difference]:
    """Each row is held against the one that it became; what is left over is new or gone."""
    for old, new in aligned(before, after):
        if new is None:
            there = (*path, old)
            yield Difference(there, f"{place_name(there)} is gone")
        elif old is None:
            there = (*path, new)
            yield Difference(there, f"{place_name(there)} is new")
        else:
            yield from _between(before[old], after[new], (*path, new))


def _are_rows(*values: Any) -> bool:
    return all(isinstance(value, list) for value in values) and any(
        isinstance(row, dict) for value in values for row in value
    )


def _are_points(before: Any, after: Any) -> bool:
    return all(isinstance(value, list) for value in (before, after)) and any(
        isinstance(point, tuple) for point in (*before, *after)
    )


def _are_new_points(before: Any, after: Any) -> bool:
    """Points where there were none said, or the other way round."""
    return None in (before, after) and _are_points(before or [], after or [])


def _said(value: Any, path: Path) -> str:
    if value is None:
        return "not given"
    if isinstance(value, list | tuple):
        return ", ".join(_said(each, path) for each in value) or "none"
    if isinstance(value, int | float) and not isinstance(value, bool):
        return quantity(value, unit_of(path))
    return found(value, unit_of(path))
