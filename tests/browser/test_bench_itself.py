"""What belongs to no part of the prop: steps by keys, the focus, a file that is broken outside, and
a page that the bench does not know.
"""

from pathlib import Path

import pytest
from bench_page import bench_of, copy_of_demo, page_at, until
from playwright.sync_api import Browser

FOCUSED = "document.activeElement.id"
OUTSIDE = "document.querySelector('#outside')"


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    return copy_of_demo(tmp_path)


def test_steps_are_made_by_keys_and_the_focus_stays(browser: Browser, sequence: Path) -> None:
    before = sequence.read_text(encoding="utf-8")
    with bench_of(sequence) as address, page_at(browser, address) as page:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "To the prop"
        page.keyboard.press("Enter")
        assert page.evaluate(FOCUSED) == "bench"
        page.focus("[data-key='gain_db']")
        page.keyboard.press("ArrowDown")
        until(page, "!document.querySelector('#undo').disabled")
        page.keyboard.press("Control+z")
        until(page, "!document.querySelector('#redo').disabled")
        assert page.evaluate("document.activeElement.dataset.key") == "gain_db"
        page.keyboard.press("Control+Shift+Z")
        until(page, "document.querySelector('#redo').disabled")
        page.keyboard.press("Control+s")
        until(page, "document.querySelector('#saved').textContent === 'saved'")
        assert sequence.read_text(encoding="utf-8") != before
        # the last step back leaves nothing to take back
        page.focus("#undo")
        page.keyboard.press("Enter")
        until(page, "document.querySelector('#undo').disabled")
        until(page, f"{FOCUSED} === 'redo'")


def test_what_is_being_typed_has_its_own_way_back(browser: Browser, sequence: Path) -> None:
    with bench_of(sequence) as address, page_at(browser, address) as page:
        page.focus("[data-key='gain_db']")
        page.keyboard.press("ArrowDown")
        until(page, "!document.querySelector('#undo').disabled")
        box = page.locator("#clips input[type=number]").first
        box.fill("-7")
        page.keyboard.press("Control+z")
        assert page.is_enabled("#undo") and page.is_disabled("#redo")
        box.fill("-7")
        page.keyboard.press("Control+s")
        until(page, "document.querySelector('#saved').textContent === 'saved'")
        assert "gain_db = -7" in sequence.read_text(encoding="utf-8")


def test_who_finds_his_file_broken_sees_how_and_keeps_his_own(
    browser: Browser, sequence: Path
) -> None:
    with bench_of(sequence) as address, page_at(browser, address, ("409", "422")) as page:
        page.focus("[data-key='gain_db']")
        page.keyboard.press("ArrowDown")
        until(page, "!document.querySelector('#save').disabled")
        sequence.write_text('format = 1\ntitle = "half', encoding="utf-8")
        until(page, f"!{OUTSIDE}.hidden")
        page.click("#reload")
        until(page, "document.querySelector('#status').className === 'alarm'")
        page.click("#difference summary")
        until(page, "/Theirs: -title = \"half\\n/.test(document.querySelector('pre').textContent)")
        assert '+title = "The Squall Lantern"' in page.text_content("#difference pre")
        page.click("#keep-mine")
        until(page, f"{OUTSIDE}.hidden && {FOCUSED} !== ''")
        assert "gain_db = -0.5" in sequence.read_text(encoding="utf-8")


def test_a_page_without_a_token_is_told_so_once(browser: Browser, sequence: Path) -> None:
    with bench_of(sequence) as address:
        page = browser.new_context().new_page()
        page.goto(address.split("#")[0])
        until(
            page,
            "document.querySelector('#status').textContent.includes('does not know this page')",
        )
        page.wait_for_timeout(1500)
        assert page.is_hidden("#offline")
        page.context.close()


def test_less_motion_is_no_flashing(browser: Browser, sequence: Path) -> None:
    with (
        bench_of(sequence) as address,
        page_at(browser, address, reduced_motion="reduce") as page,
    ):
        page.wait_for_timeout(1500)
        assert page.is_hidden("#gentle") and page.is_visible(".still")
        page.click("#guard")
        assert page.is_hidden(".still")
