"""What took long to find is found once, and a cache that is damaged, full or cannot be written
changes nothing but the time.
"""

import os
from pathlib import Path

import numpy as np
import pytest

from fxseq.clips import encode, encoding, found


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(found, "user_cache_path", lambda name: tmp_path / name)
    return tmp_path / "fxseq"


def test_answer_is_found_once(cache: Path) -> None:
    asked: list[int] = []
    answers = [found.cached(b"key", lambda: asked.append(1) or b"answer") for _ in range(3)]
    assert answers == [b"answer"] * 3 and len(asked) == 1


def test_other_question_is_asked_anew(cache: Path) -> None:
    assert [
        found.cached(question, lambda question=question: question * 2)
        for question in (b"a", b"b", b"a")
    ] == [b"aa", b"bb", b"aa"]


@pytest.mark.parametrize("damage", [b"", b"short", bytes(40)])
def test_damaged_answer_is_found_anew(cache: Path, damage: bytes) -> None:
    found.cached(b"key", lambda: b"old")
    next(cache.iterdir()).write_bytes(damage)
    assert found.cached(b"key", lambda: b"new") == b"new"
    assert found.cached(b"key", lambda: b"never") == b"new"


def test_cache_that_cannot_be_written_is_no_fault(cache: Path) -> None:
    cache.write_bytes(b"a file where the folder should be")
    assert found.cached(b"key", lambda: b"answer") == b"answer"


def test_what_was_used_longest_ago_goes_first(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(found, "_MOST_BYTES", 2 * (found._DIGEST_BYTES + 10))
    for at, question in enumerate((b"a", b"b", b"c")):
        found.cached(question, lambda: bytes(10))
        for file in cache.iterdir():
            if file.stat().st_mtime > 1e6:
                os.utime(file, (at + 1, at + 1))
    assert [found.cached(question, lambda: b"anew") == b"anew" for question in (b"c", b"a")] == [
        False,
        True,
    ]


def test_search_tells_how_far_it_is_and_is_not_run_again(
    cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    samples = (3000 * np.sin(np.arange(1200) / 7)).astype(np.int16)
    told = []
    first = encode(samples, "ima_adpcm", progress=lambda done, total: told.append((done, total)))
    # Before anything is compiled it is told that there is a search; then block by block.
    assert told == [(0, 1200), (1, 3), (2, 3), (3, 3)]
    monkeypatch.setattr(encoding, "_ima", lambda *_: pytest.fail("searched again"))
    assert (
        encode(samples, "ima_adpcm", progress=lambda done, total: told.append((done, total)))
        == first
    )
    assert len(told) == 4
