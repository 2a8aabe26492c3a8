"""A prop from an empty folder to a board that plays it, by mouse, by keyboard and by finger alone;
the file is as a maker would have written it.
"""

import base64
import time
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_page import DEMO, PRESSED, first_page_in, middle_of, page_at, save, until
from hands import Hands, Way
from PIL import Image
from playwright.sync_api import Browser, Page

from fxseq.bench import Desk
from fxseq.runs import load_prop

BOARD = "RP2040 board with 2 MB of flash, the usual 40 pins (Pico)"
RECORDINGS = [DEMO / "clips" / f"crack_{letter}.wav" for letter in "abc"]
# Each file goes to the page as a drop from the desktop brings it.
DROP = """(files) => {
  const data = new DataTransfer();
  for (const { name, text } of files) data.items.add(new File([Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0))], name));
  document.body.dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
}"""
GRID_MM = 10
BUILT = """\
# Begun on the page of `fxseq bench`. Change it there or in a text editor, as you like.
# Times are in ms, light in percent of perceived lightness, sound in dB.

format = 1
title = "Gale lamp"
changeover = "switch"

[board]
part = "pico"
lights = "shift_registers"

[picture]
width_mm = 300
height_mm = 140
image = "photo.png"

[groups.lens]
channels = 30
leds = 30
colour = "amber"
current_ma = 10
ring_mm = { centre_mm = [100, 70], radius_mm = 40, first_at_deg = -90 }

[groups.stripe]
channels = 20
leds = 20
colour = "blue"
current_ma = 10
line_mm = { from_mm = [75, 70], to_mm = [225, 70] }

[clips.crack_a]
file = "crack_a.wav"

[clips.crack_b]
file = "crack_b.wav"

[clips.crack_c]
file = "crack_c.wav"

[selectors.ring]
positions = ["calm", "storm"]

[inputs.lever]

[effects.bang]
sounds = [{ clip = "crack_a" }, { clip = "crack_c" }]
lights = [{ group = "lens", fade = "fade" }]

[effects.gust]
sounds = [{ clip = "crack_b" }]
lights = [{ group = "stripe", fade = "fade" }]

[triggers.flash]
mode = "once"
input = "lever"
effects = ["bang"]

[triggers.gale]
mode = "repeat"
input = "lever"
rate_per_s = 3
effects = ["gust"]
when = { ring = "storm" }

[fades.fade]
segments = [
    { shape = "step", to_percent = 100, length_ms = 40 },
    { shape = "decay", to_percent = 0, length_ms = 300 },
]

[supplies.cells]
kind = "cells"
cell = "alkaline_aa"
cells_in_series = 3

[supplies.adaptor]
kind = "wall"
voltage_v = 5.0
maximum_current_ma = 2000

[scripts.show]
presses = "tap lever @0.1, end @0.5"
"""


def title_is(page: Page, title: str) -> None:
    until(page, f"document.querySelector('#thing h2')?.textContent === {title!r}")


def new(hands: Hands, one: str, name: str, **said: str) -> None:
    """A new thing, with what is asked for at once."""
    hands.press(f"New {one}", "#things")
    hands.write_only("Name", name)
    for label, choice in said.items():
        hands.pick(label.replace("_", " "), choice, "dialog")
    hands.press("Make it", "dialog")
    title_is(hands.page, name.capitalize())


def look(hands: Hands, entry: str, title: str = "") -> None:
    hands.press(entry, "#things")
    title_is(hands.page, title or entry)


def begin(hands: Hands) -> None:
    """On the first page."""
    page = hands.page
    hands.write_only("What it is called", "Gale lamp", "body")
    hands.pick("Which board", BOARD, "body")
    result = Axe().run(page)
    assert result.violations_count == 0, result.generate_report()
    hands.press("Begin it")
    page.locator("#modes").wait_for()
    until(page, "window.reports?.some((report) => report.started)")


def lamps(hands: Hands, name: str, count: int, colour: str) -> None:
    hands.press("New group of lamps", "#lamps")
    hands.write_only("Name", name)
    hands.write_only("How many", str(count))
    hands.pick("Colour", colour, "dialog")
    hands.press("Make it", "dialog")
    until(hands.page, f"document.querySelectorAll('#handles [data-at]').length === {count}")


