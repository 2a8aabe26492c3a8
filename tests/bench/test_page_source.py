"""The page's source: types, as TypeScript's checker reads them from code and comments, and lint."""

import json
import os
import subprocess
import sys
from pathlib import Path

from fxseq.bench.files import PAGE

PACKAGES = Path(sys.prefix) / "node_modules"
"""Of npm; tests/run installs them."""
NODE = Path(sys.prefix) / "bin" / "node"
CONFIGURED = Path(__file__).parent / "page_source"
RULES = CONFIGURED / "eslint.config.cjs"
MODULES = {path.resolve() for path in PAGE.glob("*.js")}


def node(script: str, *words: str | Path, given: str = "") -> subprocess.CompletedProcess[str]:
    """A program of a package, run beside the page's folder. given: what it reads from stdin."""
    program = PACKAGES / script
    assert program.exists(), f"missing: {program}; tests/run installs it"
    return subprocess.run(
        [NODE, program, *words],
        cwd=PAGE.parent,
        env={**os.environ, "NODE_PATH": str(PACKAGES)},
        input=given,
        capture_output=True,
        text=True,
    )


def test_types_of_the_page_fit_together() -> None:
    done = node("typescript/bin/tsc", "-p", CONFIGURED, "--listFiles")
    lines = done.stdout.splitlines()
    faults = [line for line in lines if not line.startswith("/")]
    assert (done.returncode, faults) == (0, [])
    assert {Path(line).resolve() for line in lines} >= MODULES


def test_a_linter_finds_nothing_in_the_page() -> None:
    done = node("eslint/bin/eslint.js", "-c", RULES, "--format", "json", PAGE)
    assert done.stdout, done.stderr
    found = json.loads(done.stdout)
    assert [(file["filePath"], file["messages"]) for file in found if file["messages"]] == []
    assert {Path(file["filePath"]).resolve() for file in found} == MODULES


def test_what_is_wrong_is_found(tmp_path: Path) -> None:
    """Both look into a module: a name that there is not, and one that nobody uses."""
    text = f"import {{ make }} from '{PAGE}/make.js';\nconst unused = 1;\nmake.nothing();\n"
    wrong = tmp_path / "wrong.js"
    wrong.write_text(text)
    options = json.loads((CONFIGURED / "tsconfig.json").read_text())["compilerOptions"]
    own = tmp_path / "tsconfig.json"
    own.write_text(json.dumps({"compilerOptions": options, "files": [str(wrong)]}))
    assert "'nothing' does not exist" in node("typescript/bin/tsc", "-p", own).stdout
    lint = node("eslint/bin/eslint.js", "-c", RULES, "--stdin", given=text)
    assert "no-unused-vars" in lint.stdout
