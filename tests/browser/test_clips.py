"""Clips as a maker works on them: taken up, replaced, filtered, made as loud as the speaker can
play them, and stored so that all fit.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile
from axe_playwright_python.sync_playwright import Axe
from bench_page import bench_of, copy_of_demo, page_at, save, until
from playwright.sync_api import Browser

STATUS = "document.querySelector('#status').textContent"
FACTS = "[...document.querySelectorAll('#clip-facts tr')].map((row) => row.innerText).join()"


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    (tmp_path / "prop").mkdir()
    return copy_of_demo(tmp_path / "prop")


def clips_in(sequence: Path) -> dict:
    return tomllib.loads(sequence.read_text(encoding="utf-8"))["clips"]


def test_a_sound_is_taken_up_from_the_microphone(browser: Browser, sequence: Path) -> None:
    with (
        bench_of(sequence) as address,
        page_at(browser, address) as page,
    ):
        page.click("#record")
        # a beep each second
        until(page, "parseFloat(document.querySelector('.microphone .small').textContent) > 1.2")
        until(page, "document.querySelector('.microphone meter').value > -40")
        page.click("#record-stop")
        page.fill(".ask input", "Harbour horn")
        page.keyboard.press("Enter")
        until(page, "document.querySelector('#clip').value === 'harbour_horn'")
        until(page, "document.querySelector('.wave').ariaLabel.startsWith('Harbour horn:')")
        save(page)
    samples, rate_hz = soundfile.read(sequence.parent / clips_in(sequence)["harbour_horn"]["file"])
    assert len(samples) > 1.2 * rate_hz and np.abs(samples).max() > 0.1


def test_a_clip_is_made_in_its_form_under_its_curve(
    browser: Browser, sequence: Path, tmp_path: Path
) -> None:
    """What is said in the form is seen and measured above it; another recording takes its place
    and keeps all that is said; the curve goes home with the mode.
    """
    with bench_of(sequence) as address, page_at(browser, address, color_scheme="dark") as page:
        page.select_option("#clip", "bell")
        page.click("#clip-more")
        until(
            page, "document.querySelector('#beside .wave') && document.querySelector('#thing h2')"
        )
        until(page, f"{FACTS}.includes('Length')")
        before = page.evaluate(FACTS)
        page.fill("#part-clips-bell-high_pass_hz", "1500")
        page.keyboard.press("Enter")
        until(page, f"{FACTS} !== {before!r}")
        tone = 0.25 * np.sin(np.arange(11025) * 2 * np.pi * 3000 / 22050)
        soundfile.write(tmp_path / "Ship Bell.wav", tone, 22050)
        page.set_input_files("#part-clips-bell-other", tmp_path / "Ship Bell.wav")
        until(page, f"{FACTS}.includes('500 ms')")
        result = Axe().run(page)
        assert result.violations_count == 0, result.generate_report()
        page.click("#modes button[value=play]")
        until(page, "document.querySelector('#clips .wave').checkVisibility()")
        save(page)
        said = {"file": "clips/ship_bell.wav", "rate_hz": 16000, "high_pass_hz": 1500}
        assert clips_in(sequence)["bell"] == said
        page.click("#undo")
        until(page, "!document.querySelector('#redo').disabled")
        save(page)
    assert clips_in(sequence)["bell"]["file"] != "clips/ship_bell.wav"
    assert not (sequence.parent / "clips" / "ship_bell.wav").exists()


def test_long_work_says_how_far_it_is_is_cancelled_and_gives_what_can_be_used(
    browser: Browser, sequence: Path
) -> None:
    with bench_of(sequence) as address, page_at(browser, address, "409") as page:
        page.click("text=Find what fits")
        until(
            page,
            "/Trying ways to store, \\d+ %: \\w/.test(document.querySelector('.work').innerText)",
        )
        page.click(".work button")
        until(page, f"{STATUS} === 'Cancelled.' && !document.querySelector('.work')")
        page.select_option("#clip", "dry")
        page.click("text=Try this clip")
        until(page, "document.querySelector('#advice-loud table')")
        page.reload()
        until(page, "document.querySelector('#advice-loud table')")
        result = Axe().run(page, ".clips")
        assert result.violations_count == 0, result.generate_report()
        page.click("#advice-loud >> text=Use these")
        until(page, "!document.querySelector('#undo').disabled")
        save(page)
        dry = clips_in(sequence)["dry"]
        assert dry["limit_to_dbfs"] <= 0 and "gain_db" in dry
        page.click("#undo")
        until(page, "document.querySelector('#undo').disabled")
