"""Meshes that others made, through ``foreshorten warp`` and back: by hand thousands, here what is installed anyway.

``python -m tests.meshes FOLDER`` takes every mesh file of a folder, such as that of an installed package.
"""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path

import numpy as np
import pytest
import trimesh

from tests.meshes import elsewhere
from tests.meshes.__main__ import alone, distinct, kind_of_words, main
from tests.meshes.elsewhere import ROUNDED, WrongError, judge
from tests.meshes.samples import WRITERS, exported
from tests.scene_text import PLAIN

SHAPES = {
    "ball": trimesh.creation.icosphere(subdivisions=3, radius=2),
    "ring": trimesh.creation.torus(3, 1, major_sections=24, minor_sections=12),
    "post": trimesh.creation.cylinder(radius=0.3, height=7, sections=20),
}


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    path = tmp_path / "plain.toml"
    path.write_text(PLAIN)
    return path


@pytest.mark.parametrize("form", WRITERS)
@pytest.mark.parametrize("shape", SHAPES)
def test_what_trimesh_writes_is_built_where_anger_puts_it(shape: str, form: str, scene: Path) -> None:
    """To half a step of the single numbers of an STL, wherever the file's origin is and whichever axis is up."""
    mesh = SHAPES[shape].copy()
    mesh.apply_translation([40, -7, 100])
    name, data = exported(mesh, form)
    path = scene.parent / name
    path.write_bytes(data)
    verdict = judge(path, scene)
    assert (verdict.outcome, verdict.said) == ("built", "")
    assert verdict.off is not None
    assert verdict.off < ROUNDED


def test_a_corner_out_of_place_would_be_noticed(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a thousandth of the body's size: 0.03 mm."""
    path = scene.parent / "ball.stl"
    path.write_bytes(exported(SHAPES["ball"], "binary STL")[1])
    known = elsewhere.known_built
    monkeypatch.setattr(elsewhere, "known_built", lambda *given: known(*given) * np.array([1, 1, 1.001]))
    with pytest.raises(WrongError):
        judge(path, scene)


def test_faces_of_four_corners_may_be_parted_either_way(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cube with one corner drawn out: what lies between both ways is three tetrahedra."""
    corners = [(x, y, z) for z in (0.0, 1.0) for y in (0.0, 1.0) for x in (0.0, 1.0)]
    corners[7] = (1.5, 1.5, 1.5)
    faces = ["1 3 4 2", "5 6 8 7", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6"]
    path = scene.parent / "cube.obj"
    path.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in corners) + "".join(f"f {face}\n" for face in faces))
    assert judge(path, scene).outcome == "built"
    known = elsewhere.known_built
    first = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]]

    def parted(diagonal: int) -> object:
        rows = [[q[i] for i in t] for q in first for t in ([[0, 1, 2], [0, 2, 3]], [[0, 1, 3], [1, 2, 3]])[diagonal]]
        mesh = trimesh.Trimesh(np.array(corners, dtype=float), rows, process=False)
        other = scene.parent / f"{diagonal}.ply"
        other.write_bytes(mesh.export(file_type="ply", encoding="ascii"))
        return lambda given, made, where: known(other, made, where)

    def wrong(diagonal: int) -> bool:
        monkeypatch.setattr(elsewhere, "known_built", parted(diagonal))
        try:
            return judge(path, scene).outcome != "built"
        except WrongError:
            return True

    assert [wrong(0), wrong(1)] == [False, False]
    monkeypatch.setattr(elsewhere, "bent", lambda *given: 0.0)
    assert sorted([wrong(0), wrong(1)]) == [False, True]


def test_a_run_tells_of_every_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One row and one count each, files alike once, each in a process of its own."""
    folder = tmp_path / "meshes"
    folder.mkdir()
    ball = exported(SHAPES["ball"], "binary STL")[1]
    for name, data in {"a.stl": ball, "b.STL": ball, "c.ply": b"ply\nno", "d.txt": ball, "e.stl": ball[:-50]}.items():
        (folder / name).write_bytes(data)
    assert [path.name for path in distinct(sorted(folder.iterdir()))] == ["a.stl", "c.ply", "e.stl"]
    assert main([str(folder), "--told", str(tmp_path / "told.csv")]) == 0
    said = capsys.readouterr().out
    assert "3 of 3 files, no two alike" in said
    assert "      1 built\n" in said
    assert "      2 not read\n" in said
    rows = list(csv.reader((tmp_path / "told.csv").read_text().splitlines()))
    assert [(Path(row[0]).name, row[1]) for row in rows] == [
        ("a.stl", "built"), ("c.ply", "not read"), ("e.stl", "not read"),
    ]  # fmt: skip


def test_a_run_goes_on_where_another_ended(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What that one told of is passed over, and it is said how many; a file that takes longer than it may is named."""
    for name, data in {"a.stl": b"no", "b.stl": exported(SHAPES["ball"], "binary STL")[1]}.items():
        (tmp_path / name).write_bytes(data)
    told = tmp_path / "told.csv"
    told.write_text(f"{tmp_path / 'a.stl'},not read,0,0,0,,it is none\n")
    assert main([str(tmp_path), "--but", str(told), "--told", str(told)]) == 0
    said = capsys.readouterr().out
    assert "1 of 2 files were told of before\n" in said
    assert "1 of 2 files, no two alike\n" in said
    assert [row[1] for row in csv.reader(told.read_text().splitlines())] == ["not read", "built"]


def test_a_file_that_takes_too_long_is_told_as_wrong(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its process is ended when a second of the processor is over."""

    def forever(path: Path, scene: Path) -> elsewhere.Verdict:
        while True:
            pass

    monkeypatch.setattr("tests.meshes.__main__.judge", forever)
    verdict = alone(scene, scene, seconds=1)
    assert (verdict.outcome, verdict.said) == ("wrong", "not done after 1 s")


def test_refusals_are_counted_by_their_kind() -> None:
    """Names and numbers taken out."""
    said = (
        "a-7.stl cannot be printed: it is open: 6 holes: 16 edges round (5, 7.5, 2e-4), 485.5 across; allowed: a mesh"
    )
    assert kind_of_words(said) == "it is open: N holes"


@pytest.mark.parametrize("name", ["airplane.ply", "ant.ply", "nut.ply", "sphere.ply"])
def test_the_meshes_of_pyvista_get_their_verdict(name: str, scene: Path) -> None:
    """A nut and a ball are closed; the ant is several bodies and the airplane is open."""
    found = importlib.util.find_spec("pyvista")
    if found is None or found.origin is None:
        pytest.skip("pyvista is not installed; its four meshes are tried where it is")
    verdict = judge(Path(found.origin).parent / "examples" / name, scene)
    expected = {"nut.ply": "built", "sphere.ply": "built"}.get(name, "not mended")
    assert verdict.outcome == expected
    assert ("bodies that do not touch" in verdict.said) == (name == "ant.ply")
    assert ("it is open" in verdict.said) == (name == "airplane.ply")
