"""A prop is built on the page, by mouse and by keyboard alone, and the file is as a maker would
have written it.
"""

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_page import DEMO, bench_of, copy_of_demo, page_at, save, until, until_holds
from playwright.sync_api import Browser, Locator, Page
from processes import WITH_US

from fxseq.runs import load_prop

EMPTY = """# A prop to begin with.
format = 1
title = "New prop"

[board]
part = "pico"
"""


BUILT = """
[groups.lens]
leds = 4
colour = "warm_white"
current_ma = 10
channels = 4

[clips.crack_a]
file = "crack_a.wav"

[selectors.ring]
positions = ["calm", "storm"]

[inputs.lever]

[effects.bang]
sounds = [{ clip = "crack_a" }]
lights = [{ group = "lens", fade = "fade" }]

[triggers.flash]
mode = "once"
input = "lever"
effects = ["bang"]

[triggers.gale]
mode = "repeat"
input = "lever"
effects = ["bang"]
rate_per_s = 2
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
"""


IS_SETTLED = "document.querySelector('#thing').ariaBusy !== 'true'"


class Hands:
    """Does things by the names that they have on the page, and counts clicks or keys."""

    def __init__(self, page: Page, by_keys: bool) -> None:
        self.page = page
        self.by_keys = by_keys
        self.count = 0

    def press(self, name: str, within: str = "body") -> None:
        """A button."""
        button = self.page.locator(within).get_by_role("button", name=name, exact=True)
        if self.by_keys:
            self.reach(button)
            self.page.keyboard.press("Enter")
        else:
            button.click()
        self.count += 1

    def pick(self, label: str, choice: str, within: str = "#thing") -> None:
        """From a menu."""
        menu = self.page.locator(within).get_by_label(label, exact=True)
        if self.by_keys:
            self.reach(menu)
            while menu.evaluate("it => it.selectedOptions[0].text") != choice:
                self.page.keyboard.press("ArrowDown")
                self.count += 1
                until(self.page, IS_SETTLED)
        else:
            menu.select_option(label=choice)
        self.count += 2

    def write(self, label: str, text: str, within: str = "#thing") -> None:
        """Into a box."""
        box = self.page.locator(within).get_by_label(label, exact=True)
        if self.by_keys:
            self.reach(box)
            self.page.keyboard.press("Control+A")
            self.page.keyboard.type(text)
        else:
            box.fill(text)
        box.press("Enter")
        self.count += 2
        until(self.page, IS_SETTLED)

    def write_only(self, label: str, text: str) -> None:
        """Into a box of a question, which Enter would answer."""
        box = self.page.locator("dialog").get_by_label(label, exact=True)
        if self.by_keys:
            self.reach(box)
            self.page.keyboard.press("Control+A")
            self.page.keyboard.type(text)
        else:
            box.fill(text)
        self.count += 1

    def tick(self, label: str, within: str = "#thing") -> None:
        """A box to tick."""
        box = self.page.locator(within).get_by_label(label, exact=True)
        if self.by_keys:
            self.reach(box)
            self.page.keyboard.press("Space")
        else:
            box.click()
        self.count += 1

    def choose_file(self, name: str, file: Path) -> None:
        """In the window that a button opens."""
        with self.page.expect_file_chooser() as chooser:
            self.press(name, "#things")
        chooser.value.set_files(file)

    def reach(self, control: Locator) -> None:
        """Puts the focus there, as Tab would in as many steps as there are controls between. An
        answer that comes meanwhile draws the control anew.
        """
        control.focus()
        assert control.evaluate("it => it.tabIndex >= 0 && document.activeElement.id === it.id")
        self.count += 1


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


