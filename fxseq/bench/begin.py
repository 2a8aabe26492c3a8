"""Where no prop is open yet: those of this folder, those that were open last, and a new one of a
few answers. What is left open is left out of the file.
"""

import json
from pathlib import Path
from typing import Any

from fxseq.bench.body import Refused, text_of
from fxseq.bench.common_parts import common_parts
from fxseq.bench.forms import LEAST
from fxseq.sequence import Fault, FxError, write_whole
from fxseq.sequence.edits import set_value, written
from fxseq.sequence.paths import Path as Place
from fxseq.sequence.titles import LONGEST_TITLE, visible
from fxseq.sequence.wording import name_from

MOST_RECENT = 12
MOST_FILES = 200
_HEAD = """# Begun on the page of `fxseq bench`. Change it there or in a text editor, as you like.
# Times are in ms, light in percent of perceived lightness, sound in dB.

format = 1
title = {title}

[board]
"""
Changes = list[tuple[Place, Any]]
_BUTTON: Changes = [(("inputs", "button"), {})]
_FIRST_FLASH: Changes = [
    (("fades", "flash"), LEAST["Fade"]),
    (("effects", "flash"), {"lights": [{"group": "lamp", "fade": "flash"}]}),
    (("triggers", "flash"), {"mode": "once", "input": "button", "effects": ["flash"]}),
]
"""Where there are a button and a lamp: something to press at once."""


def _lamps(count: int, colour: str) -> Changes:
    """Each on an output of its own."""
    outputs = {"channels": count} if count > 1 else {}
    lamp = {**outputs, "leds": count, "colour": colour, "current_ma": 10}
    return [(("groups", "lamp"), lamp)]


def _supply(keys: dict[str, Any]) -> Changes:
    return [(("supplies", str(keys["kind"])), keys)]


QUESTIONS: dict[str, tuple[str, dict[str, Changes]]] = {
    "pressed": (
        "What is pressed",
        {
            "a button": _BUTTON,
            "two buttons": [*_BUTTON, (("inputs", "second"), {})],
            "a button and a switch": [*_BUTTON, (("selectors", "switch"), LEAST["Selector"])],
        },
    ),
    "lamps": (
        "What shines",
        {
            "one white LED": _lamps(1, "white"),
            "one red LED": _lamps(1, "red"),
            "four white LEDs": _lamps(4, "white"),
            "six amber LEDs": _lamps(6, "amber"),
        },
    ),
    "fed": (
        "What feeds it",
        {part.label: _supply(part.given) for part in common_parts()["supplies"]},
    ),
    "board": (
        "Which board",
        {part.label: [(("board", "part"), part.given["part"])] for part in common_parts()["board"]},
    ),
    "speaker": (
        "Which speaker",
        {
            part.label: [(("amplifier",), LEAST["Amplifier"]), (("speaker",), part.given)]
            for part in common_parts()["speaker"]
        },
    ),
}
"""By the name of an answer: the question, and what each answer puts into the file. Any of them go
together: six lights are as many as a Nano has in a row.
"""


def begun(title: str, answers: dict[str, Any]) -> str:
    """The text of a new prop. answers: by question; another one than those that there are, or
    none, leaves it open.
    """
    changes = [
        change
        for name, (_, choices) in QUESTIONS.items()
        for change in choices.get(answers.get(name, ""), [])
    ]
    places = {place for place, _ in changes}
    if {("inputs", "button"), ("groups", "lamp")} <= places:
        changes += _FIRST_FLASH
    text = _HEAD.format(title=written(title))
    for place, value in changes:
        text = set_value(text, place, value)
    return text


class Begin:
    """What can be opened: prop files of a folder, and those that were open last. The page names
    them by their turn, never by a path.
    """

    def __init__(self, folder: Path, kept: Path) -> None:
        """kept: file of this user's own that holds the last ones."""
        self._folder = folder
        self._kept = kept

    def view(self) -> dict[str, Any]:
        """What the first page shows."""
        return {
            "folder": str(self._folder),
            "recent": [str(path) for path in self._recent()],
            "files": [path.name for path in self._files()],
            "questions": [
                {"name": name, "question": question, "choices": list(choices)}
                for name, (question, choices) in QUESTIONS.items()
            ],
        }

    def choose(self, body: dict[str, Any]) -> Path:
        """{"recent": turn} or {"file": turn}: the file. Raises Refused."""
        lists = {"recent": self._recent(), "file": self._files()}
        for kind, paths in lists.items():
            turn = body.get(kind)
            if isinstance(turn, int) and turn in range(len(paths)):
                return paths[turn]
        raise Refused(422, Fault("file", "it is not there any more", "", "Reload the page."))

    def make(self, body: dict[str, Any]) -> Path:
        """{"title", "answers"}: a new file in the folder. Raises Refused, OutputError."""
        title = visible(text_of(body, "title")).strip()
        answers = body.get("answers", {})
        name = name_from(title)
        if not name or len(title) > LONGEST_TITLE or not isinstance(answers, dict):
            allowed = f"1 to {LONGEST_TITLE} characters, a letter first"
            raise Refused(422, Fault("name", "the prop cannot be called so", allowed))
        file = self._folder / f"{name}.toml"
        if file.exists():
            remedy = "Choose another name, or open that one."
            raise Refused(422, Fault(file.name, "there is already such a file here", "", remedy))
        write_whole(file, begun(title, answers).encode())
        return file

    def remember(self, file: Path) -> None:
        """As the last one that was open. Nothing depends on it."""
        others = [path for path in self._recent() if path != file.resolve()]
        paths = [str(path) for path in [file.resolve(), *others]][:MOST_RECENT]
        try:
            self._kept.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_whole(self._kept, json.dumps(paths).encode())
        except (FxError, OSError):
            pass

    def _recent(self) -> list[Path]:
        try:
            paths = json.loads(self._kept.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return []
        return [Path(path) for path in paths if isinstance(path, str) and Path(path).is_file()]

    def _files(self) -> list[Path]:
        return sorted(self._folder.glob("*.toml"))[:MOST_FILES]
