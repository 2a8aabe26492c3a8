"""Work at the bench: clips dropped and cut, lamps moved, the table sent to a board and proved,
the page given away; ways to listen.
"""

import io
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_page import (
    DEMO,
    LONGEST_S,
    bench_of,
    copy_of_demo,
    page_at,
    placing,
    until,
    until_highest,
    until_holds,
)
from playwright.sync_api import Browser, Page, Response

from fxseq.acoustics import full_scale_v
from fxseq.player import TraceKind
from fxseq.runs import board_wav, load_prop, perform

STATUS = "document.querySelector('#status').textContent"


def test_a_recording_that_is_dropped_becomes_a_clip_beside_the_sequence(
    browser: Browser, tmp_path: Path
) -> None:
    recording = tmp_path / "Far Thunder-2.wav"
    soundfile.write(recording, np.sin(np.arange(4410) / 5) * 0.5, 22050)
    (tmp_path / "prop").mkdir()
    with bench_of(copy_of_demo(tmp_path / "prop")) as address, page_at(browser, address) as page:
        page.set_input_files("#new-clip", recording)
        until(page, "document.querySelector('#clip').value === 'far_thunder_2'")
        until(
            page,
            "document.querySelector('.wave').getAttribute('aria-label')?.includes('200 ms"
            " recorded')",
        )
    assert (tmp_path / "prop/clips/far_thunder_2.wav").read_bytes() == recording.read_bytes()


def test_a_file_that_is_no_recording_is_refused_in_words(browser: Browser, tmp_path: Path) -> None:
    (tmp_path / "broken.wav").write_bytes(b"RIFF....WAVE no more")
    (tmp_path / "prop").mkdir()
    with (
        bench_of(copy_of_demo(tmp_path / "prop")) as address,
        page_at(browser, address, "422") as page,
    ):
        page.set_input_files("#new-clip", tmp_path / "broken.wav")
        until(page, f"{STATUS}.includes('cannot be read as sound')")
        assert page.locator("#clip option").count() == 11
    assert not (tmp_path / "prop/clips/broken.wav").exists()


