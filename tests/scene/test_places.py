"""Every key, item and table of a file is found where it stands."""

from __future__ import annotations

import sys

import pytest

from pipeline.elements.problems import KeyPath
from pipeline.scene import places
from pipeline.scene.places import locate

TEXT = """\
title = "x"  # one
a.b."c d" = 1
[box]
wídth = 3
  depth = 4
["quo.ted".inner]
x = { a = 1, b = [1, { c = 2 }] }
[[columns]]
at = [ # places
  [-3.9, 4.0],
  [3, 4],
]
[[columns]]
é = "ü", at = 1
""".replace("wídth = 3", 'width = 3 # "wídth"').replace('é = "ü", at = 1', 'name = "ü"\nat = ["é", 5]')

FOUND: list[tuple[KeyPath, tuple[int, int]]] = [
    (("title",), (1, 1)),
    (("a",), (2, 1)),
    (("a", "b"), (2, 1)),
    (("a", "b", "c d"), (2, 1)),
    (("box",), (3, 1)),
    (("box", "width"), (4, 1)),
    (("box", "depth"), (5, 3)),
    (("quo.ted", "inner"), (6, 1)),
    (("quo.ted", "inner", "x"), (7, 1)),
    (("quo.ted", "inner", "x", "a"), (7, 7)),
    (("quo.ted", "inner", "x", "b", 0), (7, 19)),
    (("quo.ted", "inner", "x", "b", 1, "c"), (7, 24)),
    (("columns",), (8, 1)),
    (("columns", 0), (8, 1)),
    (("columns", 0, "at"), (9, 1)),
    (("columns", 0, "at", 0), (10, 3)),
    (("columns", 0, "at", 0, 1), (10, 10)),
    (("columns", 0, "at", 1, 0), (11, 4)),
    (("columns", 1), (13, 1)),
    (("columns", 1, "name"), (14, 1)),
    (("columns", 1, "at", 1), (15, 12)),
]


@pytest.mark.parametrize(("path", "place"), FOUND)
def test_what_stands_in_the_file_is_found(path: KeyPath, place: tuple[int, int]) -> None:
    assert locate(TEXT, path) == place


def test_columns_count_characters_not_bytes() -> None:
    assert locate('at = ["éü", 5]', ("at", 1)) == (1, 13)


def test_a_missing_key_stands_at_its_tables_header() -> None:
    assert locate(TEXT, ("box", "height")) == (3, 1)
    assert locate(TEXT, ("columns", 1, "diameter")) == (13, 1)
    assert locate(TEXT, ("a", "b", "x")) == (2, 1)


def test_a_missing_table_stands_at_the_start() -> None:
    assert locate(TEXT, ("eye",)) == (1, 1)
    assert locate(TEXT, ("eye", "height")) == (1, 1)
    assert locate("", ()) == (1, 1)


def test_tables_within_arrays_of_tables_belong_to_the_last_one() -> None:
    text = "[[a]]\n[[a]]\n[a.b]\nc = 1\n[[a.d]]\n[[a.d]]\ne = 1\n"
    assert locate(text, ("a", 1, "b", "c")) == (4, 1)
    assert locate(text, ("a", 1, "d", 1, "e")) == (7, 1)


def test_a_header_of_its_own_wins_over_one_that_only_passes_by() -> None:
    assert locate("[make.printer]\nbed = 1\n[make]\n", ("make",)) == (3, 1)


def test_without_the_parser_that_keeps_places_the_line_is_still_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "tree_sitter_toml", None)
    places._read.cache_clear()
    try:
        assert locate(TEXT, ("box", "depth")) == (5, None)
        assert locate(TEXT, ("quo.ted", "inner", "x", "a")) == (7, None)
        assert locate(TEXT, ("columns", 1, "name")) == (14, None)
        assert locate(TEXT, ("columns", 1, "diameter")) == (13, None)
        assert locate(TEXT, ("eye",)) == (1, 1)
    finally:
        places._read.cache_clear()


def test_large_files_are_searched_by_their_looks() -> None:
    text = "# a remark\n" * 20_000 + "[box]\nwidth = 1\n[[columns]]\n[[columns]]\nat = [1, 2]\n"
    assert locate(text, ("box", "width")) == (20_002, None)
    assert locate(text, ("columns", 1, "at", 0)) == (20_005, None)


def test_what_the_parser_of_places_does_not_understand_is_passed_over() -> None:
    """It is not the parser that read the file: what it takes for a fault must not become one, nor hide what follows."""
    assert locate("a = 1\nx\\'y' = 2\n[box]\nwidth = 3\n", ("box", "width")) == (4, 1)
    assert locate("a = 1\nx\\'y' = 2\n", ("x",)) == (1, 1)
