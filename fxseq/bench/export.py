"""The page as one file that needs no server: its parts, the player, the table and the sounds
inlined. It asks nothing of any machine.
"""

import base64
import json
import re
from pathlib import Path
from typing import Any

from fxseq.bench.desk import Version
from fxseq.bench.files import PAGE, PICTURES, PLAYER
from fxseq.bench.listen import listening, recording_wav
from fxseq.bench.view import picture_file, prop_view
from fxseq.sequence import ClipError

WORKLET = "worklet.js"
HELD = "bench-export"
"""Id of the element with all that the page would ask the server for."""
_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline' 'wasm-unsafe-eval' data: blob:; style-src"
    " 'unsafe-inline'; img-src data: blob:; connect-src data: blob:; worker-src data: blob:;"
    " media-src data: blob:; base-uri 'none'; form-action 'none'"
)
_STYLE = re.compile(r'<link rel="stylesheet" href="/page/([\w.-]+\.css)">')
_SCRIPT = re.compile(r'<script type="module" src="/page/([\w.-]+\.js)"></script>')
_IMPORT = re.compile(r"""((?:\bfrom|\bimport)\s*\(?\s*)(['"])(?:\./|/page/)([\w.-]+\.js)\2""")


def export_page(version: Version, numbers: dict[str, Any]) -> bytes:
    """The whole page of this revision as HTML. numbers: its key numbers, rates included, as
    /api/numbers tells them.
    """
    text = (PAGE / "index.html").read_text(encoding="utf-8")
    modules = {
        path.name: path.read_text(encoding="utf-8")
        for path in sorted(PAGE.glob("*.js"))
        if path.name != WORKLET
    }
    imports = {
        f"bench/{name}": _data_url("text/javascript", _bare(source).encode())
        for name, source in modules.items()
    }
    head = [
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        f'<script type="importmap">{_within_script({"imports": imports})}</script>',
        (
            '<script type="application/json"'
            f' id="{HELD}">{_within_script(_held(version, numbers))}</script>'
        ),
    ]
    text = text.replace('<meta charset="utf-8">', "\n".join(head), 1)
    text = _STYLE.sub(lambda found: f"<style>\n{_style(found[1])}</style>", text)
    text = _SCRIPT.sub(
        lambda found: f'<script type="module">import "bench/{found[1]}";</script>', text
    )
    return text.encode()


def _bare(source: str) -> str:
    """A module that imports the others by names of the import map: one that is a data: URL has
    no folder to start from.
    """
    return _IMPORT.sub(lambda found: f"{found[1]}{found[2]}bench/{found[3]}{found[2]}", source)


def _style(name: str) -> str:
    text = (PAGE / name).read_text(encoding="utf-8")
    if "</" in text:
        raise ValueError(f"{name} would end the element that it goes into")
    return text


def _held(version: Version, numbers: dict[str, Any]) -> dict[str, Any]:
    prop = version.prop
    return {
        "prop": {
            **prop_view(version),
            "dirty": False,
            "can_undo": False,
            "can_redo": False,
            "changed_outside": False,
        },
        "listen": listening(prop),
        "numbers": numbers,
        "table": _base64(prop.compiled.data),
        "wasm": _base64(PLAYER.read_bytes()),
        "worklet": _data_url("text/javascript", (PAGE / WORKLET).read_bytes()),
        "picture": _picture_url(picture_file(prop)),
        "clips": {
            name: _base64(recording)
            for name in prop.clips
            if (recording := _recording(name, version)) is not None
        },
    }


def _recording(name: str, version: Version) -> bytes | None:
    """As recorded; None where the whole of it is longer than a clip may be, and only the part
    that is cut from it is used.
    """
    try:
        return recording_wav(name, version.prop.sequence.clips[name], version.prop.path.parent)
    except ClipError:
        return None


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode()


def _picture_url(picture: Path | None) -> str | None:
    """The prop's photo, if it has one of a kind that the page can show."""
    if picture is None or picture.suffix.lower() not in PICTURES:
        return None
    return _data_url(PICTURES[picture.suffix.lower()], picture.read_bytes())


def _data_url(kind: str, data: bytes) -> str:
    return f"data:{kind};base64,{_base64(data)}"


def _within_script(value: Any) -> str:
    """JSON that no text in it can end the element."""
    return (
        json.dumps(value, allow_nan=False)
        .replace("<", "\\u003c")
        .replace("\u2028", "\\u2028")
        .replace("\u2029", "\\u2029")
    )
