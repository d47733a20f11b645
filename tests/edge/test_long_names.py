"""A name longer than the system takes is the user's to shorten, wherever it is given."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from pipeline.cli import main
from tests.meshes.samples import exported, l_shape
from tests.scene_text import PLAIN

LONG = "x" * 300
"""More than the 255 bytes of a name that most file systems take."""
DEEP = "/".join(["x" * 200] * 30)
"""More than the 4,096 bytes of a path."""
CALLS = {
    "build to": ["build", "-n", "room.toml", "--out", LONG],
    "build to, deep": ["build", "room.toml", "--out", DEEP],
    "inspect": ["inspect", f"{LONG}.toml"],
    "coupon to": ["coupon", "foam", "--scene", "room.toml", "-o", LONG],
    "coupon of": ["coupon", "foam", "--scene", LONG],
    "sweep to": ["sweep", "room.toml", "--set", "eye.height=70,80", "-o", LONG],
    "sweep of": ["sweep", LONG, "--set", "eye.height=70,80"],
    "depth to": ["depth", "room.toml", "--picture", f"{LONG}.svg"],
    "depth of": ["depth", LONG],
    "warp to": ["warp", "thing.stl", "--scene", "room.toml", "--size", "1", "-o", f"{LONG}.stl"],
    "warp of": ["warp", f"{LONG}.stl", "--scene", "room.toml"],
    "warp in": ["warp", "thing.stl", "--scene", LONG],
    "compare folders": ["compare", LONG, LONG],
    "compare to": ["compare", "room.toml", "room.toml", "--picture", f"{LONG}.svg"],
    "cut": ["cut", LONG],
    "cut all": ["cut", LONG, "--all"],
    "nest": ["nest", LONG],
    "live": ["live", LONG],
}


@pytest.mark.parametrize("what", CALLS)
def test_a_name_too_long_is_refused_in_a_line(
    what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("room.toml").write_text(PLAIN)
    Path("thing.stl").write_bytes(exported(l_shape(), "binary STL")[1])
    there = sorted(tmp_path.rglob("*"))
    assert main(CALLS[what]) == 2
    said = capsys.readouterr().err.strip()
    assert said
    assert "fault" not in said
    assert sorted(path for path in tmp_path.rglob("*") if ".foreshorten" not in path.parts) == there


def test_another_refusal_of_the_disk_that_nobody_expects_is_a_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only of a name it is known that it was given."""

    def refused(*given: object) -> None:
        raise OSError(errno.EIO, "Input/output error", "x")

    monkeypatch.delenv("FORESHORTEN_TRACEBACK", raising=False)
    monkeypatch.setattr("pipeline.commands.scene_files.read_bytes", refused)
    assert main(["depth", "room.toml"]) == 3
    assert "a fault of the program" in capsys.readouterr().err


def test_a_zero_byte_is_part_of_no_name(capsys: pytest.CaptureFixture[str]) -> None:
    """It ends names for the system; from a script it may come all the same."""
    for arguments in (["cut", "a\0b", "floor"], ["build", "room.toml", "--out", "a\0b"], ["begin", "a\0b"]):
        assert main(arguments) == 2
        assert "an argument holds a zero byte" in capsys.readouterr().err


def test_a_folder_whose_name_is_too_long_is_no_such_folder(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", LONG, "room.toml"]) == 2
    assert "no such folder" in capsys.readouterr().err
