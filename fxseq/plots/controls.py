"""Buttons and selectors on the sheet of the wiring: each a contact from pins of the board to
ground.
"""

import textwrap
from dataclasses import dataclass

from fxseq.plots.pen import CELL, CELLS_A_ROW, LINE, NAME_LETTERS, Pen
from fxseq.power import Schedule
from fxseq.sequence.model import Selector
from fxseq.sequence.pins import code_bits

_POSITION_LETTERS = 14
_CONTACTS = "Buttons and selectors close to ground; the board pulls their pins up."
_A_POSITION = " A selector has a pin for each position"
_CODED = "a coded one has a contact for each bit of its position, counted from 0, closed for 1"


@dataclass(frozen=True)
class _Control:
    """A button, which has no positions, or a selector, of which a coded one has a contact of its
    own for each bit. pin: what it hangs on, where that is a single one. drop: from one contact to
    the next; height: all that it takes on the sheet.
    """

    name: str
    pin: str
    positions: tuple[str, ...] = ()
    coded: bool = False

    @property
    def drop(self) -> float:
        return 0.35 + LINE * max((len(_position_lines(name)) for name in self.positions), default=0)

    @property
    def height(self) -> float:
        if not self.positions:
            return 3.2
        return 2.6 + self.drop * len(self.positions)


def _position_lines(name: str) -> list[str]:
    return textwrap.wrap(name, _POSITION_LETTERS)


def _control_rows(plan: Schedule) -> list[list[_Control]]:
    """Buttons and selectors, four in a row."""
    buttons = [
        _Control(name, f"input {number}")
        for number, (name, found) in enumerate(plan.sequence.inputs.items())
        if found.kind == "button"
    ]
    selectors = [
        _Control(name, f"selector {number}", _contacts(found), found.coded)
        for number, (name, found) in enumerate(plan.sequence.selectors.items())
    ]
    found = buttons + selectors
    return [found[at : at + CELLS_A_ROW] for at in range(0, len(found), CELLS_A_ROW)]


def _contacts(selector: Selector) -> tuple[str, ...]:
    if selector.coded:
        return tuple(f"bit {bit}" for bit in range(code_bits(selector)))
    return tuple(selector.positions)


def said_of_controls(plan: Schedule) -> list[str]:
    """What the head of the sheet says of them, if there are any."""
    if not _control_rows(plan):
        return []
    kinds = {selector.coded for selector in plan.sequence.selectors.values()}
    if not kinds:
        return [_CONTACTS]
    return [f"{_CONTACTS}{_A_POSITION}{f'; {_CODED}' * (True in kinds)}."]


def controls_height(plan: Schedule) -> float:
    """Room that they take, in units of the drawing."""
    return sum(max(control.height for control in row) for row in _control_rows(plan))


def draw_controls(pen: Pen, plan: Schedule, top: float) -> None:
    """Draw them from this height down."""
    for row in _control_rows(plan):
        for place, control in enumerate(row):
            left = place * CELL
            pen.text(
                (left + 0.2, top),
                "\n".join(textwrap.wrap(control.name, NAME_LETTERS)),
                weight="bold",
            )
            if control.coded:
                _draw_coded(pen, control, left, top - 1 - control.drop)
            elif control.positions:
                _draw_selector(pen, control, left, top - 1 - control.drop)
            else:
                _draw_button(pen, control, left, top - 1.5)
        top -= max(control.height for control in row)


def _draw_button(pen: Pen, control: _Control, left: float, height: float) -> None:
    pen.between(pen.symbols.Button, (left + 0.5, height), (left + 3.5, height))
    pen.dot((left + 0.5, height), hollow=True)
    pen.line((left + 3.5, height), (left + 3.5, height - 0.4))
    pen.ground((left + 3.5, height - 0.4))
    pen.text((left + 0.2, height - 0.2), control.pin)


def _draw_selector(pen: Pen, control: _Control, left: float, height: float) -> None:
    """One contact to ground that goes from position to position, drawn at the first."""
    heights = _heights(control, height)
    pole = (left + 4.6, (heights[0] + heights[-1]) / 2)
    for name, at in zip(control.positions, heights, strict=True):
        pen.line((left + 0.5, at), (left + 3.4, at))
        pen.text((left + 0.8, at + 0.05), "\n".join(_position_lines(name)), va="bottom")
    pen.line((left + 3.4, heights[0]), pole, (left + 5.4, pole[1]), (left + 5.4, pole[1] - 0.4))
    pen.ground((left + 5.4, pole[1] - 0.4))
    for place in (pole, *((left + x, at) for at in heights for x in (0.5, 3.4))):
        pen.dot(place, hollow=True)
    pen.text((left + 0.2, heights[-1] - 0.2), control.pin)


def _draw_coded(pen: Pen, control: _Control, left: float, height: float) -> None:
    """A contact to ground for each bit."""
    heights = _heights(control, height)
    for name, at in zip(control.positions, heights, strict=True):
        pen.between(pen.symbols.Switch, (left + 1.9, at), (left + 4.2, at))
        pen.line((left + 0.5, at), (left + 1.9, at))
        pen.line((left + 4.2, at), (left + 4.8, at))
        pen.text((left + 0.8, at + 0.05), name, va="bottom")
        pen.dot((left + 0.5, at), hollow=True)
    pen.line((left + 4.8, heights[0]), (left + 4.8, heights[-1] - 0.4))
    pen.ground((left + 4.8, heights[-1] - 0.4))
    pen.text((left + 0.2, heights[-1] - 0.2), control.pin)


def _heights(control: _Control, first: float) -> list[float]:
    return [first - place * control.drop for place in range(len(control.positions))]
