"""fxseq check."""

import textwrap
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.output import (
    finding_head,
    finding_lines,
    findings_text,
    json_option,
    load_prop,
    press_text,
    presses_option,
    result,
    sequence_argument,
    supply_option,
)

if TYPE_CHECKING:
    from fxseq.checks import Check
    from fxseq.runs import Performance
    from fxseq.sequence import Finding

_EXPLAIN = (
    "Explain one check, such as power.rail: its rule, your numbers put in, its source and how sure"
    " it is. 'all' lists every check."
)
_WIDTH = 120


@click.command()
@sequence_argument
@presses_option
@supply_option
@click.option("--explain", metavar="ID", help=_EXPLAIN)
@json_option
def command(
    sequence: Path, presses: str | None, supply: str | None, explain: str | None, as_json: bool
) -> int:
    """Check a prop and list what is wrong with it, most serious first.

    It reads the file and its clips, plays a press script and compares the result with limits. The
    exit status is 1 if a finding is a fault, except with --explain.
    """
    from fxseq.checks import findings
    from fxseq.runs import perform

    asked = None if explain is None else _asked(explain)
    prop = load_prop(sequence)
    script, _ = prop.script(press_text(presses, prop.sequence))
    performance = perform(prop, script, supply)
    found = findings(performance)
    if asked is not None:
        text = _list_text(asked, found) if explain == "all" else _check_text(asked[0], found)
        result(
            f"{text}\n\n{CAUTION}",
            {"explanations": [_check_values(one, found) for one in asked]},
            as_json,
        )
        return 0
    return _show(performance, found, as_json)


def _show(performance: "Performance", found: "list[Finding]", as_json: bool) -> int:
    from fxseq.checks import run_time_text
    from fxseq.sequence import Weight

    run_time = performance.run_time
    day = performance.prop.sequence.day
    lasts = []
    if run_time and day and performance.supply:
        lasts = [
            f"Run time of '{performance.supply[0]}': {run_time_text(run_time)}. The day has"
            f" {day.hours:g} h."
        ]

    counts = {
        weight.name.lower(): sum(finding.weight == weight for finding in found)
        for weight in reversed(Weight)
    }
    words = ", ".join(f"{count} {name}{'s' * (count != 1)}" for name, count in counts.items())
    decided = sum(bool(finding.decided) for finding in found)
    if decided:
        words += f"; {decided} of them decided"
    text = "\n\n".join(
        [*findings_text(found), f"{performance.prop.path}: {words}.", *lasts, CAUTION]
    )
    values = {
        "findings": [finding.as_dict() for finding in found],
        **counts,
        "run_time": run_time and run_time.as_dict(),
    }
    result(text, values, as_json)
    return int(counts["fault"] > 0)


def _asked(explain: str) -> "list[Check[Any]]":
    """The check of this id, or every one."""
    from fxseq.checks import CHECKS

    if explain == "all":
        return list(CHECKS.values())
    if explain not in CHECKS:
        raise click.UsageError(
            f"There is no check '{explain}'. {_meant(explain, [*CHECKS, 'all'])}"
        )
    return [CHECKS[explain]]


def _meant(explain: str, known: list[str]) -> str:
    """The guess goes by the word behind the dot: that before it is shared by many."""
    from fxseq.sequence import closest

    word = closest(explain.rpartition(".")[2], {name.rpartition(".")[2] for name in known})
    alike = [f"'{name}'" for name in known if name.rpartition(".")[2] == word]
    if alike:
        return f"Did you mean {' or '.join(alike)}?"
    return "'--explain all' lists them."


def _check_values(one: "Check[Any]", found: "list[Finding]") -> dict[str, Any]:
    return {
        **one.as_dict(),
        "findings": [finding.as_dict() for finding in found if finding.check == one.id],
    }


def _list_text(asked: "list[Check[Any]]", found: "list[Finding]") -> str:
    """A line for each check; how often it has something to say of this prop."""
    checks = [finding.check for finding in found]
    lines = []
    for one in asked:
        here = f"  ({checks.count(one.id)} here)" * (one.id in checks)
        lines.append(f"{one.id:<24}  {one.question}{here}")
    return "\n".join(lines)


def _check_text(one: "Check[Any]", found: "list[Finding]") -> str:
    """What holds for every prop, then each finding of this prop with its numbers put in."""
    text = [f"{one.id}: {one.question}", _wrapped("rule", one.rule)]
    if one.formula:
        text.append(f"    formula: {one.formula_with({})}")
    text += [
        f"        {symbol:<{_longest(one.symbols)}}  {meaning}"
        for symbol, meaning in one.symbols.items()
    ]
    kind = "" if one.kind in one.source else f" ({one.kind})"
    text += [_wrapped("source", f"{one.source}{kind}"), _wrapped("how sure", one.confidence)]
    here = [_worked_text(one, finding) for finding in found if finding.check == one.id]
    return "\n\n".join(
        ["\n".join(text), *(here or ["This check finds nothing in this prop, played like this."])]
    )


def _worked_text(one: "Check[Any]", finding: "Finding") -> str:
    values = dict(finding.inputs)
    lines = [finding_head(finding)]
    if one.formula:
        lines.append(f"    numbers put in: {one.formula_with(values)}")
    lines += [
        f"        {symbol:<{_longest(values)}}  = {value}" for symbol, value in values.items()
    ]
    more = {**finding_lines(finding), "data of the part": finding.part_source}
    return "\n".join([*lines, *(_wrapped(label, text) for label, text in more.items() if text)])


def _longest(words: Iterable[str]) -> int:
    return max(map(len, words), default=0)


def _wrapped(label: str, text: str) -> str:
    return textwrap.fill(
        f"{label}: {text}",
        _WIDTH,
        initial_indent="    ",
        subsequent_indent="        ",
        break_long_words=False,
        break_on_hyphens=False,
    )


CAUTION = (
    "These checks are a first help while you design. They certify nothing, and they do not replace"
    " local codes, the rules of the venue or licensed practice."
)
