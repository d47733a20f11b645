"""What the pages and docstrings show is what one gets."""

from __future__ import annotations

import doctest
import shutil
from pathlib import Path

import pytest

from pipeline import scripting

ROOT = Path(__file__).parents[2]


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the demo scenes, to write into."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_page_on_notebooks_is_true(bench: Path) -> None:
    """Every line of it, run in order."""
    failed, tried = doctest.testfile(str(ROOT / "docs/notebooks.md"), module_relative=False)
    assert failed == 0
    assert tried > 10
    assert (bench / "exports/deck/report.html").exists()


def test_the_docstring_is_true(bench: Path) -> None:
    """What ``help(pipeline.scripting)`` shows."""
    failed, tried = doctest.testmod(scripting)
    assert failed == 0
    assert tried > 2
