"""A paper as a PDF: text that can be searched, drawings as vectors."""

import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from fxseq.papers.document import BOX, Block, Document, Drawing, Items, Section, Table, Text
from fxseq.plots import pages_bytes

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pypdf import Transformation
    from reportlab.platypus import Flowable

Paper = Literal["a4", "letter"]
Size = tuple[float, float]
"""Width and height. [pt]"""
_MARGIN_PT = 48.0
_HEAD_PT = 22.0
_TEXT_PT = 9.0
_CELL_PT = 7.5
_PAD_PT = 4.0
_PEN_PT = 50.0
_STEP_PT = 4.0
_HEADING_PT = 40.0
_TABLE_PT = 90.0
"""Room for a title, a head and some rows; a table does not begin where there is less."""
_TURNED = 1.15
"""A drawing lies on its side where it gets so much larger by that."""
_MOST = 0.75
"""Share of a page that is room enough for a drawing that could fill one."""
_SHORT = 12
"""Rows of a table that is not broken."""
_LONG = 4
"""Pages from which on a paper has a list of what is in it."""
_LOGO_PT = (130.0, 44.0)
_FONTS = {"paper": "DejaVuSans.ttf", "paper-bold": "DejaVuSans-Bold.ttf"}
_UNIT = re.compile(r"(?<=\d) (?=(?:[mk]?[VAW]|[kM]?ohm|mm2?|m|s|h|dB|ms|[un]F|k?Hz|in|ft)\b)")
_RULE = "#b8bec5"
_QUIET = "#5b626b"


def pdf_bytes(document: Document, paper: Paper = "a4") -> bytes:
    """The whole file; the same paper gives the same bytes."""
    _fonts()
    drawings = [
        block
        for section in document.sections
        for block in section.blocks
        if isinstance(block, Drawing)
    ]
    figures = [drawing.draw() for drawing in drawings]
    places = {
        id(drawing): _Placed(drawing, figure)
        for drawing, figure in zip(drawings, figures, strict=True)
    }
    first_go = _flowed(document, paper, _Pages(), places)
    if first_go.count >= _LONG:
        first_go = _flowed(document, paper, first_go, places)
    text = _flowed(document, paper, first_go, places).text
    return _with_drawings(text, pages_bytes(figures) if figures else b"", places.values())


def _fonts() -> None:
    """DejaVu Sans, which comes with matplotlib and has every letter that a name may hold."""
    import matplotlib
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name, file in _FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))


@dataclass
class _Pages:
    """A paper that has been laid out: how many pages it has, where each section begins, and the
    file without its drawings, for which there is room.
    """

    count: int = 0
    begins: dict[str, int] = field(default_factory=dict)
    text: bytes = b""


def _flowed(document: Document, paper: Paper, before: _Pages, places: "Places") -> _Pages:
    """before: of a go before this one. Its count stands in the foot of each page, and where its
    sections begin on the first one.
    """
    from reportlab.lib import pagesizes
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    size = {"a4": pagesizes.A4, "letter": pagesizes.letter}[paper]
    width_pt, height_pt = size[0] - 2 * _MARGIN_PT, size[1] - 2 * _MARGIN_PT - 2 * _HEAD_PT
    frame = Frame(
        _MARGIN_PT, _MARGIN_PT + _HEAD_PT, width_pt, height_pt,
        leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
    )  # fmt: skip

    def dress(canvas: Any, _: Any) -> None:
        _head_and_foot(canvas, document, size, before.count)

    data = io.BytesIO()
    template = BaseDocTemplate(
        data, pagesize=size, invariant=1, title=f"{document.title}: {document.kind}",
        author=document.maker, lang="en",
    )  # fmt: skip
    template.addPageTemplates([PageTemplate(frames=[frame], onPage=dress)])
    found = _Pages()
    template.build(_story(document, (width_pt, height_pt), places, before, found))
    found.count = template.page
    found.text = data.getvalue()
    return found


