"""Each value of a file held against its own type and range."""

from typing import Any

from pydantic import ValidationError

from fxseq.sequence.model import Board, Sequence, counted_on
from fxseq.sequence.paths import Path, PathFault, part_of
from fxseq.sequence.schema import alternatives, known_keys
from fxseq.sequence.suggest import did_you_mean
from fxseq.sequence.wording import (
    NAME_RULE,
    allowed_at,
    found,
    remedy_for,
    series,
    unit_of,
    usable_name,
)

Values = dict[str, Any]


class Readable(Sequence):
    """Those parts of a sequence that are right in themselves, whatever is wrong with the others."""

    format: int | None = None  # type: ignore[assignment]
    title: str | None = None  # type: ignore[assignment]
    board: Board | None = None  # type: ignore[assignment]


def read_values(values: Values) -> tuple[Sequence | Readable, list[PathFault]]:
    """The sequence, or what can be read of it together with every fault of a single value."""
    values = counted_on(values)
    try:
        return Sequence.model_validate(values), []
    except ValidationError as error:
        faults = _faults(error, values)
    return Readable.model_validate(_without(values, faults)), faults


def _faults(error: ValidationError, values: Values) -> list[PathFault]:
    """pydantic says where the faults are; what is said about them comes from the schema."""
    faults: dict[Path, PathFault] = {}
    one_of_many = set()
    for detail in error.errors(include_url=False, include_context=False, include_input=False):
        path, value = _follow(detail["loc"], values)
        fault = _fault(detail["type"], detail["loc"][-1], path, value)
        faults.setdefault(fault.path, fault)
        if len(fault.path) < len(detail["loc"]) and detail["loc"][-1] != "[key]":
            one_of_many.add(fault.path)
    return [
        fault
        for path, fault in faults.items()
        if path not in one_of_many or not _is_said_deeper(path, faults)
    ]


def _is_said_deeper(path: Path, faults: dict[Path, PathFault]) -> bool:
    """Whether a fault inside the value says more: a value with alternatives is reported once for
    each of them.
    """
    return any(len(other) > len(path) and other[: len(path)] == path for other in faults)


def _follow(location: tuple[int | str, ...], values: Values) -> tuple[Path, Any]:
    """Path of an error location without the names of alternatives in it, and the value there."""
    path: Path = ()
    value: Any = values
    for step in location:
        if isinstance(value, dict):
            inside = value
        elif isinstance(value, list):
            inside = dict(enumerate(value))
        else:
            inside = {}
        if step in inside:
            path = (*path, step)
            value = inside[step]
    return path, value


def _fault(kind: str, last: int | str, path: Path, value: Any) -> PathFault:
    if kind == "missing" and isinstance(last, str):
        path = (*path, last)
        return PathFault(path, "is missing", allowed_at(path), "Add it.", missing=True)
    if kind == "extra_forbidden":
        return _unknown_key(path, value)
    if last == "[key]":
        return PathFault(path, "is not a usable name", NAME_RULE, usable_name(str(path[-1])))
    return PathFault(
        path, f"is {found(value, unit_of(path))}", allowed_at(path), remedy_for(path, value)
    )


def _unknown_key(path: Path, value: Any) -> PathFault:
    known = known_keys(path[:-1])
    key = str(path[-1])
    if len(path) > 1 and not isinstance(value, dict) and key in known_keys(()):
        return PathFault(
            path,
            "is not a key of this table",
            "",
            f"Move {key} to the top of the file, above the first [table].",
        )
    guess = did_you_mean(key, known)
    what = "is not a known table" if isinstance(value, dict) else "is not a known key"
    return PathFault(path, what, "" if guess else series(known), guess)


def _without(values: Values, faults: list[PathFault]) -> Values:
    """The values without each part that is at fault; of a part with an unknown key only that key
    goes.
    """
    for fault in faults:
        is_known = bool(alternatives(fault.path))
        values = _drop(values, part_of(fault.path) if is_known else fault.path)
    return values


def _drop(values: Any, path: Path) -> Any:
    """A copy without what is at the path."""
    head, *rest = path
    if isinstance(values, list) and rest:
        return [
            _drop(value, tuple(rest)) if index == head else value
            for index, value in enumerate(values)
        ]
    if not isinstance(values, dict) or head not in values:
        return values
    others = {key: value for key, value in values.items() if key != head}
    if rest:
        return {**others, head: _drop(values[head], tuple(rest))}
    return others
