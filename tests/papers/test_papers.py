"""Papers of a prop: what they say is what the file and the checks say, and all of it."""

import re
from functools import cache
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from fxseq.checks import findings
from fxseq.papers import Document, html_text, papers_of, parts_csv, parts_list, pdf_bytes
from fxseq.papers.leads import leads
from fxseq.papers.parts_list import ranges
from fxseq.papers.presses import press_sentences
from fxseq.power import Netlist, Schedule, netlist
from fxseq.runs import Performance, load_prop, perform, wiring_of

pytestmark = pytest.mark.quick

DEMO = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"


@cache
def run() -> Performance:
    prop = load_prop(DEMO)
    return perform(prop, prop.script()[0])


@cache
def plan() -> Schedule:
    return wiring_of(run().prop.sequence)


@cache
def joints() -> Netlist:
    return netlist(plan())


@cache
def papers() -> dict[str, Document]:
    return papers_of(run(), 3)


@cache
def pdf(name: str) -> bytes:
    return pdf_bytes(papers()[name])


@cache
def text_of(name: str) -> str:
    """What a reader of the PDF sees, with single spaces."""
    pages = PdfReader(BytesIO(pdf(name))).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


class _Words(HTMLParser):
    """The text of a page without drawings, and its identifiers."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.ids: list[str] = []
        self.drawing = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.drawing += tag == "svg"
        self.ids += [value for key, value in attrs if key == "id" and value]

    def handle_endtag(self, tag: str) -> None:
        self.drawing -= tag == "svg"

    def handle_data(self, data: str) -> None:
        if not self.drawing:
            self.words.append(data)


def words_of(name: str) -> _Words:
    found = _Words()
    found.feed(html_text(papers()[name]))
    return found


def test_a_reader_of_the_pdf_alone_lists_every_joint() -> None:
    found: dict[str, set[tuple[str, str]]] = {}
    for page in PdfReader(BytesIO(pdf("build"))).pages:
        # A row is a box, the name of a net, and pins between semicolons.
        for row in page.extract_text().replace("\u00a0", " ").split("\u2610\n")[1:]:
            name, _, pins = row.partition("\n")
            ends = re.findall(r"([A-Z]{1,2}\d+)/(.+?)(?=;|\n|$)", pins)
            if ends:
                found.setdefault(name, set()).update(ends)
    assert found == {net.name: set(net.ends) for net in joints().nets}


def test_figures_are_those_of_the_wiring_list() -> None:
    for said in (text_of("build"), " ".join(" ".join(words_of("build").words).split())):
        for group in plan().groups:
            assert group.resistor and group.drive and group.circuit.fresh_ma
            assert " ".join(group.resistor.bands or ()) in said
            assert f"{group.circuit.fresh_ma.typical:.3g} (" in said
        for line in plan().lines:
            assert f"{line.fuse_a:g} A" in said and f"AWG {line.gauge}" in said
            assert f"{line.total_ma:.0f}" in said and f"{line.drop_mv_per_m:.0f} mV" in said
        for part in joints().parts:
            assert part.what in said
        assert f"at most {max(line.total_ma for line in plan().lines):.0f} mA" in said


def test_what_is_assumed_open_or_found_is_told() -> None:
    said = text_of("build")
    for row in (*plan().assumed, *plan().missing):
        assert row in said
    for finding in findings(run()):
        assert finding.figure in said


def test_the_venue_is_told_how_loud_it_is_and_that_it_flashes() -> None:
    said = text_of("venue")
    levels = run().heard.levels
    assert levels
    for level in levels.at.values():
        assert f"{level.distance_m:g} m" in said and f"{level.lafmax_db:.0f} dB" in said
    flashes = [finding for finding in findings(run()) if finding.check == "light.flash"]
    assert flashes
    for finding in flashes:
        assert f"{finding.subject[1:]}: {finding.figure}" in said
    assert "Post a notice" in said and "certif" in said


def test_the_user_is_told_what_presses_do_and_what_to_beware_of() -> None:
    said = text_of("user")
    for sentence in press_sentences(run().prop.sequence):
        assert sentence in said
    assert "wall adaptor of 5 V" in said and "4 × alkaline AA" in said
    assert "close to an ear" in said and "Do not charge them" in said


def test_every_page_says_which_state_of_the_prop_it_is_of() -> None:
    for name in papers():
        for page in PdfReader(BytesIO(pdf(name))).pages:
            assert papers()[name].mark in page.extract_text()
    assert re.fullmatch(r"revision 1 · table [0-9a-f]{8}", papers()["build"].mark)


def test_the_same_prop_gives_the_same_bytes() -> None:
    assert pdf("user") == pdf_bytes(papers_of(run(), 3)["user"])
    assert html_text(papers()["build"]) == html_text(papers_of(run(), 3)["build"])


def test_drawings_in_a_page_share_no_names() -> None:
    ids = words_of("build").ids
    assert ids and len(set(ids)) == len(ids)
    referred = re.findall(r'(?:href="#|url\(#)([^")]+)', html_text(papers()["build"]))
    assert set(referred) <= set(ids)


def test_pages_come_in_the_size_that_was_asked_for() -> None:
    box = PdfReader(BytesIO(pdf_bytes(papers()["venue"], "letter"))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == (612.0, 792.0)
    box = PdfReader(BytesIO(pdf("venue"))).pages[0].mediabox
    # ISO 216: 210 mm by 297 mm.
    assert float(box.width) / 72 * 25.4 == pytest.approx(210, abs=0.1)


def test_parts_are_counted_for_all_props_with_spares() -> None:
    lines = {line.what: line for line in parts_list(joints(), 30)}
    lamps = lines["LED amber, 5 mm"]
    assert (lamps.each, lamps.needed, lamps.spare, lamps.buy) == (24, 720, 72, 792)
    assert lines["speaker, 8 ohm"].buy == 30
    assert sum(line.each for line in lines.values()) == len(joints().parts)
    rows = parts_csv(list(lines.values())).splitlines()
    assert rows[0].startswith("part,") and len(rows) == len(lines) + 1


def test_marks_in_a_row_are_said_short() -> None:
    assert ranges(("R1", "R2", "R3", "R7", "R8", "C1")) == "R1 to R3, R7, R8, C1"


def test_wires_are_longer_than_the_way() -> None:
    lens, *_ = leads(run().prop.sequence)
    # A ring of 40 mm around (80, 128) in a picture whose middle is (80, 120): the nearest lamp is
    # 32 mm away, the farthest 48 mm.
    assert lens.shortest_mm == pytest.approx(60 + 1.2 * 32)
    assert lens.longest_mm == pytest.approx(60 + 1.2 * 48)
