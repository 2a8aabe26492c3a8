"""What other pages and other names try with the bench, in a browser that would let them."""

import threading
import urllib.request
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from bench_page import CHROMIUM, SWITCHES, page_at
from playwright.sync_api import Browser, Page, sync_playwright


class Stranger(BaseHTTPRequestHandler):
    """Another server of this machine, with an empty page of its own; keeps what browsers send
    it.
    """

    heard: list[str] = []

    def do_GET(self) -> None:
        self.heard.append(f"{self.path} {self.headers}")
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>stranger</title>")

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def stranger() -> Iterator[str]:
    """The address of the other server."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), Stranger)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture
def their_page(browser: Browser, stranger: str) -> Iterator[Page]:
    page = browser.new_page()
    page.goto(stranger)
    yield page
    page.close()


def test_a_name_that_is_pointed_at_this_machine_is_refused(demo_address: str) -> None:
    """DNS rebinding, simulated by the browser's own resolver. In a thread: one thread holds one
    Playwright.
    """
    port = urlsplit(demo_address).port
    statuses = []

    def rebound() -> None:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=CHROMIUM,
                args=[*SWITCHES, "--host-resolver-rules=MAP evil.test 127.0.0.1"],
            )
            page = browser.new_page()
            statuses.append(page.goto(f"http://evil.test:{port}/").status)
            statuses.append(
                page.evaluate(
                    "fetch('/api/prop', {headers: {Authorization: 'Bearer x'}}).then((answer) =>"
                    " answer.status)"
                )
            )
            browser.close()

    thread = threading.Thread(target=rebound)
    thread.start()
    thread.join()
    assert statuses == [421, 421]


WAYS = [
    "fetch(`${bench}/api/prop`).then(() => 'read')",
    (
        "fetch(`${bench}/api/prop`, {headers: {Authorization: `Bearer ${token}`}}).then(() =>"
        " 'read')"
    ),
    (
        "fetch(`${bench}/api/save`, {method: 'POST', body: '{}', headers: {'Content-Type':"
        " 'application/json'}}).then(() => 'done')"
    ),
    "fetch(`${bench}/page/main.js`, {mode: 'no-cors'}).then(() => 'read')",
    (
        "new Promise((yes, no) => { const s = new WebSocket(`${bench.replace('http',"
        " 'ws')}/api/changes`, ['bench.v1', `bearer.${token}`]); s.onopen = () => yes('open');"
        " s.onerror = () => no(Error('refused')); })"
    ),
    (
        "new Promise((yes, no) => { const s = document.createElement('script'); s.type ="
        " 'module'; s.src = `${bench}/page/api.js`; s.onload = () => yes('ran'); s.onerror = ()"
        " => no(Error('refused')); document.head.append(s); })"
    ),
    (
        "new Promise((yes, no) => { const i = new Image(); i.src = `${bench}/page/player.wasm`;"
        " i.onload = () => yes('seen'); i.onerror = () => no(Error('refused')); })"
    ),
]
"""How a page may ask for what is another's."""


def test_a_page_of_another_port_gets_nothing(their_page: Page, demo_address: str) -> None:
    """Even with the token, which it could not know."""
    bench, token = demo_address.split("/#t=")
    for how in WAYS:
        got = their_page.evaluate(
            f"([bench, token]) => ({how}).catch((error) => 'refused')", [bench, token]
        )
        assert got == "refused", how


def test_the_token_stays_with_the_page(browser: Browser, demo_address: str, stranger: str) -> None:
    """Not in the address for long, in no cookie, and in nothing that another server is sent."""
    Stranger.heard.clear()
    with page_at(browser, demo_address) as page:
        token = demo_address.split("/#t=")[1]
        assert token not in page.url and page.context.cookies() == []
        assert page.evaluate("document.cookie") == ""
        with page.expect_navigation():
            page.evaluate("(to) => { setTimeout(() => { location.href = to; }); }", stranger)
        assert Stranger.heard and not [
            text
            for text in Stranger.heard
            if token in text or "Cookie" in text or demo_address.split("/#")[0] in text
        ]


def test_the_exported_page_runs_from_disk_without_a_network(
    browser: Browser, demo_address: str, tmp_path: Path
) -> None:
    bench, token = demo_address.split("/#t=")
    file = tmp_path / "lantern.html"
    with urllib.request.urlopen(
        urllib.request.Request(f"{bench}/api/export", headers={"Authorization": f"Bearer {token}"})
    ) as answer:
        file.write_bytes(answer.read())
    with page_at(browser, file.as_uri(), offline=True) as page:
        assert page.evaluate("document.getElementById('title').textContent") == "The Squall Lantern"
