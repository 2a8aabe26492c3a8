"""Files for the page: its own, by their names in a list of what there is, and the player. No
path comes from outside.
"""

from importlib import resources
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from fxseq.bench.body import Refused
from fxseq.sequence import Fault

PAGE = Path(str(resources.files("fxseq.bench"))) / "page"
PLAYER = Path(str(resources.files("fxseq.player"))) / "player.wasm"
PICTURES = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp"}
KINDS = PICTURES | {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".wasm": "application/wasm",
    ".txt": "text/plain; charset=utf-8",
}


async def index(request: Request) -> Response:
    """The page."""
    return await answer(PAGE / "index.html", KINDS)


async def first_page(request: Request) -> Response:
    """The page of a bench on which no prop is open yet."""
    return await answer(PAGE / "begin.html", KINDS)


async def page_file(request: Request) -> Response:
    """One of the page's files, or the player. Raises Refused."""
    path = page_files().get(request.path_params["name"])
    if path is None:
        raise Refused(404, Fault("page", "it has no such file"))
    return await answer(path, KINDS)


def page_files() -> dict[str, Path]:
    """All of the page's files by name: what lies in its folder, and leads nowhere else."""
    root = PAGE.resolve()
    found = {
        path.name: path
        for path in root.iterdir()
        if path.is_file() and path.suffix in KINDS and path.resolve().is_relative_to(root)
    }
    return found | {PLAYER.name: PLAYER}


async def answer(path: Path, kinds: dict[str, str]) -> Response:
    """What is in the file, as what its suffix says. Raises Refused."""
    kind = kinds.get(path.suffix.lower())
    if kind is None:
        raise Refused(
            404, Fault(path.name, "the page cannot show this kind of file", ", ".join(kinds))
        )
    try:
        return Response(await run_in_threadpool(path.read_bytes), media_type=kind)
    except OSError as error:
        raise Refused(404, Fault(path.name, f"it cannot be read ({error.strerror})")) from None
