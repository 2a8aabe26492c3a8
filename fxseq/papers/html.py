"""A paper as one HTML file that needs nothing else."""

import base64
import re
from functools import cache
from html import escape
from importlib import resources

from fxseq.papers.document import Block, Document, Drawing, Items, Section, Table, Text
from fxseq.plots import picture_bytes

_BEFORE_SVG = re.compile(r"\A.*?(?=<svg)", re.DOTALL)


def html_text(document: Document) -> str:
    """The whole file."""
    made = f" · {escape(document.maker)}" if document.maker else ""
    head = (
        f"<header>{_logo(document.logo)}<h1>{escape(document.title)}</h1>"
        f"<p>{escape(document.kind)}{made}<br>"
        f'<span class="small">{escape(document.mark)}</span></p></header>'
    )
    drawings = 0
    parts = []
    for section in document.sections:
        parts.append(_section(section, drawings))
        drawings += sum(isinstance(block, Drawing) for block in section.blocks)
    title = escape(f"{document.title}: {document.kind}")
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{_style()}</style></head>\n"
        f"<body>{head}\n<main>\n{''.join(parts)}</main></body></html>\n"
    )


def _logo(data: bytes) -> str:
    if not data:
        return ""
    kind = "png" if data.startswith(b"\x89PNG") else "jpeg"
    return f'<img alt="" src="data:image/{kind};base64,{base64.b64encode(data).decode()}">'


@cache
def _style() -> str:
    return resources.files("fxseq.papers").joinpath("paper.css").read_text("utf-8")


def _section(section: Section, drawings: int) -> str:
    kind = ' class="new"' if section.on_new_page else ""
    blocks = []
    for block in section.blocks:
        blocks.append(_block(block, drawings))
        drawings += isinstance(block, Drawing)
    inner = "\n".join(blocks)
    return f"<section{kind}><h2>{escape(section.heading)}</h2>\n{inner}\n</section>\n"


def _block(block: Block, number: int) -> str:
    match block:
        case Text():
            return f"<p>{escape(block.words)}</p>"
        case Items():
            return _items(block)
        case Table():
            return _table(block)
        case Drawing():
            return _drawing(block, number)


def _items(items: Items) -> str:
    tag = "ol" if items.marks == "numbers" else "ul"
    kind = ' class="boxes"' if items.marks == "boxes" else ""
    box = "\u2610 " if items.marks == "boxes" else ""
    rows = "".join(f"<li>{box}{escape(row)}</li>" for row in items.rows)
    return f"<{tag}{kind}>{rows}</{tag}>"


def _table(table: Table) -> str:
    room = len(table.room)
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in table.whole_head)
    rows = "".join(
        "<tr>"
        + "".join(
            f"<td{' class=room' if place >= len(row) - room else ''}>{escape(cell)}</td>"
            for place, cell in enumerate(row)
        )
        + "</tr>\n"
        for row in table.whole_rows
    )
    grid = f"<thead><tr>{head}</tr></thead><tbody>\n{rows}</tbody>"
    title = f"<h3>{escape(table.title)}</h3>" if table.title else ""
    return f'{title}<div class="scroll"><table>{grid}</table></div>'


def _drawing(drawing: Drawing, number: int) -> str:
    """Inline, with names of its own: several drawings in one file must not share any."""
    svg = _BEFORE_SVG.sub("", picture_bytes(drawing.draw(), "svg").decode())
    svg = re.sub(r'(?<=\bid=")', f"d{number}-", svg)
    svg = re.sub(r'(?<=href="#)|(?<=url\(#)', f"d{number}-", svg)
    shows = escape(drawing.shows, quote=True)
    return f'<div class="drawing" role="img" aria-label="{shows}">{svg}</div>'
