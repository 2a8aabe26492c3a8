"""Papers of a prop: what they say is what the file and the checks say, and all of it."""

import re
from html.parser import HTMLParser
from io import BytesIO

import pytest
import staff
from pypdf import PdfReader
from staff import joints, pages, papers, pdf, plan, run, text_of

from fxseq.checks import findings, run_time_text
from fxseq.papers import html_text, papers_of, parts_csv, parts_list, pdf_bytes
from fxseq.papers.leads import leads
from fxseq.papers.parts_list import ranges
from fxseq.papers.presses import press_sentences
from fxseq.runs import wiring_list
from fxseq.sequence.pins import pin_uses
from fxseq.sequence.quantities import amount

pytestmark = pytest.mark.quick

BUILT = ("demo", "staff", *staff.OTHER_WAYS)


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
    found.feed(html_text(papers("demo")[name]))
    return found


@pytest.mark.parametrize("name", BUILT)
def test_a_reader_of_the_pdf_alone_lists_every_joint(name: str) -> None:
    found: dict[str, set[tuple[str, str]]] = {}
    for page in pages(name, "build"):
        # A row is a box, the name of a net, and pins between semicolons.
        for row in page.replace("\u00a0", " ").split("\u2610\n")[1:]:
            net, _, pins = row.partition("\n")
            ends = re.findall(r"([A-Z]{1,2}\d+)/(.+?)(?=;|\n|$)", pins)
            if ends:
                found.setdefault(net, set()).update(ends)
    assert found == {net.name: set(net.ends) for net in joints(name).nets}


@pytest.mark.parametrize("name", BUILT)
def test_figures_are_those_of_wiring_and_checks(name: str) -> None:
    """Of `fxseq wiring` each cell, of `fxseq check` each finding, of the netlist each part."""
    said = text_of(name, "build")
    tables = (wiring_list.string_table, wiring_list.switch_table, wiring_list.line_table)
    for table in tables:
        for group, *cells in table(plan(name)).rows:
            row = " ".join([group.replace("_", " "), *cells])
            assert row in said, row
    for text in (*wiring_list.beside(plan(name)), *wiring_list.regulator(plan(name))):
        assert f"{text}." in said
    for plug, pins in wiring_list.plugs(plan(name)):
        assert f"{plug.replace('_', ' ')} {pins}" in said
    for finding in findings(run(name)):
        assert f"{finding.subject}: {finding.figure}" in said
    for row in (*plan(name).assumed, *plan(name).missing, *joints(name).open_ends):
        assert row in said
    for line in parts_list(joints(name), 3):
        assert f"{line.what} {ranges(line.marks)} {line.each} {line.buy} {line.spare}" in said


@pytest.mark.parametrize("name", BUILT)
def test_what_is_measured_at_first_power_is_what_the_schedule_says(name: str) -> None:
    said = text_of(name, "build")
    for group in plan(name).groups:
        current = group.circuit.channel_ma if group.shares else group.circuit.fresh_ma
        assert current and f"{current.low:.3g} to {current.high:.3g} mA" in said
        assert joints(name).lamps[group.name][0] in said
    most = max(line.total_ma for line in plan(name).lines)
    assert f"at most {amount(most, 'mA')}" in said
    # The page calls what is left alone what the program measures of a prop that is left alone.
    idle_ma = run(name).left_alone(5.0).load.draw.mean_ma
    assert f"about {amount(idle_ma, 'mA', 2)}" in said


def test_without_a_supply_pins_and_presses_are_told_and_what_is_lacking() -> None:
    said = text_of("first_light", "build")
    assert "does not say what feeds the prop" in said and "[supplies.NAME]" in said
    for use in pin_uses(run("first_light").prop.sequence):
        assert f"{use.label} {use.leads_to}" in said
    assert "Each press of button: flash." in said
    for kind in ("user", "venue"):
        assert "does not say what feeds the prop" in text_of("first_light", kind)


def test_the_page_says_the_same_as_the_pdf() -> None:
    said = " ".join(" ".join(words_of("build").words).split())
    for table in (wiring_list.string_table(plan("demo")), wiring_list.line_table(plan("demo"))):
        for _, *cells in table.rows:
            assert all(cell in said for cell in cells)


def test_a_coded_switch_is_told_by_its_contacts() -> None:
    said = text_of("staff", "build")
    for position, contacts in (
        ("calm", "open open open"), ("rain", "closed open open"), ("drought", "closed open closed"),
    ):  # fmt: skip
        assert f"{position} {contacts}" in said


def test_each_section_stands_on_the_page_that_the_first_one_tells() -> None:
    for name in BUILT:
        first = pages(name, "build")[0].replace("\n", " ")
        headings = [section.heading for section in papers(name)["build"].sections[1:]]
        for heading in headings:
            told = re.search(rf"{heading} (\d+) ", first)
            assert told, heading
            assert heading in pages(name, "build")[int(told[1]) - 1]


def test_the_venue_is_told_how_loud_it_is_and_that_it_flashes() -> None:
    for name in ("demo", "staff"):
        said = text_of(name, "venue")
        levels = run(name).heard.levels
        assert levels
        for level in levels.at.values():
            assert f"{level.distance_m:g} m" in said and f"{level.lafmax_db:.0f} dB" in said
        flashes = [one for one in findings(run(name)) if one.check == "light.flash"]
        assert flashes
        for finding in flashes:
            assert f"{finding.subject[1:]}: {finding.figure}" in said
        assert "Post a notice" in said and "certif" in said
    assert "Decided by the maker: triggers.thunderstorm.despite" in said
    assert "Ninth Wave Workshop, workshop@ninth-wave.example" in said


