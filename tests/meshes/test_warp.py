"""``foreshorten warp``: one mesh through a scene's relief."""

from __future__ import annotations

from pathlib import Path

import pytest
import trimesh

from pipeline.build import build_scene
from pipeline.cli import main
from tests.meshes.samples import exported, l_shape
from tests.scene_text import PLAIN

STL = exported(l_shape(), "binary STL")[1]


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder with a scene and a mesh."""
    monkeypatch.chdir(tmp_path)
    Path("room.toml").write_text(PLAIN)
    Path("thing.stl").write_bytes(STL)
    return tmp_path


def warp(*options: str, mesh: str = "thing.stl", scene: str = "room.toml") -> int:
    return main(["warp", mesh, "--scene", scene, *options])


def test_the_file_is_the_print_a_build_would_make() -> None:
    """Byte for byte, as both go the same way."""
    assert warp("--at=-1,5,2", "--turn", "30", "--size", "1.5 m", "-o", "out.stl") == 0
    table = '\n[[meshes]]\nname = "thing"\nfile = "thing.stl"\nat = [-1, 5, 2]\nturn = 30.0\nsize = 1.5\n'
    build = build_scene((PLAIN + table).encode(), "room", (), {"thing.stl": STL})
    assert build.files["prints/thing.stl"] == Path("out.stl").read_bytes()


def test_what_is_said_is_what_was_written(capsys: pytest.CaptureFixture[str]) -> None:
    """Size on the bed and volume as trimesh measures the file; no ``--at`` is the middle of the floor."""
    assert warp("--size", "1.5") == 0
    said = capsys.readouterr().out.splitlines()
    written = trimesh.load_mesh("thing-built.stl")
    x, y, z = written.extents
    assert said[0] == "thing-built.stl: one closed body"
    assert said[1] == "  thing.stl: 20 facets, 1.5 x 1 x 0.5 m (width x depth x height)"
    assert said[2] == f"  built: {x:.2f} x {y:.2f} x {z:.2f} mm on the bed, {written.volume / 1000:.3f} cm3"
    assert written.is_watertight


def test_setting_a_key_of_the_scene_moves_the_eye() -> None:
    """Another relief, another print."""
    warp("-o", "a.stl")
    warp("--set", "eye.distance=300", "-o", "b.stl")
    assert Path("a.stl").read_bytes() != Path("b.stl").read_bytes()


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (["--at", "0,5x"], "--at: "),
        (["--at", "4,5"], "--at: 'thing' reaches"),
        (["--at", "4"], "--at: "),
        (["--turn", "much"], "--turn: "),
        (["--turn", "nan"], "--turn: "),
        (["--unit", "ell"], "--unit: "),
        (["--up", "x"], "--up: "),
        (["--scale", "0"], "--scale: "),
        (["--size", "1", "--scale", "1"], "--scale: size and scale are both given"),
        (["--unit", "mm"], "no one body is left of thing in the relief"),
        (["-o", "nowhere/out.stl"], "nowhere/out.stl: cannot be written: no such file or directory"),
        (["-o", "thing.stl"], "thing.stl: would be written over thing.stl"),
        (["-o", "./room.toml"], "room.toml: would be written over room.toml"),
        (["--set", "eye.distance=-1"], "eye.distance"),
    ],
)
def test_what_cannot_be_done_is_said_with_code_2(
    options: list[str], expected: str, bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is written."""
    before = {path.name: path.read_bytes() for path in bench.iterdir()}
    assert warp(*options) == 2
    assert expected in capsys.readouterr().err
    assert before == {path.name: path.read_bytes() for path in bench.iterdir()}


@pytest.mark.parametrize(
    "content", [b"", STL[:400], b"solid a\nendsolid a\n", STL[:84], STL[:80] + b"\1\0\0\0" + STL[84:134]]
)
def test_a_broken_mesh_is_one_line_and_code_2(content: bytes, capsys: pytest.CaptureFixture[str]) -> None:
    """Empty, cut off, without facets, a header alone, one facet."""
    Path("thing.stl").write_bytes(content)
    assert warp() == 2
    said = capsys.readouterr().err
    assert said.startswith("foreshorten: thing.stl cannot be ")
    assert said.count("\n") == 1


def test_a_file_in_the_way_is_left_alone_unless_named(capsys: pytest.CaptureFixture[str]) -> None:
    """The name it chooses by itself never replaces anything."""
    Path("thing-built.stl").write_bytes(b"mine")
    assert warp() == 2
    assert "exists already and was left alone" in capsys.readouterr().err
    assert Path("thing-built.stl").read_bytes() == b"mine"
    assert warp("-o", "thing-built.stl") == 0
    assert len(Path("thing-built.stl").read_bytes()) == 84 + 50 * 20


@pytest.mark.parametrize("name", ["7 up.stl", "\u00fc.stl", "a" * 100 + ".stl", "---.stl"])
def test_any_file_name_will_do(name: str) -> None:
    """The print's name in the file's header is made from its letters and digits."""
    Path(name).write_bytes(STL)
    assert main(["warp", f"./{name}", "--scene", "room.toml", "-o", "out.stl"]) == 0


def test_quiet_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    """The file is the result."""
    assert warp("--quiet") == 0
    assert capsys.readouterr().out == ""
