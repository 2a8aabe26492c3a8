"""The bench as a maker starts it, on a copy of the demo, and its page in a browser."""
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

DEMO = Path(__file__).parents[2] / "demo_assets"
CHROMIUM = "/usr/bin/chromium"
SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update"]
# Keeps what the page says of itself: refused by its policy; reports of the audio thread, the nodes that send them, and what goes to the loudspeakers.
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
"""


@contextmanager
def bench_process(sequence: Path, port: int = 0) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The address of a bench that runs until the end of the block, and its process. What it keeps of unsaved edits lies beside the sequence."""
    command = [sys.executable, "-c", "from fxseq.cli import main; main()", "bench", str(sequence), "--no-browser", "--port", str(port)]
    home = {**os.environ, "XDG_STATE_HOME": str(sequence.parent / "state")}
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=home) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().strip(), process
        finally:
            process.terminate()


@contextmanager
def bench_of(sequence: Path) -> Iterator[str]:
    """The address of a bench that runs until the end of the block."""
    with bench_process(sequence) as (address, _):
        yield address


def copy_of_demo(folder: Path) -> Path:
    shutil.copytree(DEMO / "clips", folder / "clips")
    return Path(shutil.copy(DEMO / "squall_lantern.toml", folder))


def until(page: Page, condition: str, seconds: float = 20) -> None:
    """Wait until an expression is true in the page. (Playwright's own waiting evaluates a text in the page, which its policy forbids.)"""
    for _ in range(int(seconds * 50)):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"not within {seconds} s: {condition}")


@contextmanager
def page_at(browser: Browser, address: str, complaint: str | tuple[str, ...] = (), **options: Any) -> Iterator[Page]:
    """The page, open and with its player running. At the end of the block nothing must have been complained of but what holds one of `complaint`."""
    context = browser.new_context(**{"viewport": {"width": 1366, "height": 900}, **options})
    page = context.new_page()
    page.set_default_timeout(20_000)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.add_init_script(LISTEN)
    page.goto(address)
    until(page, "reports.some((report) => report.started)")
    yield page
    complaints += page.evaluate("blocked")
    context.close()
    allowed = (complaint,) if isinstance(complaint, str) else complaint
    unexpected = [text for text in complaints if not any(words in text for words in allowed)]
    assert unexpected == [], unexpected