def build(hands: Hands, recording: Path) -> None:
    """Two triggers on one button, a selector, a recording, a group of lamps, a supply."""
    page = hands.page
    hands.press("Build it")
    new(hands, "group of lamps", "lens")
    hands.pick("Colour", "warm white")
    hands.write("LEDs", "4")
    hands.write("Outputs", "4")
    hands.choose_file("New sound", recording)
    until(page, "document.querySelector('#things').textContent.includes('Crack a')")
    new(hands, "selector", "ring")
    hands.write("Position 1", "calm")
    hands.write("Position 2", "storm")
    new(hands, "trigger", "flash")
    until(page, "document.querySelector('#sentences').textContent.includes('Flash')")
    hands.press("Button", "#things")
    title_is(page, "Button")
    hands.write("Name", "lever")
    title_is(page, "Lever")
    hands.press("Effect", "#things")
    title_is(page, "Effect")
    hands.write("Name", "bang")
    title_is(page, "Bang")
    hands.press("Add sound", "#thing")
    hands.press("Add light", "#thing")
    until(page, "document.querySelector('#things').textContent.includes('Fade')")
    new(hands, "trigger", "gale")
    hands.pick("What a press does", "again and again while held")
    until(page, "document.querySelector('#sentences').textContent.includes('every')")
    hands.tick("Storm")
    new(hands, "supply", "cells")
    until(page, "!document.querySelector('#save').disabled")


@pytest.mark.parametrize("by_keys", [False, True], ids=["mouse", "keyboard"])
def test_a_prop_is_built_from_nothing_and_reads_as_if_written_by_hand(
    browser: Browser, tmp_path: Path, by_keys: bool
) -> None:
    file = tmp_path / "prop" / "new.toml"
    file.parent.mkdir()
    file.write_text(EMPTY, encoding="utf-8")
    with bench_of(file) as address, page_at(browser, address) as page:
        hands = Hands(page, by_keys)
        began_s = time.monotonic()
        build(hands, DEMO / "clips" / "crack_a.wav")
        save(page)
        print(f"{hands.count} clicks or keys, {time.monotonic() - began_s:.1f} s")
    text = file.read_text(encoding="utf-8")
    assert text == EMPTY + BUILT
    assert load_prop(file).sequence.triggers.keys() == {"flash", "gale"}


OPEN_ALL = (
    "document.querySelectorAll('.list details, .rest').forEach((fold) => { fold.open = true; })"
)


def building(page: Page) -> None:
    page.click("button[value=build]")
    until(page, "document.querySelectorAll('#sentences li').length > 0")


