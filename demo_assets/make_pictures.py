"""Makes the pictures of the README from the demo: `.venv/bin/python demo_assets/make_pictures.py`.

Those of the bench need what drives a browser in the tests (playwright and Debian's Chromium);
without them they are left as they are.
"""

import io
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image, ImageStat

from fxseq.advice import as_meant, fit, tune
from fxseq.player import TraceKind
from fxseq.plots import board_figure, fit_figure, preview_figure, save, tune_figure
from fxseq.runs import load_prop, perform

if TYPE_CHECKING:
    from playwright.sync_api import Page

HERE = Path(__file__).parent
PICTURES = HERE / "pictures"
TRIGGER = "storm_signal"
FIT_BYTES = 24576
RATES_PER_S = [*map(float, range(1, 20, 2)), 20.0]
BENCH_PX = {"width": 1280, "height": 1500}
BUILDING_PX = 1120
SHOTS_SHOWN = 4
TRIES = 8


def main() -> None:
    """Write all pictures."""
    prop = load_prop(HERE / "squall_lantern.toml")
    PICTURES.mkdir(exist_ok=True)
    performance = perform(prop, prop.script()[0])
    save(preview_figure(performance, "light"), PICTURES / "preview.png")
    meant = as_meant(prop.path, prop.sequence)
    fitted = fit(perform(meant, meant.script()[0]), prop.sequence.board.codings)
    picked = fitted.best(FIT_BYTES)
    save(
        fit_figure(fitted, picked, fitted.outcome(picked), FIT_BYTES, "light"), PICTURES / "fit.png"
    )
    first = load_prop(HERE / "first_light.toml").sequence
    save(board_figure(first, "light"), PICTURES / "board.png")
    save(tune_figure(tune(prop, TRIGGER, RATES_PER_S), "light"), PICTURES / "tune.png")
    missing = bench_pictures(PICTURES / "bench.png", PICTURES / "build.png", PICTURES / "place.png")
    if missing:
        print(f"the pictures of the bench are left as they are: {missing}", file=sys.stderr)


def bench_pictures(playing: Path, building: Path, placing: Path) -> str:
    """Draw the bench while the lever is held, down to the last seconds, while the prop is built
    and while its lamps are placed; what is missing for that, in words, if anything is.
    """
    tests = HERE.parent / "tests"
    sys.path[:0] = [str(tests), str(tests / "browser")]
    try:
        from playwright.sync_api import sync_playwright

        from bench_page import CHROMIUM, SWITCHES, bench_of, copy_of_demo, page_at
        from fxseq.bench.numbers import RATES_PER_S
    except ImportError as error:
        return f"{error.name} is not installed; tests/run installs it."
    if not Path(CHROMIUM).exists():
        return f"there is no {CHROMIUM}; Debian has it in the package {Path(CHROMIUM).name}."
    with (
        tempfile.TemporaryDirectory() as folder,
        bench_of(copy_of_demo(Path(folder)), RATES_PER_S) as address,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        with page_at(
            browser, address, every_picture=True, viewport=BENCH_PX, color_scheme="light"
        ) as page:
            pictures = {
                playing: in_mid_signal(page),
                building: in_building(page),
                placing: in_placing(page),
            }
        browser.close()
    for target, shown in pictures.items():
        shown.quantize(dither=Image.Dither.NONE).save(target, optimize=True)
    return ""


def in_mid_signal(page: "Page") -> Image.Image:
    """The top of the page with every number worked out, at the brightest of some moments between
    shots.
    """
    from bench_page import until

    figures = "document.querySelector('#figures')"
    until(
        page,
        f"{figures}.ariaBusy === 'false' && !{figures}.textContent.includes('working it out')",
        60,
    )
    page.keyboard.down("f")
    until(page, f"traced({int(TraceKind.SHOT)}).length >= {SHOTS_SHOWN}")
    clip = {
        "x": 0,
        "y": 0,
        **BENCH_PX,
        "height": (
            page.evaluate("document.querySelector('.strip').getBoundingClientRect().bottom") + 12
        ),
    }
    shown = [
        Image.open(io.BytesIO(page.screenshot(clip=clip))).convert("RGB") for _ in range(TRIES)
    ]
    lens = page.locator("#picture").bounding_box()
    box = (lens["x"], lens["y"], lens["x"] + lens["width"], lens["y"] + lens["height"])
    return max(shown, key=lambda picture: ImageStat.Stat(picture.crop(box)).mean[0])


def in_building(page: "Page") -> Image.Image:
    """The sentences with those of the held lever marked, and the form of an effect."""
    from bench_page import until

    page.click("button[value=build]")
    page.click("#thing-effects-arc_up-act")
    until(page, "document.querySelectorAll('.sentences li.running').length > 1")
    page.evaluate("scrollTo(0, 0)")
    clip = {"x": 0, "y": 0, **BENCH_PX, "height": BUILDING_PX}
    return Image.open(io.BytesIO(page.screenshot(clip=clip))).convert("RGB")


def in_placing(page: "Page") -> Image.Image:
    """The lens with the handles of its ring, on the grid."""
    from bench_page import placing, until

    placing(page, "lens")
    page.check("#grid")
    until(page, "document.querySelectorAll('.wired div').length > 4")
    return Image.open(io.BytesIO(page.screenshot())).convert("RGB")


if __name__ == "__main__":
    main()
