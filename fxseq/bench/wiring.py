"""The wiring list for the page: the words and the drawings that `fxseq wiring` gives."""

import re
from typing import Any

from fxseq.bench.body import Refused
from fxseq.bench.desk import Version
from fxseq.bench.forms import keys
from fxseq.bench.labels import plain
from fxseq.checks import wiring_cautions, wiring_findings
from fxseq.power import circuits
from fxseq.runs import wiring_list as words
from fxseq.runs import wiring_of
from fxseq.sequence import Fault

THEMES = ("light", "dark")
DRAWINGS = ("wiring", "board")
_NOTHING_FED = "Say what feeds the prop, and its resistors and currents are worked out."
_HEAD = re.compile(rb"^.*?(?=<svg)|<metadata>.*?</metadata>|<style.*?</style>", re.DOTALL)
_STYLE = re.compile(rb"(?<= )style=(?=\")")

View = dict[str, Any]


def wiring_view(version: Version) -> View:
    """groups: pairs of a term and what it is, by name. tables: {title, head, rows}. lists: {title,
    items}. remark: why there are none.
    """
    sequence = version.prop.sequence
    view: View = {
        "revision": version.revision,
        "remark": "",
        "groups": {},
        "tables": [],
        "lists": [],
    }
    if not sequence.supplies:
        return {**view, "remark": _NOTHING_FED, "drawings": []}
    plan = wiring_of(sequence)
    tables = [words.string_table(plan), words.switch_table(plan)] if plan.groups else []
    found = [
        f"{finding.subject}: {finding.figure}"
        for finding in wiring_findings(sequence, circuits(sequence))
    ]
    lists = {
        "Found": found,
        "Also": [*words.beside(plan), *words.regulator(plan), *words.pulses(plan)],
        "Assumed, because it is not said": plan.assumed,
        "Not described, so not counted": plan.missing,
        "Cautions": wiring_cautions(sequence),
    }
    joints = [(words.PLUGS, words.plugs(plan)), (words.pins_title(plan), words.pins(plan))]
    return {
        **view,
        "groups": {group.name: words.group_rows(plan, group.name) for group in plan.groups},
        "tables": [
            *(vars(table) for table in (*tables, words.line_table(plan))),
            *({"title": title, "head": [], "rows": rows} for title, rows in joints if rows),
        ],
        "lists": [
            {"title": title, "items": [plain(item, keys()) for item in items]}
            for title, items in lists.items()
            if items
        ],
        "drawings": [name for name in DRAWINGS if name == "wiring" or sequence.board.part],
    }


def wiring_drawing(version: Version, name: str, theme: str) -> bytes:
    """An SVG to stand within the page, whose policy forbids styles in it: they stand as
    `data-style`. Raises Refused.
    """
    from fxseq.plots import board_figure, picture_bytes, wiring_figure

    sequence = version.prop.sequence
    if name not in wiring_view(version)["drawings"] or theme not in THEMES:
        raise Refused(404, Fault("wiring", "there is no such drawing", ", ".join(DRAWINGS)))
    if name == "board":
        figure = board_figure(sequence, theme)
    else:
        figure = wiring_figure(wiring_of(sequence), theme)
    return _STYLE.sub(b"data-style=", _HEAD.sub(b"", picture_bytes(figure, "svg")))
