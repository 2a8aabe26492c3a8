"""Several tabs on one bench, and a bench that is killed while there are edits."""

import tomllib
from pathlib import Path

import pytest
from bench_page import (
    GONE,
    LISTEN,
    bench_of,
    bench_process,
    copy_of_demo,
    page_at,
    placing,
    save,
    until,
)
from playwright.sync_api import Browser, Page

STATUS = "document.querySelector('#status').textContent"


def field(page: Page, label: str) -> str:
    return (
        "[...document.querySelectorAll('input[type=number]')].find((box) => box.ariaLabel ==="
        f" {label!r}).value"
    )


def turn(page: Page, label: str, value: str) -> None:
    box = page.get_by_label(label, exact=True)
    box.evaluate(
        "(box, value) => { box.closest('details').open = true; box.value = value;"
        " box.dispatchEvent(new Event('change')); }",
        value,
    )


def second(page: Page, address: str) -> Page:
    """The address that was printed, in another tab of the same window."""
    other = page.context.new_page()
    other.add_init_script(LISTEN)
    other.goto(address)
    until(other, "reports.some((report) => report.started)")
    return other


RATE = "Repeat rate, trigger Storm signal, in 1/s"
VOICES = "Voices, board"
CURRENT = "LED current, group Lens, in mA"


def test_an_edit_in_one_tab_shows_in_the_other_and_none_is_lost(
    browser: Browser, tmp_path: Path
) -> None:
    sequence = copy_of_demo(tmp_path)
    with bench_of(sequence) as address, page_at(browser, address) as page:
        other = second(page, address)
        turn(page, RATE, "6")
        until(other, f"{field(other, RATE)} === '6'")
        # At the same time, without waiting for each other's answer.
        for value in ("5", "4", "3"):
            turn(page, RATE, value)
            turn(other, CURRENT, f"1{value}")
        for tab in (page, other):
            until(tab, f"{field(tab, RATE)} === '3' && {field(tab, CURRENT)} === '13'")
        other.close()
        turn(page, CURRENT, "16")
        save(page)
        saved = tomllib.loads(sequence.read_text())
        assert (
            saved["triggers"]["storm_signal"]["rate_per_s"],
            saved["groups"]["lens"]["current_ma"],
        ) == (3, 16)


def test_lamps_moved_in_two_tabs_keep_both_places(browser: Browser, tmp_path: Path) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        other = second(page, address)
        for tab, at, key in ((page, 0, "ArrowRight"), (other, 1, "ArrowDown")):
            placing(tab, "lens")
            tab.locator(f"#handles [data-at='{at}']").focus()
            tab.evaluate(
                """(key) => { for (let count = 0; count < 5; count++)
              document.activeElement.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true })); }""",
                key,
            )
        place = "document.querySelector('#handles [data-at=\"{}\"]').getAttribute('aria-label')"
        for tab in (page, other):
            until(
                tab,
                f"{place.format(0)}.includes('at 82.5, 88.0 mm') && {place.format(1)}.includes(',"
                " 91.9 mm')",
            )


def test_an_answer_that_is_lost_holds_up_no_later_edit(browser: Browser, tmp_path: Path) -> None:
    """It has been taken, but the page does not hear of it: the line of edits goes on all the
    same, and what is played with it.
    """
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address, GONE) as page:
        for value, lost_again in (("5", "4"), ("3", "6")):
            played = page.evaluate(
                "reports.findLast((report) => report.started !== undefined).started"
            )
            page.route("**/api/edit", lambda route: (route.fetch(), route.abort()), times=1)
            turn(page, RATE, value)
            until(page, f"{STATUS}.includes('The bench: it does not answer.')")
            turn(page, RATE, lost_again)
            until(
                page,
                "reports.findLast((report) => report.started !== undefined).started >="
                f" {played + 2}",
            )
            save(page)
            until(page, f"{STATUS} === 'Saved.'")
            assert tomllib.loads((tmp_path / "squall_lantern.toml").read_text())["triggers"][
                "storm_signal"
            ]["rate_per_s"] == int(lost_again)


@pytest.mark.parametrize("take", [True, False])
def test_a_bench_that_is_killed_loses_nothing_saved_and_offers_the_rest(
    browser: Browser, tmp_path: Path, take: bool
) -> None:
    sequence = copy_of_demo(tmp_path)
    with bench_process(sequence) as (address, process), page_at(browser, address, GONE) as page:
        turn(page, RATE, "6")
        save(page)
        until(page, f"{STATUS} === 'Saved.'")
        saved = sequence.read_bytes()
        turn(page, RATE, "5")
        until(page, "document.querySelector('#saved').textContent === 'not saved'")
        port = int(address.split(":")[2].split("/")[0])
        process.kill()
        until(page, "!document.querySelector('#offline').hidden")
        assert "start it again in the terminal and open the address that it prints" in (
            page.text_content("#offline") or ""
        )
        turn(page, RATE, "4")
        until(page, f"{STATUS}.includes('The bench: it does not answer.')")
        assert sequence.read_bytes() == saved and b"rate_per_s = 6" in saved
        process.wait()
        with bench_process(sequence, port) as (again, _), page_at(browser, again) as fresh:
            assert fresh.is_visible("#found") and not fresh.is_visible("#found-older")
            assert fresh.evaluate(field(fresh, RATE)) == "6"
            fresh.click("#found-take" if take else "#found-drop")
            until(fresh, "document.querySelector('#found').hidden")
            until(fresh, f"{field(fresh, RATE)} === {('5' if take else '6')!r}")
            assert sequence.read_bytes() == saved
            if take:
                save(fresh)
                assert b"rate_per_s = 5" in sequence.read_bytes()
