"""A button that is held while something is turned: what was answered is not answered again, and
what goes on goes on.
"""

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_page import bench_of, copy_of_demo, page_at, until
from offline import QUANTUM, render
from playwright.sync_api import Browser, Page
from steady import RATE_HZ, REPEAT, steady_prop

from fxseq.player import PressKind, TraceKind
from fxseq.runs import Prop

ONCE_AND_ROLLING = REPEAT + """
after_held_ms = 300
[triggers.once]
mode = "once"
input = "lever"
effects = ["blink"]
"""
"""One shot at the press, and after 300 ms, 315 frames, twenty a second."""
PRESS = {"kind": int(PressKind.PRESS), "index": 0, "value": 0, "frame": 0}
EVERY_QUANTA = 8
SWAPS = 40


def shots(prop: Prop, names: list[str], is_under_hand: bool = True) -> dict[str, int]:
    """Of each trigger, of 40 tables one after the other, each played for 8 quanta, 48.8 frames.
    names: of the input, in turn.

    The table that the render begins with names no input, so the first that follows is pressed anew.
    """
    later = [
        {
            "quantum": EVERY_QUANTA * number,
            "message": {
                "swap": {
                    "revision": number,
                    "closed": 1,
                    "inputs": [names[number % len(names)]],
                    "isUnderHand": is_under_hand,
                }
            },
        }
        for number in range(1, SWAPS + 1)
    ]
    trace = render(
        prop.compiled.data, RATE_HZ, EVERY_QUANTA * (SWAPS + 8) * QUANTUM, [PRESS], later
    ).trace
    fired = [index for _, kind, index, _ in trace if kind == TraceKind.SHOT]
    return {name: fired.count(at) for at, name in enumerate(prop.compiled.names.triggers)}


def test_a_single_fires_once_and_a_repeat_begins_after_its_hold_and_goes_on(tmp_path: Path) -> None:
    prop = steady_prop(tmp_path, ONCE_AND_ROLLING)
    found = shots(prop, ["lever"])
    assert found["once"] == 2
    # with each table that begins after the hold is over
    assert found["blink"] >= SWAPS - 1 - 315 // 48
    anew = shots(prop, ["lever"], is_under_hand=False)
    assert anew["once"] == SWAPS + 1 and anew["blink"] < 3


def test_an_input_of_another_name_is_pressed_anew(tmp_path: Path) -> None:
    assert shots(steady_prop(tmp_path, ONCE_AND_ROLLING), ["lever", "button"])["once"] == SWAPS + 1


TURN = """(value) => { const box = [...document.querySelectorAll('input[type=number]')].find((box) => box.ariaLabel?.startsWith('Gain, effect'));
  box.value = value; box.dispatchEvent(new Event('change')); }"""
STARTED = "reports.filter(({ started }) => started).length"


def turn(page: Page, times: int) -> None:
    """Edits one after the other, each played."""
    for value in range(times):
        before = page.evaluate(STARTED)
        page.evaluate(TURN, str(-value - 1))
        until(page, f"{STARTED} > {before}")


def counted(page: Page, trigger: str) -> int:
    names = ["flare", "slow_signal", "storm_signal", "arc", "refill", "wind", "wick", "low_cells"]
    return page.evaluate(
        f"traced({int(TraceKind.SHOT)}).filter(({{ index }}) => index ==="
        f" {names.index(trigger)}).length"
    )


def test_the_lever_of_the_demo_is_held_while_a_gain_is_turned(
    browser: Browser, tmp_path: Path
) -> None:
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        page.check("[data-hold=lever]")
        until(page, f"traced({int(TraceKind.SHOT)}).length > 0")
        turn(page, 6)
        # the slow signal, which begins after half a second
        until(page, f"traced({int(TraceKind.SHOT)}).some(({{ index }}) => index === 1)")
        turn(page, 3)
        assert counted(page, "flare") == 1
        page.click("#restart")
        until(
            page, f"traced({int(TraceKind.SHOT)}).filter(({{ index }}) => index === 0).length === 2"
        )


def test_what_was_pressed_and_turned_is_given_as_it_was_played(
    browser: Browser, tmp_path: Path
) -> None:
    """Since the last table: of the lever, that it had been down; no flare is in it, and the slow
    signal begins after the rest of its half second.
    """
    with bench_of(copy_of_demo(tmp_path)) as address, page_at(browser, address) as page:
        page.check("[data-hold=lever]")
        until(page, f"traced({int(TraceKind.SHOT)}).length > 0")
        page.evaluate("reports.splice(0)")
        turn(page, 1)
        until(page, f"traced({int(TraceKind.SHOT)}).length > 1")
        page.uncheck("[data-hold=lever]")
        page.check("input[name=run][value=pressed]")
        of_last = (
            "reports.slice(reports.findLastIndex(({ started }) => started)).filter((report) =>"
            " report.shares)"
        )
        until(page, f"{of_last}.filter(({{ high }}) => high > 0.05).length > 9")
        reports = page.evaluate(of_last)  # it plays on until the click
        with page.expect_download() as download:
            page.get_by_role("button", name="Sound of the board (WAV)").click()
        samples, _ = soundfile.read(
            io.BytesIO(Path(download.value.path()).read_bytes()), dtype="int16"
        )
    ends = np.cumsum([report["samples"] for report in reports])
    compared = 0
    for end, report in zip(ends, reports, strict=True):
        part = samples[end - report["samples"] : end] / 32768
        if end > RATE_HZ // 50:  # the cut sound fades in the first
            assert (min(part.min(), 0), max(part.max(), 0)) == pytest.approx(
                (report["low"], report["high"]), abs=1e-6
            )
            compared += report["high"] > 0.05
    assert compared > 5
