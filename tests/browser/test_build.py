"""The mode in which a prop is built: its forms, its sentences, and what it refuses."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_page import bench_of, copy_of_demo, page_at, until, until_holds
from playwright.sync_api import Browser, Page

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


LOOKED_AT = {
    "light": ["effects-refill", "speaker-"],
    "dark": ["triggers-arc", "fades-flash", "wiring-"],
}


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
            page.evaluate("document.querySelector('#strip-lights-0')?.focus()")
            until(page, "document.querySelector('#wiring-sheet')?.ariaBusy !== 'true'")
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
