"""Steps of an effect and points of a fade are moved on their strips, and what is drawn is heard."""

import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_page import bench_of, copy_of_demo, middle_of, page_at, save, until
from playwright.sync_api import Browser, Page

from fxseq.player import TraceKind

STARTED = "reports.filter(({ started }) => started).length"
FRAME_MS = 1000 * 21 / 22050
IS_SETTLED = "document.querySelector('#thing').ariaBusy !== 'true'"


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    return copy_of_demo(tmp_path)


@pytest.fixture
def page(browser: Browser, sequence: Path) -> Iterator[Page]:
    """The page of the demo, on which an effect with two sounds and a light is looked at."""
    with bench_of(sequence) as address, page_at(browser, address, "422") as page:
        page.click("#modes button[value=build]")
        page.locator("#thing-effects-flare_c-act").click()
        until(page, "document.querySelectorAll('.wave-shape').length === 2")
        yield page


def file_of(page: Page, sequence: Path) -> dict[str, Any]:
    save(page)
    return tomllib.loads(sequence.read_text())


def done(page: Page, act: Callable[[], object]) -> None:
    """Does what changes the prop, and waits until its table plays."""
    before = page.evaluate(STARTED)
    act()
    until(page, f"{STARTED} > {before} && {IS_SETTLED}")


def drag(
    page: Page, selector: str, across_px: int, down_px: int = 0, is_let_go: bool = True
) -> None:
    page.evaluate(f"document.querySelector('{selector}').scrollIntoView({{ block: 'center' }})")
    x, y = middle_of(page, selector)
    page.mouse.move(x, y)
    page.mouse.down()
    for part in (0.5, 1):
        page.mouse.move(x + part * across_px, y + part * down_px)
    if is_let_go:
        page.mouse.up()


def started_at_last(page: Page) -> int:
    """How many tables have begun to play, once no more come of what was done before."""
    count = -1
    while (now := page.evaluate(STARTED)) != count:
        count = now
        page.wait_for_timeout(600)
    return now


def test_steps_are_moved_levelled_and_heard(page: Page, sequence: Path) -> None:
    before = sequence.read_text()
    done(page, lambda: drag(page, "#strip-sounds-1", 60))
    at_ms = file_of(page, sequence)["effects"]["flare_c"]["sounds"][1]["at_ms"]
    assert at_ms > 20 and abs(at_ms / FRAME_MS - round(at_ms / FRAME_MS)) < 0.06
    until(
        page,
        f"document.querySelector('#part-effects-flare_c-sounds-1-at_ms').value === '{at_ms}'",
    )
    page.focus("#strip-sounds-1")
    done(page, lambda: page.keyboard.press("ArrowUp"))
    assert page.evaluate("document.activeElement.id") == "strip-sounds-1"
    done(page, lambda: drag(page, "#strip-gain-0", 0, 20))
    sounds = file_of(page, sequence)["effects"]["flare_c"]["sounds"]
    assert sounds[1]["gain_db"] == -7.5 and sounds[0]["gain_db"] < -10
    for _ in range(3):
        done(page, lambda: page.click("#undo"))
    save(page)
    assert sequence.read_text() == before

    until(page, "document.querySelector('#strip-sounds-1').ariaValueNow === '0'")
    drag(page, "#strip-sounds-1", 50, is_let_go=False)
    until(page, "document.querySelector('#strip-sounds-1').ariaValueNow > 10", seconds=20)
    page.keyboard.press("Escape")
    page.mouse.up()
    until(page, "document.querySelector('#strip-sounds-1').ariaValueNow === '0'")
    until(
        page, "document.querySelector('#saved').textContent === 'saved'"
    )  # as it was, to the byte
    assert page.is_disabled("#undo")

    before_it = started_at_last(page)
    page.click("#effect-hear-act")
    # its table; a step under the line begins with the press; then the prop's own table again
    until(page, f"{STARTED} === {before_it} + 2")
    heard = page.evaluate(f"traced({int(TraceKind.EFFECT)}).map(({{ index }}) => index).slice(-20)")
    names = page.evaluate("import('/page/api.js').then(({ get }) => get('/api/prop'))")["names"]
    assert names["effects"].index("flare_c") in heard


def test_a_fade_that_is_shared_says_so_and_is_parted_for_a_place(
    page: Page, sequence: Path
) -> None:
    page.focus("#strip-lights-0")
    assert "Flare a (lens), Flare b (lens)" in page.inner_text(".shared")
    done(page, lambda: page.click("#fade-own-act"))
    until(page, "document.querySelector('.shared .notice') === null")
    done(page, lambda: drag(page, "#fade-point-0", 40, 30))
    done(page, lambda: page.click("#fade-split-act"))
    found = file_of(page, sequence)
    assert found["effects"]["flare_c"]["lights"][0] == {
        "group": "lens",
        "fade": "flash_2",
        "stagger_ms": 2,
    }
    first, second, third = found["fades"]["flash_2"]["segments"]
    assert first["to_percent"] == second["to_percent"] < 100
    assert first["length_ms"] + second["length_ms"] > 45
    assert found["fades"]["flash"]["segments"] == [
        {"shape": "step", "to_percent": 100, "length_ms": 45},
        {"shape": "decay", "to_percent": 0, "length_ms": 380},
    ]
    done(page, lambda: page.check("#fade-ambient"))
    done(page, lambda: page.check("#fade-start"))
    page.focus("#fade-point--1")
    done(page, lambda: page.keyboard.press("Shift+ArrowUp"))
    page.focus("#fade-point-1")
    done(page, lambda: page.keyboard.press("Delete"))
    found = file_of(page, sequence)["fades"]["flash_2"]
    assert (len(found["segments"]), found["from_percent"]) == (2, 10)
    assert found["segments"][0]["to_percent"] == "ambient"
    assert third == {"shape": "decay", "to_percent": 0, "length_ms": 380}

    page.dblclick("#effect-add-sounds-act")
    until(page, "document.querySelector('#strip-sounds-3') !== null")
    page.click("#thing-fades-glow-act")
    until(page, "document.querySelector('#thing h2').textContent === 'Glow'")
    end = page.evaluate("document.querySelector('#fade-point-0').cx.baseVal.value")
    drag(page, "#fade-point-0", -int(end))
    fault = "document.querySelector('#thing .strip-box > .fault').textContent"
    until(page, f"{fault}.includes('take no time') && {fault}.includes('Nothing was changed.')")
    until(page, "!document.querySelector('#fade-point-0').ariaValueText.endsWith('at 0 ms')")
