"""What every open page is told at once: that the prop has changed, here or outside, how far a push
or other long work is, and that there are key numbers of the latest revision.
"""

import asyncio
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict
from functools import partial
from typing import Any

from starlette.concurrency import run_in_threadpool

from fxseq.bench.body import Refused
from fxseq.bench.desk import Version
from fxseq.bench.long_work import LEAST_APART_S
from fxseq.bench.numbers import Abandoned, Kept, Rate, key_numbers, rates
from fxseq.sequence import Fault

CALM_S = 0.3
"""How long nothing must change before rates are looked for: while a slider moves, they would be
out of date before they are found.
"""
MOST_WAITING = 100
"""Messages that a page may leave unread before the oldest are dropped."""

News = dict[str, Any]


class Hub:
    """Passes messages on to whoever listens. Belongs to one event loop."""

    def __init__(self) -> None:
        self._listeners: set[asyncio.Queue[News]] = set()

    @contextmanager
    def listening(self) -> Iterator[asyncio.Queue[News]]:
        """A queue that gets every message from now on."""
        queue: asyncio.Queue[News] = asyncio.Queue(MOST_WAITING)
        self._listeners.add(queue)
        try:
            yield queue
        finally:
            self._listeners.discard(queue)

    def tell(self, news: News) -> None:
        """To all, without waiting for any."""
        for queue in self._listeners:
            if queue.full():
                queue.get_nowait()
            queue.put_nowait(news)


class LongWork:
    """Work in a process of its own (`long_work`), one at a time: all pages are told how far it is,
    and it ends at once when it is cancelled. Belongs to one event loop.
    """

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._process: subprocess.Popen[bytes] | None = None
        self._is_busy = False
        self._is_cancelled = False

    async def run(self, what: str, version: Version, **more: Any) -> dict[str, Any]:
        """What is found. Raises Refused with the faults, or where it is cancelled or other work
        is being done.
        """
        if self._is_busy:
            raise Refused(409, Fault("", "the bench is busy with other work", "", "Wait for it."))
        order = {"what": what, "path": str(version.prop.path), "text": version.text, **more}
        loop = asyncio.get_running_loop()

        def tell(said: News) -> None:
            loop.call_soon_threadsafe(self._hub.tell, {"work": {"what": what, **said}})

        self._is_busy = True
        self._is_cancelled = False
        try:
            tell({"done": None, "words": ""})
            last = await run_in_threadpool(self._last_line, json.dumps(order).encode(), tell)
        finally:
            self._is_busy = False
            self._hub.tell({"work": None})
        if "faults" in last:
            raise Refused(last["status"], *(Fault(*fault) for fault in last["faults"]))
        if "result" not in last:
            raise Refused(409, Fault("", "it was cancelled"))
        found: dict[str, Any] = last["result"]
        return found

    def _last_line(self, order: bytes, tell: Callable[[News], None]) -> News:
        """What the process says last; empty where it has ended before."""
        command = [sys.executable, "-m", "fxseq.bench.long_work"]
        with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
            assert process.stdin is not None
            assert process.stdout is not None
            self._process = process
            if self._is_cancelled:
                process.kill()
            with suppress(OSError):
                process.stdin.write(order)
                process.stdin.close()
            for line in process.stdout:
                said: News = json.loads(line)
                if "done" not in said:
                    return said
                tell(said)
        return {}

    def cancel(self) -> None:
        """End what is being done."""
        self._is_cancelled = True
        if self._process is not None:
            self._process.kill()


class NumbersWorker:
    """Finds key numbers of the latest revision, each once and in a thread. What takes long, how
    fast it may repeat, comes after the rest.

    Belongs to one event loop. now: gives the present version.
    """

    def __init__(self, hub: Hub, now: Callable[[], Version]) -> None:
        self._hub = hub
        self._now = now
        self._one_at_a_time = asyncio.Lock()
        self._numbers: dict[str, Any] | None = None
        self._rates: tuple[int, list[Rate]] = (0, [])
        self._kept: Kept = {}
        self._finding: asyncio.Task[None] | None = None
        self._given_up = 0
        self._told_s = 0.0
        self._stopped = False

    async def numbers(self) -> dict[str, Any]:
        """Key numbers of the present revision. `rates_known` is false until the rates are found,
        which all pages are told; `rates_given_up` says that nobody looks for them. Raises FxError.
        """
        async with self._one_at_a_time:
            # Who waited here while a slider moved gets what is true now, not what was asked for.
            version = self._now()
            if self._numbers is None or self._numbers["revision"] != version.revision:
                self._numbers = await run_in_threadpool(key_numbers, version)
            numbers = self._numbers
        is_known = self._rates[0] == version.revision
        given_up = self._given_up == version.revision
        if not (is_known or given_up) and (self._finding is None or self._finding.done()):
            self._finding = asyncio.create_task(self._find_rates())
        found = []
        if is_known:
            found = [asdict(rate) for rate in self._rates[1]]
        return {
            **numbers,
            "rates_known": is_known,
            "rates_given_up": given_up,
            "rates": found,
            "rate": found[0] if found else None,
        }

    async def whole(self) -> dict[str, Any]:
        """Key numbers once the rates are found, too. Raises FxError."""
        while not (numbers := await self.look_again())["rates_known"]:
            assert self._finding is not None
            # Who no longer waits must not end what others wait for.
            await asyncio.shield(self._finding)
        return numbers

    def give_up(self) -> None:
        """No longer look for the rates of the present revision."""
        self._given_up = self._now().revision

    async def look_again(self) -> dict[str, Any]:
        """Key numbers, with the rates looked for even if that was given up. Raises FxError."""
        self._given_up = 0
        return await self.numbers()

    async def _find_rates(self) -> None:
        loop = asyncio.get_running_loop()

        def tell(done: float, trigger: str) -> None:
            loop.call_soon_threadsafe(self._tell, done, trigger)

        while self._is_wanted(version := self._now()) and self._rates[0] != version.revision:
            await asyncio.sleep(CALM_S)
            with suppress(Abandoned):
                self._rates = version.revision, await run_in_threadpool(
                    rates, version.prop, partial(self._is_wanted, version), self._kept, tell
                )
        self._hub.tell({"numbers": self._rates[0]})

    def _tell(self, done: float, trigger: str) -> None:
        """How far the search for rates is, not more often than a bar can be seen to move."""
        now_s = time.monotonic()
        if now_s - self._told_s >= LEAST_APART_S:
            self._told_s = now_s
            self._hub.tell({"rates": {"done": done, "words": trigger}})

    def _is_wanted(self, version: Version) -> bool:
        is_wanted = version.revision != self._given_up
        return is_wanted and not self._stopped and self._now() is version

    async def stop(self) -> None:
        """Let go of what is still being found."""
        self._stopped = True
        if self._finding is not None:
            self._finding.cancel()
            await asyncio.gather(self._finding, return_exceptions=True)
