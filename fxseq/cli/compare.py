"""fxseq compare."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import SEQUENCE, json_option, load_prop, result, table_text

if TYPE_CHECKING:
    from fxseq.runs import Performance, Prop
    from fxseq.sequence import Finding
    from fxseq.sequence.differences import Difference

Figures = dict[str, tuple[str, str]]
"""By name: before and after."""


@click.command()
@click.argument("before", type=SEQUENCE, metavar="OLD")
@click.argument("after", type=SEQUENCE, metavar="NEW")
@json_option
def command(before: Path, after: Path, as_json: bool) -> None:
    """Say what changed between two prop files, and what follows from it.

    First what was changed in sounds, light, timing and parts, then what that does: loudness,
    current, run time, size, and which findings have come or gone. Each file is played with its own
    press script.
    """
    from fxseq.sequence.differences import differences

    old, new = load_prop(before), load_prop(after)
    changed = differences(old.sequence, new.sequence)
    sounds = _other_sounds(old, new, changed)
    if not changed and not sounds:
        same = "" if old.compiled.data == new.compiled.data else " But their tables differ."
        text = f"{before} and {after} describe the same prop.{same}"
        result(text, {"changed": [], "sounds": [], "figures": {}, "findings": {}}, as_json)
        return
    runs = [_played(prop) for prop in (old, new)]
    figures = {name: each for name, each in _figures(*runs).items() if each[0] != each[1]}
    found = _findings(*runs)
    values = {
        "changed": [one.words for one in changed],
        "sounds": sounds,
        "figures": {name: dict(zip(("before", "after"), each)) for name, each in figures.items()},
        "findings": found,
    }
    result(_text(changed, sounds, figures, found), values, as_json)


def _played(prop: "Prop") -> "Performance":
    from fxseq.runs import perform

    return perform(prop, prop.script()[0])


def _other_sounds(old: "Prop", new: "Prop", changed: "list[Difference]") -> list[str]:
    """Clips of which nothing in the file has changed, but the sound has."""
    told = {one.path[1] for one in changed if one.path[0] == "clips"}
    tables = [
        dict(zip(prop.compiled.names.clips, prop.compiled.table.clips)) for prop in (old, new)
    ]
    return [
        f"clip '{name}': its sound file is another one now"
        for name, clip in tables[1].items()
        if name not in told and name in tables[0] and tables[0][name] != clip
    ]


def _figures(old: "Performance", new: "Performance") -> Figures:
    one, other = map(_numbers, (old, new))
    return {name: (one.get(name, "-"), other.get(name, "-")) for name in {**one, **other}}


def _numbers(run: "Performance") -> dict[str, str]:
    from fxseq.checks import run_time_text
    from fxseq.sequence.quantities import amount

    levels = run.heard.levels
    found = {
        f"loudest at {name}, {at.distance_m:g} m": f"{at.lafmax_db:.1f} dB(A)"
        for name, at in (levels.at.items() if levels else ())
    }
    if run.supply:
        found[f"mean current from '{run.supply[0]}'"] = amount(run.load.draw.mean_ma, "mA")
        found[f"highest current from '{run.supply[0]}'"] = amount(run.load.draw.peak_ma, "mA")
    if run.run_time:
        found["run time"] = run_time_text(run.run_time).partition(";")[0]
    found["size of the table"] = f"{len(run.prop.compiled.data)} bytes"
    found["longest delay of a sound"] = f"{max(run.delays_ms, default=0):.1f} ms"
    return found


def _findings(old: "Performance", new: "Performance") -> dict[str, list[str]]:
    """What has come, changed and gone."""
    from fxseq.checks import findings

    before, now = (
        {(found.check, found.subject): found for found in findings(run)} for run in (old, new)
    )
    return {
        "come": [_head(found) for key, found in now.items() if key not in before],
        "changed": [
            f"{_head(found)}; before: {before[key].figure}"
            for key, found in now.items()
            if key in before and before[key].figure != found.figure
        ],
        "gone": [_head(found) for key, found in before.items() if key not in now],
    }


def _head(finding: "Finding") -> str:
    return f"{finding.weight.name.lower()}: {finding.subject}: {finding.figure}"


def _text(
    changed: "list[Difference]",
    sounds: list[str],
    figures: Figures,
    found: dict[str, list[str]],
) -> str:
    parts = by_subject(changed, sounds)
    if figures:
        rows = [[name, *each] for name, each in figures.items()]
        parts.append(f"What follows\n\n{table_text(['', 'before', 'now'], rows)}")
    else:
        parts.append("What follows: nothing that can be measured in the press scripts.")
    headings = {"come": "New findings", "changed": "Findings that changed", "gone": "Findings gone"}
    parts += [_listed(headings[how], rows) for how, rows in found.items() if rows]
    return "\n\n".join(parts)


def by_subject(changed: "list[Difference]", sounds: list[str]) -> list[str]:
    """What changed, a paragraph for each subject."""
    from fxseq.sequence.differences import SUBJECTS

    parts = []
    for subject in SUBJECTS:
        rows = [one.words for one in changed if one.subject == subject]
        rows += sounds if subject == "Sounds" else []
        parts += [_listed(subject, rows)] * bool(rows)
    return parts


def _listed(heading: str, rows: list[str]) -> str:
    return "\n".join([heading, *(f"  - {row}" for row in rows)])
