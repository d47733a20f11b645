"""Every format read, written by another program or by hand from its specification."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
import pytest
import trimesh

from pipeline.geometry.mending import mend
from pipeline.meshfiles import READERS, MeshFileError, read_mesh_file
from tests.meshes.samples import WRITERS, exported, l_shape


@pytest.mark.parametrize("form", WRITERS)
def test_a_mesh_comes_back_as_another_program_wrote_it(form: str) -> None:
    """trimesh writes; the same corners in the same order are read, and the L's volume is 3 x 2 - 2 x 1 = 4."""
    name, data = exported(l_shape(), form)
    read = read_mesh_file(name, data)
    assert np.array_equal(np.array(l_shape().triangles), read.mesh.corners)
    assert mend(read.mesh).volume == pytest.approx(4.0, rel=1e-12)


def test_every_reader_is_tried() -> None:
    """A format added to the table without a sample would show here."""
    assert {ending for ending, _ in WRITERS.values()} == READERS.keys()


@pytest.mark.parametrize(("ending", "expected"), [("stl", "z"), ("obj", "z"), ("ply", "z"), ("glb", "y")])
def test_up_is_y_in_glb_alone(ending: str, expected: str) -> None:
    """Khronos, glTF 2.0, 3.4: +Y up. The others have no rule, and printers' z is taken."""
    form = {"stl": "binary STL", "obj": "OBJ", "ply": "binary PLY", "glb": "GLB"}[ending]
    assert expected == read_mesh_file(*exported(l_shape(), form)).up


def test_a_binary_stl_may_begin_with_the_mark_of_text() -> None:
    """The length decides: 84 bytes and 50 for each facet."""
    data = bytearray(exported(l_shape(), "binary STL")[1])
    data[:5] = b"solid"
    assert len(read_mesh_file("a.stl", bytes(data)).mesh.triangles) == 20


OBJ_CUBE = b"""# a unit cube, its faces squares, with everything else a file may hold
mtllib none.mtl
o cube
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0.5 0.5
vn 0 0 1
v 0 0 1 1.0
v\t1 0 1
v 1 1 1 0.2 0.3 0.4
v 0 1 1
g sides
usemtl stone
s off
f 1 4 3 2
f 5/1 6/1 7/1 8/1
f 1//1 2//1 6//1 5//1
f 2/1/1 3/1/1 7/1/1 6/1/1
f -6 -5 -1 \\
  -2
f 4 1 5 8
l 1 2
"""


def test_an_obj_of_squares_with_every_way_to_name_a_corner_is_the_cube() -> None:
    """Wavefront's manual: slashes, negative numbers that count back, and a line that goes on after a backslash."""
    read = read_mesh_file("cube.obj", OBJ_CUBE)
    assert len(read.mesh.triangles) == 12
    assert mend(read.mesh).volume == pytest.approx(1.0, abs=1e-15)


def test_a_face_that_is_not_convex_is_cut_inside_itself() -> None:
    """A fan from the first corner would cover ground outside this arrow head as well; its area is 8 - 2 = 6."""
    data = b"v 0 -2 0\nv 4 0 0\nv 0 2 0\nv 1 0 0\nf 2 3 4 1\nf 4 1 2 3\n"
    corners = read_mesh_file("arrow.obj", data).mesh.corners
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    assert areas[:2].sum() == pytest.approx(6.0, rel=1e-15)
    assert areas[2:].sum() == pytest.approx(6.0, rel=1e-15)


def ply(order: str, listed: str) -> bytes:
    """Return a tetrahedron by Turk's specification: colours between, an element before, a quad's worth of types."""
    words = {"<": "binary_little_endian", ">": "binary_big_endian"}[order]
    header = (
        f"ply\nformat {words} 1.0\ncomment by hand\nelement camera 2\nproperty list uchar short tags\n"
        "element vertex 4\nproperty double x\nproperty uchar red\nproperty double y\nproperty double z\n"
        f"element face 4\nproperty uchar kind\nproperty list {listed} int vertex_index\nend_header\n"
    )
    body = struct.pack(order + "Bhh", 2, 7, 8) + struct.pack("B", 0)
    for x, y, z in ((0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)):
        body += struct.pack(order + "dBdd", x, 200, y, z)
    for face in ((0, 2, 1), (0, 1, 3), (1, 2, 3), (0, 3, 2)):
        body += struct.pack(order + "B" + {"uchar": "B", "int": "i"}[listed] + "iii", 1, 3, *face)
    return header.encode() + body


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("listed", ["uchar", "int"])
def test_a_ply_of_either_byte_order_with_more_in_it_is_the_tetrahedron(order: str, listed: str) -> None:
    """Volume 1/6; what is not asked for is passed over by its declared size."""
    assert mend(read_mesh_file("t.ply", ply(order, listed)).mesh).volume == pytest.approx(1 / 6, rel=1e-15)


