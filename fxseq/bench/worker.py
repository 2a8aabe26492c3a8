"""What every open page is told at once: that the prop has changed, here or outside, how far a push
is, and that there are key numbers of the latest revision.
"""

import asyncio
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict
from functools import partial
from typing import Any

from starlette.concurrency import run_in_threadpool

from fxseq.bench.desk import Version
from fxseq.bench.numbers import Abandoned, Kept, Rate, key_numbers, rates

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
        self._stopped = False

    async def numbers(self) -> dict[str, Any]:
        """Key numbers of the present revision. `rates_known` is false until the rates are found,
        which all pages are told. Raises FxError.
        """
        async with self._one_at_a_time:
            # Who waited here while a slider moved gets what is true now, not what was asked for.
            version = self._now()
            if self._numbers is None or self._numbers["revision"] != version.revision:
                self._numbers = await run_in_threadpool(key_numbers, version)
            numbers = self._numbers
        is_known = self._rates[0] == version.revision
        if not is_known and (self._finding is None or self._finding.done()):
            self._finding = asyncio.create_task(self._find_rates())
        found = []
        if is_known:
            found = [asdict(rate) for rate in self._rates[1]]
        return {
            **numbers,
            "rates_known": is_known,
            "rates": found,
            "rate": found[0] if found else None,
        }

    async def whole(self) -> dict[str, Any]:
        """Key numbers once the rates are found, too. Raises FxError."""
        while not (numbers := await self.numbers())["rates_known"]:
            assert self._finding is not None
            # Who no longer waits must not end what others wait for.
            await asyncio.shield(self._finding)
        return numbers

    async def _find_rates(self) -> None:
        while not self._stopped and self._rates[0] != (version := self._now()).revision:
            await asyncio.sleep(CALM_S)
            with suppress(Abandoned):
                self._rates = version.revision, await run_in_threadpool(
                    rates, version.prop, partial(self._is_wanted, version), self._kept
                )
        self._hub.tell({"numbers": self._rates[0]})

    def _is_wanted(self, version: Version) -> bool:
        return not self._stopped and self._now() is version

    async def stop(self) -> None:
        """Let go of what is still being found."""
        self._stopped = True
        if self._finding is not None:
            self._finding.cancel()
            await asyncio.gather(self._finding, return_exceptions=True)
