"""Every file of every demo scene through independent readers."""

from __future__ import annotations

import hashlib
import io
import json
import xml.etree.ElementTree as ET
from typing import Any

import ezdxf
import manifold3d
import numpy as np
import pytest
import trimesh

from pipeline.build import Build
from pipeline.exports.drawing import Layer


def parts(demo: Build, kind: str) -> list[dict[str, Any]]:
    return [part for part in demo.manifest["parts"] if part["made_as"] == kind]


def test_ezdxf_finds_nothing_to_mend(demo: Build) -> None:
    """ezdxf's audit of every DXF is clean, units are millimetres in both variables (DXF reference: 4, 1)."""
    for path in [path for path in demo.files if path.endswith(".dxf")]:
        document = ezdxf.read(io.StringIO(demo.files[path].decode()))
        audit = document.audit()
        assert not audit.errors
        assert not audit.fixes
        assert document.dxfversion == "AC1024"
        assert document.header["$INSUNITS"] == 4
        assert document.header["$MEASUREMENT"] == 1


def test_svg_is_xml_of_the_stated_size(demo: Build) -> None:
    """Width and height in mm, a viewBox of the same numbers, a group for each layer: marks, holes, outlines."""
    for part in parts(demo, "panel") + parts(demo, "bent panel"):
        root = ET.fromstring(demo.files[part["files"]["svg"]])
        width, height = root.get("width", ""), root.get("height", "")
        assert width.endswith("mm")
        assert height.endswith("mm")
        box = [float(x) for x in root.get("viewBox", "").split()]
        assert [float(width[:-2]), float(height[:-2])] == box[2:]
        assert box[2] >= part["size"][0]
        assert box[3] >= part["size"][1]
        groups = [group.get("id") for group in root if group.tag.endswith("}g")]
        assert sorted(filter(None, groups)) == sorted(layer.value for layer in Layer)
        assert groups[-3:] == ["HOLES", "OUTLINE", "NOTES"]
        drawn = {group.get("id") for group in root if len(group)}
        assert "OUTLINE" in drawn
        assert ("GUIDE" in drawn) == (part["guides"] > 0)


def test_stl_is_one_closed_body_for_manifold3d_and_trimesh(demo: Build) -> None:
    """84 + 50 n bytes, not a text STL; both libraries find one watertight body of the stated volume."""
    for part in parts(demo, "print"):
        data = demo.files[part["files"]["stl"]]
        assert len(data) == 84 + 50 * int.from_bytes(data[80:84], "little")
        assert not data.startswith(b"solid")
        mesh = trimesh.load(io.BytesIO(data), file_type="stl")
        assert mesh.is_watertight
        assert mesh.is_winding_consistent
        assert mesh.volume == pytest.approx(part["volume"], rel=1e-4)
        body = manifold3d.Manifold(
            manifold3d.Mesh(np.asarray(mesh.vertices, np.float32), np.asarray(mesh.faces, np.uint32))
        )
        assert body.status() == manifold3d.Error.NoError
        assert len([piece for piece in body.decompose() if piece.volume() > 0]) == 1
        assert body.volume() == pytest.approx(part["volume"], rel=1e-4)
        assert list(mesh.extents) == pytest.approx(part["size"], abs=1e-3)
        assert mesh.bounds[0][2] == pytest.approx(0.0, abs=1e-4)


def test_manifest_tells_the_truth_about_every_file(demo: Build) -> None:
    """Every file is listed with its hash, every part's files exist, and no check failed."""
    said = json.loads(demo.files["manifest.json"])
    assert said == json.loads(json.dumps(demo.manifest))
    assert set(said["files"]) == set(demo.files) - {"manifest.json"}
    for path, digest in said["files"].items():
        assert hashlib.sha256(demo.files[path]).hexdigest() == digest
    for part in said["parts"]:
        assert set(part["files"].values()) <= set(demo.files)
    assert [check for check in said["checks"] if check["status"] == "fail"] == []
    assert demo.failed == 0


def test_placements_are_rigid(demo: Build) -> None:
    """``built_from_flat`` and ``built_from_bed`` turn and move, and do not mirror."""
    for part in demo.manifest["parts"]:
        if part["made_as"] == "bent panel":
            continue  # placed ruling by ruling
        matrix = np.array(part.get("built_from_flat") or part["built_from_bed"])
        assert matrix[:3, :3] @ matrix[:3, :3].T == pytest.approx(np.eye(3), abs=1e-9)
        assert np.linalg.det(matrix) == pytest.approx(1.0)
        assert list(matrix[3]) == [0, 0, 0, 1]


def test_same_scene_same_bytes(cistern: Build) -> None:
    """A second build of the same text gives the same bytes for every file."""
    from pipeline.build import build_scene

    from ..conftest import SCENES

    again = build_scene((SCENES / "cistern.toml").read_bytes(), "cistern")
    assert {path for path in again.files if again.files[path] != cistern.files[path]} == set()
    assert again.files.keys() == cistern.files.keys()
