"""Every scene that once broke the program is taken, or refused in words, ever since."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.judging import judge_make, judge_read

CORPUS = sorted((Path(__file__).parent / "corpus").glob("*.toml"))


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_what_broke_it_once_breaks_it_no_more(path: Path) -> None:
    """In its time and memory, with no fault."""
    judge = judge_read if path.stem.startswith("read") else judge_make
    assert judge(path.read_bytes()).outcome in ("refused", "taken", "built", "failed")


def test_the_corpus_is_not_empty() -> None:
    """Or nothing is tried above."""
    assert len(CORPUS) > 5
