"""A browser without screen and sound card, Debian's Chromium, and pages of the bench in it."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(
    0, str(Path(__file__).parent)
)  # what drives the page, and the prop with a steady sound, are modules of this folder

from bench_page import CHROMIUM, SWITCHES, bench_of, copy_of_demo, page_at


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def demo_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A bench for tests that change nothing."""
    with bench_of(copy_of_demo(tmp_path_factory.mktemp("bench"))) as address:
        yield address


@pytest.fixture
def page(browser: Browser, demo_address: str) -> Iterator[Page]:
    with page_at(browser, demo_address) as page:
        yield page


@pytest.fixture(scope="module")
def shared_page(browser: Browser, demo_address: str) -> Iterator[Page]:
    """For properties, whose cases share what a fixture gives."""
    with page_at(browser, demo_address) as page:
        yield page