@pytest.fixture(scope="module")
def built(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """The demo, in the mode in which it is built, for tests that each turn something else."""
    prop = copy_of_demo(tmp_path_factory.mktemp("built"))
    with bench_of(prop) as address, page_at(browser, address, "422") as page:
        building(page)
        yield page


def values_of(page: Page) -> dict[str, Any]:
    """What the bench has by now."""
    asked = "import('/page/api.js').then(({ get }) => get('/api/parts'))"
    return page.evaluate(asked)["values"]


def trigger(page: Page, name: str) -> dict[str, Any]:
    return values_of(page)["triggers"][name]


def test_every_key_is_drawn_with_its_label_and_meaning(shared_page: Page) -> None:
    """Of every table; `tests/bench` shows that each is led to."""
    missing = shared_page.evaluate("""async () => {
      const { Form } = await import('/page/form.js'), { get } = await import('/page/api.js');
      const forms = await get('/api/forms'), missing = [];
      let drawn = 0;
      for (const [name, { fields }] of Object.entries(forms.tables)) {
        if (name === 'Sequence') continue;
        const form = new Form(forms, () => {});
        form.take({ values: { x: { mode: 'repeat', format: 1 } }, assumed: {} });
        for (const field of fields) {
          const box = document.createElement('div');
          box.append(form.field(field, ['x', field.key]));
          drawn += 1;
          const words = [field.label, field.means.slice(0, 20)];
          const isWhole = words.every((text) => box.textContent.includes(text))
            && box.querySelector('input, select, textarea, button') && box.querySelector('.fault');
          if (!isWhole && field.key !== 'when') missing.push(`${name}.${field.key}`);
        }
      }
      if (drawn < 180) missing.push(`only ${drawn}`);
      return missing;
    }""")
    assert missing == []


LOOKED_AT = {"light": ["effects-refill"], "dark": ["triggers-arc"]}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_no_barrier_while_building(
    browser: Browser, demo_address: str, theme: str
) -> None:
    size = {"light": {"width": 1366, "height": 900}, "dark": {"width": 390, "height": 844}}[theme]
    with page_at(browser, demo_address, color_scheme=theme, viewport=size) as page:
        building(page)
        page.evaluate(OPEN_ALL)
        for kind in LOOKED_AT[theme]:
            page.click(f"#thing-{kind}-act")
            page.evaluate(OPEN_ALL)
            result = Axe().run(page)
            assert result.violations_count == 0, result.generate_report()
        small = page.evaluate("""
          [...document.querySelectorAll('main button, main select, main summary')]
            .map((it) => [it.outerHTML.slice(0, 80), it.getBoundingClientRect()])
            .filter(([, { width, height }]) => height > 0 && (height < 24 || width < 24))""")
        assert small == []


def test_nothing_is_wider_than_the_window_while_building(built: Page) -> None:
    for kind in ("clips-crack_a", "effects-wick", "triggers-arc"):
        built.click(f"#thing-{kind}-act")
        built.evaluate(OPEN_ALL)
        for width in (320, 390, 768, 1366, 1920):
            built.set_viewport_size({"width": width, "height": 800})
            fits = f"document.documentElement.scrollWidth <= {width}"
            until(built, f"innerWidth === {width} && {fits}")


def test_what_cannot_be_is_refused_at_its_field_in_a_makers_words(built: Page) -> None:
    before = values_of(built)
    built.click("#thing-groups-lens-act")
    built.fill("#part-groups-lens-current_ma", "-4")
    built.keyboard.press("Enter")
    until(built, "document.querySelector('#part-groups-lens-current_ma-fault').textContent")
    said = built.inner_text("#part-groups-lens-current_ma-fault")
    assert said == (
        "Group Lens: \N{LEFT DOUBLE QUOTATION MARK}current\N{RIGHT DOUBLE QUOTATION MARK}"
        " is -4 mA. Allowed: 0.01 to 5000 mA. Nothing was changed."
    )
    assert built.input_value("#part-groups-lens-current_ma") == "20"
    assert built.evaluate("document.activeElement.id") == "part-groups-lens-current_ma"
    assert values_of(built) == before


def test_what_is_left_open_shows_what_is_assumed_and_one_field_is_one_step(built: Page) -> None:
    before = values_of(built)
    built.click("#thing-inputs-lever-act")
    built.click(".rest summary")
    means = "#part-inputs-lever-lockout_ms-means"
    assert built.inner_text(means).endswith("Not said: 20 ms is assumed.")
    box = "#part-inputs-lever-lockout_ms"
    built.fill(box, "35")
    built.press(box, "Enter")
    until(built, f"!document.querySelector('{means}').textContent.includes('Not said')")
    built.fill(box, "")
    built.press(box, "Enter")
    until(built, f"document.querySelector('{means}').textContent.includes('Not said')")
    built.click("#undo")
    until(built, f"!document.querySelector('{means}').textContent.includes('Not said')")
    assert values_of(built)["inputs"]["lever"] == {"lockout_ms": 35}
    built.click("#undo")
    until(built, f"document.querySelector('{means}').textContent.includes('Not said')")
    assert values_of(built) == before


def test_a_sentence_is_turned_by_its_words_and_marked_while_it_runs(built: Page) -> None:
    line = built.locator("#sentences li", has_text="Storm signal")
    assert re.sub(r"\s+", " ", line.locator("p").first.inner_text()).startswith("When ")
    every = line.get_by_label("Seconds from one to the next, Storm signal")
    assert every.input_value() == "0.143"
    every.fill("0.25")
    every.press("Enter")
    until_holds(built, lambda: trigger(built, "storm_signal")["rate_per_s"] == 4, "4 a second")
    every.fill("0.001")
    every.press("Enter")
    until(built, "document.querySelector('#say-fault-storm_signal').textContent")
    said = "Allowed: 0.001 to 50 per second. Nothing was changed."
    assert built.inner_text("#say-fault-storm_signal").endswith(said)
    assert every.input_value() == "0.25"
    line.get_by_label("Order, Storm signal").select_option(label="at random")
    line.get_by_label("Ring", exact=False).first.select_option(label="any position")
    until(built, "document.querySelector('#say-part-triggers-storm_signal-when-ring') === null")
    assert "when" not in trigger(built, "storm_signal")
    built.check("[data-hold=lever]")
    arc = "document.querySelector('#say-arc-act').parentNode"
    until(built, f"{arc}.matches('.running') && {arc}.firstChild.textContent === 'now'")
    built.uncheck("[data-hold=lever]")
    until(built, f"!{arc}.matches('.running') && {arc}.firstChild.textContent === ''")


def test_what_is_used_is_deleted_only_after_a_question(built: Page) -> None:
    built.click("#thing-effects-flare_a-act")
    built.click("#part-effects-flare_a-delete-act")
    box = built.locator("dialog")
    assert "trigger Flare, effect 1; trigger Slow signal, effect 1" in box.inner_text()
    box.get_by_role("button", name="Leave it").click()
    assert built.evaluate("document.activeElement.id") == "part-effects-flare_a-delete-act"
    built.click("#part-effects-flare_a-delete-act")
    built.locator("dialog").get_by_label("Use in its place").select_option("storm_a")
    built.get_by_role("button", name="Put the other one in its place").click()
    until(built, "document.querySelector('#thing-effects-flare_a-act') === null")
    assert trigger(built, "flare")["effects"] == ["storm_a", "flare_b", "flare_c"]


def test_rows_are_added_moved_and_taken_out(built: Page) -> None:
    menu = "#part-triggers-storm_signal-effects-0"
    first = f"document.querySelector('{menu}').selectedOptions[0].text"
    built.click("#thing-triggers-storm_signal-act")
    built.get_by_role("button", name="Later: Effect 1", exact=True).click()
    until(built, f"{first} === 'Storm b'")
    built.get_by_role("button", name="Take out: Effect 2", exact=True).click()
    until(built, "document.querySelector('#part-triggers-storm_signal-effects-1') === null")
    built.get_by_role("button", name="Add effect", exact=True).click()
    until(built, "document.querySelector('#part-triggers-storm_signal-effects-1') !== null")
    assert trigger(built, "storm_signal")["effects"][0] == "storm_b"


def test_a_prop_is_begun_on_the_first_page(browser: Browser, tmp_path: Path) -> None:
    command = [sys.executable, "-c", "from fxseq.cli import main; main()", "bench", "--no-browser"]
    home = {**os.environ, "XDG_STATE_HOME": str(tmp_path / "state")}
    (tmp_path / "props").mkdir()
    with subprocess.Popen(
        [*WITH_US, *command], stdout=subprocess.PIPE, text=True, env=home, cwd=tmp_path / "props"
    ) as bench:
        assert bench.stdout is not None
        page = browser.new_page()
        try:
            page.goto(bench.stdout.readline().strip())
            page.get_by_label("What it is called").fill("Dark lantern")
            page.get_by_label("What is pressed").select_option("a button")
            page.get_by_label("What shines").select_option("four white LEDs")
            result = Axe().run(page)
            assert result.violations_count == 0, result.generate_report()
            page.get_by_role("button", name="Begin it").click()
            page.locator(".contact").wait_for()
            assert page.title() == "Dark lantern: bench"
        finally:
            page.close()
            bench.terminate()
    sequence = load_prop(tmp_path / "props" / "dark_lantern.toml").sequence
    assert sequence.groups["lamp"].leds == 4 and list(sequence.triggers) == ["flash"]
