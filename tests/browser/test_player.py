"""The player in the page gives what the reference gives, at once, and without a gap where a table is swapped."""
import base64
from pathlib import Path

import numpy as np
import pytest
from bench_page import page_at
from offline import QUANTUM, render
from playwright.sync_api import Browser, Page
from steady import RATE_HZ, VALUE, steady_prop

from fxseq.checks import load_prop
from fxseq.player import Player, PressKind, TraceKind, parse_script

DEMO = Path(__file__).parents[2] / "demo_assets/squall_lantern.toml"
SCRIPT = "tap lever @0.5, hold lever @1.2..3, set ring storm @2.5, set volume 60 @3.2, tap refill @3.6, hold lever @4.5..6, press lever @6.5, end @7"
RAMP_S = 0.003
# A second processor behind the player, which keeps what it is given.
_RECORDER = """registerProcessor('recorder', class extends AudioWorkletProcessor {
  kept = [];
  constructor() { super(); this.port.onmessage = () => this.port.postMessage(this.kept); }
  process([[input]]) { if (input) this.kept.push(...input); return true; }
});"""
_REALTIME = """async ({ recorder: source, table, rate_hz, events, seconds }) => {
  const { boardNode, playerModule } = await import('/page/play.js');
  const context = new AudioContext({ sampleRate: rate_hz });
  const node = await boardNode(context, await playerModule());
  await context.audioWorklet.addModule(URL.createObjectURL(new Blob([source], { type: 'text/javascript' })));
  const recorder = new AudioWorkletNode(context, 'recorder');
  node.connect(recorder).connect(context.destination);
  node.port.postMessage({ table: Uint8Array.from(atob(table), (letter) => letter.charCodeAt(0)).buffer, revision: 1 });
  node.port.postMessage({ events });
  await new Promise((done) => setTimeout(done, 1000 * seconds));
  const kept = await new Promise((done) => { recorder.port.onmessage = ({ data }) => done(data); recorder.port.postMessage(0); });
  await context.close();
  return kept.map((sample) => sample * 32768);
}"""
PRESS = {"kind": int(PressKind.PRESS), "index": 0, "value": 0}

pytestmark = pytest.mark.xdist_group("browser")


def test_samples_and_trace_are_those_of_the_reference_for_a_scripted_run(page: Page) -> None:
    compiled = load_prop(DEMO).compiled
    table, script = compiled.table, parse_script(SCRIPT, compiled.table, compiled.names)
    played = Player(table).play(script.presses, script.until_frame)
    length = len(played.samples) // QUANTUM * QUANTUM
    events = [{"frame": press.frame, "kind": int(press.kind), "index": press.index, "value": press.value} for press in script.presses]
    result = render(page, compiled.data, table.sample_rate_hz, length, events)
    assert np.array_equal(result.samples, played.samples[:length])
    assert len(result.trace) > 50
    assert result.trace == [tuple(map(int, event)) for event in played.trace][:len(result.trace)]


def test_samples_are_those_of_the_reference_while_a_clock_runs(browser: Browser, demo_address: str) -> None:
    compiled = load_prop(DEMO).compiled
    script = parse_script("tap lever @1, hold lever @1.6..2.6, tap refill @2.8, end @4", compiled.table, compiled.names)
    expected = np.trim_zeros(Player(compiled.table).play(script.presses, script.until_frame).samples, "f")
    events = [{"frame": press.frame, "kind": int(press.kind), "index": press.index, "value": press.value} for press in script.presses]
    given = {"recorder": _RECORDER, "table": base64.b64encode(compiled.data).decode(), "rate_hz": RATE_HZ, "events": events, "seconds": 5}
    with page_at(browser, demo_address, bypass_csp=True) as page:  # the recorder is none of the page's own modules
        page.keyboard.press("Tab")  # a gesture, without which there is no sound
        heard = np.trim_zeros(np.array(page.evaluate(_REALTIME, given)), "f")
    length = min(len(heard), len(expected))
    assert length > 2 * RATE_HZ
    assert np.array_equal(heard[:length], expected[:length])


def test_a_press_is_heard_in_the_very_next_quantum(page: Page, tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    for quantum in range(20, 32):
        result = render(page, data, RATE_HZ, 64 * QUANTUM, later=[{"quantum": quantum, "message": {"events": [PRESS]}}])
        first = int(np.flatnonzero(result.samples)[0])
        assert quantum * QUANTUM <= first < (quantum + 1) * QUANTUM
        assert first - quantum * QUANTUM < 21  # what is left of the frame that had begun


def test_forty_taps_of_no_length_are_all_presses(page: Page, tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    tap = [PRESS, PRESS | {"kind": int(PressKind.RELEASE)}]
    later = [{"quantum": 10 * number, "message": {"events": tap}} for number in range(1, 41)]
    result = render(page, data, RATE_HZ, 430 * QUANTUM, later=later)
    kinds = [kind for _, kind, _, _ in result.trace]
    assert kinds.count(TraceKind.PRESS) == kinds.count(TraceKind.RELEASE) == kinds.count(TraceKind.START) == 40


def test_two_taps_within_a_quantum_keep_their_order(page: Page, tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    edges = [PRESS | {"kind": int(kind)} for kind in (PressKind.PRESS, PressKind.RELEASE, PressKind.PRESS)]
    result = render(page, data, RATE_HZ, 200 * QUANTUM, later=[{"quantum": 10, "message": {"events": edges}}])
    assert [kind for _, kind, _, _ in result.trace if kind in (TraceKind.PRESS, TraceKind.RELEASE)] == [TraceKind.PRESS]
    assert result.samples[-1] == VALUE  # still held


def test_two_hundred_swaps_while_held_lose_no_sample_and_make_no_click(page: Page, tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    swaps = [{"quantum": 10 * number, "message": {"swap": {"revision": number, "closed": 1}}} for number in range(1, 201)]
    result = render(page, data, RATE_HZ, 2010 * QUANTUM, [PRESS | {"frame": 0}], swaps)
    held = result.samples[9 * QUANTUM:]  # the first press has been taken by then
    assert result.gaps == 0
    assert np.abs(np.diff(held)).max() <= VALUE / (RAMP_S * RATE_HZ) + 1
    assert (held > VALUE - 200).all()
    assert [kind for _, kind, _, _ in result.trace].count(TraceKind.PRESS) == 201


def test_a_swap_at_another_volume_is_never_louder_than_that(page: Page, tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    swap = {"swap": {"revision": 1, "closed": 1, "volume": 64}}
    result = render(page, data, RATE_HZ, 100 * QUANTUM, later=[{"quantum": 20, "message": swap}])
    assert result.samples.max() == VALUE // 4


def test_a_table_that_is_refused_leaves_the_one_that_plays_alone(page: Page, tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    bad = page.evaluate("""async (length) => {
      const { boardNode, playerModule } = await import('/page/play.js');
      const node = await boardNode(new OfflineAudioContext(1, 128, 22050), await playerModule());
      return new Promise((done) => {
        node.port.onmessage = ({ data }) => done(data);
        node.port.postMessage({ table: new ArrayBuffer(length), revision: 7 });
      });
    }""", len(data))
    assert bad == {"refused": -1, "offset": 0, "revision": 7}  # BAD_MAGIC at byte 0 (SPEC 3 R1.2)
