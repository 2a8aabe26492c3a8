"""Hands on the page: what a maker does there, by mouse, keyboard or finger alone."""

from pathlib import Path
from typing import Literal

from bench_page import until
from playwright.sync_api import Locator, Page

Way = Literal["mouse", "keys", "finger"]
IS_SETTLED = "document.querySelector('#thing')?.ariaBusy !== 'true'"


class Hands:
    """Does things by the names that they have on the page, with a mouse, with keys or with a
    finger, and counts clicks, keys and taps.
    """

    def __init__(self, page: Page, way: Way) -> None:
        self.page = page
        self.by_keys = way == "keys"
        self.by_finger = way == "finger"
        self.count = 0

    def click(self, control: Locator) -> None:
        """A press on it, with nothing to say."""
        if self.by_keys:
            self.reach(control)
            self.page.keyboard.press("Enter")
        elif self.by_finger:
            control.tap()
        else:
            control.click()
        self.count += 1

    def press(self, name: str, within: str = "body") -> None:
        """A button."""
        self.click(self.page.locator(within).get_by_role("button", name=name, exact=True))

    def open(self, fold: str, within: str = "#lamps") -> None:
        """A fold, by its heading."""
        self.click(self.page.locator(f"{within} summary", has_text=fold))

    def pick(self, label: str, choice: str, within: str = "#thing") -> None:
        """From a menu."""
        menu = self.page.locator(within).get_by_label(label, exact=True)
        if self.by_keys:
            self.reach(menu)
            for _ in range(abs(self.steps_to(menu, choice))):
                way = "ArrowDown" if self.steps_to(menu, choice) > 0 else "ArrowUp"
                self.page.keyboard.press(way)
                self.count += 1
                until(self.page, IS_SETTLED)
            assert self.steps_to(menu, choice) == 0
        else:
            menu.select_option(label=choice)
        self.count += 2

    def steps_to(self, menu: Locator, choice: str) -> int:
        """How many options further down it is than what is chosen now."""
        steps: int = menu.evaluate(
            "(it, label) => [...it.options].findIndex(({ text }) => text === label) - it.selectedIndex",
            choice,
        )
        return steps

    def write(self, label: str, text: str, within: str = "#thing") -> None:
        """Into a box."""
        self.write_only(label, text, within)
        self.page.locator(within).get_by_label(label, exact=True).press("Enter")
        self.count += 1
        until(self.page, IS_SETTLED)

    def write_only(self, label: str, text: str, within: str = "dialog") -> None:
        """Into a box, as of a question, which Enter would answer."""
        box = self.page.locator(within).get_by_label(label, exact=True)
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
            self.count += 1
        else:
            self.click(box)

    def choose_files(self, control: Locator, *files: Path) -> None:
        """In the window that a control opens."""
        with self.page.expect_file_chooser() as chooser:
            self.click(control)
        chooser.value.set_files(files)

    def reach(self, control: Locator) -> None:
        """Puts the focus there, as Tab would in as many steps as there are controls between. An
        answer that comes meanwhile draws the control anew.
        """
        control.focus()
        assert control.evaluate("it => it.tabIndex >= 0 && document.activeElement.id === it.id")
        self.count += 1
