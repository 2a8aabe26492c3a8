"""The bench as a maker starts it, on a copy of the demo, and its page in a browser."""

import asyncio
import os
import secrets
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from aside import ASIDE
from playwright.sync_api import APIResponse, Browser, FloatRect, Page, Route
from processes import WITH_US
from starlette.types import ASGIApp

from fxseq.bench import Desk, numbers
from fxseq.bench.begin import Begin
from fxseq.bench.doorway import doorway_app
from fxseq.bench.running import ADDRESS, app_config, listen_on
from fxseq.bench.server import Bench, make_app
from fxseq.bench.unsaved import Unsaved
from fxseq.player import TraceKind

DEMO = Path(__file__).parents[2] / "demo_assets"
CHROMIUM = "/usr/bin/chromium-headless-shell"
"""Without what surrounds a page, which takes more processor time than the page."""
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    # Without a graphics card: imitating one takes half of a core for each open page.
    "--disable-software-rasterizer",
    "--disable-gpu-compositing",
    "--disable-accelerated-2d-canvas",
    # A microphone that beeps once a second.
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
]
PRESSED = f"traced({int(TraceKind.PRESS)})"
ONE_RATE_PER_S = (1.0,)
LONGEST_S = 120
"""How long anything is waited for: a limit costs nothing where the test passes, and machines
that run tests may be slow.
"""
GONE = ("ERR_", "WebSocket", "net::", "fetch", "network")
"""What a browser complains of where the bench has ended, of which the page tells in its own
words.
"""
# Keeps what the page says of itself: refused by its policy; reports of the audio thread, the nodes
# that send them, and what goes to the loudspeakers.
LISTEN = """
window.blocked = []; window.reports = []; window.nodes = [];
document.addEventListener('securitypolicyviolation', (event) => blocked.push(`${event.violatedDirective} ${event.blockedURI}`));
window.AudioWorkletNode = class extends AudioWorkletNode {
  constructor(...given) { super(...given); nodes.push(this); this.port.addEventListener('message', ({ data }) => reports.push(data)); }
};
window.outputs = [];
window.GainNode = class extends GainNode {
  connect(to, ...rest) { if (to === this.context.destination) outputs.push(this); return super.connect(to, ...rest); }
};
window.traced = (kind) => reports.flatMap((report) => report.trace || []).filter((event) => event.kind === kind);
window.playedSince = (frame) => (reports.findLast((report) => report.frame !== undefined)?.frame ?? 0) - frame;
"""
# Answers that come late, as they do on a busy laptop: hands are then ahead of the page.
LATE_MS = 100
LATE = f"""
const asked = window.fetch;
window.fetch = async (...request) => {{
  const answer = await asked(...request);
  await new Promise((done) => setTimeout(done, {LATE_MS}));
  return answer;
}};
"""
# Four pictures a second: without a graphics card, all that a screen shows would keep a core busy
# for each open page.
SELDOM = """
window.nextPicture = requestAnimationFrame.bind(window);
window.requestAnimationFrame = (draw) => setTimeout(() => nextPicture(draw), 250);
"""


