"""Grips on the curve of a clip: cut, fades, loop and level, by mouse, finger and keys."""

import math
import re
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_page import bench_of, box_of, copy_of_demo, middle_of, page_at, save, until
from playwright.sync_api import Browser, Page

LABEL = "(document.querySelector('.wave').getAttribute('aria-label') || '')"
LENGTH_MS = 7717 / 22.05
"""Of crack_a, as recorded."""


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    return copy_of_demo(tmp_path)


@pytest.fixture
def cutting(browser: Browser, sequence: Path) -> Iterator[Page]:
    """The page, showing crack_a."""
    with bench_of(sequence) as address, page_at(browser, address) as page:
        show(page, "crack_a")
        yield page


def show(page: Page, clip: str) -> None:
    page.select_option("#clip", clip)
    until(page, f"{LABEL}.startsWith('{clip.capitalize().replace('_', ' ')}:')")
    page.locator(".grips").scroll_into_view_if_needed()


def middle(page: Page, key: str) -> tuple[float, float]:
    return middle_of(page, f"[data-key='{key}']")


def drag(page: Page, key: str, across_px: float, down_px: float = 0) -> None:
    x, y = middle(page, key)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + across_px, y + down_px, steps=6)
    page.mouse.up()


def value(page: Page, key: str) -> float:
    return float(page.get_attribute(f"[data-key='{key}']", "aria-valuenow") or "nan")


def until_near(page: Page, key: str, wanted: float, most_off: float) -> None:
    """Wait until a grip is about there."""
    until(
        page,
        f"Math.abs(document.querySelector('[data-key=\"{key}\"]')?.ariaValueNow - {wanted}) <="
        f" {most_off}",
    )


def ms_per_px(page: Page) -> float:
    return LENGTH_MS / box_of(page, ".grips")["width"]


def saved(page: Page, sequence: Path, clip: str = "crack_a") -> dict:
    """The clip in the file, once all that was turned is answered and saved; not where it comes
    from.
    """
    save(page)
    values = tomllib.loads(sequence.read_text())["clips"][clip]
    return {key: value for key, value in values.items() if key != "source"}


def test_a_clip_is_cut_faded_and_levelled_by_mouse(cutting: Page, sequence: Path) -> None:
    by_px = ms_per_px(cutting)
    for key, across_px, down_px, wanted in [
        ("end_ms", -100, 0, LENGTH_MS - 100 * by_px),
        ("start_ms", 20, 0, 20 * by_px),
        ("fade_in_ms", 30, 0, 30 * by_px),
        ("fade_out_ms", -40, 0, 40 * by_px),
        ("gain_db", 0, 20, -20 / 74 * 58),
    ]:
        drag(cutting, key, across_px, down_px)
        until_near(cutting, key, wanted, 1.01)
    clip = saved(cutting, sequence)
    turned = {
        key: value(cutting, key)
        for key in ("start_ms", "end_ms", "fade_in_ms", "fade_out_ms", "gain_db")
    }
    assert {key: clip[key] for key in clip if key != "file"} == turned
    until(
        cutting,
        "document.querySelector('#clips').textContent.includes('In the table:"
        f" {clip['end_ms'] - clip['start_ms']:.0f} ms')",
    )


def test_one_movement_is_one_step(cutting: Page) -> None:
    drag(cutting, "end_ms", -100)
    until(cutting, f"!{LABEL}.includes('kept from 0 to 350 ms')")
    cutting.click("#undo")
    until(
        cutting,
        f"{LABEL}.includes('kept from 0 to 350 ms') && document.querySelector('#undo').disabled",
    )


def test_escape_gives_a_movement_up_and_a_right_button_moves_nothing(cutting: Page) -> None:
    x, y = middle(cutting, "end_ms")
    before = value(cutting, "end_ms")
    cutting.mouse.move(x, y)
    cutting.mouse.down(button="right")
    cutting.mouse.move(x - 50, y, steps=3)
    assert value(cutting, "end_ms") == before
    cutting.mouse.up(button="right")
    cutting.mouse.move(x, y)
    cutting.mouse.down()
    cutting.mouse.move(x - 50, y, steps=3)
    assert value(cutting, "end_ms") < before
    cutting.keyboard.press("Escape")
    assert value(cutting, "end_ms") == before
    cutting.mouse.move(x - 80, y, steps=3)
    assert value(cutting, "end_ms") == before
    cutting.mouse.up()