def _head_and_foot(canvas: Any, document: Document, size: tuple[float, float], pages: int) -> None:
    left, right = _MARGIN_PT, size[0] - _MARGIN_PT
    top, low = size[1] - _MARGIN_PT, _MARGIN_PT
    canvas.setFont("paper", _CELL_PT)
    canvas.setFillColor(_QUIET)
    canvas.drawString(left, top, f"{document.title} · {document.kind}")
    canvas.drawRightString(right, top, document.mark)
    canvas.drawString(left, low, document.maker)
    canvas.drawRightString(right, low, f"page {canvas.getPageNumber()} of {pages}")
    if document.logo and canvas.getPageNumber() == 1:
        _draw_logo(canvas, document.logo, right, top - 12)
    canvas.setStrokeColor(_RULE)
    canvas.line(left, top - 6, right, top - 6)
    canvas.line(left, low + 10, right, low + 10)


def _draw_logo(canvas: Any, data: bytes, right_pt: float, top_pt: float) -> None:
    """In the upper right corner, no larger than there is room beside the title."""
    from reportlab.lib.utils import ImageReader

    image = ImageReader(io.BytesIO(data))
    width, height = image.getSize()
    scale = min(_LOGO_PT[0] / width, _LOGO_PT[1] / height)
    size = width * scale, height * scale
    canvas.drawImage(image, right_pt - size[0], top_pt - size[1], *size, mask="auto")


def _story(
    document: Document, room_pt: tuple[float, float], places: "Places", before: _Pages, now: _Pages
) -> "list[Flowable]":
    from reportlab.platypus import Paragraph, Spacer

    styles = _styles()
    story: list[Flowable] = [
        Paragraph(_marked(document.title), styles["title"]),
        Paragraph(_marked(document.kind), styles["text"]),
        Spacer(0, 10),
    ]
    for at, section in enumerate(document.sections):
        story += _section(section, styles, room_pt, places, now)
        if at == 0 and before.count >= _LONG:
            story += _block(_contents(document, before), styles, room_pt, places)
    return story


def _contents(document: Document, before: _Pages) -> Table:
    rows = tuple(
        (section.heading, str(before.begins[section.heading])) for section in document.sections[1:]
    )
    return Table(("in these papers", "page"), rows)


def _styles() -> dict[str, Any]:
    from reportlab.lib.styles import ParagraphStyle

    text = ParagraphStyle(
        "text", fontName="paper", fontSize=_TEXT_PT, leading=1.4 * _TEXT_PT, spaceAfter=5
    )
    cell = ParagraphStyle("cell", fontName="paper", fontSize=_CELL_PT, leading=1.3 * _CELL_PT)
    bold = {"fontName": "paper-bold"}
    return {
        "text": text,
        "cell": cell,
        "head": ParagraphStyle("head", cell, **bold),
        "title": ParagraphStyle("title", text, fontSize=18, leading=22, **bold),
        "heading": ParagraphStyle(
            "heading", text, fontSize=12, leading=16, spaceBefore=10, **bold
        ),
        "title of a table": ParagraphStyle("title of a table", text, spaceAfter=2, **bold),
    }


def _section(
    section: Section,
    styles: dict[str, Any],
    room_pt: tuple[float, float],
    places: "Places",
    now: _Pages,
) -> "list[Flowable]":
    """Its heading never stands without what it is of, and what is but text is kept together."""
    from reportlab.platypus import CondPageBreak, KeepTogether, PageBreak, Paragraph

    heading = [
        _begin(section.heading, now), Paragraph(_marked(section.heading), styles["heading"])
    ]  # fmt: skip
    first, *others = [_block(block, styles, room_pt, places) for block in section.blocks]
    start: list[Flowable] = [PageBreak()] if section.on_new_page else []
    if isinstance(section.blocks[0], Table):
        start += [CondPageBreak(_HEADING_PT + _TABLE_PT), *heading, *first]
    elif any(isinstance(block, Table | Drawing) for block in section.blocks):
        start += [CondPageBreak(2 * _TABLE_PT), KeepTogether([*heading, *first])]
    else:
        return [*start, KeepTogether([*heading, *first, *chain.from_iterable(others)])]
    return [*start, *chain.from_iterable(others)]


