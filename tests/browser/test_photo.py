"""A photo under the lamps, and how wide it really is."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_page import bench_of, copy_of_demo, page_at, placing, until
from PIL import Image
from playwright.sync_api import Browser, Page

STATUS = "document.querySelector('#status').textContent"
FIRST_OF_VENTS = "document.querySelector('#handles [data-at=\"0\"]').getAttribute('aria-label')"


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    (tmp_path / "prop").mkdir()
    return copy_of_demo(tmp_path / "prop")


@pytest.fixture
def on_photo(browser: Browser, sequence: Path, tmp_path: Path) -> Iterator[Page]:
    """The page with a photo twice as high as wide, taken as 160 mm wide, and the handles of the
    vents.
    """
    Image.new("RGB", (100, 200), (90, 90, 90)).save(tmp_path / "prop.png")
    with bench_of(sequence) as address, page_at(browser, address, "422") as page:
        assert not page.is_visible("#photo-width")
        placing(page, "vents")
        page.click("#lamp-files summary")
        assert not page.is_visible("#photo-width")  # there is nothing yet to be wide
        page.set_input_files("#photo", tmp_path / "prop.png")
        until(
            page,
            f"{STATUS}.startsWith('The photo is now under the lamps. It is assumed to be 160 mm"
            " wide.')",
        )
        yield page


def places_px(page: Page) -> list[float]:
    """Where the lamps are drawn on the picture."""
    drawn = page.evaluate(
        "[...document.querySelectorAll('#handles [data-at]')].map((it) => it.getAttribute('transform'))"
    )
    return [float(way) for place in drawn for way in re.findall(r"[\d.]+", place)]


def make_wide(page: Page, width_mm: str) -> None:
    """By keys alone."""
    page.focus("#photo-width")
    page.keyboard.press("Control+A")
    page.keyboard.type(width_mm)
    page.keyboard.press("Enter")


def test_lamps_stay_where_they_are_on_a_photo_that_is_made_as_wide_as_it_is(
    on_photo: Page, sequence: Path
) -> None:
    before = places_px(on_photo)
    make_wide(on_photo, "120")
    until(
        on_photo,
        f"{STATUS} === 'The photo is now 120 mm wide and 240 mm high. The lamps are still where"
        " they were on the photo.'",
    )
    until(on_photo, f"{FIRST_OF_VENTS}.includes('at 41.3, 49.5 mm')")
    assert places_px(on_photo) == pytest.approx(before, abs=2)
    on_photo.click("#save")
    until(on_photo, f"{STATUS} === 'Saved.'")
    assert tomllib.loads(sequence.read_text(encoding="utf-8"))["picture"]["width_mm"] == 120


def test_lamps_keep_their_millimetres_where_the_maker_says_so(on_photo: Page) -> None:
    on_photo.check("input[name=photo-keep][value=mm]")
    make_wide(on_photo, "200")
    until(
        on_photo,
        f"{STATUS}.endsWith('The lamps kept their millimetres. Check whether they still fit the"
        " photo.')",
    )
    assert "at 55.0, 66.0 mm" in on_photo.evaluate(FIRST_OF_VENTS)
    assert "400 mm high" in on_photo.inner_text("#photo-height")
    on_photo.click("#undo")
    until(on_photo, "document.querySelector('#photo-width').value === '160'")


def test_a_width_that_cannot_be_is_refused_and_shown_back(on_photo: Page) -> None:
    make_wide(on_photo, "0")
    until(on_photo, f"{STATUS} === 'Width of the photo: allowed is 1 to 10000 mm.'")
    assert on_photo.input_value("#photo-width") == "160"
    on_photo.check("input[name=photo-keep][value=mm]")
    make_wide(on_photo, "60")
    until(on_photo, f"{STATUS}.includes('outside the picture')")
    assert on_photo.input_value("#photo-width") == "160"
