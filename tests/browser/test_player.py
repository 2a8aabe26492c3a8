"""The player in the page gives what the reference gives, at once, and without a gap where a
table is swapped.
"""

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from bench_page import LONGEST_S, page_at
from offline import QUANTUM, render
from playwright.sync_api import Browser, Page
from steady import RATE_HZ, REPEAT, VALUE, steady_prop

from fxseq.player import Player, PressKind, TraceKind, parse_script
from fxseq.runs import load_prop

DEMO = Path(__file__).parents[2] / "demo_assets/squall_lantern.toml"
SCRIPT = (
    "tap lever @0.5, hold lever @1.2..3, set ring storm @2.5, set volume 60 @3.2, tap refill @3.6,"
    " hold lever @4.5..6, press lever @6.5, end @7"
)
RAMP_S = 0.003
# A second processor behind the player, which keeps what it is given. Where the device lets a
# stretch of time go by, neither of the two runs, so nothing is missing between them. It comes
# first, so that it can note how much it has kept whenever a press reaches the player.
_RECORDER = """const kept = [], marks = [];
let silent = 0;
registerProcessor('recorder', class extends AudioWorkletProcessor {
  constructor() {
    super();
    this.port.onmessage = () => this.port.postMessage({ samples: kept.map((sample) => sample * 32768), marks, silent });
  }
  process([[input]]) {
    if (input) kept.push(...input); else if (kept.length) silent += 1;
    return true;
  }
});
const register = registerProcessor;
globalThis.registerProcessor = (name, Processor) => register(name, class extends Processor {
  constructor(...given) {
    super(...given);
    const take = this.port.onmessage;
    this.port.onmessage = (message) => {
      if (message.data.events?.some(({ kind }) => kind === 0)) marks.push(kept.length);
      take(message);
    };
  }
});"""
# What is done while a clock runs: presses at given frames, swaps of the table one after the other,
# or taps of no length. What is waited for goes by the clock of the sound, which falls behind that
# of a machine that cannot keep up.
_REALTIME = """async ({ recorder: source, table, rate_hz, events, swaps, taps, seconds, longest_s }) => {
  const { boardNode, playerModule } = await import('/page/play.js');
  const context = new AudioContext({ sampleRate: rate_hz });
  await context.audioWorklet.addModule(URL.createObjectURL(new Blob([source], { type: 'text/javascript' })));
  const node = await boardNode(context, await playerModule());
  const recorder = new AudioWorkletNode(context, 'recorder');
  node.connect(recorder).connect(context.destination);
  const told = [], late_ms = performance.now() + 1000 * longest_s;
  const until = async (is) => { while (!is() && performance.now() < late_ms) await new Promise((done) => setTimeout(done, 4)); };
  const sounded = (count) => { const end_s = context.currentTime + count; return until(() => context.currentTime > end_s); };
  node.port.onmessage = ({ data }) => told.push(data);
  const start = async (revision, closed) => {
    node.port.postMessage({ table: Uint8Array.from(atob(table), (letter) => letter.charCodeAt(0)).buffer, revision, closed });
    await until(() => told.some(({ started }) => started === revision));
  };
  await start(0, 0);
  node.port.postMessage({ events });
  await sounded(seconds);
  for (let number = 1; number <= swaps; number++) {
    await start(number, 1);
    await sounded(128 / rate_hz); // else it would have had no frame to play
  }
  const traced = (kind) => told.flatMap(({ trace }) => trace || []).filter((event) => event.kind === kind);
  for (let number = 1; number <= taps; number++) {
    node.port.postMessage({ events: [{ kind: 0, index: 0, value: 0 }] });
    node.port.postMessage({ events: [{ kind: 1, index: 0, value: 0 }] });
    await until(() => traced(2).length >= number);
    await sounded(0.08); // the lock-out of the contact
  }
  await sounded(0.1);
  const kept = await new Promise((done) => { recorder.port.onmessage = ({ data }) => done(data); recorder.port.postMessage('give'); });
  await context.close();
  const trace = told.flatMap(({ trace }) => trace || []).map(({ frame, kind, index, value }) => [frame, kind, index, value]);
  return { ...kept, trace, started: told.filter(({ started }) => started !== undefined).length };
}"""
PRESS = {"kind": int(PressKind.PRESS), "index": 0, "value": 0}


