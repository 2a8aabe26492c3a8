"""A rate is turned beside the button that is held, on a scale with the measured limits."""

import tomllib
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from bench_page import bench_of, box_of, copy_of_demo, middle_of, page_at, save, until
from playwright.sync_api import Browser, Page

from fxseq.advice import Break, Limit, TuneReport
from fxseq.bench import numbers
from fxseq.bench.numbers import rates
from fxseq.bench.worker import WorkProcess
from fxseq.sequence import loads

ANSWERED = WorkProcess.order
AT_LEVER = ".paced .pace"
SLIDER = "#pace-at-lever-slider"
IN_SENTENCE = "#pace-of-trigger-storm_signal-slider"
STARTED = "reports.filter(({ started }) => started).length"
THUMB_AND_MARK = f"""(() => {{
  const slider = document.querySelector('{SLIDER}'), {{ left, width }} = slider.getBoundingClientRect(), thumb = 24;
  const mark = document.querySelectorAll('{AT_LEVER} i')[1].getBoundingClientRect();
  return [left + thumb / 2 + slider.value / slider.max * (width - thumb), mark.left + mark.width / 2];
}})()"""


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    return copy_of_demo(tmp_path)


@pytest.fixture
def page(browser: Browser, sequence: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Page]:
    """The page of the demo, with limits that take no time to find."""

    def tuned(prop, trigger: str, rates_per_s, told) -> TuneReport:
        slower = 2.3 if trigger == "storm_signal" else 3.0
        breaks = (
            Break(Limit.FLASHES, slower, round(slower - 0.1, 1), 3.5),
            Break(Limit.VOICES, 12, 11.9, 1),
        )
        return TuneReport(trigger, 1.0, (), breaks)

    monkeypatch.setattr(numbers, "tune", tuned)

    async def answered(self: WorkProcess, order: dict[str, Any], tell: object) -> dict[str, Any]:
        if order.get("what") != "rates":
            return await ANSWERED(self, order, tell)
        prop = SimpleNamespace(sequence=loads(order["text"]))
        return {"result": {"rates": list(map(asdict, rates(prop, order["rates_per_s"])))}}

    monkeypatch.setattr(WorkProcess, "order", answered)
    with bench_of(sequence, (1.0, 20.0)) as address, page_at(browser, address) as page:
        until(page, f"document.querySelector('{AT_LEVER} li')")
        yield page


def rate_in(sequence: Path) -> float:
    return tomllib.loads(sequence.read_text())["triggers"]["storm_signal"]["rate_per_s"]


def text_of(page: Page, selector: str) -> str:
    return page.inner_text(selector)


def turned_by(page: Page, act) -> None:
    """Does what turns the rate, and waits until its table plays."""
    before = page.evaluate(STARTED)
    act()
    until(page, f"{STARTED} > {before}")


def test_the_rate_is_turned_under_the_hand_that_holds(page: Page, sequence: Path) -> None:
    assert text_of(page, f"{AT_LEVER} strong") == "Slow signal"
    page.check("input[name=selector-ring][value='1']")
    assert text_of(page, f"{AT_LEVER} strong") == "Storm signal"
    page.check("[data-hold=lever]")
    page.focus(SLIDER)
    place = box_of(page, SLIDER), box_of(page, "#restart"), page.evaluate("scrollY")
    turned_by(page, lambda: page.keyboard.press("ArrowRight"))
    assert page.input_value("#pace-at-lever-box") == "7.05"
    turned_by(page, lambda: page.click(f"{AT_LEVER} li button >> nth=0"))
    until(page, f"!document.querySelector('{AT_LEVER} summary').textContent.includes('…')")
    assert text_of(page, f"{AT_LEVER} summary") == "All limits are kept at 2.2 a second."
    assert (box_of(page, SLIDER), box_of(page, "#restart"), page.evaluate("scrollY")) == place
    assert page.get_attribute("[data-input=lever]", "aria-pressed") == "true"
    save(page)
    assert rate_in(sequence) == 2.2
    turned_by(page, lambda: page.fill("#pace-at-lever-box", "12") or page.keyboard.press("Enter"))
    thumb_x, mark_x = page.evaluate(THUMB_AND_MARK)
    assert abs(thumb_x - mark_x) < 1.5
    for _ in range(3):
        turned_by(page, lambda: page.click("#undo"))
    assert page.input_value("#pace-at-lever-box") == "7"


def test_a_slider_in_a_sentence_stays_in_the_hand_while_tables_come(
    page: Page, sequence: Path
) -> None:
    page.click("#modes button[value=build]")
    until(page, f"document.querySelector('{IN_SENTENCE}')")
    page.locator(IN_SENTENCE).scroll_into_view_if_needed()
    box = box_of(page, IN_SENTENCE)
    page.mouse.move(*middle_of(page, IN_SENTENCE))
    turned_by(page, page.mouse.down)
    first = float(page.input_value("#pace-of-trigger-storm_signal-box"))
    in_words = "document.querySelector('#say-part-triggers-storm_signal-rate_per_s')"
    until(page, f"{in_words}.value == {1 / first:.3g}")
    turned_by(page, lambda: page.mouse.move(box["x"] + box["width"] * 0.8, box["y"] + 5))
    page.mouse.up()
    assert float(page.input_value("#pace-of-trigger-storm_signal-box")) > first
    save(page)
    assert rate_in(sequence) > first


def test_the_search_for_limits_can_be_given_up(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(WorkProcess, "order", ANSWERED)  # which takes some seconds
    page.evaluate("""(() => {
      const box = document.querySelector('#set-groups-lens-current_ma-box');
      box.value = 12;
      box.dispatchEvent(new Event('change'));
    })()""")
    until(page, "/Trying rates, \\d+ %/.test(document.querySelector('#figures').textContent)")
    page.click("#figures .work button")
    page.locator("#figures button", has_text="Try rates").wait_for()
    assert text_of(page, f"{AT_LEVER} summary") == "Its limits are not known."
