"""The page as a whole: nothing refused by its policy, edits that reach the file, no barrier in
either theme.
"""

import time
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_page import GONE, bench_of, bench_process, box_of, copy_of_demo, page_at, save, until
from playwright.sync_api import Browser, Page, Route

from fxseq.player import TraceKind

SHOWN = {"light": {"width": 1366, "height": 900}, "dark": {"width": 390, "height": 844}}
POINT = "#play-fade-point-1"


def test_the_page_opens_without_a_complaint_and_forgets_the_token_in_its_address(
    page: Page,
) -> None:
    assert page.title() == "The Squall Lantern: bench"
    assert page.url.endswith("/")
    assert page.locator(".contact").count() == 3


def test_sound_starts_with_the_first_gesture(page: Page) -> None:
    page.click("#wake") if page.is_visible("#wake") else page.keyboard.press("f")
    until(page, "nodes[0].context.state === 'running'")


def test_how_loud_it_is_comes_in_words_and_then_in_figures(page: Page) -> None:
    until(page, "document.querySelector('#figures').textContent.includes('dB(A)')")
    words, figure = page.locator("#figures dd").first.inner_text().splitlines()[:2]
    assert (
        words == "About as loud as a petrol lawn mower; within the daily noise limit for up to 22 h"
    )
    assert figure.endswith(" dB(A)")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_no_barrier(browser: Browser, demo_address: str, theme: str) -> None:
    with page_at(browser, demo_address, color_scheme=theme, viewport=SHOWN[theme]) as page:
        until(page, "document.querySelectorAll('.finding').length > 0")
        page.evaluate(
            "document.querySelectorAll('details').forEach((fold) => { fold.open = true; })"
        )
        page.keyboard.down("f")
        # as while they are worked out anew, when they are paler
        page.evaluate("document.querySelector('#figures').setAttribute('aria-busy', 'true')")
        result = Axe().run(page)
        assert result.violations_count == 0, result.generate_report()


def test_nothing_is_wider_than_the_window(page: Page) -> None:
    until(page, "document.querySelectorAll('.finding').length > 0")
    page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
    for width in (1366, 320, 1920, 390, 768):
        page.set_viewport_size({"width": width, "height": 800})
        # drawings are fitted to the new width a little later
        until(page, f"innerWidth === {width} && document.documentElement.scrollWidth <= {width}")


def test_a_point_of_a_curve_that_is_moved_and_saved_changes_its_value_in_the_file_alone(
    browser: Browser, tmp_path: Path
) -> None:
    path = copy_of_demo(tmp_path)
    before = path.read_text(encoding="utf-8")
    with bench_of(path) as address, page_at(browser, address) as page:
        page.focus(POINT)
        for _ in range(4):
            page.keyboard.press("ArrowRight")
        save(page)
        until(page, "document.querySelector('#saved').textContent === 'saved'")
    line = '{ shape = "decay", to_percent = 0, length_ms = 380 }'
    assert before.count(line) == 1
    assert path.read_text(encoding="utf-8") in (
        before.replace(line, line.replace("380", number)) for number in ("400", "400.0")
    )


def test_what_is_turned_faster_than_the_server_answers_is_kept_and_saved(
    browser: Browser, tmp_path: Path
) -> None:
    """No answer to an earlier edit takes back what was turned since, and Save waits for what is
    still on its way.
    """
    path = copy_of_demo(tmp_path)

    def late(route: Route) -> None:
        time.sleep(0.15)
        route.continue_()

    with bench_of(path) as address, page_at(browser, address) as page:
        page.route("**/api/edit", late)
        page.focus(POINT)
        page.keyboard.press("ArrowRight")
        until(page, "!document.querySelector('#save').disabled")
        for _ in range(29):
            page.keyboard.press("ArrowRight")
        save(page)
        until(
            page,
            "document.querySelector('#saved').textContent === 'saved' &&"
            " document.querySelector('#save').disabled",
        )
    # 380 and 30 steps of 5 ms
    assert 'shape = "decay", to_percent = 0, length_ms = 530' in path.read_text(encoding="utf-8")