def test_samples_and_trace_are_those_of_the_reference_for_a_scripted_run(shared_page: Page) -> None:
    compiled = load_prop(DEMO).compiled
    table = compiled.table
    script = parse_script(SCRIPT, compiled.table, compiled.names)
    played = Player(table).play(script.presses, script.until_frame)
    length = len(played.samples) // QUANTUM * QUANTUM
    events = [
        {"frame": press.frame, "kind": int(press.kind), "index": press.index, "value": press.value}
        for press in script.presses
    ]
    result = render(compiled.data, table.sample_rate_hz, length, events, page=shared_page)
    assert np.array_equal(result.samples, played.samples[:length])
    assert len(result.trace) > 50
    assert result.trace == [tuple(map(int, event)) for event in played.trace][: len(result.trace)]


def live(
    browser: Browser,
    address: str,
    table: bytes,
    events: Sequence[dict[str, int]] = (),
    seconds: float = 0,
    swaps: int = 0,
    taps: int = 0,
) -> Any:
    """What is heard and told of a table in a context with a clock: {samples, marks, silent,
    trace, started}.
    """
    given = {
        "recorder": _RECORDER,
        "table": base64.b64encode(table).decode(),
        "rate_hz": RATE_HZ,
        "events": list(events),
        "seconds": seconds,
        "swaps": swaps,
        "taps": taps,
        "longest_s": 5 * LONGEST_S,
    }
    with page_at(
        browser, address, bypass_csp=True
    ) as page:  # the recorder is none of the page's own modules
        page.keyboard.press("Tab")  # a gesture, without which there is no sound
        return page.evaluate(_REALTIME, given)


def test_samples_are_those_of_the_reference_while_a_clock_runs(
    browser: Browser, demo_address: str
) -> None:
    compiled = load_prop(DEMO).compiled
    script = parse_script(
        "tap lever @1, hold lever @1.6..2.6, tap refill @2.8, end @4",
        compiled.table,
        compiled.names,
    )
    expected = np.trim_zeros(
        Player(compiled.table).play(script.presses, script.until_frame).samples, "f"
    )
    events = [
        {"frame": press.frame, "kind": int(press.kind), "index": press.index, "value": press.value}
        for press in script.presses
    ]
    heard = np.trim_zeros(
        np.array(live(browser, demo_address, compiled.data, events, seconds=5)["samples"]), "f"
    )
    length = min(len(heard), len(expected))
    assert length > 2 * RATE_HZ
    assert np.array_equal(heard[:length], expected[:length])


def test_sixty_swaps_while_a_clock_runs_and_a_repeat_is_held_lose_nothing(
    browser: Browser, demo_address: str, tmp_path: Path
) -> None:
    data = steady_prop(tmp_path, REPEAT).compiled.data
    result = live(browser, demo_address, data, [PRESS], seconds=0.5, swaps=60)
    held = np.trim_zeros(np.array(result["samples"]), "f")
    kinds = [kind for _, kind, _, _ in result["trace"]]
    assert result["started"] == 61 and result["silent"] == 0
    assert np.abs(np.diff(held)).max() <= VALUE / (RAMP_S * RATE_HZ) + 1
    assert (held[QUANTUM:] > VALUE - 200).all()
    assert kinds.count(TraceKind.SHOT) >= 61 and kinds.count(TraceKind.RELEASE) == 0


