"""What the page of the bench costs and how soon it answers, in Debian's Chromium without a graphics
card.

    .venv/bin/python tests/speed/page.py

Processor time is that of all processes of the browser over the pictures drawn meanwhile, sound
included; it depends on the machine.
"""

import os
import statistics
import sys
import tempfile
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "browser"), str(TESTS)]

from bench_page import CHROMIUM, SWITCHES, bench_process, copy_of_demo, page_at, until
from playwright.sync_api import Page, sync_playwright

LAMPS = 60
SECONDS = 8
TURNS = 20
_DRAW = """async ({ lamps, seconds }) => {
  const { Picture } = await import('/page/picture.js');
  const place = document.createElement('div');
  place.style.cssText = 'position: fixed; inset: 0; width: 1280px; height: 720px; z-index: 9';
  const canvas = document.createElement('canvas');
  place.append(canvas, document.createElement('span'));
  document.body.append(place);
  const picture = new Picture(canvas, () => {});
  const at = (number) => ({
    group: 'all', channel: number, rgb: [1, 0.4, 0], size_mm: 5, x_mm: 20 + 24 * (number % 10), y_mm: 15 + 22 * Math.floor(number / 10),
  });
  picture.show({ lamps: Array.from({ length: lamps }, (_, number) => at(number)), picture: { width_mm: 256, height_mm: 144, outline_mm: [] } });
  let drawn = 0, script_ms = 0;
  const end_ms = performance.now() + 1000 * seconds;
  await new Promise((done) => requestAnimationFrame(function draw(now_ms) {
    const from_ms = performance.now();
    picture.light(Float32Array.from({ length: lamps }, (_, number) => 0.3 + 0.04 * Math.sin(now_ms / 90 + number)), now_ms / 1000);
    script_ms += performance.now() - from_ms;
    drawn += 1;
    if (from_ms < end_ms) requestAnimationFrame(draw); else done();
  }));
  place.remove();
  return [drawn, script_ms];
}"""
# What is worked out once a prop is open has been.
_IS_AT_REST = (
    "[...document.querySelectorAll('[aria-busy]')].every(({ ariaBusy }) => ariaBusy === 'false')"
)
# A report is kept before the page hears of it and draws the prop anew.
_TURN = """() => new Promise((done) => {
  const slider = document.querySelector('#pace-at-lever-slider');
  const from_ms = performance.now();
  const since_ms = () => performance.now() - from_ms;
  reports.push = (...kept) => {
    if (kept.some(({ started }) => started)) {
      delete reports.push;
      const played_ms = since_ms();
      requestAnimationFrame(() => setTimeout(() => done([played_ms, since_ms()])));
    }
    return Array.prototype.push.apply(reports, kept);
  };
  slider.value = Number(slider.value) + 60;
  slider.dispatchEvent(new Event('input'));
})"""


def processor_s(root: int) -> float:
    """Of a process and all below it."""
    total = 0.0
    parents = {root}
    for entry in sorted(int(name) for name in os.listdir("/proc") if name.isdigit()):
        try:
            fields = Path(f"/proc/{entry}/stat").read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if entry in parents or int(fields[1]) in parents:
            parents.add(entry)
            total += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return total


def browser_pid() -> int:
    """The first browser below this process."""
    below = {os.getpid()}
    for entry in sorted(int(name) for name in os.listdir("/proc") if name.isdigit()):
        try:
            fields = Path(f"/proc/{entry}/stat").read_text().rsplit(")", 1)
            name = Path(f"/proc/{entry}/comm").read_text().strip()
        except OSError:
            continue
        if int(fields[1].split()[1]) in below:
            below.add(entry)
            if name.startswith("chrom"):
                return entry
    raise SystemExit("The browser's process is not found.")


def drawing(page: Page) -> None:
    pid = browser_pid()
    before = processor_s(pid)
    drawn, script_ms = page.evaluate(_DRAW, {"lamps": LAMPS, "seconds": SECONDS})
    used_ms = 1000 * (processor_s(pid) - before)
    each = f"{used_ms / drawn:.1f} ms of processor each, {script_ms / drawn:.2f} ms of it script"
    print(f"{LAMPS} lamps, 1280 x 720: {drawn / SECONDS:.1f} pictures a second, {each}")


def turning(page: Page) -> None:
    """Plays: the audio thread has said so. Seen: the picture after that has been drawn."""
    times_ms = []
    for _ in range(TURNS):
        times_ms.append(page.evaluate(_TURN))
        page.wait_for_timeout(150)
    for what, each_ms in zip(("plays", "is seen"), zip(*times_ms, strict=True), strict=True):
        print(
            f"slider moved until its table {what}: median {statistics.median(each_ms):.0f} ms,"
            f" slowest of {TURNS} {max(each_ms):.0f} ms"
        )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        with (
            bench_process(copy_of_demo(Path(folder))) as (address, _),
            page_at(browser, address, every_picture=True) as page,
        ):
            page.keyboard.press("f")
            until(page, _IS_AT_REST)
            turning(page)
            drawing(page)
        browser.close()


if __name__ == "__main__":
    main()