def test_a_ply_of_squares_with_a_kind_each_is_the_cube() -> None:
    """Not all triangles, so row by row: a byte, then four corners. Volume 1."""
    header = (
        "ply\nformat binary_little_endian 1.0\nelement vertex 8\nproperty float x\nproperty float y\nproperty float z\n"
        "element face 6\nproperty uchar kind\nproperty list uchar int vertex_indices\nend_header\n"
    )
    body = b"".join(struct.pack("<3f", n & 1, n >> 1 & 1, n >> 2) for n in range(8))
    for face in ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)):
        body += struct.pack("<BB4i", 9, 4, *face)
    assert mend(read_mesh_file("t.ply", header.encode() + body).mesh).volume == pytest.approx(1.0, rel=1e-15)


def test_a_ply_may_list_more_than_corners() -> None:
    """Texture coordinates beside the corners of every face; the first tetrahedron's file with one list more."""
    data = ply("<", "uchar")
    head, _, body = data.partition(b"end_header\n")
    faces = b"".join(body[-4 * 14 :][n * 14 : n * 14 + 14] + struct.pack("<Bf", 1, 0.5) for n in range(4))
    more = head + b"property list uchar float texcoord\nend_header\n" + body[: -4 * 14] + faces
    assert mend(read_mesh_file("t.ply", more).mesh).volume == pytest.approx(1 / 6, rel=1e-15)


def glb(content: Any, binary: bytes) -> bytes:
    """Return a GLB container (glTF 2.0, 4.4)."""
    text = json.dumps(content).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(binary), b"BIN\0") + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


POINTS = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], dtype="<f4")


def tetrahedron(**changes: Any) -> dict[str, Any]:
    """Return the JSON of a tetrahedron as a triangle strip 0 2 1 3 0 2, short indices after the points."""
    return {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1, "mode": 5}]}],
        "buffers": [{"byteLength": 60}],
        "bufferViews": [{"buffer": 0, "byteLength": 48}, {"buffer": 0, "byteOffset": 48, "byteLength": 12}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5123, "count": 6, "type": "SCALAR"},
        ],
        **changes,
    }


STRIP = POINTS.tobytes() + np.array([0, 2, 1, 3, 0, 2], dtype="<u2").tobytes()


def test_a_strip_is_the_tetrahedron() -> None:
    """glTF 2.0, 3.7.2.1: triangle i of a strip is {i, i + (1 + i % 2), i + (2 - i % 2)}."""
    assert mend(read_mesh_file("t.glb", glb(tetrahedron(), STRIP)).mesh).volume == pytest.approx(1 / 6, rel=1e-15)


CORNERS = POINTS[[0, 2, 1, 3, 0, 2]].tobytes()
ALONE = [{"bufferView": 0, "componentType": 5126, "count": 6, "type": "VEC3"}]
"""Six points, three of them one after another a triangle."""


def test_a_strip_may_come_without_indices() -> None:
    """glTF 2.0, 3.7.2.1: then it is drawn in the order of its points."""
    plain = [{"primitives": [{"attributes": {"POSITION": 0}, "mode": 5}]}]
    views = [{"buffer": 0, "byteLength": 72}]
    content = tetrahedron(meshes=plain, accessors=ALONE, bufferViews=views, buffers=[{"byteLength": 72}])
    assert mend(read_mesh_file("t.glb", glb(content, CORNERS)).mesh).volume == pytest.approx(1 / 6, rel=1e-15)


def test_a_fan_turns_about_its_first_corner() -> None:
    """glTF 2.0, 3.7.2.1: triangle i of a fan is {i + 1, i + 2, 0}. Round corner 0, and a triangle shuts it."""
    fan, lid = [0, 2, 1, 3, 2], [1, 2, 3]
    primitive = {"attributes": {"POSITION": 0}, "indices": 1, "mode": 6}
    content = tetrahedron(
        meshes=[{"primitives": [primitive, {**primitive, "indices": 2, "mode": 4}]}],
        buffers=[{"byteLength": 64}],
        bufferViews=[{"buffer": 0, "byteLength": 48}, {"buffer": 0, "byteOffset": 48, "byteLength": 16}],
        accessors=[
            {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5123, "count": 5, "type": "SCALAR"},
            {"bufferView": 1, "byteOffset": 10, "componentType": 5123, "count": 3, "type": "SCALAR"},
        ],
    )
    read = read_mesh_file("t.glb", glb(content, POINTS.tobytes() + np.array(fan + lid, dtype="<u2").tobytes()))
    mended = mend(read.mesh)
    assert mended.volume == pytest.approx(1 / 6, rel=1e-15)
    assert mended.repairs == ()


