"""The page that lists every table and key of the scene file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.elements.opening import OpeningTable
from pipeline.scene.make import Make
from pipeline.scene.model import Scene
from pipeline.scene.reference import reference

PAGE = Path(__file__).parents[2] / "docs/scene-file.md"


def sections() -> dict[str, str]:
    """Return the page's sections by heading."""
    parts = re.split(r"^## ", reference(), flags=re.M)[1:]
    return {part.splitlines()[0].strip("`"): part for part in parts}


def keys(section: str) -> list[str]:
    """Return the keys a section lists."""
    return re.findall(r"^\| `([a-z_]+)` \|", section, flags=re.M)


def test_the_page_in_the_repository_is_the_one_the_program_writes() -> None:
    """Whoever adds a key runs ``python docs/redraw.py``."""
    assert reference() == PAGE.read_text(encoding="utf-8")


def test_every_table_and_every_key_stands_on_the_page() -> None:
    """Counted by the models themselves, which the page never sees."""
    found = sections()
    assert keys(found["At the top"]) == ["format", "title"]
    for name in Scene.model_fields:
        heads = {f"[{name}]", f"[[{name}]]", f"[{name}.NAME]"}
        assert name in ("format", "title") or heads & found.keys()
    assert keys(found["[make]"]) == list(Make.model_fields)
    assert keys(found["[[openings]]"]) == list(OpeningTable.model_fields)
    assert all(keys(section) for section in found.values())


def test_every_key_says_what_it_holds() -> None:
    """No cell of the second column is empty, and lengths are called lengths."""
    rows = [row.split(" | ") for row in reference().splitlines() if row.startswith("| `")]
    assert [row[0] for row in rows if not row[1].strip()] == []
    width = next(row for row in rows if row[0] == "| `width`")
    assert width[1:3] == ["a length", "needed"]


def test_the_command_writes_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    """On stdout, to be read or kept."""
    assert main(["schema", "--page"]) == 0
    assert capsys.readouterr().out == reference()
