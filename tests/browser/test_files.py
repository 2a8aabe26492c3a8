"""Files dropped on the page as a hand drops them: recordings good and broken, far too large
ones, folders, photos, lists.
"""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_page import bench_of, copy_of_demo, middle_of, page_at, until
from PIL import Image
from playwright.sync_api import Browser, Page

STATUS = "document.querySelector('#status').textContent"
CLIPS = "[...document.querySelectorAll('#clip option')].map(({ value }) => value)"


def drop(page: Page, *paths: Path, onto: str = "h1") -> None:
    """Drag files of this machine's disk over the page and let go, by the browser's own protocol:
    the page gets what a hand would give it.
    """
    page.locator(onto).scroll_into_view_if_needed()
    x, y = middle_of(page, onto)
    browser = page.context.new_cdp_session(page)
    for kind in ("dragEnter", "dragOver", "drop"):
        browser.send(
            "Input.dispatchDragEvent",
            {
                "type": kind,
                "x": x,
                "y": y,
                "data": {
                    "items": [],
                    "files": [str(path) for path in paths],
                    "dragOperationsMask": 1,
                },
            },
        )
    browser.detach()


def tone(path: Path, seconds: float = 0.2) -> Path:
    path.parent.mkdir(exist_ok=True)
    soundfile.write(path, np.sin(np.arange(round(seconds * 22050)) / 5) * 0.5, 22050)
    return path


def files(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and "state" not in path.parts
    }


@pytest.fixture
def prop(tmp_path: Path) -> Path:
    (tmp_path / "prop").mkdir()
    return copy_of_demo(tmp_path / "prop")


def test_a_recording_dropped_anywhere_becomes_a_clip_with_its_curve(
    browser: Browser, prop: Path, tmp_path: Path
) -> None:
    with bench_of(prop) as address, page_at(browser, address) as page:
        for number, onto in enumerate(("h1", ".drop", "#numbers")):
            recording = tone(tmp_path / f"Far Thunder-{number}.wav")
            drop(page, recording, onto=onto)
            until(page, f"document.querySelector('#clip').value === 'far_thunder_{number}'")
            until(
                page,
                "document.querySelector('.wave').getAttribute('aria-label')"
                f"?.includes('Far thunder {number}: 200 ms recorded')",
            )
            assert page.evaluate(INKED) > 0.3, onto
            assert page.url.startswith(address.split("#")[0]), onto
            kept = prop.parent / f"clips/far_thunder_{number}.wav"
            assert kept.read_bytes() == recording.read_bytes(), onto


# The picture on another canvas, which may be read as often as one likes.
COPIED = """const copied = (canvas) => {
  const pen = new OffscreenCanvas(canvas.width, canvas.height).getContext('2d', { willReadFrequently: true });
  pen.drawImage(canvas, 0, 0);
  return pen;
};"""
# Share of the columns of the curve in which there is ink of the kept part at a fifth of the height
# above the middle: of a tone, those with the upper half of a period in them.
INKED = "(() => {" + COPIED + """
  const canvas = document.querySelector('.wave'), pen = copied(canvas);
  const ink = pen.getImageData(0, Math.round(canvas.height * 0.4), canvas.width, 1).data;
  const lane = [...pen.getImageData(0, 0, 1, 1).data].join();
  let count = 0;
  for (let x = 0; x < canvas.width; x++) count += [...ink.slice(4 * x, 4 * x + 4)].join() !== lane;
  return count / canvas.width;
})()"""


def test_two_recordings_of_one_name_become_two_clips(
    browser: Browser, prop: Path, tmp_path: Path
) -> None:
    with bench_of(prop) as address, page_at(browser, address) as page:
        drop(page, tone(tmp_path / "one" / "gale.wav"))
        until(page, f"{CLIPS}.includes('gale')")
        drop(page, tone(tmp_path / "other" / "gale.wav", 0.3))
        until(page, "document.querySelector('#clip').value === 'gale_2'")


def test_several_recordings_dropped_at_once_are_all_taken_and_told(
    browser: Browser, prop: Path, tmp_path: Path
) -> None:
    (tmp_path / "bad.wav").write_bytes(b"RIFF")
    with bench_of(prop) as address, page_at(browser, address, "422") as page:
        drop(
            page,
            tone(tmp_path / "gale.wav"),
            tmp_path / "bad.wav",
            tone(tmp_path / "surf.wav", 0.3),
        )
        until(page, f"{CLIPS}.includes('gale') && {CLIPS}.includes('surf')")
        until(
            page,
            "['Gale is now a clip', 'bad: it cannot be read as sound', 'Surf is now a"
            f" clip'].every((words) => {STATUS}.includes(words))",
        )


REFUSED = [
    ("broken.wav", b"RIFF\x24\x00\x00\x00WAVEfmt ", "broken: it cannot be read as sound"),
    ("empty.wav", b"", "empty: it cannot be read as sound"),
    ("poem.wav", b"no sound at all", "poem: it cannot be read as sound"),
    ("plan.pdf", b"%PDF-1.7", "plan.pdf: the bench cannot use this kind of file"),
    ("broken.png", b"\x89PNG\r\n\x1a\n", "broken: it cannot be read as a picture"),
    ("sound.jpg", b"RIFF", "sound: it cannot be read as a picture"),
    ("places.csv", b"group,number\nlens,1\n", "CSV:1: a column is missing"),
]
"""File, what is in it, and what is told of it."""