def test_an_end_that_is_dragged_back_to_the_end_needs_no_key(cutting: Page, sequence: Path) -> None:
    drag(cutting, "end_ms", -100)
    drag(cutting, "end_ms", 300)
    drag(cutting, "gain_db", 0, 20)
    clip = saved(cutting, sequence)
    assert set(clip) == {"file", "gain_db"} and value(cutting, "end_ms") == pytest.approx(LENGTH_MS)


def test_a_clip_is_put_into_an_effect(cutting: Page, sequence: Path) -> None:
    show(cutting, "bell")
    cutting.select_option("#clip-use", label="Flare a: in place of Crack a")
    until(
        cutting,
        "document.querySelector('#clips').textContent.includes('Flare a') &&"
        " !document.querySelector('#undo').disabled",
    )
    cutting.select_option("#clip-use", label="Arc glow: as one more sound")
    until(cutting, "/Played in: .*Arc glow/.test(document.querySelector('#clips').textContent)")
    save(cutting)
    effects = tomllib.loads(sequence.read_text(encoding="utf-8"))["effects"]
    assert effects["flare_a"]["sounds"] == [{"clip": "bell"}, {"clip": "clunk", "gain_db": -8}]
    assert effects["arc_glow"]["sounds"] == [{"clip": "bell"}]


def test_grips_keep_out_of_each_others_way(cutting: Page, sequence: Path) -> None:
    wide_px = box_of(cutting, ".grips")["width"]
    drag(cutting, "fade_in_ms", 100)
    drag(cutting, "fade_out_ms", -wide_px)
    assert value(cutting, "fade_in_ms") + value(cutting, "fade_out_ms") == math.floor(LENGTH_MS)
    drag(cutting, "end_ms", -wide_px)
    assert value(cutting, "end_ms") == pytest.approx(LENGTH_MS)
    assert saved(cutting, sequence)["fade_out_ms"] == value(cutting, "fade_out_ms")


def test_keys_turn_each_grip(cutting: Page, sequence: Path) -> None:
    for key, pressed in [
        ("start_ms", "Shift+ArrowRight"),
        ("end_ms", "Shift+ArrowLeft"),
        ("fade_in_ms", "ArrowRight"),
        ("fade_out_ms", "ArrowLeft"),
        ("gain_db", "ArrowDown"),
    ]:
        cutting.locator(f"[data-key='{key}']").focus()
        for _ in range(3):
            cutting.keyboard.press(pressed)
    clip = saved(cutting, sequence)
    assert clip == {
        "file": clip["file"],
        "start_ms": 30,
        "end_ms": 320,
        "fade_in_ms": 3,
        "fade_out_ms": 3,
        "gain_db": -1.5,
    }


def test_a_loop_between_two_points_is_set_and_moved(browser: Browser, sequence: Path) -> None:
    with bench_of(sequence) as address, page_at(browser, address) as page:
        show(page, "hum")
        page.select_option("#clip-loop", "own")
        until(page, "document.querySelector('[data-key=\"loop.end_ms\"]')")
        whole_ms = value(page, "loop.end_ms")
        page.locator(".grips").scroll_into_view_if_needed()
        drag(page, "loop.end_ms", -60)
        drag(page, "loop.start_ms", 40)
        save(page)  # so the drag is answered: what waits for one place is one step
        page.locator("[data-key='loop.start_ms']").focus()
        page.keyboard.press("ArrowRight")
        loop = saved(page, sequence, "hum")["loop"]
        assert loop == {
            "start_ms": value(page, "loop.start_ms"),
            "end_ms": value(page, "loop.end_ms"),
        }
        assert 0 < loop["start_ms"] < loop["end_ms"] < whole_ms
        assert "# the loop that the sound editor left in the file" in sequence.read_text()
        page.click("#undo")
        until(
            page,
            "document.querySelector('[data-key=\"loop.start_ms\"]').ariaValueNow ==="
            f" '{loop['start_ms'] - 1:g}'",
        )


def test_a_loop_keeps_its_place_while_the_cut_is_moved(browser: Browser, sequence: Path) -> None:
    """Also a loop of the whole clip, which does not hold the grips of the cut."""
    with bench_of(sequence) as address, page_at(browser, address) as page:
        show(page, "hum")
        page.select_option("#clip-loop", "own")
        until(page, "document.querySelector('[data-key=\"loop.end_ms\"]')")
        whole_ms = value(page, "loop.end_ms")
        page.focus("[data-key='loop.start_ms']")
        page.keyboard.press("Shift+ArrowRight")
        for key, pressed in (("start_ms", "Shift+ArrowRight"), ("end_ms", "Shift+ArrowLeft")):
            page.focus(f"[data-key='{key}']")
            for _ in range(3):
                page.keyboard.press(pressed)
        end_ms = value(page, "end_ms")
        assert (value(page, "start_ms"), value(page, "loop.start_ms")) == (30, 0)
        assert value(page, "loop.end_ms") == end_ms - 30 < whole_ms - 30
        loop = saved(page, sequence, "hum")["loop"]
        assert loop == {"start_ms": 0, "end_ms": end_ms - 30}


