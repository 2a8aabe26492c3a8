"""Hands that are quicker than answers: no answer takes back what they do, or are about to do."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_page import Held, bench_of, copy_of_demo, middle_of, page_at, placing, save, until
from playwright.sync_api import Browser, Page

IS_SETTLED = "document.querySelector('#thing').ariaBusy !== 'true'"
CURRENT, SIZE = "#part-groups-lens-current_ma", "#part-groups-lens-size_mm"


@pytest.fixture(scope="module")
def sequence(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_of_demo(tmp_path_factory.mktemp("quick"))


@pytest.fixture(scope="module")
def page(browser: Browser, sequence: Path) -> Iterator[Page]:
    with bench_of(sequence) as address, page_at(browser, address, "422") as page:
        page.click("#modes button[value=build]")
        until(page, "document.querySelectorAll('#sentences li').length > 0")
        yield page


def look(page: Page, kind: str, name: str) -> None:
    page.click(f"#thing-{kind}-{name}-act")
    until(page, f"document.querySelector('#part-{kind}-{name}-name') && {IS_SETTLED}")


def file_of(page: Page, sequence: Path) -> dict[str, Any]:
    save(page)
    return tomllib.loads(sequence.read_text())


def test_what_is_pressed_or_written_is_not_drawn_anew_by_an_answer(
    page: Page, sequence: Path
) -> None:
    look(page, "triggers", "storm_signal")
    page.fill("#part-triggers-storm_signal-rate_per_s", "4")
    later = "#part-triggers-storm_signal-effects-0-down-act"
    page.mouse.move(*middle_of(page, later))
    page.mouse.down()  # which leaves the box
    until(page, "!document.querySelector('#undo').disabled")
    page.wait_for_timeout(300)  # in which nothing is drawn
    page.mouse.up()
    until(
        page,
        "document.querySelector('#part-triggers-storm_signal-effects-0').selectedOptions[0].text"
        f" === 'Storm b' && {IS_SETTLED}",
    )
    look(page, "groups", "lens")
    page.fill(CURRENT, "12")
    # as Tab does: marked, so that typing takes its place
    page.evaluate(f"(document.querySelector('{SIZE}').focus(), document.activeElement.select())")
    until(page, IS_SETTLED)
    page.keyboard.type("6")
    page.keyboard.press("Enter")
    until(page, IS_SETTLED)
    found = file_of(page, sequence)
    assert found["triggers"]["storm_signal"]["effects"] == ["storm_b", "storm_a"]
    assert found["triggers"]["storm_signal"]["rate_per_s"] == 4
    assert (found["groups"]["lens"]["current_ma"], found["groups"]["lens"]["size_mm"]) == (12, 6)


def test_what_was_refused_stands_there_after_the_next_answer(page: Page) -> None:
    look(page, "groups", "lens")
    refused = Held(page, "**/api/parts")
    page.fill(CURRENT, "-4")
    page.fill(SIZE, "7")
    page.keyboard.press("Enter")
    refused.let_go()
    until(page, f"document.querySelector('{SIZE}').value === '7' && {IS_SETTLED}")
    assert "-4 mA" in page.inner_text(f"{CURRENT}-fault")
    assert page.input_value(CURRENT) != "-4"


def test_what_is_done_to_a_thing_that_gets_another_name_is_done_to_it(
    page: Page, sequence: Path
) -> None:
    look(page, "effects", "flare_c")
    answer = Held(page, "**/api/parts")
    page.fill("#part-effects-flare_c-name", "gleam")
    page.click("#part-effects-flare_c-copy-act")
    page.focus("#strip-sounds-1")
    page.keyboard.press("ArrowRight")
    answer.let_go()
    until(page, "document.querySelectorAll('[id^=thing-effects-gleam]').length === 2")
    until(page, IS_SETTLED)
    effects = file_of(page, sequence)["effects"]
    assert "flare_c" not in effects and effects["gleam"]["sounds"][1]["at_ms"] > 0


def test_a_mode_that_is_entered_while_it_is_saved_is_there(page: Page) -> None:
    placing(page, "lens")
    page.focus("#handles [data-at='0']")
    page.keyboard.press("ArrowRight")
    until(page, "!document.querySelector('#save').disabled")
    answer = Held(page, "**/api/save")
    page.click("#save")
    page.click("#modes button[value=build]")
    answer.let_go()
    until(page, f"document.querySelector('#sentences li') && {IS_SETTLED}")


def test_a_drag_waits_as_one_order_and_an_older_answer_takes_nothing_back(
    page: Page, sequence: Path
) -> None:
    look(page, "fades", "flash")
    orders: list[str] = []
    page.on(
        "request",
        lambda request: orders.append(request.url) if request.method == "POST" else None,
    )
    answer = Held(page, "**/api/edit")
    x, y = middle_of(page, "#fade-point-0")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20, y + 20, steps=10)
    page.mouse.up()
    answer.let_go()
    segment = file_of(page, sequence)["fades"]["flash"]["segments"][0]
    assert segment["length_ms"] > 50 and segment["to_percent"] < 100
    assert len(orders) == 3  # the first, all others, and what saves

    until(page, IS_SETTLED)
    page.focus("#fade-point-0")
    page.route("**/none", lambda route: route.abort())  # while there is a route, two may be held
    held = []
    for _ in range(2):
        held.append(Held(page, "**/api/parts"))
        page.keyboard.press("ArrowRight")
        held[-1].wait()
    held[0].let_go()
    page.wait_for_timeout(300)  # in which nothing is taken back
    page.keyboard.press("ArrowRight")
    held[1].let_go()
    length_ms = "document.querySelector('#part-fades-flash-segments-0-length_ms').value"
    until(page, f"{length_ms} === '{segment['length_ms'] + 15}' && {IS_SETTLED}")
