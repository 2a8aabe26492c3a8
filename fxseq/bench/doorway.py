"""The first page, until a prop is chosen; then its bench, at the same address."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from fxseq.bench import files
from fxseq.bench.begin import Begin
from fxseq.bench.body import read_json
from fxseq.bench.guard import Guard
from fxseq.bench.server import CONTENT_TYPES, HANDLERS, Bench, bench_app


class Doorway:
    """Lets the page choose once. opened: makes the bench of a file; raises FxError with the
    faults of the file.
    """

    def __init__(self, begin: Begin, opened: Callable[[Path], Bench]) -> None:
        self._begin = begin
        self._opened = opened
        self._choosing = asyncio.Lock()
        self._bench: ASGIApp | None = None
        self._lives = contextlib.AsyncExitStack()
        self._first = Starlette(
            routes=[
                Route("/", files.first_page),
                Route("/page/{name}", files.page_file),
                Route("/api/begin", self.view),
                Route("/api/begin/open", self.open, methods=["POST"]),
                Route("/api/begin/new", self.make, methods=["POST"]),
            ],
            exception_handlers=HANDLERS,
            lifespan=self.life,
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The life of the whole is that of the first page."""
        app = self._first if self._bench is None or scope["type"] == "lifespan" else self._bench
        await app(scope, receive, send)

    async def view(self, request: Request) -> Response:
        """What can be opened, and what is asked of a new prop."""
        return JSONResponse(await run_in_threadpool(self._begin.view))

    async def open(self, request: Request) -> Response:
        """Open a file."""
        return await self._go_on(self._begin.choose, await read_json(request))

    async def make(self, request: Request) -> Response:
        """Make a file, and open it."""
        return await self._go_on(self._begin.make, await read_json(request))

    async def _go_on(self, choose: Callable[[Any], Path], body: dict[str, Any]) -> Response:
        async with self._choosing:
            if self._bench is None:
                file = await run_in_threadpool(choose, body)
                bench = await run_in_threadpool(self._opened, file)
                app = bench_app(bench)
                await self._lives.enter_async_context(bench.life(app))
                await run_in_threadpool(self._begin.remember, file)
                self._bench = app
        return JSONResponse({})

    @contextlib.asynccontextmanager
    async def life(self, app: Starlette) -> AsyncIterator[None]:
        """End the bench with the server."""
        async with self._lives:
            yield


def doorway_app(begin: Begin, opened: Callable[[Path], Bench], host: str, token: str) -> ASGIApp:
    """The first page and the bench behind it, behind their guard."""
    return Guard(Doorway(begin, opened), host, token, CONTENT_TYPES)