def _begin(heading: str, now: _Pages) -> "Flowable":
    """Takes no room, and notes the page that it is on."""
    from reportlab.platypus import Flowable

    class Begin(Flowable):  # type: ignore[misc]
        def wrap(self, *_: float) -> tuple[float, float]:
            return 0.0, 0.0

        def draw(self) -> None:
            now.begins[heading] = self.canv.getPageNumber()

    return Begin()


def _block(
    block: Block, styles: dict[str, Any], room_pt: tuple[float, float], places: "Places"
) -> "list[Flowable]":
    from reportlab.platypus import CondPageBreak, KeepTogether, Paragraph, Spacer

    match block:
        case Text():
            return [Paragraph(_marked(block.words), styles["text"])]
        case Items():
            return _items(block, styles)
        case Table():
            title = [Paragraph(_marked(block.title), styles["title of a table"])]
            whole = [*(title if block.title else []), _table(block, styles, room_pt[0])]
            if len(block.rows) <= _SHORT:
                return [KeepTogether(whole), Spacer(0, 8)]
            return [CondPageBreak(_TABLE_PT), *whole, Spacer(0, 8)]
        case Drawing():
            return [_room(places[id(block)], room_pt), Spacer(0, 8)]


def _items(items: Items, styles: dict[str, Any]) -> "list[Flowable]":
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    style = ParagraphStyle(
        "item", styles["text"], leftIndent=16, spaceAfter=2, bulletFontName="paper"
    )
    marks = {"dots": lambda _: "•", "numbers": lambda at: f"{at}.", "boxes": lambda _: BOX}
    return [
        Paragraph(_marked(row), style, bulletText=marks[items.marks](at))
        for at, row in enumerate(items.rows, 1)
    ]


def _table(table: Table, styles: dict[str, Any], width_pt: float) -> "Flowable":
    from reportlab.platypus import Table as Grid
    from reportlab.platypus import TableStyle

    grid = [tuple(map(_unbroken, row)) for row in (table.whole_head, *table.whole_rows)]
    widths_pt = _widths_pt(grid, len(table.room), width_pt)
    head, *others = grid
    rows = [
        _cells(head, styles["head"], widths_pt),
        *(_cells(row, styles["cell"], widths_pt) for row in others),
    ]
    lines = [
        ("FONT", (0, 0), (-1, 0), "paper-bold", _CELL_PT, styles["cell"].leading),
        ("FONT", (0, 1), (-1, -1), "paper", _CELL_PT, styles["cell"].leading),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, 0), 1.0, "#1a1d21"),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, _RULE),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 2 * _PAD_PT),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    return Grid(rows, widths_pt, repeatRows=1, hAlign="LEFT", style=TableStyle(lines))


def _cells(row: tuple[str, ...], style: Any, widths_pt: list[float]) -> "list[Flowable | str]":
    """What has room in one line needs no paragraph, which takes long to lay out."""
    from reportlab.pdfbase.pdfmetrics import stringWidth
    from reportlab.platypus import Paragraph

    return [
        (
            cell
            if stringWidth(cell, style.fontName, _CELL_PT) <= width_pt - 2 * _PAD_PT
            else Paragraph(_marked(cell), style)
        )
        for cell, width_pt in zip(row, widths_pt, strict=True)
    ]


