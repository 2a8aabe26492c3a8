"""Where something is within a sequence, and how a maker would name that place."""

from functools import lru_cache
from typing import NamedTuple

Path = tuple[str | int, ...]
"""Keys and list indices from the top of the file, for example ("effects", "bolt", "sounds", 0,
"clip").
"""

NAMED = (
    "supplies",
    "inputs",
    "selectors",
    "counters",
    "groups",
    "clips",
    "fades",
    "effects",
    "triggers",
    "scripts",
)
"""Tables of parts to which the maker gives names."""

_SINGULAR = {"supplies": "supply", "places_mm": "place", "outline_mm": "corner"}
_POINT_KEYS = {"centre_mm", "from_mm", "to_mm"}


class PathFault(NamedTuple):
    """A fault at a place within the file; its line is found later.

    what: goes on from the name of the place, for example `is 30 dB`.
    missing: the last key of the path is not in the file.
    """

    path: Path
    what: str
    allowed: str = ""
    remedy: str = ""
    missing: bool = False

    def under(self, *outer: str | int) -> "PathFault":
        """This fault, its path continued outwards."""
        return self._replace(path=(*outer, *self.path))


def shown(text: str, most: int = 40) -> str:
    """The text as a message can hold it: on one line, and not too long."""
    text = "".join(
        sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text
    )
    if len(text) <= most:
        return text
    return f"{text[: most - 3]}..."


def part_of(path: Path) -> Path:
    """Path of the part that holds the place: `("board",)`, `("clips", "hum")`."""
    if _is_element(path, 1):
        return path[:2]
    return path[:1]


def is_named(path: Path) -> bool:
    """Whether the place is a part that the maker named."""
    return len(path) == 2 and _is_element(path, 1)


@lru_cache(maxsize=1024)
def place_name(path: Path) -> str:
    """The place in a maker's words, for example `effect 'bolt', sound 2: clip`."""
    steps = [
        _step_name(path, index) for index in range(len(path)) if not _said_by_next(path, index)
    ]
    if len(steps) > 1 and not _is_element(path, len(path) - 1):
        return f"{', '.join(steps[:-1])}: {steps[-1]}"
    return ", ".join(steps)


def _is_element(path: Path, index: int) -> bool:
    """Whether the step picks one of many: a name that the maker gave to a table, or an item of a
    list.
    """
    if index == 0 or index >= len(path):
        return False
    before = path[index - 1]
    step = path[index]
    if isinstance(step, int):
        return isinstance(before, str) and before not in _POINT_KEYS
    return index == 1 and before in NAMED


def _said_by_next(path: Path, index: int) -> bool:
    """Whether the next step names this one too, as `effect 'bolt'` does for `effects`."""
    return _is_element(path, index + 1)


def _step_name(path: Path, index: int) -> str:
    step = path[index]
    if not _is_element(path, index):
        if isinstance(step, int):
            return "xy"[step]
        return shown(step)
    many = str(path[index - 1])
    one = _SINGULAR.get(many, many.removesuffix("s"))
    if isinstance(step, int):
        return f"{one} {step + 1}"
    return f"{one} '{shown(step)}'"
