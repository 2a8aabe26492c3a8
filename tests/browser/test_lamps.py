"""Lamps chosen on the picture by mouse, finger and keys; numbered, and moved to other groups."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_page import bench_of, box_of, copy_of_demo, middle_of, page_at, placing, save, until
from playwright.sync_api import Browser, Page

STATUS = "document.querySelector('#status').textContent"
TOLD = "document.querySelector('#chosen-lamps').textContent"
VENTS_MM = [[55, 66], [65, 66], [75, 66], [85, 66], [95, 66], [105, 66]]


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    return copy_of_demo(tmp_path)


@pytest.fixture
def arranging(browser: Browser, sequence: Path) -> Iterator[Page]:
    """The page, arranging the vents."""
    with bench_of(sequence) as address, page_at(browser, address, "422") as page:
        arrange(page)
        yield page


def arrange(page: Page) -> None:
    placing(page, "vents")


def middle(page: Page, number: int) -> tuple[float, float]:
    return middle_of(page, f"#handles [data-at='{number - 1}'] circle")


def click(page: Page, *numbers: int) -> None:
    for number in numbers:
        page.mouse.click(*middle(page, number))


def groups(page: Page, sequence: Path) -> dict:
    """What is in the file once it is saved."""
    save(page)
    return tomllib.loads(sequence.read_text())["groups"]


def test_lamps_are_numbered_in_the_order_in_which_they_are_clicked(
    arranging: Page, sequence: Path
) -> None:
    click(arranging, 6, 2, 3)
    until(
        arranging,
        f"{TOLD} === '3 of 6, in this order: 6, 2, 3. In this order they become 2, 3, 6.'",
    )
    arranging.click("text=Number them in this order")
    until(arranging, f"{STATUS}.startsWith('3 lamps have new numbers.')")
    assert groups(arranging, sequence)["vents"]["places_mm"] == [
        VENTS_MM[at] for at in (0, 5, 1, 3, 4, 2)
    ]


def test_a_second_click_lets_a_lamp_go_and_one_beside_all_of_them(arranging: Page) -> None:
    click(arranging, 1, 2, 1)
    until(arranging, f"{TOLD} === '1 of 6, in this order: 2.'")
    box = box_of(arranging, "#handles")
    arranging.mouse.click(box["x"] + 5, box["y"] + 5)
    until(arranging, f"{TOLD} === 'None yet.'")
    assert arranging.is_disabled("text=Move them") and arranging.is_disabled(
        "text=Number them in this order"
    )


def test_lamps_in_a_frame_are_chosen_and_move_together(arranging: Page, sequence: Path) -> None:
    (left, y), (right, _) = middle(arranging, 2), middle(arranging, 4)
    drag(arranging, (left - 9, y - 20), (right + 9, y + 20))
    until(arranging, f"{TOLD} === '3 of 6, in this order: 2, 3, 4.'")
    drag(arranging, (right, y), (right, y + 40))
    until(arranging, "!document.querySelector('#save').disabled")
    moved = groups(arranging, sequence)["vents"]["places_mm"]
    down_mm = moved[1][1] - 66
    assert down_mm > 5 and [place[1] - 66 for place in moved] == pytest.approx(
        [0, down_mm, down_mm, down_mm, 0, 0]
    )
    assert [place[0] for place in moved] == [place[0] for place in VENTS_MM]
    arranging.click("#undo")
    until(arranging, "document.querySelector('#undo').disabled")


def drag(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*end, steps=5)
    page.mouse.up()


def test_keys_choose_number_and_regroup(arranging: Page, sequence: Path) -> None:
    for at in (4, 0):
        arranging.locator(f"#handles [data-at='{at}']").focus()
        arranging.keyboard.press("Enter" if at else "Space")
    assert arranging.get_attribute("#handles [data-at='0']", "aria-pressed") == "true"
    assert "chosen as number 2" in (
        arranging.get_attribute("#handles [data-at='0']", "aria-label") or ""
    )
    arranging.locator("#into-group").focus()
    # the rest of the word would be taken for a new one where keys are slow to arrive
    arranging.keyboard.press("o")
    assert arranging.input_value("#into-group") == "oil_gauge"
    arranging.locator("text=Move them").focus()
    arranging.keyboard.press("Enter")
    until(
        arranging,
        f"{STATUS} === '2 lamps are now in Oil gauge: white, 4 mA each, on channels 28 to 41.'",
    )
    saved = groups(arranging, sequence)
    assert (
        saved["oil_gauge"]["places_mm"][-2:] == [[95, 66], [55, 66]] and saved["vents"]["leds"] == 4
    )
    arranging.locator("#handles [data-at='0']").focus()
    arranging.keyboard.press("Enter")
    arranging.keyboard.press("Escape")
    until(arranging, f"{TOLD} === 'None yet.'")


def test_a_finger_chooses_a_lamp_that_it_does_not_quite_meet(
    browser: Browser, sequence: Path
) -> None:
    with (
        bench_of(sequence) as address,
        page_at(
            browser, address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
        ) as page,
    ):
        arrange(page)
        page.locator("#handles").scroll_into_view_if_needed()
        x, y = middle(page, 6)
        page.touchscreen.tap(x + 12, y + 12)
        until(page, f"{TOLD} === '1 of 6, in this order: 6.'")
        assert page.evaluate("document.documentElement.scrollWidth") == 390


def test_lamps_make_a_new_group_which_lights_once_an_effect_does(
    arranging: Page, sequence: Path
) -> None:
    click(arranging, 1, 6)
    arranging.select_option("#into-group", label="A new group")
    assert arranging.input_value("#new-group") == "vents_2"
    arranging.fill("#new-group", "tips")
    arranging.click("text=Move them")
    until(
        arranging,
        f"{STATUS} === '2 lamps are now in Tips: blue, 15 mA each, on channels 28 to 29. No effect"
        " lights them yet.'",
    )
    names = "[...document.querySelectorAll('.groups .thing')].map(({ id }) => id).join()"
    listed = [f"group-{name}-act" for name in ("lens", "vents", "oil_gauge", "tips")]
    until(arranging, f"{names} === '{','.join(listed)}'")
    arranging.click("#undo")
    until(
        arranging,
        "document.querySelectorAll('.groups .thing').length === 3 &&"
        " document.querySelector('#undo').disabled",
    )


def test_the_picture_is_zoomed_and_scrolled_and_lamps_snap_to_its_grid(
    arranging: Page, sequence: Path
) -> None:
    zoom = "parseInt(document.querySelector('#zoom').textContent)"
    x, y = middle(arranging, 1)
    arranging.mouse.move(x, y)
    arranging.mouse.wheel(0, -1300)
    until(arranging, f"{zoom} > 200")
    # what is at the pointer stays there, but for the part of a pixel that a wheel does not tell
    assert middle(arranging, 1) == pytest.approx((x, y), abs=9)
    x, y = middle(arranging, 1)
    arranging.click("#hand")
    drag(arranging, (x, y), (x + 40, y + 30))
    assert middle(arranging, 1) == pytest.approx((x + 40, y + 30), abs=3)
    arranging.click("#hand")
    arranging.check("#grid")
    arranging.fill("#grid-mm", "20")
    drag(arranging, (x + 40, y + 30), (x + 62, y + 52))
    until(arranging, "!document.querySelector('#save').disabled")
    moved = groups(arranging, sequence)["vents"]["places_mm"][0]
    assert moved[0] % 20 == 0 and moved[1] % 20 == 0 and moved != VENTS_MM[0]
    arranging.locator("#handles [data-at='0']").focus()
    arranging.keyboard.press("0")
    until(arranging, f"{zoom} === 100")
    arranging.keyboard.press("+")
    until(arranging, f"{zoom} === 140")
    arranging.click("#zoom-all")
    until(arranging, f"{zoom} === 100")


def test_a_ring_is_turned_by_its_handles_as_one_step_and_stays_a_ring(
    arranging: Page, sequence: Path
) -> None:
    x, y = middle(arranging, 3)
    lens = box_of(arranging, "#handles .other >> nth=0")
    arranging.mouse.click(lens["x"] + lens["width"] / 2, lens["y"] + lens["height"] / 2)
    knob = "#handles [data-knob=size]"
    told = f"document.querySelector('{knob}')?.getAttribute('aria-label')"
    until(arranging, f"{told}?.includes('radius 40 mm, first lamp at -90 degrees')")
    x, y = middle_of(arranging, knob)
    drag(arranging, (x, y), (x + 30, y + 10))
    until(arranging, "!document.querySelector('#save').disabled")
    arranging.focus(knob)
    arranging.keyboard.press("ArrowDown")
    ring = groups(arranging, sequence)["lens"]["ring_mm"]
    assert ring["centre_mm"] == [80, 128] and ring["radius_mm"] < 40 and ring["first_at_deg"] > -80
    arranging.click("#undo")
    arranging.click("#undo")
    until(arranging, f"{told}?.includes('radius 40 mm, first lamp at -90 degrees')")
    assert arranging.is_disabled("#undo")


def test_lamps_are_laid_out_copied_and_counted_and_their_wiring_follows(
    arranging: Page, sequence: Path
) -> None:
    wired = "document.querySelector('.wired').textContent"
    until(arranging, f"{wired}.includes('220 ohm (red red brown gold)')")
    click(arranging, 1, 2, 3)
    arranging.click("text=Copy them")
    until(arranging, f"{TOLD} === '3 of 9, in this order: 7, 8, 9.'")
    arranging.click("text=Lay on a ring")
    until(arranging, "document.querySelector('#lamp-count').value === '9'")
    arranging.click("#fewer-lamps-act")
    until(arranging, "document.querySelector('#lamp-count').value === '8'")
    arranging.fill("#part-groups-vents-current_ma", "5")
    arranging.press("#part-groups-vents-current_ma", "Enter")
    until(arranging, f"{wired}.includes('680 ohm')")
    group = groups(arranging, sequence)["vents"]
    assert (group["leds"], group["channels"], group["current_ma"]) == (8, 8, 5)
    assert group["places_mm"][:6] == VENTS_MM and len(group["places_mm"]) == 8
    assert len({tuple(place) for place in group["places_mm"]}) == 8
    arranging.fill("#lamp-count", "80")
    arranging.press("#lamp-count", "Enter")
    until(arranging, "document.querySelector('#lamp-count-fault').textContent")
    assert arranging.input_value("#lamp-count") == "8"


def test_a_group_that_effects_light_cannot_lose_its_last_lamp(
    browser: Browser, sequence: Path
) -> None:
    with bench_of(sequence) as address, page_at(browser, address, "422") as page:
        arrange(page)
        page.click("text=Choose all")
        page.click("text=Move them")
        until(
            page,
            f"""{STATUS}.includes("no lamp would be left in it, but the effects Arc up, Arc glow, Arc out, Wick, Low cells light it")""",
        )
        until(page, f"{TOLD}.startsWith('6 of 6')")
        assert page.is_disabled("#save")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_choosing_is_open_to_all(browser: Browser, sequence: Path, scheme: str) -> None:
    with bench_of(sequence) as address, page_at(browser, address, color_scheme=scheme) as page:
        arrange(page)
        click(page, 3, 1)
        page.select_option("#into-group", label="A new group")
        page.click("#lamp-files summary")
        for width in (320, 768, 2560, 1366):
            page.set_viewport_size({"width": width, "height": 800})
            until(
                page, f"document.documentElement.scrollWidth <= {width} && innerWidth === {width}"
            )
        assert Axe().run(page).response["violations"] == []
