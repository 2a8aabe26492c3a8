"""Payload share of the line for a table of 64 KiB, hello to commit, in virtual time: `python
tests/speed/link.py`.

Four lines, each at 115 200 baud with 1 ms latency either way: clean; bit errors at 1e-5; 20 bytes
in a row lost of every 11 520; bit errors at 1e-4. Then clean ones with other delays and speeds.
Random bytes stand for a table. Then the demo, pushed to a board that has it but for a fade, or a
sound in front. Last the demo on lines that are made quicker.

share = 65 536 bytes / (bytes that the line carries a second * time from the first byte of
the hello to the answer to the commit).
"""

import argparse
import statistics
import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "link"))

from simulated import (
    BitErrors,
    Bursts,
    Clean,
    MemoryFlash,
    Wire,
    converse,
    make_board,
    make_table,
)  # noqa: E402

from fxseq.link import messages as m  # noqa: E402
from fxseq.link.board_session import BoardSession  # noqa: E402
from fxseq.link.host_push import push  # noqa: E402
from fxseq.link.host_session import HostSession  # noqa: E402
from fxseq.runs import load_prop  # noqa: E402
from fxseq.table import ClipRecord, Coding, decode, encode  # noqa: E402

FAULTS = {
    "clean": lambda seed: Clean(),
    "bit errors 1e-5": lambda seed: BitErrors(1e-5, seed),
    "20 bytes lost a second": lambda seed: Bursts(seed),
    "bit errors 1e-4": lambda seed: BitErrors(1e-4, seed),
}

OTHERS = [(baud, latency_ms) for baud in (115_200, 1_000_000) for latency_ms in (1, 8, 16, 30)]
"""Baud, and latency either way in milliseconds."""


def share(line: str, seed: int, size: int, baud: int, latency_ms: float, **ability: int) -> float:
    """Payload share of one push; raises if the table does not arrive."""
    table = make_table(size, seed)
    board = make_board(MemoryFlash(2 + 2 * (-(-size // 4096)), 4096), **ability)
    host = HostSession(push(table, lambda board: []), "line")
    make = FAULTS[line]
    there, back = (
        Wire(make(2 * seed + way), latency_ms / 1000, bytes_per_s=baud / 10) for way in (0, 1)
    )
    seconds = converse(host, board, there, back)
    assert board.player.table == table
    return size / (baud / 10 * seconds)


DEMO = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"


def changed(data: bytes) -> dict[str, bytes]:
    """The demo's table, changed as its maker might."""
    table = decode(data)
    fade, *others = table.fades
    first, *rest = fade.segments
    longer = replace(fade, segments=(replace(first, length=first.length + 10), *rest))
    front = ClipRecord(Coding.MULAW, 65_536, 333, make_table(333))
    return {
        "the table that plays, again": data,
        "a fade changed": encode(replace(table, fades=(longer, *others))),
        "333 bytes of sound in front": encode(replace(table, clips=(front, *table.clips))),
    }


def pushed(board: BoardSession, table: bytes) -> tuple[int, float]:
    """Bytes on the line, both ways, and time, at 115 200 baud and 1 ms."""
    host = HostSession(push(table, lambda board: []), "line")
    seconds = converse(host, board, Wire(), Wire())
    assert board.player.table == table
    return host.talk.sent_bytes + host.talk.heard_bytes, seconds


def print_second_pushes() -> None:
    """What goes over the line where the board has nearly all of the table."""
    data = load_prop(DEMO).compiled.data
    for what, table in changed(data).items():
        board = make_board(MemoryFlash(2 + 2 * 32, 4096))
        first_bytes, first_s = pushed(board, data)
        second_bytes, second_s = pushed(board, table)
        print(
            f"{what:28} {second_bytes:6} bytes, {second_s:.2f} s;"
            f" the demo to an empty board: {first_bytes} bytes, {first_s:.2f} s"
        )


SPEEDS = (m.BASE_BAUD, 500_000, 1_000_000, m.MOST_BAUD)
QUICKER = m.Feature.READING | m.Feature.COPYING | m.Feature.SPEED | m.Feature.HALVING


def quicker(most_baud: int, latency_ms: float, errors: float = 0.0) -> tuple[float, int]:
    """The demo's push to an empty board whose line bears this speed: seconds until the line is back
    at the base speed, and the speed in the end. errors: per bit, above 1 000 000 baud.
    """
    data = load_prop(DEMO).compiled.data
    board = make_board(MemoryFlash(2 + 2 * 32, 4096), features=QUICKER, most_baud=most_baud)
    host = HostSession(push(data, lambda board: []), "line", baud=m.BASE_BAUD)
    wires = [
        Wire(
            latency_s=latency_ms / 1000,
            quick_fault=BitErrors(errors, way) if errors else Clean(),
            quick_from=100_001,
        )
        for way in (0, 1)
    ]
    seconds = converse(host, board, *wires)
    assert board.player.table == data
    return seconds, host.result.baud


def print_quicker_lines() -> None:
    """What the demo's push takes where the line can be made quicker."""
    for most_baud in SPEEDS:
        times = [f"{quicker(most_baud, delay)[0]:.2f} s at {delay} ms" for delay in (1, 16)]
        print(f"the demo at {most_baud:7} baud: {', '.join(times)}")
    for errors in (3e-5, 1e-4, 1e-3, 1e-1):
        seconds, baud = quicker(m.MOST_BAUD, 1, errors)
        print(f"the demo, bit errors {errors:g} above 1000000 baud: {seconds:.2f} s, at {baud}")


def main() -> None:
    """Print the shares."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=20, help="seeds per line")
    parser.add_argument("--size", type=int, default=65_536, help="bytes of the table")
    parser.add_argument("--baud", type=int, default=115_200)
    parser.add_argument("--latency-ms", type=float, default=1.0, help="either way")
    parser.add_argument("--block", type=int, default=352, help="bytes of table in a frame")
    parser.add_argument("--window", type=int, default=16, help="blocks")
    chosen = parser.parse_args()
    for line in FAULTS:
        runs = 1 if line == "clean" else chosen.runs
        ability = {"block_bytes": chosen.block, "window": chosen.window}
        shares = [
            share(line, seed, chosen.size, chosen.baud, chosen.latency_ms, **ability)
            for seed in range(runs)
        ]
        middle = statistics.median(shares)
        lowest = min(shares)
        highest = max(shares)
        print(
            f"{line:24} median {middle:.4f}  lowest {lowest:.4f}  highest {highest:.4f}  {runs}"
            " runs, every table intact"
        )
    for baud, latency_ms in OTHERS:
        print(
            f"clean, {baud:7} baud, {latency_ms:2} ms "
            f" {share('clean', 0, chosen.size, baud, latency_ms, **ability):.4f}"
        )
    print_second_pushes()
    print_quicker_lines()


if __name__ == "__main__":
    main()
