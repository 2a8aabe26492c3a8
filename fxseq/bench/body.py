"""What the page sends: bodies of a known size, JSON of a known shape, or a fault that says what
is wrong.
"""

import json
from typing import Any

from starlette.requests import Request

from fxseq.sequence import Fault, FxError
from fxseq.sequence.paths import Path, shown

MOST_JSON_BYTES = 2**20
MOST_RECORDING_BYTES = 64 * 2**20
MOST_PICTURE_BYTES = 24 * 2**20
_LARGE = {
    MOST_RECORDING_BYTES: ("a recording", "Cut it first."),
    MOST_PICTURE_BYTES: ("a photo", "Save it smaller."),
}
DEEPEST = 12
"""Lists and tables within each other; a prop file has 6."""
_LONGEST_PATH = 8


class Refused(FxError):
    """A request that cannot be carried out, with its HTTP status."""

    def __init__(self, status: int, *faults: Fault) -> None:
        super().__init__(*faults)
        self.status = status


BUG = Fault(
    "the bench",
    "this should not happen; it is a bug in fxseq",
    "",
    "The details in the terminal help to find it.",
)


async def read_body(request: Request, most_bytes: int) -> bytes:
    """The body. Raises Refused as soon as it is known to be larger, whether its length is
    declared or not.
    """
    declared = request.headers.get("content-length", "0")
    if not declared.isascii() or not declared.isdigit() or int(declared) > most_bytes:
        raise _too_large(most_bytes)
    data = bytearray()
    async for piece in request.stream():
        data += piece
        if len(data) > most_bytes:
            raise _too_large(most_bytes)
    return bytes(data)


def _too_large(most_bytes: int) -> Refused:
    what, remedy = _LARGE.get(most_bytes, ("a request", ""))
    return Refused(413, Fault(what, "it is too large", f"up to {most_bytes / 2**20:g} MiB", remedy))


async def read_json(request: Request) -> dict[str, Any]:
    """The body as a JSON object. Raises Refused."""
    return parse_json(await read_body(request, MOST_JSON_BYTES))


def parse_json(data: bytes) -> dict[str, Any]:
    """A JSON object of finite numbers and whole letters, not too deep. Raises Refused."""
    try:
        value = json.loads(data.decode(), parse_constant=_no_number)
    except RecursionError:
        raise _bad("it has too many levels", f"{DEEPEST} levels") from None
    except ValueError as error:
        raise _bad(f"it is not JSON ({shown(str(error), 80)})", "a JSON object") from None
    if not isinstance(value, dict):
        raise _bad("it is not an object", "a JSON object")
    _look_through(value)
    return value


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no JSON number")


def _look_through(value: Any) -> None:
    """Refuse what is too deep, and letters that are half of a pair, which no file can hold."""
    level = [value]
    for _ in range(DEEPEST):
        texts = [item for item in level if isinstance(item, str)]
        texts += [key for item in level if isinstance(item, dict) for key in item]
        if any("\ud800" <= letter <= "\udfff" for text in texts for letter in text):
            raise _bad("it holds an incomplete character", "Unicode text")
        level = [
            inner
            for item in level
            if isinstance(item, dict | list)
            for inner in (item.values() if isinstance(item, dict) else item)
        ]
    if level:
        raise _bad("it has too many levels", f"{DEEPEST} levels")


def _bad(what: str, allowed: str) -> Refused:
    return Refused(400, Fault("request", what, allowed))


def text_of(body: dict[str, Any], key: str, default: str | None = None) -> str:
    """A text of the body. Raises Refused where it is none, or missing without a default."""
    value = body.get(key, default)
    if not isinstance(value, str):
        raise _bad(f"'{key}' is missing or not text", "text")
    return value


def path_of(body: dict[str, Any]) -> Path:
    """The path of an edit: keys, and indices of lists. Raises Refused."""
    steps = body.get("path")
    if (
        not isinstance(steps, list)
        or not 1 <= len(steps) <= _LONGEST_PATH
        or not isinstance(steps[0], str)
    ):
        raise _bad("'path' is not a path", f"a list of 1 to {_LONGEST_PATH} keys and indices")
    if not all(
        isinstance(step, str)
        or (isinstance(step, int) and not isinstance(step, bool) and step >= 0)
        for step in steps
    ):
        raise _bad(
            "'path' has a step that is neither key nor index", "texts and whole numbers from 0"
        )
    return tuple(steps)
