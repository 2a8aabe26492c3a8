"""Wrong readings of LINK.md that are near at hand: put into the Python session, each must fail
its vector.
"""

import importlib
from pathlib import Path
from types import ModuleType

import pytest
from test_session_vectors import TALKS, converse, power_up_virtual

from fxseq.link import board_session, virtual_board

VECTORS = {vector["id"].removeprefix("session-"): vector for vector in TALKS}
SESSION = "board_session"
SLOTS = "slots"
FIT = "fit"
HEARD = "        self._heard_at = now_s\n        try:\n"
RELEASE = "now_s >= self._heard_at + RELEASE_AFTER_S:\n            self._power_up()"
COUNTED = "        if wanted > most\n"
READ_MARKS = (
    "            used_bytes = used_bytes if set(data) == {ERASED} else place + MARK_BYTES\n"
)
FAILED = "    def _flash_failed(self) -> m.Message:\n        self._job = self._push = None\n"
OUTCOME = "m.Verified(push.length, crc) if crc != push.crc else self._judge(bytes(table), crc)"
KNOWN = "for mark in self._slots.tables\n"
ANEW = "for mark in Slots(self._slots._flash, self._check).tables\n"

COPIED = "offset = message.offset + at - message.first * size"
SLOWEST = "min(message.baud, self.ability.most_baud)"
SILENT = "max(self._alive_at, self._heard_at) + BACK_AFTER_S"
AGREES = "        return m.Agreed(self._agreed)\n"
STATUS = "        return push.status\n\n    def _verify"
HALVE_TAG = f"        push.tag = tag\n{STATUS}"
WITHIN = "if offset + length > self._active().length:"

