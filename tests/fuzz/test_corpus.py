"""Every scene that once broke the program is taken, or refused in words, ever since."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.judging import judge_build, judge_make, judge_read, small_pictures
from tests.fuzz.running import TOLD

CORPUS = sorted((Path(__file__).parent / "corpus").glob("*.toml"))


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_what_broke_it_once_breaks_it_no_more(path: Path, tmp_path: Path) -> None:
    """In its time and memory, with no fault; built by the command where it was."""
    kind, text = path.stem.split("-")[0], path.read_bytes()
    if kind == "build":
        _, mark, told = text.decode("utf-8", "replace").rpartition(TOLD)
        with small_pictures():
            verdict = judge_build(text, tmp_path, tuple(told.split()) if mark else ())
    else:
        verdict = {"read": judge_read, "make": judge_make}[kind](text)
    assert verdict.outcome in ("refused", "taken", "built", "failed")


def test_the_corpus_is_not_empty() -> None:
    """Or nothing is tried above."""
    assert len(CORPUS) > 5
