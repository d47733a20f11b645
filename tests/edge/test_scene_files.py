"""What is no scene file, or makes no folder of its own, is refused before it is read."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.cli import main
from tests.edge.standing_in import scene

pytestmark = pytest.mark.usefixtures("stood_in")
UNSAFE_STEMS = (".foreshorten.toml", "..toml", "a:b.toml", "con.toml", "room .toml", "x" * 201 + ".toml")


@pytest.mark.parametrize("other", ["b/room.toml", "b/ROOM.toml", "a/room.txt"])
def test_two_scenes_of_one_stem_are_refused(capsys: pytest.CaptureFixture[str], other: str) -> None:
    """They would be one folder, on some systems whatever the case of the letters."""
    assert main(["build", scene("a/room.toml"), scene(other)]) == 2
    assert "a/room.toml" in (said := capsys.readouterr().err)
    assert other in said
    assert not Path("exports").exists()


def missing(path: Path) -> str:
    return f"{path}: no such file"


def folder(path: Path) -> str:
    path.mkdir()
    return f"{path}: is a folder"


def pipe(path: Path) -> str:
    os.mkfifo(path)
    return f"{path}: is not a plain file"


def too_large(path: Path) -> str:
    with path.open("wb") as stream:
        stream.truncate(2**33)
    return f"{path}: more than 1,000,000 bytes"


def loop(path: Path) -> str:
    path.symlink_to(path.name)
    return f"{path}: too many levels"


@pytest.mark.parametrize("make", [missing, folder, pipe, too_large, loop])
def test_what_is_no_scene_file_is_refused_unread(
    capsys: pytest.CaptureFixture[str], make: Callable[[Path], str]
) -> None:
    """A pipe would block for ever, eight gigabytes would fill the memory."""
    expected = make(Path("room.toml"))
    assert main(["build", "room.toml"]) == 2
    assert expected in capsys.readouterr().err


@pytest.mark.parametrize("name", UNSAFE_STEMS)
def test_a_stem_that_makes_no_safe_folder_is_refused(capsys: pytest.CaptureFixture[str], name: str) -> None:
    """Least of all the folder of our own locks."""
    assert main(["build", name]) == 2
    assert "no safe folder name" in capsys.readouterr().err
    assert not Path("exports").exists()
