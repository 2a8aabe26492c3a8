"""All papers of a prop."""

from fxseq.checks import findings
from fxseq.link.messages import table_crc
from fxseq.papers.builder import builder_sections
from fxseq.papers.document import Document
from fxseq.papers.user import user_sections, venue_sections
from fxseq.power import netlist
from fxseq.runs import Performance, wiring_of

PAPERS = {"build": "build papers", "user": "for the user", "venue": "for venue and client"}
"""Name of a paper's file, and what it says of itself."""


def papers_of(run: Performance, props: int = 1) -> dict[str, Document]:
    """Each of PAPERS. props: how many are to be built. Raises ValueError without a supply."""
    sequence = run.prop.sequence
    plan = wiring_of(sequence)
    joints = netlist(plan)
    found = findings(run)
    sections = {
        "build": builder_sections(run, plan, joints, found, props),
        "user": user_sections(run, plan, found),
        "venue": venue_sections(run, plan, found),
    }
    mark = f"table {table_crc(run.prop.compiled.data):08x}"
    if sequence.revision:
        mark = f"revision {sequence.revision} · {mark}"
    maker = sequence.maker.name if sequence.maker else ""
    return {
        name: Document(sequence.title, PAPERS[name], mark, maker, tuple(made))
        for name, made in sections.items()
    }
