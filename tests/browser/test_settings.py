"""Numbers that are taken out of the file by emptying their boxes."""

import tomllib
from pathlib import Path

from bench_page import bench_of, copy_of_demo, page_at, until
from playwright.sync_api import Browser, Locator, Page

STATUS = "document.querySelector('#status').textContent"
HOLD = "After held for, trigger Arc, in ms"
RATE = "Repeat rate, trigger Storm signal, in 1/s"
FIRST = "First delay, trigger Storm signal, in ms"


def emptied(page: Page, label: str) -> Locator:
    """The box of a setting, emptied by keys alone."""
    box = page.get_by_role("spinbutton", name=label, exact=True)
    box.focus()
    page.keyboard.press("Control+A")
    page.keyboard.press("Delete")
    page.keyboard.press("Enter")
    return box


def saved(page: Page, path: Path) -> dict:
    page.click("#save")
    until(page, f"{STATUS} === 'Saved.'")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def test_a_number_that_is_emptied_goes_out_of_the_file_and_its_default_is_shown(
    browser: Browser, tmp_path: Path
) -> None:
    path = copy_of_demo(tmp_path)
    remarks = path.read_text(encoding="utf-8").count("#")
    with bench_of(path) as address, page_at(browser, address) as page:
        page.evaluate(
            "document.querySelectorAll('details').forEach((fold) => { fold.open = true; })"
        )
        box = emptied(page, "Voices, board")
        until(page, f"{STATUS} === 'Voices, board: removed from the file, so it is now 4.'")
        until(page, "!document.querySelector('#save').disabled")
        assert box.input_value() == "4"  # while it still has the focus
        assert "voices" not in saved(page, path)["board"]
    assert path.read_text(encoding="utf-8").count("#") == remarks


def test_a_number_without_a_default_is_set_and_emptied_again(
    browser: Browser, tmp_path: Path
) -> None:
    path = copy_of_demo(tmp_path)
    with bench_of(path) as address, page_at(browser, address) as page:
        box = page.get_by_label(FIRST, exact=True)
        slider = page.get_by_label("First delay, trigger Storm signal", exact=True)
        assert slider.get_attribute("aria-valuetext") == "not set"
        box.fill("300")
        box.press("Enter")
        until(page, "!document.querySelector('#undo').disabled")
        assert slider.get_attribute("aria-valuetext") is None
        assert saved(page, path)["triggers"]["storm_signal"]["first_delay_ms"] == 300
        assert emptied(page, FIRST).input_value() == ""
        until(
            page,
            f"{STATUS}.endsWith('so it is now not set.') &&"
            " !document.querySelector('#save').disabled",
        )
        assert slider.get_attribute("aria-valuetext") == "not set"
        assert "first_delay_ms" not in saved(page, path)["triggers"]["storm_signal"]


def test_a_number_that_every_part_needs_is_shown_back_in_words(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        box = emptied(page, "Level, fade Flash, segment 2, in %")
        until(page, f"{STATUS}.endsWith('it cannot be left out; allowed is 0 to 100.')")
        assert box.input_value() == "0" and page.is_disabled("#undo")


def test_a_number_that_its_mode_needs_is_refused_by_the_server_and_shown_back(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address, "422") as page:
        box = emptied(page, RATE)
        until(page, f"{STATUS}.includes('“times a second” is missing')")
        until(page, "document.activeElement.value === '7'")
        assert box.input_value() == "7" and page.is_disabled("#undo")


def test_what_is_no_number_empties_nothing(browser: Browser, tmp_path: Path) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        box = page.get_by_label(HOLD, exact=True)
        box.focus()
        page.keyboard.press("Control+A")
        page.keyboard.type("-")  # which a number may begin with, and is none
        page.keyboard.press("Enter")
        until(page, f"{STATUS}.endsWith('allowed is 0 to 2000.')")
        assert box.input_value() == "400" and page.is_disabled("#undo")
