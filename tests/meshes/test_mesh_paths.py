"""Which files a scene may name: a scene file may come from anybody."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.commands import mesh_files
from pipeline.commands.mesh_files import read_named
from pipeline.scene.read import read_scene
from tests.meshes.samples import exported, l_shape
from tests.scene_text import PLAIN

STL = exported(l_shape(), "binary STL")[1]


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scene's folder with a mesh beside it, one below it and one above it."""
    folder = tmp_path / "scenes"
    (folder / "parts").mkdir(parents=True)
    for place in (folder, folder / "parts", tmp_path):
        (place / "thing.stl").write_bytes(STL)
    monkeypatch.chdir(folder)
    return folder


def scene(name: str) -> str:
    """Write a scene that names a mesh file, as a TOML literal string, into the working folder."""
    Path("room.toml").write_text(PLAIN + f"\n[[meshes]]\nname = \"thing\"\nfile = '{name}'\nat = [-1, 5]\n")
    return "room.toml"


def named(name: str, folder: Path, *, allow_outside: bool = False) -> dict[str, bytes]:
    """Return the files read for a scene of a folder that names one."""
    files, problems = read_named(read_scene(Path(scene(name)).read_bytes()), folder, allow_outside)
    assert problems == []
    return files


@pytest.mark.parametrize("name", ["thing.stl", "parts/thing.stl", "./parts/thing.stl"])
def test_files_beside_and_below_the_scene_are_read(name: str) -> None:
    """Wherever the program is started."""
    assert named(name, Path()) == {name: STL}
    os.chdir("parts")
    assert named(name, Path("..")) == {name: STL}


@pytest.mark.parametrize(
    "name",
    [
        "../thing.stl", "parts/../../thing.stl", "parts/../thing.stl", "..\\thing.stl", "/etc/passwd.stl",
        "C:\\thing.stl", "C:thing.stl", "\\\\server\\share\\thing.stl", "//server/share/thing.stl",
    ],
)  # fmt: skip
def test_names_that_lead_out_of_the_folder_are_refused(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Upward, absolute, or either on another system; nothing is read."""
    assert main(["inspect", scene(name)]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"room.toml:25:1: meshes[1].file: {name}: leads out of the scene file's folder")
    assert "--allow-outside" in said
    assert said.count("\n") == 1


def test_a_link_that_leads_out_is_refused(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of a file, or of a folder on the way; a link that stays inside is followed."""
    Path("link.stl").symlink_to(bench.parent / "thing.stl")
    Path("away").symlink_to(bench.parent)
    Path("near.stl").symlink_to(bench / "parts/thing.stl")
    assert main(["inspect", scene("link.stl")]) == 2
    assert main(["inspect", scene("away/thing.stl")]) == 2
    assert capsys.readouterr().err.count("is a link that leads out of the scene file's folder") == 2
    assert named("near.stl", bench) == {"near.stl": STL}


def test_outside_is_read_where_it_is_allowed(bench: Path) -> None:
    """``--allow-outside``, upward and absolute."""
    assert main(["inspect", "--allow-outside", scene("../thing.stl")]) == 0
    above = str(bench.parent / "thing.stl")
    assert named(above, bench, allow_outside=True) == {above: STL}


def test_several_scenes_at_once_read_their_own_files() -> None:
    """Each in a process of its own."""
    first = scene("thing.stl")
    Path("other.toml").write_text(Path(first).read_text().replace("thing.stl", "parts/thing.stl"))
    assert main(["inspect", "--jobs", "2", first, "other.toml"]) == 0


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "gone.stl",
            "gone.stl: no such file; allowed: a file beside the scene file, or in a folder below it. There is pipe.stl",
        ),
        ("parts", "parts: is a folder, and a mesh file is needed"),
        ("pipe.stl", "pipe.stl: is not a plain file, and a mesh file is needed"),
        ("thing.stl/below.stl", "no such file"),
    ],
)
def test_what_is_no_file_to_read_is_said_in_one_line(
    name: str, expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pipe would be waited for for ever."""
    os.mkfifo("pipe.stl")
    assert main(["inspect", scene(name)]) == 2
    said = capsys.readouterr().err
    assert expected in said
    assert said.count("\n") == 1


def test_a_link_to_itself_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """Which of two errors it is depends on the version of Python."""
    Path("ring.stl").symlink_to("ring.stl")
    assert main(["inspect", scene("ring.stl")]) == 2
    said = capsys.readouterr().err
    assert said.startswith("room.toml:25:1: meshes[1].file: ")
    assert said.count("\n") == 1


def test_a_name_with_a_nothing_in_it_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """TOML lets U+0000 in by its escape; no system has such a file."""
    Path("room.toml").write_text(PLAIN + '\n[[meshes]]\nname = "thing"\nfile = "a\\u0000.stl"\nat = [-1, 5]\n')
    assert main(["inspect", "room.toml"]) == 2
    assert "holds characters that cannot be seen" in capsys.readouterr().err


def test_a_file_too_large_is_read_no_further(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The limit is for all meshes of a scene together."""
    monkeypatch.setattr("pipeline.meshfiles.MOST_BYTES", 1000)
    assert main(["inspect", scene("thing.stl")]) == 2
    assert "mesh files of one scene may have 1,000 bytes left; it has more" in capsys.readouterr().err


def test_a_file_that_two_meshes_name_is_read_once(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And counts once toward what all files together may have."""
    reads: list[Path] = []
    real = mesh_files.read_mesh

    def counted(path: Path, left: int) -> bytes:
        reads.append(path)
        return real(path, left)

    monkeypatch.setattr(mesh_files, "read_mesh", counted)
    text = Path(scene("thing.stl")).read_text()
    text += "\n[[meshes]]\nname = \"twin\"\nfile = 'thing.stl'\nat = [1, 5]\n"
    files, problems = read_named(read_scene(text), bench, allow_outside=False)
    assert (files, problems) == ({"thing.stl": STL}, [])
    assert len(reads) == 1
