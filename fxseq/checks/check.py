"""The one kind of check: a question, the rule that answers it, where its limit comes from, and its
words.

A check stands in one place: what is told of it as arguments of `check`, and below it the function
that judges. It is put to the things of its scope, and every command that judges anything puts the
same checks to them.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from types import ModuleType
from typing import Any, Generic, TypeVar

from fxseq.sequence import Finding, Weight
from fxseq.sequence import model as m
from fxseq.sequence.finding import Kind

Source = TypeVar("Source")
Thing = TypeVar("Thing")

PRACTICE = "common practice, no source"
"""Where a limit comes from that nobody has written down."""
PLAYED = "Exact for the presses that were played; play the busiest ones that you expect."
"""Confidence in what is counted in a run."""


@dataclass(frozen=True, eq=False)
class Scope(Generic[Source, Thing]):
    """What some checks are put to. of: those things of a prop or of a run, one after the other.
    played: whether it is of a run.
    """

    of: Callable[[Source], Iterable[Thing]]
    played: bool = False


@dataclass(frozen=True, eq=False)
class Check(Generic[Thing]):
    """What is asked of a thing, for somebody who is no engineer.

    id: stable, `area.what`, for example `clip.dc`. question: in one line. rule: when there is a
    finding, in plain words. source: where the limit comes from. kind: of that source. confidence:
    how far the figure and the limit can be trusted. formula: how the figure is got, symbols in
    braces; empty where nothing is calculated. symbols: meaning of every symbol, with its unit;
    every finding gives each its value. judge: its findings on a thing. measure: the figure that
    counts, where it is one number. limit: what that must not go beyond, or with `least` fall below,
    in the unit of the figure, by the description alone; None where that says nothing.
    """

    scope: Scope[Any, Thing]
    id: str
    question: str
    rule: str
    source: str
    kind: Kind
    confidence: str
    formula: str
    symbols: Mapping[str, str]
    judge: Callable[[Thing], Iterable[Finding]]
    measure: Callable[[Thing], float] | None = None
    limit: Callable[[m.Sequence, m.Supply | None], float | None] | None = None
    least: bool = False

    def finding(
        self,
        weight: Weight,
        subject: str,
        figure: str,
        limit: str = "",
        remedy: str = "",
        inputs: Mapping[str, str] | None = None,
        part_source: str = "",
    ) -> Finding:
        """A finding of this check. inputs: value of each symbol, with its unit. part_source:
        where the figures of the very part come from.
        """
        return Finding(
            self.id,
            weight,
            subject,
            figure,
            limit,
            self.source,
            remedy,
            tuple((inputs or {}).items()),
            part_source,
        )

    def formula_with(self, values: Mapping[str, str]) -> str:
        """The formula with values in place of symbols; a symbol without a value stays."""
        return self.formula.format_map(
            {symbol: values.get(symbol, symbol) for symbol in self.symbols}
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; the formula with its symbols."""
        return {
            "check": self.id,
            "question": self.question,
            "rule": self.rule,
            "source": self.source,
            "kind": self.kind,
            "confidence": self.confidence,
            "formula": self.formula_with({}),
            "symbols": dict(self.symbols),
        }


def check(
    scope: Scope[Any, Thing],
    id: str,
    question: str,
    rule: str,
    source: str,
    kind: Kind,
    confidence: str,
    formula: str = "",
    symbols: Mapping[str, str] | None = None,
    **numbers: Any,
) -> Callable[[Callable[[Thing], Iterable[Finding]]], Check[Thing]]:
    """Make the function below a check, with what is told of it. numbers: `measure`, `limit` and
    `least` of `Check`, where it has them.
    """

    def made(judge: Callable[[Thing], Iterable[Finding]]) -> Check[Thing]:
        return Check(
            scope,
            id,
            question,
            rule,
            source,
            kind,
            confidence,
            formula,
            symbols or {},
            judge,
            **numbers,
        )

    return made


def checks_of(*modules: ModuleType) -> tuple[Check[Any], ...]:
    """All checks of these modules, in the order in which they stand there."""
    return tuple(
        value
        for module in modules
        for value in vars(module).values()
        if isinstance(value, Check) and value.judge.__module__ == module.__name__
    )


def put(checks: Iterable[Check[Any]], source: object) -> Iterator[Finding]:
    """What checks find in a prop or a run. Those that stand together and share a scope are put
    to one thing after the other.
    """
    for scope, together in groupby(checks, key=lambda one: one.scope):
        alike = list(together)
        for thing in scope.of(source):
            for one in alike:
                yield from one.judge(thing)


def listed(names: Iterable[str]) -> str:
    """Names in a sentence."""
    return ", ".join(f"'{name}'" for name in names)