def test_the_user_is_told_what_presses_do_and_what_to_beware_of() -> None:
    for name in ("demo", "staff"):
        said = text_of(name, "user")
        for sentence in press_sentences(run(name).prop.sequence):
            assert sentence in said
        lasts = run_time_text(run(name).run_time).partition(";")[0]
        assert f"it lasts {lasts}." in said and "close to an ear" in said
    assert "6 × NiMH AA" in said and "Charge them out of the prop" in said
    assert "A knob sets the volume" in said
    said = text_of("demo", "user")
    assert "wall adaptor of 5 V" in said and "4 × alkaline AA" in said
    assert "Do not charge them" in said


def test_each_way_of_pressing_is_a_sentence() -> None:
    assert press_sentences(run("staff").prop.sequence) == [
        "Each press of thumb with weather on calm or storm: bolt or far bolt at random; until wrath"
        " is used up, then spent.",
        "When thumb has been held for 0.6 s with weather on storm and house on show: bolt or far"
        " bolt in turn, 3 a second; the second one after 0.4 s; then faster, 5 a second after 4"
        " more; at least 2, even if it is let go sooner; at most 9 a press; until wrath is used up,"
        " then spent.",
        "While thumb is held with weather on rain: shower first, drops as long as it lasts, last"
        " drop at the end.",
        "A press of thumb with weather on frost, until the next press: cold first, thaw at the"
        " end.",
        "Each press of heel: strike.",
        "All the time: embers.",
        "When the cells are low: toll, every 10 s.",
    ]


def test_every_page_says_which_state_of_the_prop_it_is_of() -> None:
    for name in ("demo", "staff"):
        for kind, document in papers(name).items():
            assert all(document.mark in page for page in pages(name, kind))
    assert re.fullmatch(r"revision 1 · table [0-9a-f]{8}", papers("demo")["build"].mark)


def test_the_same_prop_gives_the_same_bytes() -> None:
    assert pdf("demo", "user") == pdf_bytes(papers_of(run("demo"), 3)["user"])
    assert html_text(papers("demo")["build"]) == html_text(papers_of(run("demo"), 3)["build"])


def test_drawings_in_a_page_share_no_names() -> None:
    ids = words_of("build").ids
    assert ids and len(set(ids)) == len(ids)
    referred = re.findall(r'(?:href="#|url\(#)([^")]+)', html_text(papers("demo")["build"]))
    assert set(referred) <= set(ids)


def test_all_that_is_written_lies_within_its_page() -> None:
    """Also in drawings, which may lie on their side."""
    for page in PdfReader(BytesIO(pdf("staff", "build"))).pages:
        places: list[tuple[float, float]] = []

        def note(text: str, cm: list[float], tm: list[float], *_: object) -> None:
            x, y = tm[4], tm[5]
            if text.strip():
                places.append((cm[0] * x + cm[2] * y + cm[4], cm[1] * x + cm[3] * y + cm[5]))

        page.extract_text(visitor_text=note)
        assert places
        for x, y in places:
            assert 40 < x < float(page.mediabox.width) - 40
            assert 40 < y < float(page.mediabox.height) - 40


def test_pages_come_in_the_size_that_was_asked_for() -> None:
    box = PdfReader(BytesIO(pdf_bytes(papers("demo")["venue"], "letter"))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == (612.0, 792.0)
    box = PdfReader(BytesIO(pdf("demo", "venue"))).pages[0].mediabox
    # ISO 216: 210 mm by 297 mm.
    assert float(box.width) / 72 * 25.4 == pytest.approx(210, abs=0.1)


def test_parts_are_counted_for_all_props_with_spares() -> None:
    lines = {line.what: line for line in parts_list(joints("demo"), 30)}
    lamps = lines["LED amber, 5 mm"]
    assert (lamps.each, lamps.needed, lamps.spare, lamps.buy) == (24, 720, 72, 792)
    assert next(line for what, line in lines.items() if "speaker" in what).buy == 30
    assert sum(line.each for line in lines.values()) == len(joints("demo").parts)
    rows = parts_csv(list(lines.values())).splitlines()
    assert rows[0].startswith("part,") and len(rows) == len(lines) + 1


def test_marks_in_a_row_are_said_short() -> None:
    assert ranges(("R1", "R2", "R3", "R7", "R8", "C1")) == "R1 to R3, R7, R8, C1"


def test_wires_are_longer_than_the_way() -> None:
    lens, *_ = leads(plan("demo"))
    # A ring of 40 mm around (80, 128) in a picture whose middle is (80, 120): the nearest lamp is
    # 32 mm away, the farthest 48 mm.
    assert lens.shortest_mm == pytest.approx(60 + 1.2 * 32)
    assert lens.longest_mm == pytest.approx(60 + 1.2 * 48)
    # 24 lamps of some 20 mA on the shared wire: 0.5 A is for AWG 24 by 700 circular mils an ampere.
    assert (lens.lamp_gauge, lens.common_gauge) == (28, 24)