def test_a_clip_that_is_cut_shorter_takes_less_of_the_flash(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        page.select_option("#clip", "dry")
        box = page.get_by_label("Ends at, clip Dry, in ms")
        box.fill("30")
        box.press("Enter")
        until(page, "document.querySelector('.wave').ariaLabel?.includes('to 30 ms')")
        until(
            page,
            "document.querySelector('#clips').textContent.includes('In the table: 30 ms')",
        )


def test_a_lamp_is_moved_by_keys_and_the_move_undone(browser: Browser, tmp_path: Path) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        placing(page, "lens")
        lamp = page.locator("#handles [data-at='0']")
        lamp.focus()
        assert "at 80.0, 88.0 mm" in (lamp.get_attribute("aria-label") or "")
        page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("ArrowDown")
        until(page, "!document.querySelector('#undo').disabled")
        assert "at 85.0, 88.5 mm" in (lamp.get_attribute("aria-label") or "")
        page.click("#undo")
        until(
            page,
            "document.querySelector('#handles"
            " [data-at=\"0\"]').getAttribute('aria-label').includes('at 80.0, 88.0 mm')",
        )


def test_places_come_from_a_list(browser: Browser, tmp_path: Path) -> None:
    places = tmp_path / "places.csv"
    places.write_text("group,number,x_mm,y_mm\nvents,1,20,30\n", encoding="utf-8")
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        placing(page, "vents")
        page.set_input_files("#lamp-list", places)
        until(page, f"{STATUS} === 'The lamps are placed.'")
        assert "at 20.0, 30.0 mm" in (
            page.get_attribute("#handles [data-at='0']", "aria-label") or ""
        )


def test_the_table_is_sent_after_a_question_and_proved(browser: Browser, tmp_path: Path) -> None:
    path = copy_of_demo(tmp_path)
    text, changed = re.subn(
        r"(?m)^presses = .*",
        'presses = "tap lever @0.1, end @0.5"',
        path.read_text(encoding="utf-8"),
    )  # a proof takes as long
    path.write_text(text, encoding="utf-8")
    assert changed == 1
    with bench_of(path) as address, page_at(browser, address) as page:
        page.click("text=Start a virtual board")
        until(
            page,
            "document.querySelector('#port').selectedOptions[0]?.textContent.includes('virtual"
            " board')",
        )
        page.get_by_role("button", name="Send", exact=True).click()
        assert page.locator("#sending .notice").is_visible()
        page.click("text=Send it")
        until(page, "document.querySelector('#sending').textContent.includes('plays this table')")
        page.get_by_role("button", name="Prove", exact=True).click()
        until(
            page,
            "document.querySelector('#sending').textContent.includes('did the same as the"
            " reference')",
        )


def test_the_page_that_was_saved_plays_from_disk_without_a_server(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        with page.expect_download() as download:
            page.click("#export")
        saved = tmp_path / "elsewhere" / download.value.suggested_filename
        saved.parent.mkdir()
        shutil.copy(download.value.path(), saved)
    with page_at(browser, saved.as_uri(), offline=True) as page:
        page.keyboard.down("f")
        until(page, f"traced({int(TraceKind.SHOT)}).length > 1")
        until(page, "document.querySelectorAll('.finding').length > 0")
        assert "a second at most" in page.inner_text(
            "#figures"
        ) and "Trying rates" not in page.inner_text("#figures")
        page.click("#in-words summary")
        until(
            page,
            "/ mA, \\d+ dB\\(A\\) at the"
            " hand/.test(document.querySelector('#highest').textContent)",
        )
        assert (
            not page.is_visible("#save")
            and not page.is_visible("#settings")
            and not page.is_visible("#others")
        )


def downloaded(page: Page, button: str) -> bytes:
    with page.expect_download() as download:
        page.get_by_role("button", name=button).click()
    assert download.value.suggested_filename == f"squall_lantern_{FILES[button]}"
    return Path(download.value.path()).read_bytes()


FILES = {
    "Sound of the board (WAV)": "board.wav",
    "Sound at the hand (WAV)": "heard.wav",
    "Figure (PNG)": "figure.png",
    "Moving lights (GIF)": "lights.gif",
}


def test_sound_and_pictures_of_the_press_script_are_given(page: Page) -> None:
    prop = load_prop(DEMO / "squall_lantern.toml")
    given = {button: downloaded(page, button) for button in FILES}
    assert given["Sound of the board (WAV)"] == board_wav(perform(prop, prop.script()[0]))
    assert [data[:4] for data in given.values()] == [b"RIFF", b"RIFF", b"\x89PNG", b"GIF8"]


def test_what_has_been_pressed_is_given_as_the_player_plays_it(page: Page) -> None:
    """Sample for sample, as far as the reports of what was heard tell."""
    page.keyboard.press("f")
    until(page, f"traced({int(TraceKind.RELEASE)}).length === 1")
    page.check("input[name=selector-ring][value='1']")
    page.keyboard.down("f")
    until(page, f"traced({int(TraceKind.SHOT)}).length > 5")
    page.keyboard.up("f")
    until(page, f"traced({int(TraceKind.RELEASE)}).length === 2")
    page.check("input[name=run][value=pressed]")
    # it plays on until the click
    reports = page.evaluate("reports.filter((report) => report.shares)")
    samples, rate_hz = soundfile.read(
        io.BytesIO(downloaded(page, "Sound of the board (WAV)")), dtype="int16"
    )
    assert sum(report["high"] > 0.1 for report in reports) > 10
    ends = np.cumsum([report["samples"] for report in reports])
    for end, report in zip(ends, reports, strict=True):
        part = samples[end - report["samples"] : end] / 32768
        assert (min(part.min(), 0), max(part.max(), 0)) == pytest.approx(
            (report["low"], report["high"]), abs=1e-6
        )
    assert rate_hz == 22050


@pytest.mark.parametrize("way", ["board", "speaker", "recorded"])
def test_each_way_to_listen_is_heard_and_no_louder_than_the_board(page: Page, way: str) -> None:
    """What reaches the destination, measured by the browser's own analyser."""
    page.check(f"input[name=way][value='{way}']")
    peak = page.evaluate(
        """async (longest_s) => {
      const { context } = nodes[0], meter = new AnalyserNode(context, { fftSize: 2048 }), samples = new Float32Array(meter.fftSize);
      outputs[0].connect(meter);
      const key = (kind) => document.dispatchEvent(new KeyboardEvent(kind, { code: 'KeyF', bubbles: true }));
      const seconds = async (count) => { // of sound
        for (const end_s = context.currentTime + count, late_ms = performance.now() + 1000 * longest_s;
          context.currentTime < end_s && performance.now() < late_ms;) await new Promise((done) => setTimeout(done, 5));
      };
      key('keydown');
      key('keyup');
      await seconds(0.6); // what was heard before has faded out
      let peak = 0;
      for (let count = 0; count < 400 && (peak < 0.02 || count < 40); count++) {
        if (count % 40 === 0) key('keydown'); // again, should the recordings have come only now
        if (count % 40 === 20) key('keyup');
        await seconds(0.02);
        meter.getFloatTimeDomainData(samples);
        peak = Math.max(peak, ...samples.map(Math.abs));
      }
      return peak;
    }""",
        LONGEST_S,
    )
    assert 0.02 < peak <= 1


def test_an_amplifier_that_is_turned_down_is_asked_for_anew_and_seen_in_the_strip(
    browser: Browser, tmp_path: Path
) -> None:
    path = copy_of_demo(tmp_path)
    turned = tmp_path / "turned.toml"
    turned.write_text(
        path.read_text(encoding="utf-8").replace("gain_db = 10.0", "gain_db = 4.0", 1),
        encoding="utf-8",
    )
    prop = load_prop(turned)
    expected = perform(prop, prop.script("tap lever @0.5, end @2")[0])
    with bench_of(path) as address, page_at(browser, address) as page:
        answers: list[Response] = []
        page.on(
            "response",
            lambda answer: answers.append(answer) if answer.url.endswith("/api/listen") else None,
        )
        page.evaluate(
            "document.querySelectorAll('details').forEach((fold) => { fold.open = true; })"
        )
        box = page.get_by_label("Gain, amplifier, in dB")
        box.fill("4")
        box.press("Enter")
        until(page, "reports.some(({ started }) => started === 2)")
        gain = pytest.approx(full_scale_v(prop.sequence.amplifier))
        until_holds(
            page,
            lambda: answers and answers[-1].json()["gain_v_per_unit"] == gain,
            "the gain that was turned to is listened to",
        )
        box.blur()
        page.keyboard.press("f")
        until_highest(
            page,
            ma=(expected.load.unsagged_ma.peak(), 0.03 * expected.load.unsagged_ma.peak()),
            db=(expected.heard.levels.at["hand"].lafmax_db, 1),
        )
