"""An export folder is replaced as a whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline import folder
from pipeline.folder import WORK, ForeignFolderError, publish, recover
from tests.edge.exporting import export, put, trays, with_manifest
from tests.on_disk import Files, files_in


def test_a_new_folder_holds_exactly_the_files(out: Path) -> None:
    """What is published is what is read back, and nothing temporary is left."""
    put(out, 1)
    assert export(1) == files_in(out / "room")
    assert trays(out) == []


@pytest.mark.usefixtures("exchange")
def test_a_replaced_folder_keeps_nothing_of_the_old_one(out: Path) -> None:
    """A file the new export lacks is gone."""
    publish(with_manifest({"panels/old.dxf": b"old"}, 0), out / "room", out / WORK, 1.0)
    put(out, 2)
    assert export(2) == files_in(out / "room")
    assert trays(out) == []


def test_nothing_is_written_beside_the_folder_but_the_work_folder(out: Path) -> None:
    """Locks and temporaries live in one place."""
    put(out, 1)
    assert {"room", WORK} == {p.name for p in out.iterdir()}


def no_manifest(target: Path) -> None:
    target.mkdir()
    (target / "novel.txt").write_text("chapter one")


def somebody_elses_manifest(target: Path) -> None:
    target.mkdir()
    (target / "manifest.json").write_text('{"name": "a web page", "files": []}')


def broken_manifest(target: Path) -> None:
    target.mkdir()
    (target / "manifest.json").write_text("{" * 100_000)


def nothing_inside(target: Path) -> None:
    target.mkdir()


def unlisted_file(target: Path) -> None:
    put(target.parent, 1)
    (target / "panels" / "notes.txt").write_text("bevel the left one twice")


def link_inside(target: Path) -> None:
    put(target.parent, 1)
    (target / "prints" / "pier-1.stl").unlink()
    (target / "prints" / "pier-1.stl").symlink_to("/etc/hostname")


def link_to_a_folder(target: Path) -> None:
    put(target.parent, 1)
    target.rename(target.with_name("elsewhere"))
    target.symlink_to("elsewhere")


def a_file(target: Path) -> None:
    target.write_text("not a folder")


def look(path: Path) -> object:
    if path.is_symlink():
        return os.readlink(path)
    return files_in(path) if path.is_dir() else path.read_bytes()


FOREIGN: dict[str, tuple[Callable[[Path], None], tuple[str, ...]]] = {
    "no manifest": (no_manifest, ("novel.txt",)),
    "somebody else's manifest": (somebody_elses_manifest, ("manifest.json",)),
    "broken manifest": (broken_manifest, ("manifest.json",)),
    "empty": (nothing_inside, ()),
    "unlisted file": (unlisted_file, ("panels/notes.txt",)),
    "link inside": (link_inside, ("prints/pier-1.stl",)),
    "link to a folder": (link_to_a_folder, ()),
    "file": (a_file, ()),
}


@pytest.mark.parametrize(("make", "expected_files"), FOREIGN.values(), ids=FOREIGN.keys())
def test_a_folder_with_anything_of_the_users_is_never_replaced(
    out: Path, make: Callable[[Path], None], expected_files: tuple[str, ...]
) -> None:
    """Refused, the files named, and every byte as it was."""
    out.mkdir()
    make(out / "room")
    expected = look(out / "room")
    with pytest.raises(ForeignFolderError) as refusal:
        put(out, 2)
    assert expected_files == refusal.value.files
    assert all(name in str(refusal.value) for name in expected_files)
    assert expected == look(out / "room")
    assert trays(out) == []


def test_what_a_desktop_leaves_when_looking_is_nobodys_work(out: Path) -> None:
    """A folder viewed in a file manager can still be rebuilt."""
    put(out, 1)
    (out / "room" / ".DS_Store").write_bytes(b"\0")
    put(out, 2)
    assert export(2) == files_in(out / "room")


@pytest.mark.usefixtures("exchange")
def test_a_file_put_in_between_the_look_and_the_exchange_survives(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder is given back with the file in it."""
    put(out, 1)
    write = folder._write

    def write_slowly(files: Files, new: Path) -> None:
        write(files, new)
        (out / "room" / "sketch.txt").write_text("mine")

    monkeypatch.setattr(folder, "_write", write_slowly)
    with pytest.raises(ForeignFolderError, match=r"sketch\.txt"):
        put(out, 2)
    assert {**export(1), "sketch.txt": b"mine"} == files_in(out / "room")
    assert trays(out) == []


UNSAFE = ("../up.txt", "/root.txt", "a/../b", "", ".", "./a", "a//b", "a\\b", "c:d", "a\nb", "a/./b", "nul\0", "q?")


@pytest.mark.parametrize("name", UNSAFE)
def test_an_unsafe_path_is_a_fault_and_writes_nothing(out: Path, name: str) -> None:
    """Relative plain paths only."""
    with pytest.raises(ValueError, match="unsafe path"):
        publish(with_manifest({name: b""}, 1), out / "room", out / WORK, 1.0)
    assert not out.exists()


def test_names_that_fall_together_on_other_systems_are_a_fault(out: Path) -> None:
    """Upper and lower case are one on Windows and macOS."""
    with pytest.raises(ValueError, match="upper and lower case"):
        publish(with_manifest({"A.svg": b"", "a.svg": b""}, 1), out / "room", out / WORK, 1.0)


def test_a_manifest_that_does_not_list_every_file_is_a_fault(out: Path) -> None:
    """Otherwise the next build would refuse our own folder."""
    put(out, 1)
    with pytest.raises(ValueError, match=r"extra\.txt"):
        publish({**export(2), "extra.txt": b""}, out / "room", out / WORK, 1.0)
    assert export(1) == files_in(out / "room")
    assert trays(out) == []


def test_a_work_folder_that_is_a_link_is_not_followed(out: Path, tmp_path: Path) -> None:
    """Nothing is written where the link points, and recovery clears nothing there."""
    (tmp_path / "elsewhere" / "folders" / "room" / "tray").mkdir(parents=True)
    out.mkdir()
    (out / WORK).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(NotADirectoryError):
        put(out, 1)
    recover(out)
    assert (tmp_path / "elsewhere" / "folders" / "room" / "tray").is_dir()
    assert not (out / "room").exists()
