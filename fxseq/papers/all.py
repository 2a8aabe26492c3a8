"""All papers of a prop."""

from fxseq.checks import findings
from fxseq.link.messages import table_crc
from fxseq.papers.builder import builder_sections, unfed_sections
from fxseq.papers.document import Document
from fxseq.papers.html import html_text
from fxseq.papers.parts_list import PartsLine, parts_csv, parts_list
from fxseq.papers.pdf import Paper, pdf_bytes
from fxseq.papers.user import user_sections, venue_sections
from fxseq.power import netlist
from fxseq.runs import Performance, wiring_of

PAPERS = {"build": "build papers", "user": "for the user", "venue": "for venue and client"}
"""Name of a paper's file, and what it says of itself."""


def paper_files(run: Performance, props: int, paper: Paper, logo: bytes = b"") -> dict[str, bytes]:
    """All papers and the list for an order, as files by name: the same for the same prop. Without
    a supply there is no such list.
    """
    made = papers_of(run, props, logo)
    order = order_of(run, props)
    return {
        **{f"{name}.pdf": pdf_bytes(document, paper) for name, document in made.items()},
        **{f"{name}.html": html_text(document).encode() for name, document in made.items()},
        **({"parts.csv": parts_csv(order).encode()} if order else {}),
    }


def order_of(run: Performance, props: int) -> list[PartsLine]:
    """What to buy for so many; nothing is known without a supply."""
    if not run.prop.sequence.supplies:
        return []
    return parts_list(netlist(wiring_of(run.prop.sequence)), props)


def mark_of(run: Performance) -> str:
    """Revision and table, as they stand on every page."""
    mark = f"table {table_crc(run.prop.compiled.data):08x}"
    revision = run.prop.sequence.revision
    return f"revision {revision} · {mark}" if revision else mark


def papers_of(run: Performance, props: int = 1, logo: bytes = b"") -> dict[str, Document]:
    """Each of PAPERS. props: how many are to be built. logo: see Document. Without a supply they
    say what they lack.
    """
    sequence = run.prop.sequence
    plan = wiring_of(sequence) if sequence.supplies else None
    found = findings(run)
    sections = {
        "build": (
            builder_sections(run, plan, netlist(plan), found, props)
            if plan
            else unfed_sections(run, found)
        ),
        "user": user_sections(run, found),
        "venue": venue_sections(run, plan, found),
    }
    mark = mark_of(run)
    maker = sequence.maker.name if sequence.maker else ""
    return {
        name: Document(sequence.title, PAPERS[name], mark, maker, tuple(made), logo)
        for name, made in sections.items()
    }
