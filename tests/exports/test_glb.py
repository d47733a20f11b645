"""The built scene as GLB, read by others.

Khronos Group, *glTF 2.0 Specification*, is what the file is held against; trimesh and the reader of mesh files are two
programs that know it.
"""

from __future__ import annotations

import io
import json
import struct
from typing import Any

import numpy as np
import pytest
import trimesh

from pipeline.build import Build
from pipeline.exports.glb import Shown, write_glb
from pipeline.geometry.meshes import Mesh
from pipeline.meshfiles.glb import read_glb

TETRAHEDRON = Mesh(
    vertices=np.array([[0, 0, 0], [10, 0, 0], [0, 20, 0], [0, 0, 30]], dtype=float),
    triangles=np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]),
)
LINE = np.array([[[1.0, 2.0, 0.0], [2.0, 1.0, 0.0]]])


def chunks(data: bytes) -> tuple[dict[str, Any], bytes]:
    """Return the JSON and the binary, by the specification's section 4.4."""
    magic, version, length = struct.unpack_from("<4s2I", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert (size % 4, kind) == (0, b"JSON")
    rest, other = struct.unpack_from("<I4s", data, 20 + size)
    assert (rest % 4, other) == (0, b"BIN\0")
    assert 28 + size + rest == len(data)
    return json.loads(data[20 : 20 + size]), data[28 + size :]


def test_the_container_is_as_the_specification_has_it() -> None:
    """Chunks in order and padded to four, views inside the buffer, bounds those of the numbers themselves."""
    written = write_glb(
        "two", [Shown(name=name, tone=(0.5, 0.5, 0.5), body=TETRAHEDRON, lines=LINE) for name in ("a", "b")]
    )
    content, binary = chunks(written)
    assert content["buffers"] == [{"byteLength": len(binary)}]
    for accessor in content["accessors"]:
        view = content["bufferViews"][accessor["bufferView"]]
        assert view["byteOffset"] % 4 == 0
        assert view["byteOffset"] + view["byteLength"] <= len(binary)
        if accessor["type"] == "VEC3":
            numbers = np.frombuffer(binary, "<f4", 3 * accessor["count"], view["byteOffset"]).reshape(-1, 3)
            assert accessor["min"] == numbers.min(axis=0).tolist()
            assert accessor["max"] == numbers.max(axis=0).tolist()
    assert [node["name"] for node in content["nodes"]] == ["two", "a", "b"]


def test_up_is_up_and_the_front_looks_at_the_viewer() -> None:
    """glTF: metres, +y up, the front toward +z; ours: mm, z up, y away from the viewer."""
    file = read_glb(write_glb("one", [Shown(name="a", tone=(1, 1, 1), body=TETRAHEDRON, lines=LINE)]))
    expected = np.array([[x, z, -y] for x, y, z in TETRAHEDRON.vertices]) / 1000
    assert np.abs(np.sort(file.mesh.vertices, axis=0) - np.sort(expected, axis=0)).max() < 1e-8
    corners = file.mesh.vertices[file.mesh.triangles]
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6
    assert volume == pytest.approx(10 * 20 * 30 / 6 * 1e-9)


def test_a_mid_grey_is_a_mid_grey() -> None:
    """sRGB 0.5 is 0.2140 in linear light (IEC 61966-2-1); glTF colours are linear."""
    content, _ = chunks(write_glb("one", [Shown(name="a", tone=(0.5, 0.5, 0.5), body=TETRAHEDRON, lines=LINE[:0])]))
    assert content["materials"][1]["pbrMetallicRoughness"]["baseColorFactor"][:3] == [0.214041] * 3
    assert len(content["meshes"][0]["primitives"]) == 1


def test_no_parts_are_refused() -> None:
    """The specification allows no empty list of nodes."""
    with pytest.raises(ValueError, match="no parts"):
        write_glb("none", [])


def test_every_part_of_the_demo_stands_where_it_is_built(cistern: Build) -> None:
    """trimesh reads as many bodies as the manifest lists, each closed by its indices and in the box."""
    scene = trimesh.load(io.BytesIO(cistern.files["built.glb"]), file_type="glb", process=False)
    names = {part["id"] for part in cistern.manifest["parts"]}
    solid = [one for one in scene.dump() if isinstance(one, trimesh.Trimesh)]
    assert len(solid) == len(names)
    assert all(one.is_watertight for one in solid)
    low = np.min([one.bounds[0] for one in solid], axis=0)
    high = np.max([one.bounds[1] for one in solid], axis=0)
    width, height, depth = 180, 150, 85
    assert (low >= np.array([-width / 2, 0, -depth]) / 1000 - 1e-6).all()
    assert (high <= np.array([width / 2, height, 0]) / 1000 + 1e-6).all()