def place(hands: Hands, photo: Path) -> None:
    """Fifty lamps of two colours on a photo; so many hang on shift registers."""
    page = hands.page
    hands.press("Build it", "#modes")
    page.locator("#thing-board--act").wait_for()
    look(hands, "Board")
    hands.pick("What the outputs are", "shift registers")
    hands.press("Place lamps", "#modes")
    page.locator("#new-lamps-act").wait_for()
    hands.open("Photo, and places from a list")
    hands.choose_files(page.locator("#photo"), photo)
    until(page, "document.querySelector('#status').textContent.includes('under the lamps')")
    hands.write("Real width", "300", "#lamps")
    until(page, "document.querySelector('#photo-height').textContent.includes('140 mm')")
    lamps(hands, "lens", 30, "amber")
    hands.pick("They lie", "on a ring", "#lamps")
    until(page, "document.querySelector('[data-knob=centre]')")
    hands.write("Radius", "40", "#lamps")
    hands.tick("Grid, lamps snap to it", "#place-tools")
    hands.write("Width of the grid, in mm", str(GRID_MM), "#place-tools")
    move_ring(hands, -5)
    lamps(hands, "stripe", 21, "blue")
    hands.press("One lamp fewer", "#lamps")
    until(page, "document.querySelectorAll('#handles [data-at]').length === 20")


def move_ring(hands: Hands, steps: int) -> None:
    """So many steps of the grid to the right."""
    page = hands.page
    knob = "[data-knob=centre]"
    at = f"document.querySelector('{knob}').getAttribute('aria-label')"
    if hands.by_keys:
        page.locator(knob).focus()
        for _ in range(abs(steps)):
            page.keyboard.press("ArrowLeft" if steps < 0 else "ArrowRight")
        hands.count += 1 + abs(steps)
    else:
        x, y = middle_of(page, knob)
        px_a_mm = page.evaluate("document.querySelector('#stage').clientWidth") / 300 * 0.94
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + steps * GRID_MM * px_a_mm, y, steps=4)
        page.mouse.up()
        hands.count += 1
    until(page, f"{at}.includes('at {150 + steps * GRID_MM}, 70 mm')")
    until(
        page,
        f"document.querySelector('#part-groups-lens-ring_mm-centre_mm').value === '{150 + steps * GRID_MM}'",
    )


def record(hands: Hands) -> None:
    """Three recordings, dropped, or chosen where there is no mouse."""
    page = hands.page
    hands.press("Build it", "#modes")
    page.locator("#new-clips-act").wait_for()
    if hands.by_keys:
        hands.choose_files(page.locator("#new-clips-act"), *RECORDINGS)
    else:
        files = [
            {"name": file.name, "text": base64.b64encode(file.read_bytes()).decode()}
            for file in RECORDINGS
        ]
        page.evaluate(DROP, files)
        hands.count += 1
    until(page, "document.querySelector('#things').textContent.includes('Crack c')")


def build(hands: Hands) -> None:
    """Two triggers on one button, a selector, cells and an adaptor."""
    page = hands.page
    new(hands, "selector", "ring")
    hands.write("Position 1", "calm")
    hands.write("Position 2", "storm")
    new(hands, "trigger", "flash")
    look(hands, "Button")
    hands.write("Name", "lever")
    title_is(page, "Lever")
    look(hands, "Effect")
    hands.write("Name", "bang")
    title_is(page, "Bang")
    hands.press("Add sound", "#thing")
    page.locator("#part-effects-bang-sounds-0-clip").wait_for()
    hands.press("Add sound", "#thing")
    page.locator("#part-effects-bang-sounds-1-clip").wait_for()
    hands.pick("Sound", "Crack c", "#thing fieldset.one-row >> nth=1")
    hands.press("Add light", "#thing")
    until(page, "document.querySelector('#things').textContent.includes('Fade')")
    new(
        hands,
        "trigger",
        "gale",
        What_a_press_does="again and again while held",
        Effect="a new effect",
    )
    hands.tick("Storm")
    look(hands, "Effect")
    hands.write("Name", "gust")
    title_is(page, "Gust")
    hands.press("Add sound", "#thing")
    page.locator("#part-effects-gust-sounds-0-clip").wait_for()
    hands.pick("Sound", "Crack b")
    hands.press("Add light", "#thing")
    page.locator("#part-effects-gust-lights-0-group").wait_for()
    hands.pick("Group", "Stripe")
    hands.open("limits", "#sentences")
    hands.press("Use 3", "#sentences")  # up to which flashing needs no warning
    new(hands, "supply", "cells")
    new(hands, "supply", "adaptor", Which_one="a wall adaptor of 5 V, 2 A")
    look(hands, "From one supply to another")
    hands.pick("From one supply to another", "switch")
    new(hands, "press script", "show")
    hands.write("Presses", "tap lever @0.1, end @0.5")