@contextmanager
def bench_process(sequence: Path, port: int = 0) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The address of a bench that runs until the end of the block, and its process. What it
    keeps of unsaved edits lies beside the prop file.
    """
    command = [
        sys.executable,
        "-c",
        "from fxseq.cli import main; main()",
        "bench",
        str(sequence),
        "--no-browser",
        "--tcp",
        str(port),
    ]
    home = {**os.environ, "XDG_STATE_HOME": str(sequence.parent / "state")}
    with subprocess.Popen(
        [*WITH_US, *command], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=home
    ) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().strip(), process
        finally:
            process.terminate()


@contextmanager
def bench_of(sequence: Path, rates_per_s: tuple[float, ...] = ONE_RATE_PER_S) -> Iterator[str]:
    """The address of a bench that runs until the end of the block, in a thread of this process:
    what it needs is loaded once for all of them.

    rates_per_s: at which it tries triggers; a sweep of the demo takes seconds.
    """
    desk = Desk(sequence)
    bench = Bench(desk, Unsaved(desk, sequence.parent / "state"), ASIDE)
    with served(lambda host, token: make_app(bench, host, token), rates_per_s) as address:
        yield address


@contextmanager
def first_page_in(folder: Path) -> Iterator[str]:
    """The address of a bench on which no prop is open yet; new ones go to the folder."""

    def opened(file: Path) -> Bench:
        desk = Desk(file)
        return Bench(desk, Unsaved(desk, folder / "state"), ASIDE)

    begin = Begin(folder, folder / "state" / "recent.json")
    rates_per_s = numbers.RATES_PER_S
    with served(lambda *guarded: doorway_app(begin, opened, *guarded), rates_per_s) as address:
        yield address


@contextmanager
def served(
    app_of: Callable[[str, str], ASGIApp], rates_per_s: tuple[float, ...] = ONE_RATE_PER_S
) -> Iterator[str]:
    """The address of what is made for a host and a token."""
    with listen_on(0) as listener, pytest.MonkeyPatch.context() as patch:
        patch.setattr(numbers, "RATES_PER_S", rates_per_s)
        host = f"{ADDRESS}:{listener.getsockname()[1]}"
        token = secrets.token_urlsafe()
        server = uvicorn.Server(app_config(app_of(host, token)))
        thread = threading.Thread(target=lambda: asyncio.run(server.serve([listener])))
        thread.start()
        try:
            yield f"http://{host}/#t={token}"
        finally:
            server.should_exit = True
            thread.join()


def copy_of_demo(folder: Path) -> Path:
    shutil.copytree(DEMO / "clips", folder / "clips")
    return Path(shutil.copy(DEMO / "squall_lantern.toml", folder))


def until(page: Page, condition: str, seconds: float = LONGEST_S) -> None:
    """Wait in the page until an expression is true. (Playwright's own waiting evaluates a text
    in the page, which its policy forbids.)
    """
    holds = page.evaluate(f"""new Promise((done, fail) => {{
          const late_ms = performance.now() + {1000 * seconds};
          const look = () => {{
            try {{
              if ({condition}) done(true);
              else if (performance.now() > late_ms) done(false);
              else setTimeout(look, 20);
            }} catch (error) {{
              fail(error);
            }}
          }};
          look();
        }})""")
    if not holds:
        said = page.evaluate("document.querySelector('#status')?.textContent")
        raise AssertionError(f"not within {seconds} s: {condition}; the page says {said!r}")


def until_holds(
    page: Page, holds: Callable[[], object], what: str, seconds: float = LONGEST_S
) -> None:
    """Wait until it holds here, while the page goes on."""
    for _ in range(int(seconds * 50)):
        if holds():
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"not within {seconds} s: {what}")


class Held:
    """The next answer of this address, which the server gives at once and the page gets when it
    is let go.
    """

    def __init__(self, page: Page, address: str) -> None:
        self._page = page
        self._held: list[tuple[Route, APIResponse]] = []
        page.route(address, lambda route: self._held.append((route, route.fetch())), times=1)

    def let_go(self, **changed: object) -> None:
        until_holds(self._page, lambda: self._held, "it is asked for")
        route, answer = self._held[0]
        if changed:
            route.fulfill(response=answer, json={**answer.json(), **changed})
        else:
            route.fulfill(response=answer)

    def wait(self) -> None:
        until_holds(self._page, lambda: self._held, "it is asked for")


def box_of(page: Page, selector: str) -> FloatRect:
    """Where an element is. Answers of the server draw some anew, and one that is just being
    replaced is nowhere.
    """
    found: list[FloatRect | None] = []
    until_holds(
        page,
        lambda: found.append(page.locator(selector).bounding_box()) or found[-1],
        f"a place of {selector}",
    )
    assert found[-1]
    return found[-1]


def middle_of(page: Page, selector: str) -> tuple[float, float]:
    box = box_of(page, selector)
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def placing(page: Page, group: str) -> None:
    """Go to the mode in which lamps are placed, and to a group there."""
    page.click("button[value=place]")
    page.click(f"#group-{group}-act")
    until(page, f"document.querySelector('#group-{group}-act').ariaCurrent === 'true'")
    until(page, "document.querySelectorAll('#handles [data-at]').length > 0")


def until_highest(page: Page, ma: tuple[float, float], db: tuple[float, float]) -> None:
    """Wait until the page, with `in-words` open, tells of this highest current and level of the
    last seconds, each with what it may be off by.
    """
    # so many frames are longer than a flash
    until(page, f"{PRESSED}.length > 0 && playedSince({PRESSED}.at(-1).frame) > 600")
    until(
        page,
        f"""(([, now_ma, now_db]) => Math.abs(now_ma - {ma[0]}) <= {ma[1]} && Math.abs(now_db - {db[0]}) <= {db[1]})(
      document.querySelector('#highest').textContent.match(/([\\d.]+) mA, (\\d+) dB/) || [])""",
    )


def save(page: Page) -> None:
    """Have it saved, and wait for the answer: the file is written then, with all that was turned
    before.
    """
    with page.expect_response(lambda response: response.url.endswith("/api/save")) as answer:
        page.click("#save")
    assert answer.value.ok


@contextmanager
def page_at(
    browser: Browser,
    address: str,
    complaint: str | tuple[str, ...] = (),
    every_picture: bool = False,
    is_first: bool = False,
    is_late: bool = False,
    **options: Any,
) -> Iterator[Page]:
    """The page, open and with its player running, or the first page, on which none runs yet. At the end of the block nothing must have been
    complained of but what holds one of `complaint`. every_picture: drawn, and not only some.
    """
    context = browser.new_context(**{"viewport": {"width": 1366, "height": 900}, **options})
    context.set_default_timeout(1000 * LONGEST_S)
    page = context.new_page()
    complaints: list[str] = []
    page.on(
        "console",
        lambda message: (
            complaints.append(message.text) if message.type in ("error", "warning") else None
        ),
    )
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.add_init_script(LISTEN if every_picture else LISTEN + SELDOM)
    if is_late:
        page.add_init_script(LATE)
    page.goto(address)
    if not is_first:
        until(page, "reports.some((report) => report.started)")
        # A browser that is busy may leave the sound asleep.
        page.evaluate("document.querySelector('#wake').click()")
    try:
        yield page
        complaints += page.evaluate("blocked")
    finally:
        context.close()
    allowed = (complaint,) if isinstance(complaint, str) else complaint
    unexpected = [text for text in complaints if not any(words in text for words in allowed)]
    assert unexpected == [], unexpected
