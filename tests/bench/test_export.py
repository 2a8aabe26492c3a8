"""The page as one file: everything inlined, nothing asked of any machine, and nothing of the
prop can end an element.
"""

import base64
import json
import re
from html.parser import HTMLParser

import pytest
from bench_client import Client

from fxseq.bench import Desk
from fxseq.bench.export import HELD, export_page
from fxseq.bench.files import PAGE, PLAYER
from fxseq.bench.numbers import key_numbers
from fxseq.runs import load_prop


class Elements(HTMLParser):
    """Scripts and styles with their attributes and text, as a browser parts them (the standard's
    raw text elements).
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None], str]] = []
        self.addresses: list[str] = []
        self._inside = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href")]
        self._inside = tag in ("script", "style")
        if self._inside:
            self.found.append((tag, dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        self._inside = False

    def handle_data(self, data: str) -> None:
        if self._inside:
            tag, attributes, text = self.found[-1]
            self.found[-1] = tag, attributes, text + data


@pytest.fixture(scope="module")
def page(unchanged_demo: Client) -> Elements:
    answer = unchanged_demo.get("/api/export")
    assert answer.headers["content-disposition"] == 'attachment; filename="squall_lantern.html"'
    return Elements(answer.body.decode())


def script(page: Elements, **wanted: str) -> str:
    [text] = [
        text
        for tag, attributes, text in page.found
        if tag == "script" and wanted.items() <= attributes.items()
    ]
    return text


def test_the_table_and_the_player_are_in_it(page: Elements, unchanged_demo: Client) -> None:
    held = json.loads(script(page, id=HELD))
    assert base64.b64decode(held["table"]) == load_prop(unchanged_demo.file).compiled.data
    assert base64.b64decode(held["wasm"]) == PLAYER.read_bytes()
    assert held["prop"]["title"] == "The Squall Lantern" and len(held["prop"]["lamps"]) == 42
    assert (
        held["listen"]["impulse"]
        and held["numbers"]["findings"]
        and held["prop"]["meters"]["sound"]
    )
    assert set(held["clips"]) == set(held["prop"]["names"]["clips"])


def test_how_fast_triggers_may_repeat_is_in_it(page: Elements, unchanged_demo: Client) -> None:
    numbers = json.loads(script(page, id=HELD))["numbers"]
    assert numbers == unchanged_demo.get("/api/numbers").json  # found for the page, and kept
    assert numbers["rates_known"] and {rate["trigger"] for rate in numbers["rates"]} == {
        "slow_signal",
        "storm_signal",
    }


def test_every_module_is_in_it_and_imports_only_what_is_in_it(page: Elements) -> None:
    imports = json.loads(script(page, type="importmap"))["imports"]
    assert set(imports) == {
        f"bench/{path.name}" for path in PAGE.glob("*.js") if path.name != "worklet.js"
    }
    asked = {
        found
        for text in imports.values()
        for found in re.findall(
            r"""(?:from|import)\s*\(?\s*['"]([^'"]+)['"]""",
            base64.b64decode(text.partition(",")[2]).decode(),
        )
    }
    assert asked and asked <= set(imports)
    assert re.fullmatch(r'import "bench/[\w.]+";', script(page, type="module"))


def test_it_asks_nothing_of_any_machine(page: Elements) -> None:
    assert all(address.startswith(("data:", "#")) for address in page.addresses)
    styles = "".join(text for tag, _, text in page.found if tag == "style")
    assert styles and not re.search(r"url\(|@import", styles)


def test_text_of_the_prop_cannot_end_its_element(small: Client) -> None:
    title = "</script><script>alert(1)</script><!-- \u2028"
    assert small.edit("title", value=title).status == 200
    page = Elements(small.get("/api/export").body.decode())
    assert json.loads(script(page, id=HELD))["prop"]["title"] == title
    assert not [text for tag, _, text in page.found if tag == "script" and text == "alert(1)"]


def test_the_same_prop_gives_the_same_file(small_file) -> None:
    first = Desk(small_file).now
    second = Desk(small_file).now
    assert export_page(first, key_numbers(first)) == export_page(second, key_numbers(second))