def test_what_cannot_be_used_is_told_once_and_changes_nothing(
    browser: Browser, prop: Path, tmp_path: Path
) -> None:
    before = files(prop.parent)
    with bench_of(prop) as address, page_at(browser, address, "422") as page:
        for name, data, told in REFUSED:
            (tmp_path / name).write_bytes(data)
            drop(page, tmp_path / name)
            until(page, f"{STATUS}.startsWith({told!r})")
            page.wait_for_timeout(600)
            assert page.text_content("#status").count("Allowed:") == 1, name
            assert page.is_disabled("#save") and page.locator("#clip option").count() == 11, name
            assert files(prop.parent) == before, name


def test_a_folder_is_refused_in_words(browser: Browser, prop: Path, tmp_path: Path) -> None:
    tone(tmp_path / "sounds" / "gale.wav")
    with bench_of(prop) as address, page_at(browser, address) as page:
        drop(page, tmp_path / "sounds")
        until(page, f"{STATUS} === 'sounds: it is a folder. Drop the files in it.'")


# Counts what begins to read a file.
READS = """window.read = [];
for (const way of ['arrayBuffer', 'bytes', 'slice', 'stream', 'text']) {
  const real = Blob.prototype[way];
  Blob.prototype[way] = function (...given) { read.push(way); return real.apply(this, given); };
}
window.FileReader = class extends FileReader { constructor() { super(); read.push('FileReader'); } };
null"""


def test_two_hundred_megabytes_are_refused_and_never_read(
    browser: Browser, prop: Path, tmp_path: Path
) -> None:
    large = tmp_path / "gale.wav"
    with large.open("wb") as file:
        file.write(tone(tmp_path / "short.wav").read_bytes())
        file.truncate(200 * 2**20)
    with bench_of(prop) as address, page_at(browser, address) as page:
        sent: list[str] = []
        page.on("request", lambda request: sent.append(request.method))
        page.evaluate(READS)
        drop(page, large)
        until(
            page, f"{STATUS} === 'gale.wav: it has 200 MiB. Allowed: up to 64 MiB. Cut it first.'"
        )
        assert page.evaluate("read") == [] and "POST" not in sent
        (tmp_path / "places.csv").write_text(
            "group,number,x_mm,y_mm\nvents,1,20,30\n", encoding="utf-8"
        )
        drop(page, tmp_path / "places.csv")
        until(page, f"{STATUS} === 'The lamps are placed.'")
        assert page.evaluate("read") == ["text"]  # so it does count


def test_a_photo_is_drawn_under_the_lamps(browser: Browser, prop: Path, tmp_path: Path) -> None:
    """Left half red, right half green, of the shape of the plane: darkened, but of these
    colours, with a lamp's light on top.
    """
    image = Image.new("RGB", (320, 480), (220, 20, 20))
    image.paste((20, 220, 20), (160, 0, 320, 480))
    image.save(tmp_path / "Prop.png")
    with bench_of(prop) as address, page_at(browser, address) as page:
        before = colours(page)
        drop(page, tmp_path / "Prop.png")
        until(
            page,
            f"{STATUS} === 'The photo is now under the lamps. It is assumed to be 160 mm wide."
            " Say how wide it really is, then place the lamps on it.'",
        )
        page.click("button[value=play]")
        until(page, f"{COLOURS}.left[0] > 60 && Math.min(...{COLOURS}.gauge) > 180")
        after = colours(page)
        assert after["left"][0] > 3 * after["left"][1] and after["right"][1] > 3 * after["right"][0]
        assert max(before["left"]) < 40
        photo = prop.parent / "prop.png"
        assert photo.read_bytes() == (tmp_path / "Prop.png").read_bytes()
        page.click("#undo")
        until(page, f"{COLOURS}.left[0] < 40")
    assert not photo.exists()


# Pixels of the picture, by what is there: two places without lamps, and the first lamp of the gauge
# at 47, 218 mm, which is on.
COLOURS = "(() => {" + COPIED + """
  const canvas = document.querySelector('#picture'), pen = copied(canvas);
  const at = (x, y) => [...pen.getImageData(Math.round(x / 160 * canvas.width), Math.round(y / 240 * canvas.height), 1, 1).data].slice(0, 3);
  return { left: at(10, 20), right: at(150, 20), gauge: at(47, 218) };
})()"""


def colours(page: Page) -> dict[str, list[int]]:
    return page.evaluate(COLOURS)


def test_a_list_of_places_can_be_dropped(browser: Browser, prop: Path, tmp_path: Path) -> None:
    (tmp_path / "places.csv").write_text(
        "group,number,x_mm,y_mm\nvents,1,20,30\n", encoding="utf-8"
    )
    with bench_of(prop) as address, page_at(browser, address) as page:
        drop(page, tmp_path / "places.csv", onto="#picture")
        until(page, f"{STATUS} === 'The lamps are placed.'")
