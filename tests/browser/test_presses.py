"""Presses by every means, and their release by everything that can come between."""

import pytest
from bench_page import until
from playwright.sync_api import Page

from fxseq.player import TraceKind

LEVER = "[data-input=lever]"


def is_down(page: Page) -> bool:
    return page.get_attribute(LEVER, "aria-pressed") == "true"


def traced(page: Page, kind: TraceKind) -> int:
    return page.evaluate(f"traced({int(kind)}).length")


def test_twelve_taps_of_no_length_are_heard_by_a_player_that_runs(page: Page) -> None:
    for number in range(1, 13):
        page.keyboard.press("f")
        released = f"traced({int(TraceKind.RELEASE)})"
        until(page, f"{released}.length === {number}")
        # the lock-out of the contact after its release, in which no board heeds a tap
        until(page, f"playedSince({released}.at(-1).frame) > 60")
    assert traced(page, TraceKind.PRESS) == 12


def test_a_key_holds_and_its_repeats_are_ignored(page: Page) -> None:
    page.keyboard.down("f")
    page.keyboard.down("f")  # what a keyboard does while a key is held
    until(page, f"traced({int(TraceKind.START)}).length > 0")  # held long enough to repeat
    assert is_down(page) and traced(page, TraceKind.PRESS) == 1
    page.keyboard.up("f")
    until(page, f"traced({int(TraceKind.RELEASE)}).length === 1")
    assert not is_down(page)


def test_a_mouse_holds_until_it_is_let_go_elsewhere(page: Page) -> None:
    page.hover(LEVER)
    page.mouse.down()
    assert is_down(page)
    page.mouse.move(5, 5)
    assert is_down(page)
    page.mouse.up()
    assert not is_down(page)


def test_two_fingers_on_one_contact_hold_until_both_are_gone(page: Page) -> None:
    page.hover(LEVER)
    page.mouse.down()
    page.keyboard.down("f")
    page.mouse.up()
    assert is_down(page)
    page.keyboard.up("f")
    assert not is_down(page)


@pytest.mark.parametrize(
    "event", ["window, 'blur'", "window, 'pagehide'", "document, 'visibilitychange'"]
)
def test_a_held_key_is_let_go_when_the_page_is_left(page: Page, event: str) -> None:
    page.evaluate("Object.defineProperty(document, 'hidden', { value: true })")
    page.keyboard.down("f")
    target, name = event.split(", ")
    page.evaluate(f"{target}.dispatchEvent(new Event({name}))")
    assert not is_down(page)
    until(page, f"traced({int(TraceKind.RELEASE)}).length === 1")


@pytest.mark.parametrize("event", ["pointercancel", "lostpointercapture"])
def test_a_held_pointer_is_let_go_when_the_system_takes_it(page: Page, event: str) -> None:
    page.hover(LEVER)
    page.mouse.down()
    page.evaluate(
        f"document.querySelector('{LEVER}').dispatchEvent(new PointerEvent('{event}', {{ pointerId:"
        " 1 }))"
    )
    assert not is_down(page)


def test_what_is_kept_down_stays_until_it_is_unticked(page: Page) -> None:
    page.check("[data-hold=lever]")
    page.keyboard.press("f")
    assert is_down(page)
    page.uncheck("[data-hold=lever]")
    assert not is_down(page)


def test_space_on_the_button_itself_holds_it(page: Page) -> None:
    page.focus(LEVER)
    page.keyboard.down(" ")
    assert is_down(page)
    page.keyboard.up(" ")
    assert not is_down(page)
    until(page, f"traced({int(TraceKind.RELEASE)}).length === 1")
    assert traced(page, TraceKind.PRESS) == 1


def test_a_click_without_a_pointer_is_a_tap(page: Page) -> None:
    page.evaluate(f"document.querySelector('{LEVER}').click()")  # as screen readers do
    until(page, f"traced({int(TraceKind.RELEASE)}).length === 1")
    assert traced(page, TraceKind.PRESS) == 1


def test_keys_press_nothing_while_a_number_is_typed_or_they_are_off(page: Page) -> None:
    page.locator("#settings input[type=number]").first.focus()
    page.keyboard.down("f")
    assert not is_down(page)
    page.keyboard.up("f")
    page.uncheck("#keys-on")
    page.keyboard.down("f")
    assert not is_down(page)


def test_a_key_with_control_is_left_to_the_browser(page: Page) -> None:
    page.keyboard.down("Control")
    page.keyboard.down("f")
    assert not is_down(page)


def test_a_selector_and_the_volume_reach_the_player(page: Page) -> None:
    page.check("input[name=selector-ring][value='1']")
    page.focus("#volume")
    page.keyboard.press("Home")
    until(page, f"traced({int(TraceKind.VOLUME)}).length === 1")
    assert page.evaluate(
        f"traced({int(TraceKind.SELECT)}).map(({{ index, value }}) => [index, value])"
    ) == [[0, 1]]
    assert page.evaluate(f"traced({int(TraceKind.VOLUME)})[0].value") == 0
