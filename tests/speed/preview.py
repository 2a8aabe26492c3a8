"""How many times faster than real time the player and the whole preview are, and how the cost
grows.

    .venv/bin/python tests/speed/preview.py

The scenario of the goal (200 times real time on one core): 60 s, 8 voices, 42 channels, the demo
prop played without a pause. Prints medians of five runs in one process, in seconds of one core (a
machine that is busy with other things makes no difference) and on the wall. Physics is levels at
two places, loudness, flashes and current; findings are all of them.
"""

import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from fxseq.checks import findings
from fxseq.player import Player, parse_script
from fxseq.runs import Performance, Prop, in_numbers, load_prop, perform

DEMO = Path(__file__).parent.parent.parent / "demo_assets" / "squall_lantern.toml"
RUNS = 5


def busy(seconds: float) -> str:
    """Held three seconds of every four, refilled in between, the ring turned half way."""
    items = [
        f"hold lever @{start}..{start + 3}, tap refill @{start + 3.5}"
        for start in range(0, int(seconds), 4)
    ]
    return ", ".join([*items, f"set ring storm @{seconds / 2}", f"end @{seconds}"])


def sparse(seconds: float, shots: int) -> str:
    """So many taps, evenly spread."""
    return ", ".join(
        [
            f"tap lever @{seconds * shot / shots:.2f}, tap refill"
            f" @{seconds * (shot + 0.5) / shots:.2f}"
            for shot in range(shots)
        ]
        + [f"end @{seconds}"]
    )


def with_voices(prop: Prop, voices: int) -> Prop:
    return replace(
        prop, compiled=replace(prop.compiled, table=replace(prop.compiled.table, voices=voices))
    )


def seconds(work: Callable[[], object]) -> tuple[float, float]:
    """Median of RUNS runs, after one that does not count: of the processor, and of the wall. [s]"""
    work()
    core = []
    wall = []
    for _ in range(RUNS):
        began = time.perf_counter()
        core_began = time.process_time()
        work()
        core.append(time.process_time() - core_began)
        wall.append(time.perf_counter() - began)
    return statistics.median(core), statistics.median(wall)


def show(what: str, length_s: float, times: tuple[float, float]) -> None:
    core, wall = times
    print(
        f"{what:34} core {core * 1000:7.1f} ms {length_s / core:6.0f} times real time; wall"
        f" {wall * 1000:7.1f} ms {length_s / wall:6.0f} times"
    )


def whole(prop: Prop, text: str) -> Performance:
    performance = perform(prop, prop.script(text)[0])
    in_numbers(performance)
    findings(performance)
    return performance


def main() -> None:
    prop = with_voices(load_prop(DEMO), 8)
    table = prop.compiled.table
    script = prop.script(busy(60))[0]
    played = Player(table).play(script.presses, script.until_frame)
    print(
        f"60 s, {table.voices} voices, {table.channels} channels, {len(played.trace)} events,"
        f" {sum(len(track.frames) for track in played.light)} changes of duty"
    )
    show(
        "player alone", 60, seconds(lambda: Player(table).play(script.presses, script.until_frame))
    )
    show("player, physics and findings", 60, seconds(lambda: whole(prop, busy(60))))
    print("growth with duration (24 shots in all)")
    for length_s in (60, 240, 960):
        quiet = parse_script(sparse(length_s, 24), table, prop.compiled.names)
        show(
            f"  {length_s} s",
            length_s,
            seconds(lambda quiet=quiet: Player(table).play(quiet.presses, quiet.until_frame)),
        )
    print("growth with events (60 s)")
    for shots in (10, 20, 40, 80):
        taps = parse_script(sparse(60, shots), table, prop.compiled.names)
        show(
            f"  {shots} shots",
            60,
            seconds(lambda taps=taps: Player(table).play(taps.presses, taps.until_frame)),
        )
    print("growth with channels (60 s, busy; the lens shortened)")
    for channels in (1, 6, 12, 24):
        lens = replace(table.groups[0], channels=channels)
        shorter = replace(table, groups=(lens, *table.groups[1:]))
        show(
            f"  {channels + 18} channels",
            60,
            seconds(
                lambda shorter=shorter: Player(shorter).play(script.presses, script.until_frame)
            ),
        )


if __name__ == "__main__":
    main()
