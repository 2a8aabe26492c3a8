"""A prop of its own on a running bench."""
import asyncio
import shutil
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import uvicorn

from fxseq.bench import Desk
from fxseq.bench import server as bench_server
from fxseq.bench.running import listen_on, server_config

sys.path.insert(0, str(Path(__file__).parent))
from bench_client import TOKEN, Client, wait_for  # noqa: E402

DEMO = Path(__file__).parents[2] / "demo_assets"
Serve = Callable[[Path], Client]


@pytest.fixture
def prop_file(tmp_path: Path) -> Path:
    """The demo in a folder of its own."""
    folder = tmp_path / "prop"
    folder.mkdir()
    shutil.copy(DEMO / "squall_lantern.toml", folder)
    shutil.copytree(DEMO / "clips", folder / "clips")
    return folder / "squall_lantern.toml"


@pytest.fixture
def small_file(tmp_path: Path) -> Path:
    """The demo's smallest prop: quick to compile."""
    folder = tmp_path / "small"
    folder.mkdir()
    shutil.copy(DEMO / "first_light.toml", folder)
    (folder / "clips").mkdir()
    shutil.copy(DEMO / "clips" / "crack_a.wav", folder / "clips")
    return folder / "first_light.toml"


@pytest.fixture
def serve(monkeypatch: pytest.MonkeyPatch) -> Iterator[Serve]:
    """Put a file on a bench of this process, on a port of its own."""
    monkeypatch.setattr(bench_server, "LOOK_EVERY_S", 0.05)
    running: list[tuple[uvicorn.Server, threading.Thread]] = []

    def serve(file: Path) -> Client:
        listener = listen_on(0)
        port = listener.getsockname()[1]
        server = uvicorn.Server(server_config(bench_server.Bench(Desk(file)), f"127.0.0.1:{port}", TOKEN))
        thread = threading.Thread(target=lambda: asyncio.run(server.serve([listener])))
        thread.start()
        running.append((server, thread))
        wait_for(lambda: server.started)
        return Client(port, file)

    yield serve
    for server, _ in running:
        server.should_exit = True
    for _, thread in running:
        thread.join()


@pytest.fixture
def small(serve: Serve, small_file: Path) -> Client:
    """The smallest prop on a bench."""
    return serve(small_file)


@pytest.fixture
def demo(serve: Serve, prop_file: Path) -> Client:
    """The demo on a bench."""
    return serve(prop_file)
