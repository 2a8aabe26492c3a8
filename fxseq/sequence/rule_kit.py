"""What several rules need: names that must exist, keys that exclude or need each other."""

from collections.abc import Iterable, Iterator

from fxseq.sequence.model import Part
from fxseq.sequence.paths import PathFault
from fxseq.sequence.suggest import did_you_mean
from fxseq.sequence.wording import found, series

Faults = Iterator[PathFault]
Names = dict[str, list[str]]
"""Names that the file gives to its parts: {"clips": ["crack", "hum"], ...}; a kind is not there
if the file does not say its names.
"""


def refer(key: str, name: str | None, kind: str, names: Names) -> Faults:
    """The name at the key must be one of the names of the kind."""
    known = names.get(kind)
    if name is None or known is None or name in known:
        return
    guess = did_you_mean(name, known)
    remedy = guess or ("" if known else f"Add a table [{kind}.{name}].")
    yield PathFault(
        (key,),
        f"is {found(name)}, but no {kind.removesuffix('s')} has that name",
        "" if guess else series(known),
        remedy,
    )


def given(part: Part, key: str) -> bool:
    """Whether the key says something other than its default."""
    return bool(
        getattr(part, key) != type(part).model_fields[key].get_default(call_default_factory=True)
    )


def exclusive(part: Part, *keys: str) -> Faults:
    """At most one of the keys."""
    first, *others = [key for key in keys if given(part, key)] or [""]
    for key in others:
        yield PathFault(
            (key,),
            f"is given together with {first}",
            f"only one of {series(list(keys), 'and')}",
            f"Delete {key} or {first}.",
        )


def unused(part: Part, keys: Iterable[str], why: str, remedy: str) -> Faults:
    """None of the keys may be given, since nothing would come of them."""
    for key in keys:
        if given(part, key):
            yield PathFault((key,), f"is given, but {why}", "", remedy)


def needed(part: Part, keys: Iterable[str], why: str) -> Faults:
    """Every one of the keys must be given."""
    for key in keys:
        if not given(part, key):
            yield PathFault((key,), f"is missing: {why}", "", "Add it.", missing=True)
