"""Files that are not what they seem: every one is refused in words, none with a traceback."""

from __future__ import annotations

import contextlib
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline import meshfiles
from pipeline.geometry.mending import MendError, mend
from pipeline.meshfiles import MeshFileError, read_mesh_file
from pipeline.meshfiles.model import MOST_TRIANGLES
from tests.meshes.samples import WRITERS, exported, l_shape, stl_text

WHOLE = {form: exported(l_shape(), form) for form in WRITERS}
NAN, HUGE = float("nan"), 1e30


def refused(name: str, data: bytes) -> str:
    with pytest.raises(MeshFileError) as refusal:
        read_mesh_file(name, data)
    return str(refusal.value)


@pytest.mark.parametrize("form", WRITERS)
def test_a_file_of_another_format_is_told_from_what_its_ending_says(form: str) -> None:
    """The content is named, and what the name claims."""
    name, data = WHOLE[form]
    ending = name.rpartition(".")[2]
    for other in {"stl", "obj", "ply", "glb"} - {ending}:
        assert refused(f"thing.{other}", data) == f"its ending says {other.upper()}, its content is {ending.upper()}"


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "its ending says STL, its content is a PNG picture"),
        (b"PK\x03\x04" + bytes(100), "its ending says STL, its content is a ZIP archive (as 3MF is)"),
        (b"<!DOCTYPE html><html>", "its ending says STL, its content is XML or HTML"),
        (b"version https://git-lfs.github.com/spec/v1\n", "its ending says STL, its content is a Git LFS pointer"),
        (b"", "the file is empty"),
        (b"solid nothing\nendsolid nothing\n", "it holds no facets"),
        (b"\0" * 84, "it holds no facets"),
        (b"\0" * 80, "it has 80 bytes, too few for a binary STL"),
    ],
)
def test_what_is_no_mesh_is_named(data: bytes, expected: str) -> None:
    """As it comes from a wrong download or a slip of the hand."""
    assert refused("thing.stl", data).startswith(expected)


def test_an_ending_that_is_not_read_says_which_are() -> None:
    """3MF, STEP and the like."""
    assert refused("thing.step", b"ISO-10303-21;") == "the ending .step is none that is read: .stl, .obj, .ply, .glb"


@pytest.mark.parametrize("form", ["binary STL", "text STL", "binary PLY", "text PLY", "GLB"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_file_cut_off_is_refused(form: str, share: float) -> None:
    """Half a download. In an STL text cut between two facets only the open surface shows it."""
    name, data = WHOLE[form]
    with pytest.raises((MeshFileError, MendError)):
        mend(read_mesh_file(name, data[: int(len(data) * share)]).mesh)


def test_a_count_that_does_not_fit_the_length_is_said_with_both_numbers() -> None:
    """84 bytes and 50 for each facet (3D Systems, 1989)."""
    name, data = WHOLE["binary STL"]
    said = refused(name, data[:80] + struct.pack("<I", 66) + data[84:])
    assert said.startswith("its header counts 66 facets, the file holds 20")


@pytest.mark.parametrize("value", [NAN, float("inf"), HUGE])
def test_a_corner_that_is_no_place_names_its_facet(value: float) -> None:
    """NaN would pass through every comparison that follows."""
    triangles = np.array(l_shape().triangles)
    triangles[4, 1, 2] = value
    expected = "facet 5 has a corner that is no number, or farther out than 1e+09"
    assert refused("a.stl", stl_text(triangles)) == expected
    binary = bytearray(WHOLE["binary STL"][1])
    at = 84 + 4 * 50 + 12 + 12 + 8
    binary[at : at + 4] = struct.pack("<f", value)
    assert refused("a.stl", bytes(binary)) == expected


def test_a_facet_of_four_corners_is_named() -> None:
    """STL knows triangles only (3D Systems, 1989); other formats hold such faces."""
    loop = b"".join(b"vertex %d %d 0\n" % corner for corner in ((0, 0), (1, 0), (1, 1), (0, 1)))
    text = b"solid a\nfacet normal 0 0 1\nouter loop\n" + loop + b"endloop\nendfacet\nendsolid a\n"
    assert refused("a.stl", text) == "facet 1 has 4 corners; a facet of an STL file has 3"


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"v 0 0 0\nv 1 0 0\nv 0 1 nan\nf 1 2 3\n", "line 3: a vertex that is no number"),
        (b"v 0 0 0\nv 1 0\n", "line 2: a vertex needs three numbers"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", "line 4: a face names a vertex that is not there; 3 came before it"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", "line 4: a face names a vertex that is not there"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -4\n", "line 4: a face names a vertex that is not there"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2\n", "line 4: a face of 2 corners"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 b 2\n", "line 4: a corner of a face is a number"),
        (b"v 0 0 0\nv 1 0 0\n", "it holds no faces"),
        (b"v 0 0 0\ncurv 0 1 1 2 3\n", "it holds curved surfaces, but no faces"),
    ],
)
def test_a_fault_of_an_obj_names_its_line(data: bytes, expected: str) -> None:
    """So that it can be found with an editor."""
    assert refused("a.obj", data).startswith(expected)


