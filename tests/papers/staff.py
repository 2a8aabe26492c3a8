"""The Weather Staff, an invented prop with some of everything, and two other ways to build it:
what no single file can have. Made once for all tests.
"""

import re
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path

from pypdf import PdfReader

from fxseq.papers import Document, papers_of, pdf_bytes
from fxseq.papers.document import Drawing, Section
from fxseq.power import Netlist, Schedule, netlist
from fxseq.runs import Performance, load_prop, make_prop, perform, wiring_of
from fxseq.sequence.reading import loads

HERE = Path(__file__).parent
STAFF = HERE / "weather_staff" / "weather_staff.toml"
DEMOS = HERE.parents[1] / "demo_assets"
OTHER_WAYS = {
    "pins": {
        'lights = "shift_registers"': 'lights = "pins"',
        'sound = "pwm"': 'sound = "i2s"',
        'changeover = "switch"': 'changeover = "diodes"',
        r"bulk_capacitor_.*\n": "",
        'presses = "tap .*"': 'presses = "tap thumb @0.1"',
        "voltage_v = 9\n": "voltage_v = 9.5\n",
        r"channels = 5\nleds = 5": "channels = 2\nleds = 2",
        r'"green"\nforward_voltage_v = 3.1\ncurrent_ma = 4\nswitch = "transistor"': (
            '"yellow"\nforward_voltage_v = 2.1\ncurrent_ma = 4\nswitch = "pin"'
        ),
    },
    "drivers": {
        'lights = "shift_registers"': 'lights = "drivers"',
        r"channels = \d\nleds = (\d+)\n": r"channels = \1\nleds = \1\n",
        r"current_ma = (4|15|20)\n": "current_ma = 10\n",
        r"leds_in_series = 1\nshared_resistor = true\n": "",
        "driver_reference_v = 25\n": "",
        r'switch = "(transistor|mosfet|driver)"\n((transistor|mosfet|beside) = .*\n)?': (
            'switch = "driver"\ndriver_reference_v = 49\n'
        ),
    },
}
"""By name: what the text of the file has instead, as patterns."""
PROPS = ("demo", "first_light", "staff", *OTHER_WAYS)


@cache
def run(name: str) -> Performance:
    if name in OTHER_WAYS:
        text = STAFF.read_text("utf-8")
        for old, new in OTHER_WAYS[name].items():
            text, count = re.subn(old, new, text)
            assert count, old
        prop = make_prop(STAFF, loads(text))
    else:
        path = {"demo": DEMOS / "squall_lantern.toml", "first_light": DEMOS / "first_light.toml"}
        prop = load_prop(path.get(name, STAFF))
    return perform(prop, prop.script()[0])


@cache
def plan(name: str) -> Schedule:
    return wiring_of(run(name).prop.sequence)


@cache
def joints(name: str) -> Netlist:
    return netlist(plan(name))


@cache
def papers(name: str) -> dict[str, Document]:
    return papers_of(run(name), 3)


@cache
def pdf(name: str, kind: str) -> bytes:
    """Without the drawings but for the staff: they take longest."""
    document = papers(name)[kind]
    if name != "staff":
        document = replace(document, sections=tuple(map(_undrawn, document.sections)))
    return pdf_bytes(document)


def _undrawn(section: Section) -> Section:
    blocks = tuple(block for block in section.blocks if not isinstance(block, Drawing))
    return replace(section, blocks=blocks)


@cache
def pages(name: str, kind: str) -> tuple[str, ...]:
    """What a reader of the PDF sees, page by page."""
    return tuple(page.extract_text() for page in PdfReader(BytesIO(pdf(name, kind))).pages)


def text_of(name: str, kind: str) -> str:
    """All of it, with single spaces."""
    return re.sub(r"\s+", " ", " ".join(pages(name, kind)))