def test_twelve_taps_of_no_length_while_a_clock_runs_are_heard_in_the_next_quantum(
    browser: Browser, demo_address: str, tmp_path: Path
) -> None:
    result = live(browser, demo_address, steady_prop(tmp_path).compiled.data, taps=12)
    samples = np.array(result["samples"])
    presses = [frame for frame, kind, _, _ in result["trace"] if kind == TraceKind.PRESS]
    sounding = np.flatnonzero(samples)
    begins = sounding[np.concatenate([[True], np.diff(sounding) > RATE_HZ // 100])]
    assert len(presses) == len(begins) == 12
    assert np.diff(begins).tolist() == [21 * frames for frames in np.diff(presses).tolist()]
    assert ((begins - np.array(result["marks"])) // QUANTUM).tolist() == [0] * 12


def test_a_press_is_heard_in_the_very_next_quantum(tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    for quantum in range(20, 32):
        result = render(
            data,
            RATE_HZ,
            64 * QUANTUM,
            later=[{"quantum": quantum, "message": {"events": [PRESS]}}],
        )
        first = int(np.flatnonzero(result.samples)[0])
        assert quantum * QUANTUM <= first < (quantum + 1) * QUANTUM
        assert first - quantum * QUANTUM < 21  # what is left of the frame that had begun


def test_forty_taps_of_no_length_are_all_presses(tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    tap = [PRESS, PRESS | {"kind": int(PressKind.RELEASE)}]
    later = [{"quantum": 10 * number, "message": {"events": tap}} for number in range(1, 41)]
    result = render(data, RATE_HZ, 430 * QUANTUM, later=later)
    kinds = [kind for _, kind, _, _ in result.trace]
    assert (
        kinds.count(TraceKind.PRESS)
        == kinds.count(TraceKind.RELEASE)
        == kinds.count(TraceKind.START)
        == 40
    )


def test_two_taps_within_a_quantum_keep_their_order(tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    edges = [
        PRESS | {"kind": int(kind)}
        for kind in (PressKind.PRESS, PressKind.RELEASE, PressKind.PRESS)
    ]
    result = render(
        data, RATE_HZ, 200 * QUANTUM, later=[{"quantum": 10, "message": {"events": edges}}]
    )
    assert [
        kind for _, kind, _, _ in result.trace if kind in (TraceKind.PRESS, TraceKind.RELEASE)
    ] == [TraceKind.PRESS]
    assert result.samples[-1] == VALUE  # still held


def test_a_release_and_a_press_in_one_frame_are_both_taken(tmp_path: Path) -> None:
    """A frame takes a press with its release, but of a release and a press the second waits:
    else the release would be lost.
    """
    data = steady_prop(tmp_path).compiled.data
    edges = [PRESS | {"kind": int(kind)} for kind in (PressKind.RELEASE, PressKind.PRESS)]
    later = [
        {"quantum": 10, "message": {"events": [PRESS]}},
        {"quantum": 60, "message": {"events": edges}},
    ]
    result = render(data, RATE_HZ, 120 * QUANTUM, later=later)
    taken = [
        (press["frame"], press["kind"]) for report in result.reports for press in report["taken"]
    ]
    assert taken[1:] == [(taken[1][0], PressKind.RELEASE), (taken[1][0] + 1, PressKind.PRESS)]
    edges_traced = [
        kind for _, kind, _, _ in result.trace if kind in (TraceKind.PRESS, TraceKind.RELEASE)
    ]
    assert edges_traced == [TraceKind.PRESS, TraceKind.RELEASE, TraceKind.PRESS]


def test_two_hundred_swaps_while_held_lose_no_sample_and_make_no_click(tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    swaps = [
        {"quantum": 10 * number, "message": {"swap": {"revision": number, "closed": 1}}}
        for number in range(1, 201)
    ]
    result = render(data, RATE_HZ, 2010 * QUANTUM, [PRESS | {"frame": 0}], swaps)
    held = result.samples[9 * QUANTUM :]  # the first press has been taken by then
    assert result.gaps == 0
    assert np.abs(np.diff(held)).max() <= VALUE / (RAMP_S * RATE_HZ) + 1
    assert (held > VALUE - 200).all()
    assert [kind for _, kind, _, _ in result.trace].count(TraceKind.PRESS) == 201


def test_a_tap_that_comes_with_a_table_is_not_lost(tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    tap = [PRESS, PRESS | {"kind": int(PressKind.RELEASE)}]
    for events, closed, presses in (
        (tap, 0, 1),
        ([PRESS], 1, 1),
        (tap[1:], 0, 0),
        ([*tap[1:], PRESS], 1, 1),
    ):
        later = [
            {
                "quantum": 20,
                "message": {"events": events, "swap": {"revision": 1, "closed": closed}},
            }
        ]
        kinds = [kind for _, kind, _, _ in render(data, RATE_HZ, 100 * QUANTUM, later=later).trace]
        assert kinds.count(TraceKind.PRESS) == presses


def test_a_swap_at_another_volume_is_never_louder_than_that(tmp_path: Path) -> None:
    data = steady_prop(tmp_path).compiled.data
    swap = {"swap": {"revision": 1, "closed": 1, "volume": 64}}
    result = render(data, RATE_HZ, 100 * QUANTUM, later=[{"quantum": 20, "message": swap}])
    assert result.samples.max() == VALUE // 4


def test_a_table_that_is_refused_leaves_the_one_that_plays_alone(
    page: Page, tmp_path: Path
) -> None:
    data = steady_prop(tmp_path).compiled.data
    bad = page.evaluate(
        """async (length) => {
      const { boardNode, playerModule } = await import('/page/play.js');
      const node = await boardNode(new OfflineAudioContext(1, 128, 22050), await playerModule());
      return new Promise((done) => {
        node.port.onmessage = ({ data }) => done(data);
        node.port.postMessage({ table: new ArrayBuffer(length), revision: 7 });
      });
    }""",
        len(data),
    )
    assert bad == {"refused": -1, "offset": 0, "revision": 7}  # BAD_MAGIC at byte 0 (SPEC 3 R1.2)
