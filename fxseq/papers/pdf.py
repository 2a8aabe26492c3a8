"""A paper as a PDF: text that can be searched, drawings as vectors."""

import io
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from fxseq.papers.document import BOX, Block, Document, Drawing, Items, Section, Table, Text
from fxseq.plots import picture_bytes

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

Paper = Literal["a4", "letter"]
_MARGIN_PT = 48.0
_HEAD_PT = 22.0
_TEXT_PT = 9.0
_CELL_PT = 7.5
_PAD_PT = 4.0
_HEADING_PT = 40.0
_LOGO_PT = (130.0, 44.0)
_FONTS = {"paper": "DejaVuSans.ttf", "paper-bold": "DejaVuSans-Bold.ttf"}
_RULE = "#b8bec5"
_QUIET = "#5b626b"


def pdf_bytes(document: Document, paper: Paper = "a4") -> bytes:
    """The whole file; the same paper gives the same bytes."""
    _fonts()
    places = {
        id(block): _Placed(block)
        for section in document.sections
        for block in section.blocks
        if isinstance(block, Drawing)
    }
    pages, _ = _flowed(document, paper, 0, places)
    _, text = _flowed(document, paper, pages, places)
    return _with_drawings(text, places.values())


def _fonts() -> None:
    """DejaVu Sans, which comes with matplotlib and has every letter that a name may hold."""
    import matplotlib
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name, file in _FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))


def _flowed(document: Document, paper: Paper, pages: int, places: "Places") -> tuple[int, bytes]:
    """Number of pages, and the file without its drawings, for which there is room. pages: of a
    first go, which stands in the foot of each.
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
        _head_and_foot(canvas, document, size, pages)

    data = io.BytesIO()
    template = BaseDocTemplate(
        data, pagesize=size, invariant=1, title=f"{document.title}: {document.kind}",
        author=document.maker, lang="en",
    )  # fmt: skip
    template.addPageTemplates([PageTemplate(frames=[frame], onPage=dress)])
    template.build(_story(document, width_pt, height_pt, places))
    return template.page, data.getvalue()


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
    document: Document, width_pt: float, height_pt: float, places: "Places"
) -> "list[Flowable]":
    from reportlab.platypus import Paragraph, Spacer

    styles = _styles()
    story: list[Flowable] = [
        Paragraph(_marked(document.title), styles["title"]),
        Paragraph(_marked(document.kind), styles["text"]),
        Spacer(0, 10),
    ]
    for section in document.sections:
        story += _section(section, styles, (width_pt, height_pt), places)
    return story


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
            "heading", text, fontSize=12, leading=16, spaceBefore=10, keepWithNext=1, **bold
        ),
    }


def _section(
    section: Section, styles: dict[str, Any], room_pt: tuple[float, float], places: "Places"
) -> "list[Flowable]":
    from reportlab.platypus import PageBreak, Paragraph

    story: list[Flowable] = [PageBreak()] if section.on_new_page else []
    story.append(Paragraph(_marked(section.heading), styles["heading"]))
    for block in section.blocks:
        story += _block(block, styles, room_pt, places)
    return story


def _block(
    block: Block, styles: dict[str, Any], room_pt: tuple[float, float], places: "Places"
) -> "list[Flowable]":
    from reportlab.platypus import Paragraph, Spacer

    match block:
        case Text():
            return [Paragraph(_marked(block.words), styles["text"])]
        case Items():
            return _items(block, styles)
        case Table():
            return [_table(block, styles, room_pt[0]), Spacer(0, 8)]
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

    widths_pt = _widths_pt(table, width_pt)
    rows = [
        _cells(table.whole_head, styles["head"], widths_pt),
        *(_cells(row, styles["cell"], widths_pt) for row in table.whole_rows),
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


def _widths_pt(table: Table, width_pt: float) -> list[float]:
    """Each column as wide as its longest cell, where they have room together; else at least as wide
    as its longest word, and what is left goes to those that want most.
    """
    from reportlab.pdfbase.pdfmetrics import stringWidth

    columns = list(zip(table.whole_head, *table.whole_rows, strict=True))

    def widest(words: list[str]) -> float:
        pad_pt = 2 * _PAD_PT + 1
        return max(stringWidth(word, "paper-bold", _CELL_PT) for word in words) + pad_pt

    least = [
        widest([word for cell in column for word in cell.split() or [""]]) for column in columns
    ]
    wanted = [widest(list(column)) for column in columns]
    for place in range(len(columns) - len(table.room), len(columns)):
        wanted[place] = least[place] = max(least[place], 50.0)
    left = width_pt - sum(least)
    more = [most - few for few, most in zip(least, wanted, strict=True)]
    share = min(1.0, max(left, 0.0) / max(sum(more), 1e-9))
    return [few + share * extra for few, extra in zip(least, more, strict=True)]


class _Placed:
    """A drawing and where it goes. [pt]"""

    def __init__(self, drawing: Drawing) -> None:
        figure = drawing.draw()
        self.data = picture_bytes(figure, "pdf")
        self.width_pt, self.height_pt = (72 * float(side) for side in figure.get_size_inches())
        self.page = 0
        self.left_pt = self.low_pt = 0.0
        self.scale = 1.0


Places = Mapping[int, _Placed]
"""By the drawing's identity."""


def _room(placed: _Placed, room_pt: tuple[float, float]) -> "Flowable":
    """Room that is left for a drawing, as wide as the page or as high."""
    from reportlab.platypus import Flowable

    most = room_pt[1] - _HEADING_PT
    placed.scale = min(room_pt[0] / placed.width_pt, most / placed.height_pt)

    class Room(Flowable):  # type: ignore[misc]
        def wrap(self, *_: float) -> tuple[float, float]:
            return placed.width_pt * placed.scale, placed.height_pt * placed.scale

        def draw(self) -> None:
            placed.page = self.canv.getPageNumber() - 1
            placed.left_pt, placed.low_pt = self.canv.absolutePosition(0, 0)

    return Room()


def _with_drawings(text: bytes, places: Iterable[_Placed]) -> bytes:
    from pypdf import PdfReader, PdfWriter, Transformation

    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(text)))
    for placed in places:
        drawn = PdfReader(io.BytesIO(placed.data)).pages[0]
        moved = Transformation().scale(placed.scale).translate(placed.left_pt, placed.low_pt)
        writer.pages[placed.page].merge_transformed_page(drawn, moved)
    for page in writer.pages:
        page.compress_content_streams()
    data = io.BytesIO()
    writer.write(data)
    return data.getvalue()


def _marked(words: str) -> str:
    """As the layout engine takes it: signs of markup are letters."""
    from xml.sax.saxutils import escape

    return escape(words)
