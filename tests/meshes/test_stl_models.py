"""The models of the npm package stl-models: broken ones, a gear wheel, and a hare that is open underneath."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
import trimesh

from pipeline.geometry.mending import MendError, mend
from pipeline.meshfiles import MeshFileError, read_mesh_file
from tests.meshes.elsewhere import LEFT_OUT, judge
from tests.meshes.samples import ROOT
from tests.scene_text import PLAIN

BROKEN = {
    "empty.stl": "the file is empty",
    "fourVertices.ascii.stl": "facet 1 has 4 corners; a facet of an STL file has 3",
    "incorrectFaceCounter.bin.stl": "its header counts 66 facets, the file holds 4",
    "missingEndsolid.ascii.stl": "its last line, endsolid, is missing",
    "missingFace.ascii.stl": "it is open: 1 hole: 3 edges round (0.3333, 0.3333, 0.3333)",
    "missingNormal.ascii.stl": "",
    "notANumberNormal.ascii.stl": "",
    "quad.ascii.stl": "facet 1 has 4 corners; a facet of an STL file has 3",
    "singleFace.ascii.stl": "it is open: 1 hole: 3 edges round (0.6667, 0.3333, 0)",
    "solidNameMismatch.ascii.stl": "",
    "twoVertices.ascii.stl": "facet 1 has 2 corners; a facet of an STL file has 3",
    "wrongHeader.bin.stl": "",
    "wrongNormal.ascii.stl": "",
    "wrongNormals.ascii.stl": "",
}
"""What each is refused for, or read with, or nothing where the fault lies in what is not needed: a normal, a name."""


@pytest.fixture(scope="module")
def models() -> Path:
    """Return the package's folder; it is asked for by package.json."""
    places = [ROOT / "node_modules", *map(Path, filter(None, [os.environ.get("NODE_PATH")]))]
    found = [place / "stl-models" for place in places if (place / "stl-models").is_dir()]
    if not found:
        reason = "the npm package stl-models is not installed: run npm install"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return found[0]


def verdict(path: Path) -> str:
    """Return the refusal, or the notes of what was read and mended."""
    try:
        read = read_mesh_file(path.name, path.read_bytes())
        return "; ".join([*mend(read.mesh).repairs, *read.notes])
    except (MeshFileError, MendError) as refusal:
        return str(refusal)


def test_all_broken_models_of_the_package_are_tried(models: Path) -> None:
    """Fourteen of them."""
    assert {path.name for path in (models / "broken").iterdir()} == BROKEN.keys()
    assert len(BROKEN) == 14


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_model_gets_a_clear_verdict(models: Path, name: str) -> None:
    """The package's own README says what is wrong with each."""
    said = verdict(models / "broken" / name)
    assert said.startswith(BROKEN[name])
    assert (said == "") == (BROKEN[name] == "")


def test_a_text_taken_for_binary_is_refused(models: Path) -> None:
    """Its bytes above 127 were made EF BF BD by a program that took it for text, so the length is off."""
    assert verdict(models / "misc/multiWordName.bin.stl").startswith("its header counts 4 facets, the file holds 4.98")


@pytest.mark.parametrize("form", ["ascii", "bin"])
def test_the_gear_wheel_is_closed(models: Path, form: str) -> None:
    """Its volume as trimesh measures it."""
    path = models / f"objects/gearwheel.{form}.stl"
    mended = mend(read_mesh_file(path.name, path.read_bytes()).mesh)
    assert mended.repairs == ()
    assert mended.volume == pytest.approx(float(trimesh.load_mesh(path).volume), rel=1e-9)


@pytest.mark.parametrize("form", ["ascii", "bin"])
def test_the_gear_wheel_is_built_where_anger_puts_it(models: Path, form: str, tmp_path: Path) -> None:
    """Through ``warp``, to half a step of an STL's single numbers."""
    scene = tmp_path / "plain.toml"
    scene.write_text(PLAIN)
    verdict = judge(models / f"objects/gearwheel.{form}.stl", scene)
    assert verdict.outcome == "built"
    assert verdict.off is not None
    assert verdict.off < LEFT_OUT


def test_the_hare_is_refused_with_its_four_holes(models: Path) -> None:
    """The Stanford bunny is open in its base; two of its holes are there in every copy, 80 and 42 edges round here."""
    said = verdict(models / "objects/bunny.bin.stl")
    assert said.startswith("it is open: 4 holes: 80 edges round (-0.01411, 0.03687, 0.03894), 0.04592 across; 42 edges")
