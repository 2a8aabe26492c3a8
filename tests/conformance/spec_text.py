"""What stands in SPEC.md, taken out of its text: rules and examples (SPEC 2.4)."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

SPEC = (Path(__file__).parents[2] / "firmware_spec" / "SPEC.md").read_text(encoding="utf-8")

HEADING = re.compile(r"^#{2,3} (\d(?:\.\d+)?) ")
NUMBERED = re.compile(r"^(2\.\d) ")
RULE = re.compile(r"^(R\d+) ")
CHECK = re.compile(r"^ (\d)\. ")
EXAMPLE = re.compile(r"^- (Worked|INVALID): (.+?) -> ([^(]+?)(?: \(.*\))?$")
MEANINGS = ("2.1", "2.2", "2.3", *(f"3.{n}" for n in range(1, 11)), "4")
"""Sections that rule without an R: notation, the fields of a record with their ranges, the order
of reasons.
"""


class Example(NamedTuple):
    """One example. `given` is in its section's form; `gives` is a value, a reading or `REASON at
    N`.
    """

    section: str
    valid: bool
    given: str
    gives: str


def sections() -> Iterator[tuple[str, str]]:
    """(number of the section, line) for every line of the text below its first heading."""
    section = ""
    for line in SPEC.splitlines():
        if found := HEADING.match(line) or NUMBERED.match(line):
            section = found[1]
        if section:
            yield section, line


def rules() -> list[str]:
    """Every rule of sections 2 to 7, as `3.6 R2`, `3 R1.4` or, where the section itself rules,
    `3.6`.
    """
    found: list[str] = []
    for section, line in sections():
        if section in MEANINGS and section not in found:
            found.append(section)
        if rule := RULE.match(line):
            found.append(f"{section} {rule[1]}")
        elif section == "3" and (check := CHECK.match(line)):
            found.append(f"3 R1.{check[1]}")
    return [rule for rule in found if rule[0] != "1" and rule != "3 R1"]


def examples() -> list[Example]:
    """All of them, in the order of the text; a line that means to be one and is not in the form
    is an error.
    """
    found = []
    for section, line in sections():
        if "Worked:" in line or "INVALID:" in line:
            if section == "2.4":
                continue
            parts = EXAMPLE.match(line)
            assert parts, f"not in the form of 2.4: {line}"
            found.append(Example(section, parts[1] == "Worked", parts[2], parts[3]))
    return found
