"""The fuzzers of the C player and of the C session (firmware_spec/ports/host/README.md): their kept
corpora again, and some time of new inputs.

Longer: `FXSEQ_FUZZ_SECONDS=3600 pytest tests/conformance/test_fuzz.py`, seconds for each of the
two.
"""

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from c_host import HOST, make
from vector_files import read_all, table_bytes

SECONDS = int(os.environ.get("FXSEQ_FUZZ_SECONDS", "4"))
TARGETS = ("fxp_fuzz", "fxl_fuzz")
CORPUS = HOST / "corpus"
FINDINGS = "finding-"

pytestmark = pytest.mark.parametrize("target", TARGETS)


@pytest.fixture(scope="module")
def fuzzers() -> dict[str, Path]:
    """What has been built."""
    return {}


@pytest.fixture
def fuzzer(target: str, fuzzers: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    if target not in fuzzers:
        fuzzers[target] = make(tmp_path_factory.mktemp(target), target)
    return fuzzers[target]


def run(fuzzer: Path, folder: Path, *arguments: str) -> str:
    """What the fuzzer says. Fails on any finding, and prints its input."""
    command = [
        str(fuzzer),
        "-seed=1",
        "-timeout=20",
        f"-artifact_prefix={folder}/{FINDINGS}",
        *arguments,
    ]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    running = re.findall("^Running: (.*)$", done.stderr, re.MULTILINE)[
        -1:
    ]  # of kept ones that are run again, none is written
    inputs = [f"{path.name}: {path.read_bytes().hex(' ')}" for path in folder.glob(f"{FINDINGS}*")]
    assert done.returncode == 0 and not inputs, "\n".join([*running, *inputs, done.stderr[-6000:]])
    return done.stderr


def test_kept_corpus_finds_nothing(target: str, fuzzer: Path, tmp_path: Path) -> None:
    kept = sorted((CORPUS / target).iterdir())
    text = run(fuzzer, tmp_path, *map(str, kept))
    assert text.count("Executed ") == len(kept) > 20


def test_some_time_of_new_inputs_finds_nothing(target: str, fuzzer: Path, tmp_path: Path) -> None:
    shutil.copytree(CORPUS / target, tmp_path / "corpus")
    if target == "fxp_fuzz":
        for vector in read_all():
            if "table" in vector and len(table := table_bytes(vector)) < 4096:
                (tmp_path / "corpus" / vector["id"]).write_bytes(table)
    text = run(
        fuzzer, tmp_path, "-max_len=1024", f"-max_total_time={SECONDS}", str(tmp_path / "corpus")
    )
    assert "Done " in text


def test_corpus_is_small(target: str) -> None:
    sizes = [path.stat().st_size for path in (CORPUS / target).iterdir()]
    assert len(sizes) < 60 and sum(sizes) < 50_000
