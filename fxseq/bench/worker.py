"""What every open page is told at once: that the prop has changed, here or outside, how far a push
or other long work is, and that there are key numbers of the latest revision.
"""

import asyncio
import json
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from typing import Any, Self

from starlette.concurrency import run_in_threadpool

from fxseq.bench import numbers
from fxseq.bench.body import Refused
from fxseq.bench.desk import Version
from fxseq.sequence import Fault

CALM_S = 0.3
"""How long nothing must change before rates are looked for: while a slider moves, they would be
out of date before they are found.
"""
_GONE = "the process that finds key numbers has ended; the next change starts it again"
MOST_WAITING = 100
"""Messages that a page may leave unread before the oldest are dropped."""

News = dict[str, Any]
Tell = Callable[[News], None]


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


Asked = deque[tuple["Future[News]", Tell]]


class WorkProcess:
    """A process that carries out orders (`long_work`), one after the other. It is started when
    there is something to do, again where it has ended by itself, and ends with this one. May be
    used from any thread, and as a context, behind which it has ended.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._is_ended = False
        self._asked: Asked = deque()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    async def order(self, order: News, tell: Tell) -> News:
        """What is answered at last: {"result"}, {"faults", "status"} or {"abandoned"}; empty where
        the process ended before. tell: hears, in a thread, how far it is.
        """
        answer = await run_in_threadpool(self._ask, order, tell)
        return await asyncio.wrap_future(answer)

    def _ask(self, order: News, tell: Tell) -> "Future[News]":
        answer: Future[News] = Future()
        # Who no longer waits for it takes no answer away from whoever is next.
        answer.set_running_or_notify_cancel()
        with self._lock:
            process = self._running()
            if process is None:
                answer.set_result({})
                return answer
            self._asked.append((answer, tell))
            assert process.stdin is not None
            with suppress(OSError):
                process.stdin.write(json.dumps(order).encode() + b"\n")
                process.stdin.flush()
        return answer

    def start(self) -> None:
        """So that it is ready when the first order comes."""
        with self._lock:
            self._running()

    def _running(self) -> subprocess.Popen[bytes] | None:
        """None once all is ended."""
        if self._process is None and not self._is_ended:
            self._asked = deque()
            self._process = subprocess.Popen(
                [sys.executable, "-m", "fxseq.bench.long_work"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
            )
            threading.Thread(target=self._listen, args=(self._process,), daemon=True).start()
        return self._process

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        """Pass on what it says, until it ends."""
        asked = self._asked
        with suppress(OSError), process:  # what waits to be written to it is lost
            assert process.stdout is not None
            for line in process.stdout:
                self._heed(json.loads(line), asked)
            with self._lock:
                self._process = None
        for answer, _ in asked:
            answer.set_result({})

    @staticmethod
    def _heed(said: News, asked: Asked) -> None:
        answer, tell = asked[0]
        if "done" not in said:
            asked.popleft()
            answer.set_result(said)
            return
        # The loop of who asked may have ended.
        with suppress(RuntimeError):
            tell(said)

    def end(self) -> None:
        """For good, whatever it does."""
        with self._lock:
            self._is_ended = True
            if self._process is not None:
                self._process.kill()


def _result(said: News, ended: str) -> News:
    """Raises Refused with the faults, or, where there is no result, with why the process ended."""
    if "faults" in said:
        raise Refused(said["status"], *(Fault(*fault) for fault in said["faults"]))
    if "result" not in said:
        raise Refused(409, Fault("", ended))
    result: News = said["result"]
    return result


def _order(what: str, version: Version, more: News) -> News:
    return {"what": what, "path": str(version.prop.path), "text": version.text, **more}


class LongWork:
    """Work that is asked for and takes long, one at a time and each in a process of its own: all
    pages are told how far it is, and it ends at once when it is cancelled. Belongs to one event
    loop.
    """

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._process: WorkProcess | None = None

    async def run(self, what: str, version: Version, **more: Any) -> dict[str, Any]:
        """What is found. Raises Refused with the faults, or where it is cancelled or other work
        is being done.
        """
        if self._process is not None:
            raise Refused(409, Fault("", "the bench is busy with other work", "", "Wait for it."))
        loop = asyncio.get_running_loop()

        def tell(said: News) -> None:
            loop.call_soon_threadsafe(self._hub.tell, {"work": {"what": what, **said}})

        try:
            with WorkProcess() as self._process:
                tell({"done": None, "words": ""})
                said = await self._process.order(_order(what, version, more), tell)
            return _result(said, "it was cancelled")
        finally:
            self._process = None
            self._hub.tell({"work": None})

    def cancel(self) -> None:
        """End what is being done."""
        if self._process is not None:
            self._process.end()


class NumbersWorker:
    """Finds key numbers of the latest revision, each once. What takes long, how fast it may
    repeat, comes after the rest.

    Belongs to one event loop. now: gives the present version. process: where they are found.
    """

    def __init__(self, hub: Hub, now: Callable[[], Version], process: WorkProcess) -> None:
        self._hub = hub
        self._now = now
        self._process = process
        self._one_at_a_time = asyncio.Lock()
        self._numbers: dict[str, Any] | None = None
        self._rates: tuple[int, list[News]] = (0, [])
        self._finding: asyncio.Task[None] | None = None
        self._is_trying = False
        self._put_off: asyncio.Task[News] | None = None
        self._given_up = 0

    async def numbers(self) -> dict[str, Any]:
        """Key numbers of the present revision. `rates_known` is false until the rates are found,
        which all pages are told; `rates_given_up` says that nobody looks for them. Raises Refused.
        """
        async with self._one_at_a_time:
            # Who waited here while a slider moved gets what is true now, not what was asked for.
            while self._numbers is None or self._numbers["revision"] != self._now().revision:
                version = self._now()
                said = await self._ask("numbers", version)
                if self._holds(version, said):
                    self._numbers = _result(said, _GONE)
                    break
            told = self._numbers
        revision = told["revision"]
        is_known = self._rates[0] == revision
        given_up = self._given_up == revision
        if not (is_known or given_up) and (self._finding is None or self._finding.done()):
            self._finding = asyncio.create_task(self._find_rates())
        found = []
        if is_known:
            found = self._rates[1]
        return {
            **told,
            "rates_known": is_known,
            "rates_given_up": given_up,
            "rates": found,
            "rate": found[0] if found else None,
        }

    def _holds(self, version: Version, said: News) -> bool:
        """Whether an answer counts: where it was changed meanwhile, files that it named may be
        gone.
        """
        return "faults" not in said or version is self._now()

    async def _ask(self, what: str, version: Version, **more: Any) -> News:
        loop = asyncio.get_running_loop()

        def tell(said: News) -> None:
            loop.call_soon_threadsafe(self._hub.tell, {"rates": said})

        order = _order(what, version, {"revision": version.revision, **more})
        return await self._process.order(order, tell)

    async def whole(self) -> dict[str, Any]:
        """Key numbers once the rates are found, too. Raises Refused."""
        while not (told := await self.look_again())["rates_known"]:
            assert self._finding is not None
            # Who no longer waits must not end what others wait for.
            await asyncio.shield(self._finding)
        return told

    def put_off(self) -> None:
        """No longer try rates of a prop that is about to change: it would slow the change down, and
        be out of date. They are tried again once it is calm.
        """
        if self._is_trying:
            self._is_trying = False
            self._put_off = asyncio.create_task(self._process.order({}, lambda said: None))

    async def give_up(self) -> None:
        """No longer look for the rates of the present revision."""
        self._given_up = self._now().revision
        await self._process.order({}, lambda said: None)

    async def look_again(self) -> dict[str, Any]:
        """Key numbers, with the rates looked for even if that was given up. Raises Refused."""
        self._given_up = 0
        return await self.numbers()

    async def _find_rates(self) -> None:
        while (version := self._now()).revision not in (self._given_up, self._rates[0]):
            await asyncio.sleep(CALM_S)
            if version is not self._now() or self._given_up == version.revision:
                continue
            tried = {"rates_per_s": numbers.RATES_PER_S}
            self._is_trying = True
            said = await self._ask("rates", version, **tried)
            self._is_trying = False
            if "abandoned" not in said and self._holds(version, said):
                self._rates = version.revision, _result(said, _GONE)["rates"]
        self._hub.tell({"numbers": self._rates[0]})

    async def stop(self) -> None:
        """Let go of what is still being found."""
        for task in filter(None, (self._finding, self._put_off)):
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
