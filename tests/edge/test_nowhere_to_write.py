"""A build that finds no place to write says so in one line, and nothing is lost."""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.lock import held
from tests.edge.standing_in import scene
from tests.on_disk import files_in

pytestmark = pytest.mark.usefixtures("stood_in")


def test_a_folder_of_the_users_is_refused_and_the_other_scene_built(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, the files named, one line."""
    Path("exports/room").mkdir(parents=True)
    Path("exports/room/novel.txt").write_text("chapter one")
    assert main(["build", scene("room.toml"), scene("other.toml")]) == 2
    said = capsys.readouterr().err
    assert "novel.txt" in said
    assert said.count("\n") == 1
    assert files_in(Path("exports/room")) == {"novel.txt": b"chapter one"}
    assert Path("exports/other/manifest.json").is_file()


def test_a_folder_in_use_is_said_to_be(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """After a while one gives up."""
    monkeypatch.setattr("pipeline.commands.publishing.WAIT_SECONDS", 0.0)
    main(["build", scene("room.toml")])
    with held(Path("exports/.foreshorten/folders/room/lock"), 0.0):
        assert main(["build", "room.toml"]) == 2
    assert "another build is writing it" in capsys.readouterr().err


def in_child_as_nobody(arguments: list[str]) -> int:
    """Run a command in a forked process that may not write everywhere, which the superuser may."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            code = main(arguments)
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@pytest.mark.parametrize("command", [["build", "room.toml"], ["begin", "hall"]])
def test_a_read_only_folder_is_one_clear_line(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    """Exit code 2: the folder is the user's to mend, the program has no fault."""
    with tempfile.TemporaryDirectory() as name:
        monkeypatch.chdir(name)
        main(["inspect", scene("room.toml")])
        capfd.readouterr()
        Path(name).chmod(0o555)
        assert in_child_as_nobody(command) == 2
        said = capfd.readouterr().err
        assert "permission denied" in said
        assert said.count("\n") == 1
        assert [Path("room.toml")] == list(Path().iterdir())
        Path(name).chmod(0o700)
        monkeypatch.undo()


def test_a_file_in_the_way_of_the_exports_is_one_clear_line(capsys: pytest.CaptureFixture[str]) -> None:
    """``--out`` names a file."""
    assert main(["build", scene("room.toml"), "--out", "room.toml"]) == 2
    said = capsys.readouterr().err
    assert "cannot be written" in said
    assert said.count("\n") == 1


def test_a_disk_that_fails_while_reading_back_is_said_to(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk is nobody's fault, and nothing was replaced."""

    def refuse(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    main(["build", scene("room.toml")])
    expected = files_in(Path("exports"))
    monkeypatch.setattr(os, "fsync", refuse)
    assert main(["build", scene("room.toml", "check fails")]) == 2
    expected_text = (
        "foreshorten: exports/room: cannot be written: no space left on device; nothing was replaced: "
        "make room on the disk, or name another place\n"
    )
    assert expected_text == capsys.readouterr().err
    assert expected == files_in(Path("exports"))