def test_a_glb_without_scenes_shows_the_nodes_that_no_node_holds() -> None:
    """glTF 2.0, 3.5.1 leaves to the reader what to show; a child moves with its node, and is no root. No skins."""
    content = tetrahedron(nodes=[{"mesh": 0}, {"children": [0], "translation": [5, 0, 0]}], skins=[{"joints": [0]}])
    del content["scenes"], content["scene"]
    read = read_mesh_file("t.glb", glb(content, STRIP))
    assert read.mesh.vertices[:, 0].min() == 5.0
    assert len(read.mesh.triangles) == 4
    assert read.notes == ("it is taken in its pose of rest, without skins and morphs",)


def test_nodes_multiply_from_the_root_down_and_mirrors_stay_outward() -> None:
    """Scale (2, -3, 4) under a quarter turn about z and a shift: volume 24/6, x from -3 y, y from 2 x."""
    half = 0.5**0.5
    nodes = [
        {"children": [1], "translation": [10, 0, 0], "rotation": [0, 0, half, half]},
        {"mesh": 0, "scale": [2, -3, 4]},
    ]
    read = read_mesh_file("t.glb", glb(tetrahedron(nodes=nodes), STRIP))
    mended = mend(read.mesh)
    assert mended.volume == pytest.approx(4.0, rel=1e-12)
    assert mended.repairs == ()
    expected = [[10, 0, 0], [10, 2, 0], [13, 0, 0], [10, 0, 4]]
    assert np.allclose(expected, read.mesh.vertices, atol=1e-12)


RING = [{"children": [1]}, {"children": [0], "mesh": 0}]
DATA_OUTSIDE = [{"byteLength": 60, "uri": "../secret.bin"}]
FLAT = [{"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC2"}]
POINTS_ONLY = [{"primitives": [{"attributes": {"POSITION": 0}, "mode": 0}]}]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"buffers": DATA_OUTSIDE}, "its data lies in another file; export it as one GLB with everything inside"),
        ({"extensionsRequired": ["KHR_draco_mesh_compression"]}, "it needs KHR_draco_mesh_compression"),
        ({"nodes": RING}, "its nodes lie in one another without end"),
        ({"meshes": POINTS_ONLY}, "its scene holds no triangles"),
        ({"nodes": [{"mesh": 7}]}, "its JSON part names something that is not there"),
        ({"nodes": [{"mesh": 0, "matrix": [1, 2]}]}, "its JSON part is not as glTF 2.0 has it"),
        ({"accessors": []}, "its JSON part names something that is not there"),
        ({"scenes": 5}, "its JSON part is not as glTF 2.0 has it"),
        ({"bufferViews": [{"buffer": 0, "byteOffset": 2**39}] * 2}, "an accessor reaches past the data: it is cut off"),
        (
            {"accessors": [{"count": 4, "componentType": 5126, "type": "VEC3"}]},
            "it holds sparse data, which is not read",
        ),
        ({"accessors": FLAT}, "a VEC2 of type 5126 stands where a VEC3 should"),
    ],
)
def test_a_glb_that_is_wrong_or_not_whole_says_how(changes: dict[str, Any], expected: str) -> None:
    """Data in other files is never fetched; a ring of nodes ends."""
    with pytest.raises(MeshFileError) as refusal:
        read_mesh_file("t.glb", glb(tetrahedron(**changes), STRIP))
    assert str(refusal.value).startswith(expected)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (glb([], STRIP), "its JSON part is no object"),
        (glb(tetrahedron(), STRIP).replace(b'{"asset"', b'["asset"', 1), "its JSON part cannot be read"),
        (glb(tetrahedron(), STRIP).replace(b"glTF\2", b"glTF\1", 1), "it is glTF 1; 2 is read"),
    ],
)
def test_what_is_no_gltf_2_is_said(data: bytes, expected: str) -> None:
    """A list where an object should be; the version of 2015."""
    with pytest.raises(MeshFileError) as refusal:
        read_mesh_file("t.glb", data)
    assert str(refusal.value) == expected


def test_a_scene_of_several_meshes_is_read_as_trimesh_reads_it() -> None:
    """Two things at their places, written by trimesh as nodes with matrices."""
    scene = trimesh.Scene()
    scene.add_geometry(l_shape())
    scene.add_geometry(trimesh.creation.icosphere(1), transform=trimesh.transformations.translation_matrix([5, 6, 7]))
    read = read_mesh_file("s.glb", bytes(scene.export(file_type="glb")))
    assert len(read.mesh.triangles) == 20 + 80
    assert np.allclose(scene.bounds, [read.mesh.vertices.min(axis=0), read.mesh.vertices.max(axis=0)], atol=1e-6)