def prove(hands: Hands) -> None:
    """Sent to a virtual board, which does the same as the preview."""
    page = hands.page
    hands.press("Play it", "#modes")
    hands.press("Start a virtual board")
    until(
        page, "document.querySelector('#port').selectedOptions[0]?.textContent.includes('virtual')"
    )
    hands.press("Send", "#sending")
    hands.press("Send it")
    until(page, "document.querySelector('#sending').textContent.includes('plays this table')")
    hands.press("Prove", "#sending")
    until(
        page,
        "document.querySelector('#sending').textContent.includes('did the same as the reference')",
    )


@pytest.mark.parametrize("way", ["mouse", "keys"])
def test_a_prop_is_made_from_nothing_and_reads_as_if_written_by_hand(
    browser: Browser, tmp_path: Path, way: Way
) -> None:
    photo = tmp_path / "photo.png"
    Image.new("RGB", (1500, 700), (190, 180, 160)).save(photo)
    folder = tmp_path / "props"
    folder.mkdir()
    with (
        first_page_in(folder) as address,
        page_at(browser, address, is_first=True, is_late=way == "mouse") as page,
    ):
        hands = Hands(page, way)
        began_s = time.monotonic()
        begin(hands)
        place(hands, photo)
        record(hands)
        build(hands)
        save(page)
        prove(hands)
        print(f"{way}: {hands.count} clicks or keys, {time.monotonic() - began_s:.1f} s")
    file = folder / "gale_lamp.toml"
    text = file.read_text(encoding="utf-8")
    assert text == BUILT
    assert Desk(file).now.text == text
    assert load_prop(file).sequence.triggers.keys() == {"flash", "gale"}


class Finger:
    """Fingers that go along on the glass, as Chromium takes them from a screen."""

    def __init__(self, page: Page) -> None:
        self._screen = page.context.new_cdp_session(page)

    def go(self, *ways: list[tuple[float, float]]) -> None:
        """Each finger along its places, all at a time."""
        for turn, places in enumerate(zip(*ways, strict=True)):
            self._send("touchMove" if turn else "touchStart", places)
        self._send("touchEnd", ())

    def down(self, place: tuple[float, float]) -> None:
        self._send("touchStart", (place,))

    def up(self) -> None:
        self._send("touchEnd", ())

    def _send(self, kind: str, places: tuple[tuple[float, float], ...]) -> None:
        points = [{"x": x, "y": y, "id": finger} for finger, (x, y) in enumerate(places)]
        self._screen.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_a_prop_is_begun_placed_and_pressed_by_finger_alone(
    browser: Browser, tmp_path: Path
) -> None:
    phone = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
    with (
        first_page_in(tmp_path) as address,
        page_at(browser, address, is_first=True, **phone) as page,
    ):
        hands = Hands(page, "finger")
        hands.write_only("What it is called", "Pocket light", "body")
        hands.pick("What is pressed", "a button", "body")
        hands.pick("What shines", "four white LEDs", "body")
        hands.press("Begin it")
        page.locator("#modes").wait_for()
        until(page, "window.reports?.some((report) => report.started)")
        finger = Finger(page)
        hands.press("Place lamps", "#modes")
        until(page, "document.querySelectorAll('#handles [data-at]').length === 4")
        page.locator("#stage").scroll_into_view_if_needed()
        x, y = middle_of(page, "#stage")
        apart = [[(x + side * far, y) for far in (20, 30, 40, 50, 60)] for side in (-1, 1)]
        finger.go(*apart)
        until(page, "parseInt(document.querySelector('#zoom').textContent) > 200")
        hands.press("Show the whole picture", "#place-tools")
        lamp = "#handles [data-at='3']"
        place = f"document.querySelector(\"{lamp}\").getAttribute('aria-label')"
        before = page.evaluate(place)
        x, y = middle_of(page, f"{lamp} circle")
        finger.go([(x, y + by) for by in (0, 8, 16, 24)])
        until(page, f"{place} !== {before!r}")
        hands.press("One lamp more", "#lamps")
        until(page, "document.querySelectorAll('#handles [data-at]').length === 5")
        hands.press("Play it", "#modes")
        finger.down(middle_of(page, ".contact"))
        until(page, f"{PRESSED}.length === 1")
        finger.up()
        with page.expect_response(lambda response: response.url.endswith("/api/save")) as answer:
            hands.press("Save")
        assert answer.value.ok
        assert page.evaluate("document.documentElement.scrollWidth") == 390
    group = load_prop(tmp_path / "pocket_light.toml").sequence.groups["lamp"]
    assert (group.leds, group.channels, len(group.places_mm or ())) == (5, 5, 5)
