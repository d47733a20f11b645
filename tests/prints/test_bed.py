"""Lying on the bed: rigid, in the corner, on the best flat side."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.geometry.meshes import Mesh, signed_volume
from pipeline.parts.bed import lay_on_bed, on_bed
from pipeline.parts.solids import swept
from tests.prints.samples import arches, columns, only, printed


def box(x: float, y: float, z: float) -> Mesh:
    return swept("z", [0.0, z], [np.array([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)])] * 2)


def rotation(a: float, b: float, c: float) -> np.ndarray:
    def about(k: int, angle: float) -> np.ndarray:
        i, j = (k + 1) % 3, (k + 2) % 3
        out = np.eye(3)
        out[[i, j], [i, j]] = np.cos(angle)
        out[i, j], out[j, i] = -np.sin(angle), np.sin(angle)
        return out

    turned: np.ndarray = about(0, a) @ about(1, b) @ about(2, c)
    return turned


angles = st.floats(-3, 3)


@given(angles, angles, angles)
def test_box_lies_on_its_largest_side_along_x(a: float, b: float, c: float) -> None:
    """However it is turned, a box of 3 x 20 x 50 comes to lie 50 x 20 x 3 in the corner of the bed."""
    mesh = box(3, 20, 50)
    turned = Mesh(vertices=mesh.vertices @ rotation(a, b, c).T + 7.0, triangles=mesh.triangles)
    built_from_bed = lay_on_bed(turned)
    lying = on_bed(turned, built_from_bed).vertices
    assert lying.min(axis=0) == pytest.approx([0, 0, 0], abs=1e-9)
    assert lying.max(axis=0) == pytest.approx([50, 20, 3], abs=1e-6)
    assert built_from_bed[:3, :3] @ built_from_bed[:3, :3].T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(built_from_bed[:3, :3]) == pytest.approx(1, abs=1e-12)


def test_engaged_pier_lies_on_its_mouth() -> None:
    """The rim against the wall is its one large flat side."""
    part = printed(only(columns(at=[4.0, 5.0], engaged=True, diameter=1.0, base=0.4, capital=0.4)))
    lying = on_bed(part.body, part.built_from_bed)
    size = lying.vertices.max(axis=0)
    assert size[0] > 100
    assert size[2] < size[1]
    down = lying.corners[np.abs(lying.corners[:, :, 2]).max(axis=1) < 1e-6]
    assert np.ptp(down[:, :, 0]) == pytest.approx(size[0], abs=1e-6)


def test_arch_lies_on_its_face() -> None:
    """Front face down, mouth up: as high as it is deep."""
    part = printed(only(arches()))
    lying = on_bed(part.body, part.built_from_bed)
    assert lying.vertices[:, 2].max() == pytest.approx(np.ptp(part.body.vertices[:, 1]), abs=1e-9)
    assert part.built_from_bed[:3, 2] == pytest.approx([0, 1, 0], abs=1e-9)


def test_no_print_rests_where_it_would_topple() -> None:
    """A thin tall shaft on a steeply raked foot does not stand on it: it lies."""
    part = printed(only(columns(at=[1.0, 11.0], diameter=0.2)))
    lying = on_bed(part.body, part.built_from_bed).vertices.max(axis=0)
    assert lying[2] < lying[0] / 5


def test_bed_frame_keeps_volume_and_handedness() -> None:
    """A rigid motion keeps the signed volume."""
    part = printed(only(columns(section="octagon", base=0.4)))
    assert signed_volume(on_bed(part.body, part.built_from_bed)) == pytest.approx(part.volume, rel=1e-9)