def test_a_loop_that_is_set_while_a_cut_is_on_its_way_has_its_numbers(
    browser: Browser, sequence: Path
) -> None:
    with bench_of(sequence) as address, page_at(browser, address) as page:
        show(page, "crack_a")
        page.route("**/api/edit", lambda route: (time.sleep(0.5), route.continue_())[-1])
        page.focus("[data-key='end_ms']")
        page.keyboard.press("Shift+ArrowLeft")
        page.select_option("#clip-loop", "own")
        until(page, "document.querySelector('[data-key=\"loop.end_ms\"]')")
        clip = saved(page, sequence)
        assert clip["loop"] == {"start_ms": 0, "end_ms": clip["end_ms"]} and clip["end_ms"] < 341


def test_single_samples_are_seen_and_grips_follow_them(cutting: Page, sequence: Path) -> None:
    """From afar a grip moves by 1 ms; from near by by parts of a sample, which is 0.045 ms."""
    cutting.focus("[data-key='start_ms']")
    cutting.keyboard.press("ArrowRight")
    while cutting.is_enabled("#wave-closer"):
        cutting.click("#wave-closer")
    assert re.fullmatch(r"(1|0\.99\d*) to 2\.\d+ ms", cutting.inner_text("#wave-seen"))
    cutting.focus("[data-key='start_ms']")
    cutting.keyboard.press("Shift+ArrowRight")
    assert saved(cutting, sequence)["start_ms"] == pytest.approx(1.01)
    cutting.locator(".grips").scroll_into_view_if_needed()
    drag(cutting, "start_ms", 300)
    assert 1.2 < saved(cutting, sequence)["start_ms"] < 1.4
    cutting.click("#wave-all")
    assert value(cutting, "end_ms") == pytest.approx(LENGTH_MS)


def test_a_clip_is_seen_and_heard_as_the_board_plays_it(cutting: Page) -> None:
    cutting.focus("[data-key='gain_db']")
    for _ in range(2):
        cutting.keyboard.press("Shift+ArrowDown")
    cells = "[...document.querySelectorAll('#clip-facts tbody tr')].map((row) => row.innerText)"
    until(cutting, f"{cells}.some((row) => /Highest peak.*-1 dBFS.*-10.9 dBFS/s.test(row))")
    cutting.click("text=Play it as the board does")
    until(cutting, "document.querySelector('.clip-editor').textContent.includes('Stop')")
    until(cutting, "!document.querySelector('.clip-editor').textContent.includes('Stop')")


def test_fingers_turn_grips_that_they_do_not_quite_meet(browser: Browser, sequence: Path) -> None:
    with (
        bench_of(sequence) as address,
        page_at(
            browser, address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
        ) as page,
    ):
        show(page, "crack_a")
        by_px = ms_per_px(page)
        x, y = middle(page, "end_ms")
        finger(page, [(x - 12, y - 6), (x - 40, y - 6), (x - 92, y - 6)])
        until_near(page, "end_ms", LENGTH_MS - 80 * by_px, 1.01)
        x, y = middle(page, "gain_db")
        finger(page, [(x + 10, y), (x + 10, y + 10), (x + 10, y + 30)])
        until_near(page, "gain_db", -30 / 74 * 58, 0.51)
        assert saved(page, sequence)["gain_db"] == value(page, "gain_db")
        assert page.evaluate("document.documentElement.scrollWidth") == 390


def finger(page: Page, way: list[tuple[float, float]]) -> None:
    """One finger put down, moved and lifted, by the browser's own protocol."""
    browser = page.context.new_cdp_session(page)
    for kind, points in [
        ("touchStart", way[:1]),
        *(("touchMove", [point]) for point in way[1:]),
        ("touchEnd", []),
    ]:
        browser.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": x, "y": y} for x, y in points]},
        )
    browser.detach()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_grips_are_open_to_all(browser: Browser, sequence: Path, scheme: str) -> None:
    with bench_of(sequence) as address, page_at(browser, address, color_scheme=scheme) as page:
        show(page, "hum")
        page.select_option("#clip-loop", "own")
        until(page, "document.querySelector('[data-key=\"loop.end_ms\"]')")
        assert Axe().run(page, ".clips").response["violations"] == []
