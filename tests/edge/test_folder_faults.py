"""Whatever the disk refuses, an export folder is the old one or the new one."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from pipeline.folder import recover
from tests.edge.exporting import before_call, export, in_child, put, trays
from tests.on_disk import files_in

REFUSED = 40
ERRORS = {"full": errno.ENOSPC, "read-only": errno.EROFS}


def refused_at(event: int, number: int, out: Path) -> None:
    """Publish, and have a system call refused."""

    def refuse() -> None:
        raise OSError(number, os.strerror(number))

    before_call(event, refuse)
    try:
        put(out, 2)
    except OSError as error:
        os._exit(REFUSED if error.errno == number else 41)


@pytest.mark.parametrize("kind", ERRORS)
def test_each_call_refused_in_turn_leaves_a_whole_folder(kind: str, tmp_path: Path) -> None:
    """Said as the disk's own error or made good; nothing is mixed, and the next build is clean."""
    out = tmp_path / "exports"
    codes = []
    for event in range(1, 500):
        put(out, 1)
        reached = in_child(lambda event=event: refused_at(event, ERRORS[kind], out))  # type: ignore[misc]
        found = files_in(out / "room")
        assert reached in (0, REFUSED), (event, reached)
        assert found in (export(1), export(2)), event
        assert reached == REFUSED or found == export(2), event
        recover(out)
        assert trays(out) == [], event
        codes.append(reached)
        if codes[-3:] == [0, 0, 0]:
            break
    put(out, 3)
    assert files_in(out / "room") == export(3)
    assert codes.count(REFUSED) > 15


def test_a_folder_that_may_not_be_written_is_said(tmp_path: Path) -> None:
    """Nothing is made in it. (Root may write anywhere: a file in its place refuses alike.)"""
    (tmp_path / "exports").write_text("a file")
    with pytest.raises(OSError, match="exports"):
        put(tmp_path / "exports", 1)
    assert (tmp_path / "exports").read_text() == "a file"
