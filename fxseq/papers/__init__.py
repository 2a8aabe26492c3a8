"""What is handed over with a prop: papers to build it from, a card for its user, a sheet for the
venue, as PDF and as HTML.

May import every floor below. Values in, text or the bytes of a file out: `paper_files` makes them
all from a run of a prop. The libraries that set a PDF are imported
when one is set, not before.
"""

from fxseq.papers.all import PAPERS, mark_of, order_of, paper_files, papers_of
from fxseq.papers.document import Document
from fxseq.papers.html import html_text
from fxseq.papers.parts_list import PartsLine, parts_csv, parts_list
from fxseq.papers.pdf import Paper, pdf_bytes

__all__ = [
    "PAPERS", "Document", "Paper", "PartsLine", "html_text", "mark_of", "order_of",
    "paper_files", "papers_of", "parts_csv", "parts_list", "pdf_bytes",
]  # fmt: skip
