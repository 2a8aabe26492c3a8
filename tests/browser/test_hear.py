"""A recording that is heard by itself, and stopped."""

from pathlib import Path

import numpy as np
import soundfile
from bench_page import bench_of, copy_of_demo, page_at, until
from playwright.sync_api import Browser

BUTTON = "document.querySelector('#hear').textContent"
WATCH = """() => { window.told = []; const button = document.querySelector('#hear');
  new MutationObserver(() => told.push(button.textContent)).observe(button, { childList: true }); }"""
SOUNDS = """async () => {
  const meter = new AnalyserNode(nodes[0].context, { fftSize: 2048 }), samples = new Float32Array(meter.fftSize);
  outputs[0].connect(meter);
  for (let left = 500; left > 0; left--) {
    await new Promise((done) => setTimeout(done, 20));
    meter.getFloatTimeDomainData(samples);
    if (samples.some((sample) => Math.abs(sample) > 0.1)) return true;
  }
  return false;
}"""


def test_a_recording_is_heard_until_it_ends_or_is_stopped(browser: Browser, tmp_path: Path) -> None:
    (tmp_path / "prop").mkdir()
    soundfile.write(tmp_path / "gale.wav", 0.5 * np.sin(np.arange(60 * 22050) / 5), 22050)
    with bench_of(copy_of_demo(tmp_path / "prop")) as address, page_at(browser, address) as page:
        page.select_option("#clip", "dry")
        page.evaluate(WATCH)
        page.focus("#hear")
        page.keyboard.press("Enter")
        # by itself: it lasts a tenth of a second
        until(page, "told.join() === 'Stop,Play it as recorded'")
        page.set_input_files("#new-clip", tmp_path / "gale.wav")
        until(page, "document.querySelector('#clip').value === 'gale'")
        page.focus("#hear")
        page.keyboard.press("Enter")
        until(page, f"{BUTTON} === 'Stop'")
        assert page.evaluate(SOUNDS)
        page.keyboard.press("Enter")
        until(page, f"{BUTTON} === 'Play it as recorded'")
