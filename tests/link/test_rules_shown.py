"""Every numbered rule of LINK.md, and every message, is shown by a vector, or stands here with
the reason why bytes cannot show it.
"""

import json
import re
from pathlib import Path

from vector_files import FOLDER, MANIFEST

TEXT = (Path(__file__).parents[2] / "firmware_spec" / "LINK.md").read_text(encoding="utf-8")
NOT_BY_BYTES = {
    "LINK 1 R3": "about memory; section 7 counts it",
    "LINK 4.1 R3": (
        "about time: a board that is quick enough need not say WAIT at all;"
        " tests/link/test_board_session.py tries it"
    ),
    "LINK 4.1 R4": "what is said while a slot is erased, which a quick board has done before",
    "LINK 4.2 R7": "what the host does; tests/link/test_lying_board.py tries it",
    "LINK 4.2 R8": "what the host does",
    "LINK 4.3 R4": "what the host does",
    "LINK 4.5 R2": "what is said while blocks are copied, which a quick board has done before",
    "LINK 4.5 R3": "what the host does; tests/link/test_delta.py tries it",
    "LINK 4.6 R4": "what the host does; tests/link/test_speed.py tries it",
    "LINK 4.7 R2": "what the host does; tests/link/test_halves.py tries it",
    "LINK 5 R7": (
        "an erasure that was not needed leaves no trace; the fuzzer of the C session (ports/host)"
        " holds it to it"
    ),
}


def rules_of(text: str) -> list[str]:
    """`LINK 4.2 R3`, and `LINK 3.4` for each message."""
    found = []
    section = ""
    for line in text.splitlines():
        if heading := re.match(r"^#{2,3} (\d(?:\.\d+)?) ", line):
            section = heading[1]
            found += [f"LINK {section}"] if section.startswith("3.") else []
        elif rule := re.match(r"^(R\d+) ", line):
            found.append(f"LINK {section} {rule[1]}")
    return found


def test_every_rule_has_a_vector_or_a_reason() -> None:
    shown = {
        rule
        for rule in json.loads((FOLDER / MANIFEST).read_text(encoding="utf-8"))["rules"]
        if rule.startswith("LINK")
    }
    rules = rules_of(TEXT)
    assert len(rules) == len(set(rules)) > 55
    assert not shown & set(NOT_BY_BYTES), "shown after all"
    assert shown | set(NOT_BY_BYTES) == set(rules)