def test_a_point_is_dragged_by_hand_and_comes_back_in_one_undo(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        length = (
            "document.querySelectorAll('#fades"
            " fieldset')[1].querySelectorAll('input[type=number]')[1].value"
        )
        page.locator(POINT).scroll_into_view_if_needed()
        box = box_of(page, POINT)
        assert page.evaluate(length) == "380"
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.down()
        for step in range(8):
            page.mouse.move(box["x"] - 10 * step, box["y"] - 3 * step)
        page.mouse.up()
        until(
            page, f"Number({length}) < 330 && !document.querySelector('#undo').disabled"
        )  # a busy machine is still at the last moves
        page.click("#undo")
        until(page, f"{length} === '380' && document.querySelector('#undo').disabled")


def test_an_edit_that_the_file_would_not_take_is_said_and_shown_back(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address, "422") as page:
        page.select_option("#fade", "wick")
        page.focus("#play-fade-point-0")
        for _ in range(20):
            page.keyboard.press("Shift+ArrowLeft")  # until a loop would take no time
        until(page, "document.querySelector('#fades .fault').textContent.includes('no time')")
        until(
            page,
            "!document.querySelector('#play-fade-point-0').ariaValueText.endsWith('at 0 ms')",
        )


def test_a_number_out_of_range_is_refused_in_words_that_stay_in_view(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        box = page.get_by_label("Repeat rate, trigger Slow signal, in 1/s")
        box.fill("99")
        box.press("Enter")
        until(
            page, "document.querySelector('#status').textContent.endsWith('allowed is 0.1 to 30.')"
        )
        assert box.input_value() == "2" and page.is_disabled("#undo")
        assert box_of(page, "#status")["y"] >= 0 and page.evaluate("scrollY") > 300


def test_a_segment_becomes_a_flicker_with_the_values_that_it_needs(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        page.focus(POINT)
        page.select_option("#play-fade-shape", "flicker")
        until(page, "!document.querySelector('#undo').disabled")
        assert page.locator("#fades fieldset").nth(1).locator("input[type=number]").count() == 4


def test_an_edit_in_one_tab_is_shown_and_played_in_the_other(
    browser: Browser, tmp_path: Path
) -> None:
    with (
        bench_of(copy_of_demo(tmp_path)) as address,
        page_at(browser, address) as first,
        page_at(browser, address) as second,
    ):
        box = first.get_by_label("After held for, trigger Arc, in ms")
        box.fill("250")
        box.press("Enter")
        until(second, "reports.some(({ started }) => started === 2)")
        assert second.get_by_label("After held for, trigger Arc, in ms").input_value() == "250"


def test_a_file_that_somebody_else_changes_is_noticed_and_not_written_over(
    browser: Browser, tmp_path: Path
) -> None:
    path = copy_of_demo(tmp_path)
    with bench_of(path) as address, page_at(browser, address, "409") as page:
        text = path.read_text(encoding="utf-8") + "# by another hand\n"
        path.write_text(text, encoding="utf-8")
        until(page, "!document.querySelector('#outside').hidden")
        page.focus(POINT)
        page.keyboard.press("ArrowRight")
        until(page, "!document.querySelector('#save').disabled")
        # What is said of it may be followed by what is said of the edit, so the answer itself is
        # looked at.
        with page.expect_response(lambda answer: answer.url.endswith("/api/save")) as saved:
            page.click("#save")
        assert (
            saved.value.status == 409
            and "another program has changed the file" in saved.value.text()
        )
        until(page, "!document.querySelector('#outside').hidden")
        assert path.read_text(encoding="utf-8") == text


def test_a_bench_that_ends_is_noticed_and_the_prop_plays_on(
    browser: Browser, tmp_path: Path
) -> None:
    with (
        bench_process(copy_of_demo(tmp_path)) as (address, process),
        page_at(browser, address, GONE) as page,
    ):
        process.terminate()
        process.wait()
        until(page, "!document.querySelector('#offline').hidden")
        page.keyboard.press("f")
        until(page, f"traced({int(TraceKind.SHOT)}).length > 0")
