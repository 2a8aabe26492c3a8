"""Key numbers of the latest revision, each found once and in a thread. What takes long, how fast it may repeat, comes after the rest."""
import asyncio
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from starlette.concurrency import run_in_threadpool

from fxseq.bench.changes import Hub
from fxseq.bench.desk import Version
from fxseq.bench.numbers import Rate, key_numbers, rates


class NumbersWorker:
    """Belongs to one event loop. now: gives the present version."""

    def __init__(self, hub: Hub, now: Callable[[], Version]) -> None:
        self._hub, self._now = hub, now
        self._one_at_a_time = asyncio.Lock()
        self._numbers: dict[str, Any] | None = None
        self._rates: tuple[int, list[Rate]] = (0, [])
        self._finding: asyncio.Task[None] | None = None

    async def numbers(self) -> dict[str, Any]:
        """Of the present revision. `rates_known` is false until the rates are found, which all pages are told. Raises FxError."""
        async with self._one_at_a_time:
            # Who waited here while a slider moved gets what is true now, not what was asked for.
            version = self._now()
            if self._numbers is None or self._numbers["revision"] != version.revision:
                self._numbers = await run_in_threadpool(key_numbers, version)
            numbers = self._numbers
        is_known = self._rates[0] == version.revision
        if not is_known and (self._finding is None or self._finding.done()):
            self._finding = asyncio.create_task(self._find_rates())
        found = [asdict(rate) for rate in self._rates[1]] if is_known else []
        return {**numbers, "rates_known": is_known, "rates": found, "rate": found[0] if found else None}

    async def _find_rates(self) -> None:
        while self._rates[0] != (version := self._now()).revision:
            self._rates = version.revision, await run_in_threadpool(rates, version.prop)
        self._hub.tell({"numbers": version.revision})

    async def stop(self) -> None:
        """Let go of what is still being found."""
        if self._finding is not None:
            self._finding.cancel()
            await asyncio.gather(self._finding, return_exceptions=True)