HEAD = b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
FACES = b"element face 1\nproperty list uchar int vertex_indices\nend_header\n"
ROWS = b"0 0 0\n1 0 0\n0 1 0\n"


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (HEAD, "its header has no end"),
        (HEAD + b"end_header\n" + ROWS, "it holds no faces"),
        (HEAD + FACES + ROWS, "it ends before its 1 rows of face do: it is cut off"),
        (HEAD + FACES + ROWS + b"3 0 1\n", "it ends before its 1 rows of face do: it is cut off"),
        (HEAD + FACES + ROWS + b"3 0 1 3\n", "a face names a vertex that is not there; it has 3"),
        (HEAD + FACES + ROWS + b"3 0 1 nan\n", "a face names a vertex by what is no whole number"),
        (HEAD + FACES + ROWS + b"2 0 1\n", "face 1 has 2 corners"),
        (HEAD + FACES + ROWS + b"-3 0 1\n", "row 1 of its face has a value that is none"),
        (HEAD.replace(b"float x", b"float u") + FACES + ROWS, "its element vertex has no x"),
        (HEAD.replace(b"ascii", b"zip") + FACES, "its header names no format that is read"),
        (HEAD.replace(b"float x", b"complex x") + FACES, "its header has a property that is none of PLY"),
        (HEAD.replace(b"vertex 3", b"vertex 99999999999999999999") + FACES, "it has 999,999,999,999,999,999 rows"),
        (HEAD.replace(b"float x", b"list uchar float x") + FACES + ROWS, "a coordinate of its vertices is a list"),
        (
            HEAD + FACES.replace(b"end_", b"element edge 2\nend_") + ROWS,
            "its header names an element without properties",
        ),
        (HEAD.replace(b"ascii", b"binary_little_endian") + FACES + bytes(35), "it ends before its 3 rows of vertex do"),
        (
            HEAD + FACES.replace(b"list uchar int", b"int") + ROWS + b"0\n",
            "the vertex indices of its faces are no list",
        ),
        (HEAD + FACES.replace(b"face 1", b"face 2000000") + ROWS, "it has 2,000,000 facets, more than 200,000"),
    ],
)
def test_a_fault_of_a_ply_says_where(data: bytes, expected: str) -> None:
    """Header, element and row."""
    assert refused("a.ply", data).startswith(expected)


def test_a_file_larger_than_is_read_is_refused_before_it_is_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit is lowered to a byte less than the file has; at its very size the file is read."""
    name, data = WHOLE["GLB"]
    monkeypatch.setattr(meshfiles, "MOST_BYTES", len(data))
    read_mesh_file(name, data)
    monkeypatch.setattr(meshfiles, "MOST_BYTES", len(data) - 1)
    assert refused(name, data) == f"the file has more than {len(data) - 1:,} bytes; let a mesh editor decimate it"


def test_a_mesh_of_five_million_facets_is_refused_by_its_count() -> None:
    """Before any memory is given to its corners; memory for the rows is the file's alone."""
    count = 5_000_000
    data = bytes(80) + struct.pack("<I", count) + bytes(50 * count)
    expected = f"it has 5,000,000 facets, more than {MOST_TRIANGLES:,}; let a mesh editor decimate it"
    assert expected == refused("huge.stl", data)


@settings(max_examples=150, deadline=None)
@given(
    form=st.sampled_from(sorted(WRITERS)),
    share=st.floats(0, 1),
    put=st.one_of(st.binary(max_size=8), st.sampled_from([b"nan", b"-1", b"1e999", b"\xff\xff\xff\x7f", b"{", b"\n"])),
    gone=st.integers(0, 12),
)
def test_no_damage_ends_in_a_traceback(form: str, share: float, put: bytes, gone: int) -> None:
    """Bytes put in or taken out anywhere: the file is read and mended, or refused in words."""
    name, data = WHOLE[form]
    at = int(share * len(data))
    with contextlib.suppress(MeshFileError, MendError):
        assert mend(read_mesh_file(name, data[:at] + put + data[at + gone :]).mesh).volume > 0
