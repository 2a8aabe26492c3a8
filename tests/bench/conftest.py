"""A prop of its own on a running bench."""

import asyncio
import shutil
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest
import uvicorn
from aside import ASIDE

from fxseq.bench import Desk, numbers
from fxseq.bench import server as bench_server
from fxseq.bench.running import listen_on, server_config
from fxseq.bench.unsaved import Unsaved

sys.path.insert(0, str(Path(__file__).parent))
from bench_client import TOKEN, Client, wait_for  # noqa: E402

DEMO = Path(__file__).parents[2] / "demo_assets"
ONE_RATE_PER_S = (1.0,)
Serve = Callable[[Path], Client]


def copy_demo(folder: Path) -> Path:
    """The demo in this folder."""
    folder.mkdir()
    shutil.copy(DEMO / "squall_lantern.toml", folder)
    shutil.copytree(DEMO / "clips", folder / "clips")
    return folder / "squall_lantern.toml"


@pytest.fixture
def prop_file(tmp_path: Path) -> Path:
    """The demo in a folder of its own."""
    return copy_demo(tmp_path / "prop")


def copy_small(folder: Path) -> Path:
    """The demo's smallest prop, quick to compile, in this folder."""
    (folder / "clips").mkdir(parents=True)
    shutil.copy(DEMO / "first_light.toml", folder)
    shutil.copy(DEMO / "clips" / "crack_a.wav", folder / "clips")
    return folder / "first_light.toml"


@contextmanager
def on_bench(file: Path) -> Iterator[Client]:
    """The file on a bench of this process, on a port of its own, where triggers are tried at one
    rate: a sweep takes seconds.
    """
    listener = listen_on(0)
    port = listener.getsockname()[1]
    desk = Desk(file)
    bench = bench_server.Bench(desk, Unsaved(desk, file.parent.parent / "unsaved"), ASIDE)
    server = uvicorn.Server(server_config(bench, f"127.0.0.1:{port}", TOKEN))
    thread = threading.Thread(target=lambda: asyncio.run(server.serve([listener])))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(numbers, "RATES_PER_S", ONE_RATE_PER_S)
        thread.start()
        try:
            wait_for(lambda: server.started)
            yield Client(port, file)
        finally:
            server.should_exit = True
            thread.join()


@pytest.fixture
def small_file(tmp_path: Path) -> Path:
    """The demo's smallest prop."""
    return copy_small(tmp_path / "small")


@pytest.fixture
def serve(monkeypatch: pytest.MonkeyPatch) -> Iterator[Serve]:
    """Put files on benches."""
    monkeypatch.setattr(bench_server, "LOOK_EVERY_S", 0.05)
    with ExitStack() as benches:
        yield lambda file: benches.enter_context(on_bench(file))


@pytest.fixture
def small(serve: Serve, small_file: Path) -> Client:
    """The smallest prop on a bench."""
    return serve(small_file)


@pytest.fixture(scope="module")
def steady(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """The smallest prop on one bench for all tests of a module, which do not mind what the
    others did to it.
    """
    with on_bench(copy_small(tmp_path_factory.mktemp("steady") / "small")) as client:
        yield client


@pytest.fixture(scope="module")
def unchanged_demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """The demo on one bench for all tests of a module, which change nothing."""
    with on_bench(copy_demo(tmp_path_factory.mktemp("unchanged") / "prop")) as client:
        yield client


@pytest.fixture
def demo(serve: Serve, prop_file: Path) -> Client:
    """The demo on a bench."""
    return serve(prop_file)