def _widths_pt(grid: list[tuple[str, ...]], room: int, width_pt: float) -> list[float]:
    """Each column at least as wide as its longest word. What is left goes, a little at a time, to
    the column that makes the most rows high.
    """
    from reportlab.pdfbase.pdfmetrics import stringWidth

    def letters_pt(words: str) -> float:
        return float(stringWidth(words, "paper-bold", _CELL_PT))

    pad_pt = 2 * _PAD_PT + 1
    columns = list(zip(*grid, strict=True))
    widths = [
        pad_pt + max(letters_pt(word) for cell in column for word in cell.split(" "))
        for column in columns
    ]
    for place in range(len(columns) - room, len(columns)):
        widths[place] = max(widths[place], _PEN_PT)
    long = np.array([[letters_pt(cell) for cell in column] for column in columns])
    while sum(widths) + _STEP_PT < width_pt:
        lines = long / (np.array(widths) - pad_pt)[:, np.newaxis]
        highest = lines.argmax(axis=0)
        too_high = np.where(lines.max(axis=0) > 1, lines.max(axis=0), 0)
        if not too_high.any():
            break
        widths[int(np.bincount(highest, too_high).argmax())] += _STEP_PT
    return widths


class _Placed:
    """A drawing and where it goes. [pt]"""

    def __init__(self, drawing: Drawing, figure: "Figure") -> None:
        self.may_turn = drawing.may_turn
        self.width_pt, self.height_pt = (72 * float(side) for side in figure.get_size_inches())
        self.page = 0
        self.left_pt = self.low_pt = 0.0
        self.scale = 1.0
        self.is_turned = False

    def fit(self, width_pt: float, height_pt: float) -> "Size":
        """As large as there is room, on its side where that is much larger; what it takes."""
        upright = min(width_pt / self.width_pt, height_pt / self.height_pt)
        turned = min(width_pt / self.height_pt, height_pt / self.width_pt)
        self.is_turned = self.may_turn and turned > _TURNED * upright
        self.scale = turned if self.is_turned else upright
        size = self.width_pt * self.scale, self.height_pt * self.scale
        return (size[1], size[0]) if self.is_turned else size

    def moved(self) -> "Transformation":
        """From where it was drawn to its place. On its side, its top is at the left."""
        from pypdf import Transformation

        there = Transformation().scale(self.scale)
        left_pt = self.left_pt
        if self.is_turned:
            there = there.rotate(90)
            left_pt += self.height_pt * self.scale
        return there.translate(left_pt, self.low_pt)


Places = Mapping[int, _Placed]
"""By the drawing's identity."""


def _room(placed: _Placed, room_pt: tuple[float, float]) -> "Flowable":
    """Room for a drawing: what is left of a page, where that is most of it, else a whole one."""
    from reportlab.platypus import Flowable

    whole_pt = room_pt[1] - _HEADING_PT

    class Room(Flowable):  # type: ignore[misc]
        def wrap(self, _: float, left_pt: float) -> "Size":
            is_most = left_pt >= _MOST * whole_pt
            return placed.fit(room_pt[0], min(left_pt, whole_pt) if is_most else whole_pt)

        def draw(self) -> None:
            placed.page = self.canv.getPageNumber() - 1
            placed.left_pt, placed.low_pt = self.canv.absolutePosition(0, 0)

    return Room()


def _with_drawings(text: bytes, drawings: bytes, places: Iterable[_Placed]) -> bytes:
    """drawings: a PDF with a page for each place."""
    from pypdf import PdfReader, PdfWriter

    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(text)))
    drawn_pages = PdfReader(io.BytesIO(drawings)).pages if drawings else []
    for placed, drawn in zip(places, drawn_pages, strict=True):
        writer.pages[placed.page].merge_transformed_page(drawn, placed.moved())
    for page in writer.pages:
        page.compress_content_streams()
    data = io.BytesIO()
    writer.write(data)
    return data.getvalue()


def _marked(words: str) -> str:
    """As the layout engine takes it: signs of markup are letters."""
    from xml.sax.saxutils import escape

    return escape(_unbroken(words))


def _unbroken(words: str) -> str:
    """With units that stay with their numbers."""
    return _UNIT.sub("\u00a0", words)