MISREADINGS = [  # rule, vector, module, its text, what the misreading makes of it
    (
        "6 R9: only known kinds count",
        "host-is-not-gone",
        SESSION,
        HEARD,
        HEARD.replace("= now_s", "+= (now_s - self._heard_at) * (data[0] & 31 < 11)"),
    ),
    (
        "6 R9: the clock goes on where it is",
        "what-is-forgotten-with-the-host",
        SESSION,
        RELEASE,
        RELEASE.replace("self._power_up()", "self._run.until = m.FOR_EVER"),
    ),
    (
        "4.5 R1: the offset is that of block 0",
        "copies-blocks",
        SESSION,
        COPIED,
        "offset = message.offset + at",
    ),
    (
        "4.5 R1: only the first byte must be within the table",
        "copies-nothing-from-outside",
        SESSION,
        WITHIN,
        "if offset >= self._active().length:",
    ),
    (
        "4.6 R1: the highest, whatever is asked for",
        "speed",
        SESSION,
        SLOWEST,
        "self.ability.most_baud",
    ),
    (
        "4.6 R2: a second after the change, whoever speaks",
        "speed-way-back",
        SESSION,
        SILENT,
        "self._alive_at + BACK_AFTER_S",
    ),
    ("4.6 R2: for good", "speed-way-back", SESSION, SILENT, "float('inf')"),
    (
        "4.6 R3: a change ends the push",
        "speed-within-a-push",
        SESSION,
        AGREES,
        f"        self._push = None\n{AGREES}",
    ),
    ("4.7 R1: the tag is still that of BEGIN", "halves", SESSION, HALVE_TAG, STATUS),
    (
        "4.7 R1: the last block is two halves",
        "halves-of-what-is-ahead",
        SESSION,
        "            if number < self.blocks:\n",
        "            if True:\n",
    ),
    (
        "4.7 R1: what is ahead has to be sent again",
        "halves-of-what-is-ahead",
        SESSION,
        "for half in (2 * block, 2 * block + 1)",
        "for half in ()",
    ),
    (
        "4.7 R1: halves of halves",
        "halves-once",
        SESSION,
        "        if not push.halved:\n",
        "        if True:\n",
    ),
    (
        "5 R6: into the first gap",
        "gap-before-junk",
        SLOTS,
        READ_MARKS,
        "            used_bytes += MARK_BYTES * (set(data) != {ERASED})\n",
    ),
    (
        "5 R5: of equal turns the first",
        "equal-turns",
        SLOTS,
        "key=lambda place: place[0].turn,",
        "key=lambda place: (place[0].turn, -place[0].crc),",
    ),
    (
        "5 R8: not marked again",
        "marked-again",
        SLOTS,
        "if self.active is not None and not self._marked:",
        "if False:",
    ),
    (
        "5 R8: marked again by every BEGIN",
        "marked-again",
        SLOTS,
        "        self._marked = True\n",
        "",
    ),
    (
        "5 R9: cut marks are nothing",
        "cut-marks-that-read-whole-later",
        SLOTS,
        " + 2 * pages[self._page].skipped",
        "",
    ),
    (
        "5 R9: erased places are nothing",
        "erased-places-before-a-cut-mark",
        SLOTS,
        "marks, used_bytes, (used_bytes - whole_bytes) // MARK_BYTES)",
        "marks, used_bytes, int(used_bytes > whole_bytes))",
    ),
    (
        "4.3 R2: voices do not count",
        "more-voices-than-the-board-can",
        FIT,
        COUNTED,
        "        if wanted > most and 'voices' not in what\n",
    ),
    (
        "4.3 R2: rates do not count",
        "more-samples-than-the-board-can",
        FIT,
        COUNTED,
        "        if wanted > most and 'Hz' not in what\n",
    ),
    (
        "4.3 R2: codings do not count",
        "more-codings-than-the-board-can",
        FIT,
        "    if missing:\n",
        "    if False:\n",
    ),
    (
        "4.3 R2: looked at whatever its CRC",
        "other-bytes-that-are-unsound",
        SESSION,
        OUTCOME,
        "self._judge(bytes(table), crc)",
    ),
    (
        "3.18: the older push goes on",
        "flash-fails-at-the-begin-of-another",
        SESSION,
        FAILED,
        FAILED.replace("self._push = None", "None"),
    ),
    ("3.11: whole now", "other-table-is-damaged", SESSION, KNOWN, ANEW),
    (
        "4.4 R1: missing blocks are an error",
        "commit-while-blocks-are-missing",
        SESSION,
        "        return self._finish(tag, push, commit=True)",
        (
            "        if push.base < push.blocks:\n            raise Refused(ErrorCode.NOT_BEGUN)\n "
            "       return self._finish(tag, push, commit=True)"
        ),
    ),
]


def misread(module: str, text: str, becomes: str) -> ModuleType:
    """The module with this text changed."""
    path = Path(importlib.import_module(f"fxseq.link.{module}").__file__)
    source = path.read_text(encoding="utf-8")
    assert source.count(text) == 1, f"{module} has {source.count(text)} times: {text}"
    # Under a name of its own, as dataclasses look their module up by it.
    made = ModuleType(board_session.__name__)
    exec(compile(source.replace(text, becomes), str(path), "exec"), made.__dict__)
    return made


@pytest.mark.parametrize(
    ("vector", "module", "text", "becomes"),
    [pytest.param(*case, id=f"{rule}, {case[0]}") for rule, *case in MISREADINGS],
)
def test_misreading_fails_its_vector(
    monkeypatch: pytest.MonkeyPatch, vector: str, module: str, text: str, becomes: str
) -> None:
    made = misread(module, text, becomes)
    if module == SLOTS:
        monkeypatch.setattr(board_session, "Slots", made.Slots)
    elif module == SESSION:
        monkeypatch.setattr(virtual_board, "BoardSession", made.BoardSession)
    else:
        monkeypatch.setattr(virtual_board, "unfit", made.unfit)
    with pytest.raises(AssertionError):
        converse(power_up_virtual, VECTORS[vector])
