"""What to buy for one prop and for several."""

import csv
import io
import math
from collections import defaultdict
from dataclasses import dataclass

from fxseq.papers.document import Table
from fxseq.power.netlist import Netlist

SPARE_SHARE = 0.1
_SPARED = ("resistor", "capacitor", "LED", "NPN", "N-channel", "fuse", "Schottky")
SPARES = (
    "Spares: of resistors, capacitors, LEDs, transistors, diodes and fuses a tenth more than"
    " needed, at least one; of what is dear, none. Common practice, no source."
)


@dataclass(frozen=True)
class PartsLine:
    """Parts that are alike. marks: of one prop. each: in one prop; buy: for all, with spares."""

    what: str
    marks: tuple[str, ...]
    each: int
    needed: int
    spare: int

    @property
    def buy(self) -> int:
        """With spares."""
        return self.needed + self.spare


def parts_list(netlist: Netlist, props: int) -> list[PartsLine]:
    """Alike parts together, and those with the same letters one after the other; else in the order
    in which they first come.
    """
    marks: dict[str, list[str]] = defaultdict(list)
    for part in netlist.parts:
        marks[part.what].append(part.mark)
    letters = list(dict.fromkeys(_letters(part.mark) for part in netlist.parts))
    lines = [_line(what, found, props) for what, found in marks.items()]
    return sorted(lines, key=lambda line: letters.index(_letters(line.marks[0])))


def _letters(mark: str) -> str:
    return mark.rstrip("0123456789")


def _line(what: str, marks: list[str], props: int) -> PartsLine:
    needed = len(marks) * props
    spare = math.ceil(SPARE_SHARE * needed) if what.startswith(_SPARED) else 0
    return PartsLine(what, tuple(marks), len(marks), needed, spare)


def parts_table(lines: list[PartsLine], props: int) -> Table:
    """As it is printed, with room for a price."""
    head = ("part", "marks", "in one prop", f"to buy for {props}", "of that spare")
    rows = tuple(
        (line.what, ranges(line.marks), str(line.each), str(line.buy), str(line.spare))
        for line in lines
    )
    return Table(head, rows, room=("price of one", "in all"))


def parts_csv(lines: list[PartsLine]) -> str:
    """For an order: comma separated, a head in its first line, prices to be filled in."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["part", "marks", "in_one_prop", "needed", "spare", "to_buy", "price_of_one"])
    for line in lines:
        marks = " ".join(line.marks)
        writer.writerow([line.what, marks, line.each, line.needed, line.spare, line.buy, ""])
    return text.getvalue()


def ranges(marks: tuple[str, ...]) -> str:
    """`R1 to R3, R7` of R1, R2, R3, R7."""
    spans: list[list[str]] = []
    for mark in marks:
        letters = _letters(mark)
        number = int(mark[len(letters) :])
        if spans and spans[-1][-1] == f"{letters}{number - 1}":
            spans[-1].append(mark)
        else:
            spans.append([mark])
    return ", ".join(
        (
            span[0]
            if len(span) == 1
            else ", ".join(span) if len(span) == 2 else f"{span[0]} to {span[-1]}"
        )
        for span in spans
    )
