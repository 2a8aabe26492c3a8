"""What is pressed on the page becomes a press script, which is edited on a strip and played."""

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench_page import Held, bench_of, box_of, copy_of_demo, middle_of, page_at, save, until
from playwright.sync_api import Browser, Page

from fxseq.player import TraceKind

PRESSED = f"traced({int(TraceKind.PRESS)})"
RELEASED = f"traced({int(TraceKind.RELEASE)})"
ITEMS = "document.querySelectorAll('[id^=script-item-]')"
STRIP = "**/api/scripts/short_try"
TEXT = "document.querySelector('#part-scripts-short_try-presses')"


def scripts_of(page: Page, sequence: Path) -> dict[str, Any]:
    save(page)
    scripts = tomllib.loads(sequence.read_text())["scripts"]
    return {name: script["presses"] for name, script in scripts.items()}


def drag(
    page: Page,
    selector: str,
    across_px: float,
    beside_px: float = 0,
    meanwhile: Callable[[], object] = lambda: None,
) -> None:
    """meanwhile: happens once it has moved, before it is let go."""
    page.evaluate(f"document.querySelector('{selector}').scrollIntoView({{ block: 'center' }})")
    x, y = middle_of(page, selector)
    page.mouse.move(x + beside_px, y)
    page.mouse.down()
    page.mouse.move(x + beside_px + across_px, y, steps=2)
    meanwhile()
    page.mouse.up()


def test_what_was_pressed_is_kept_edited_and_played(browser: Browser, tmp_path: Path) -> None:
    sequence = copy_of_demo(tmp_path)
    with bench_of(sequence) as address, page_at(browser, address, "422") as page:
        page.keyboard.down("f")
        until(page, f"{PRESSED}.length === 1 && playedSince({PRESSED}[0].frame) > 300")
        page.keyboard.up("f")
        until(page, f"{RELEASED}.length === 1 && playedSince({RELEASED}[0].frame) > 60")
        page.click("#keep-script")
        page.get_by_label("Name of a new one").fill("Short try")
        page.get_by_role("button", name="Keep it").click()
        until(page, "document.querySelector('#status').textContent.startsWith('Kept as Short try')")
        kept = scripts_of(page, sequence)
        assert list(kept) == ["show", "short_try"]
        assert kept["short_try"].startswith("hold lever @0.")
        until(page, "document.querySelector('#of-script').textContent.includes('script Show')")

        page.click("#modes button[value=build]")
        page.click("#thing-scripts-short_try-act")
        until(page, f"{ITEMS}.length === 2")
        page.click("#part-scripts-short_try-earlier-act")
        until(page, "document.querySelector('#of-script').textContent.includes('Short try')")
        width = box_of(page, "#script-item-0")["width"]
        held = Held(page, STRIP)
        drag(page, "#script-item-0", 80)
        until(page, f"{TEXT}.value !== {kept['short_try']!r}")
        held.wait()

        def answered() -> None:
            with page.expect_response(STRIP) as answer:
                held.let_go()
            answer.value.finished()

        # The answer to the first drag comes while the hand is in the second one.
        drag(page, "#script-item-0", 60, beside_px=width / 2 + 6, meanwhile=answered)
        until(page, f"{ITEMS}[0].firstChild.getBoundingClientRect().width > {width + 20}")
        page.select_option("#script-add", label="a press of Refill")
        page.click("#script-add-act", click_count=2)
        text = scripts_of(page, sequence)["short_try"]
        first_s, second_s = map(float, re.findall(r"tap refill @([\d.]+)", text))
        assert first_s < second_s
        page.focus("#script-item-2")
        page.keyboard.press("Delete")
        until(page, f"{ITEMS}.length === 3")
        text = scripts_of(page, sequence)["short_try"]
        assert text.count("tap refill @") == 1 and f"@{second_s:g}" in text
        until(page, f"{TEXT}.value === {text!r}")

        before = page.evaluate(f"{PRESSED}.length")
        page.click("#script-play-act")
        until(page, f"{PRESSED}.length >= {before} + 2")  # lever and refill
