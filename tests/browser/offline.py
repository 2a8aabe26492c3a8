"""The page's own player without clock and device, every sample kept: its worklet by itself, or
in an OfflineAudioContext of a page.
"""

import base64
import json
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import playwright
from numpy.typing import NDArray
from playwright.sync_api import Page

from fxseq.bench.files import PAGE, PLAYER

QUANTUM = 128
"""Samples that a browser renders at once (W3C Web Audio API 1.0, render quantum size)."""

NODE = Path(playwright.__file__).parent / "driver" / "node"
"""The interpreter of JavaScript that comes with playwright."""

Message = Mapping[str, Any]

# A message in mid-run is sent while the context stands still; a table is sent as {revision, ...} in
# `swap`, after `events`. Messages are taken in their order, so a table that is refused, and leaves
# alone what plays, tells that those before it have been taken.
_RENDER = """async ({ table, meters, rate_hz, length, events, later }) => {
  const { boardNode, playerModule } = await import('/page/play.js');
  const bytes = () => Uint8Array.from(atob(table), (letter) => letter.charCodeAt(0)).buffer;
  const context = new OfflineAudioContext(1, length, rate_hz);
  const node = await boardNode(context, await playerModule());
  node.connect(context.destination);
  const told = [];
  const started = new Map();
  node.port.onmessage = ({ data }) => { told.push(data); started.get(data.started ?? data.revision)?.(); };
  const swap = (given) => new Promise((done) => {
    started.set(given.revision, done);
    node.port.postMessage({ table: bytes(), ...given });
  });
  const taken = (message, number) => new Promise((done) => {
    started.set(`taken ${number}`, done);
    node.port.postMessage(message);
    node.port.postMessage({ table: new ArrayBuffer(1), revision: `taken ${number}` });
  });
  await swap({ revision: 0, meters });
  await taken({ events }, -1);
  for (const { quantum, message } of later) context.suspend(quantum * 128 / rate_hz).then(async () => {
    if (message.swap && message.events) node.port.postMessage({ events: message.events });
    if (message.swap) await swap(message.swap);
    else await taken(message, quantum);
    context.resume();
  });
  const buffer = await context.startRendering();
  await taken({ events: [] }, 'end'); // its reports have come before
  const samples = Array.from(buffer.getChannelData(0), (sample) => sample * 32768);
  return { samples, reports: told.filter(({ shares }) => shares) };
}"""


@dataclass(frozen=True)
class Rendered:
    """samples: in units of 1/32768. reports: those of the worklet, without what the last
    sixtieth of a second may hold.
    """

    samples: NDArray[np.float64]
    reports: list[dict[str, Any]]

    @property
    def trace(self) -> list[tuple[int, int, int, int]]:
        """Of all reports: (frame, kind, index, value)."""
        return [
            (event["frame"], event["kind"], event["index"], event["value"])
            for report in self.reports
            for event in report["trace"]
        ]

    @property
    def gaps(self) -> int:
        """How often quanta were skipped."""
        return max(report["gaps"] for report in self.reports)


def render(
    table: bytes,
    rate_hz: int,
    length: int,
    events: Sequence[Message] = (),
    later: Sequence[Message] = (),
    meters: Message | None = None,
    page: Page | None = None,
) -> Rendered:
    """So many samples of a table, whole quanta. page: that plays it, or None for the worklet by
    itself.

    events: {kind, index, value, frame}. later: {quantum, message}, each given as this quantum is to
    begin.
    """
    given = {
        "table": base64.b64encode(table).decode(),
        "meters": meters,
        "rate_hz": rate_hz,
        "length": length,
        "events": list(events),
        "later": list(later),
    }
    result = page.evaluate(_RENDER, given) if page else _by_itself(given)
    return Rendered(np.array(result["samples"]), result["reports"])


def _by_itself(given: Message) -> Any:
    command = [NODE, Path(__file__).with_suffix(".js")]
    files = {"worklet": str(PAGE / "worklet.js"), "wasm": str(PLAYER)}
    done = subprocess.run(
        command, input=json.dumps({**given, **files}), capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
