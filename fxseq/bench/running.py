"""The bench as a running server, bound to this machine alone, with a token that is new with every
run, and its page in the user's browser.

The token is not among the words that a program is started with, which every user can read: the
browser is given a file that leads to the page.
"""

import asyncio
import atexit
import html
import logging
import secrets
import socket
import sys
import webbrowser
from collections.abc import Callable
from functools import partial
from pathlib import Path

import uvicorn
from platformdirs import user_cache_path, user_state_path
from starlette.types import ASGIApp
from websockets.exceptions import InvalidState

from fxseq.bench.begin import Begin
from fxseq.bench.desk import Desk
from fxseq.bench.doorway import doorway_app
from fxseq.bench.server import Bench, make_app
from fxseq.bench.unsaved import Unsaved
from fxseq.bench.worker import WorkProcess
from fxseq.sequence import Fault, FxError, LinkError, write_whole

ADDRESS = "127.0.0.1"
MOST_SOCKET_BYTES = 4096
"""Longest message that a page may send over its websocket; it has nothing to say there."""
_TOKEN_BYTES = 32
_PATIENCE_S = 2
_TURNS_S = 0.0005
"""How long a thread that computes keeps others waiting: an answer takes a dozen turns, each of
which would wait for 5 ms beside key numbers that are being found.
"""


def run_bench(file: Path | None, port: int, on_ready: Callable[[str], None]) -> None:
    """Serve the file, or a page on which one is chosen or begun, until the process is told to
    stop. port: 0 for any that is free. on_ready: called with the page's address.

    Raises FxError with the faults of the file, or where the port is taken.
    """
    begin = Begin(Path.cwd(), user_state_path("fxseq") / "recent.json")
    aside = WorkProcess()
    bench = None
    if file is not None:
        bench = _bench_of(file, aside)
        begin.remember(file)
    with listen_on(port) as listener, aside:
        host = f"{ADDRESS}:{listener.getsockname()[1]}"
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        if bench is None:
            app = doorway_app(begin, partial(_bench_of, aside=aside), host, token)
        else:
            app = make_app(bench, host, token)
        asyncio.run(_serve(app, listener, f"http://{host}/#t={token}", on_ready))


def _bench_of(file: Path, aside: WorkProcess) -> Bench:
    desk = Desk(file)
    return Bench(desk, Unsaved(desk, user_state_path("fxseq") / "unsaved"), aside)


async def _serve(
    app: ASGIApp, listener: socket.socket, address: str, on_ready: Callable[[str], None]
) -> None:
    sys.setswitchinterval(_TURNS_S)
    server = uvicorn.Server(app_config(app))
    # The socket listens already, so whoever opens the address now is served as soon as the server
    # runs.
    on_ready(address)
    await server.serve([listener])


def server_config(bench: Bench, host: str, token: str) -> uvicorn.Config:
    """How uvicorn is to serve a bench."""
    return app_config(make_app(bench, host, token))


def app_config(app: ASGIApp) -> uvicorn.Config:
    """How uvicorn is to serve: it trusts no proxy, does not say what it is, and writes no list
    of requests.
    """
    config = uvicorn.Config(
        app,
        http="h11",
        ws="websockets-sansio",
        ws_max_size=MOST_SOCKET_BYTES,
        proxy_headers=False,
        server_header=False,
        access_log=False,
        log_level="warning",
        timeout_graceful_shutdown=_PATIENCE_S,
    )
    for name in ("uvicorn.error", "asyncio"):
        logging.getLogger(name).addFilter(_is_worth_telling)
    return config


def _is_worth_telling(record: logging.LogRecord) -> bool:
    """Whether a line for the terminal is about more than bytes on a websocket that are no text,
    for which the server below closes it with two tracebacks, and than work that was still under
    way when the bench was ended.
    """
    error = record.exc_info[1] if record.exc_info else None
    of_socket = record.module == "websockets_sansio_impl" and isinstance(error, UnicodeDecodeError)
    return not (of_socket or isinstance(error, InvalidState | asyncio.CancelledError))


def listen_on(port: int) -> socket.socket:
    listener = socket.socket()
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((ADDRESS, port))
        listener.listen()
    except OSError as error:
        listener.close()
        remedy = "Leave out --tcp to get a free one."
        raise LinkError(
            Fault(f"TCP port {port}", f"it is not available ({error.strerror})", "", remedy)
        ) from None
    return listener


def open_page(address: str) -> bool:
    """Open the address by a file that only this user may read and that leads there; whether a
    browser took it.
    """
    try:
        leader = _leader(address)
    except (OSError, FxError):
        return False
    atexit.register(leader.unlink, missing_ok=True)
    return webbrowser.open(leader.as_uri())


def _leader(address: str) -> Path:
    folder = user_cache_path("fxseq", ensure_exists=True)
    leader = folder / f"bench_{secrets.token_hex(8)}.html"
    leader.touch(0o600)
    to = html.escape(address, quote=True)
    text = (
        '<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="0;'
        f' url={to}"><title>fxseq</title><a href="{to}">bench</a>\n'
    )
    # A file that exists keeps its permissions.
    write_whole(leader, text.encode())
    return leader
