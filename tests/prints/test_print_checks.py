"""The checks on prints: a good file passes, and every way of spoiling it is told."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.checks.print_bed import check_bed
from pipeline.checks.print_closed import check_closed
from pipeline.checks.print_edges import check_edges
from pipeline.checks.print_wall import check_wall
from pipeline.exports.stl import write_stl
from pipeline.geometry.meshes import Mesh, join
from pipeline.parts.bed import on_bed
from pipeline.parts.solids import swept
from tests.prints.samples import arches, columns, only, printed

PART = printed(only(columns(base=0.4, capital=0.4)))
LYING = on_bed(PART.body, PART.built_from_bed)


def stl_of(mesh: Mesh) -> bytes:
    return write_stl(mesh, "pier")


def box(low: float, high: float) -> Mesh:
    square = np.array([(low, low), (high, low), (high, high), (low, high)])
    return swept("z", [low, high], [square, square])


def test_a_good_print_passes_every_check() -> None:
    """One closed body with walls as asked, blunt, and smaller than the bed."""
    stl = stl_of(LYING)
    (closed,) = check_closed("pier", stl)
    (wall,) = check_wall("pier", stl, 1.0)
    (edges,) = check_edges("pier", stl)
    (bed,) = check_bed("pier", stl, (300, 300, 300))
    assert [closed.status, wall.status, edges.status, bed.status] == ["pass"] * 4
    assert closed.value == pytest.approx(PART.volume, rel=1e-4)
    assert wall.value == pytest.approx(1.001, abs=1e-3)


def test_torn_inside_out_and_scattered_files_fail() -> None:
    """A missing triangle, flipped triangles, a flipped body, and two bodies are each told apart."""
    torn = Mesh(vertices=LYING.vertices, triangles=LYING.triangles[1:])
    assert "torn" in check_closed("pier", stl_of(torn))[0].message
    flipped = LYING.triangles.copy()
    flipped[5] = flipped[5, ::-1]
    assert "torn" in check_closed("pier", stl_of(Mesh(vertices=LYING.vertices, triangles=flipped)))[0].message
    inside_out = Mesh(vertices=LYING.vertices, triangles=LYING.triangles[:, ::-1].copy())
    assert "inside out" in check_closed("pier", stl_of(inside_out))[0].message
    two = check_closed("pier", stl_of(join([box(0, 5), box(10, 15)])))[0]
    assert (two.status, two.value, two.limit) == ("fail", 2, 1)


def test_bodies_that_touch_in_an_edge_fail_after_welding() -> None:
    """Watertight by index, but four triangles share the edge once equal corners are one."""
    one, other = box(0, 5), box(0, 5)
    beside = Mesh(vertices=other.vertices + np.array([5.0, 5.0, 0.0]), triangles=other.triangles)
    assert check_closed("pier", stl_of(join([one, beside])))[0].status == "fail"


def test_sealed_hollow_warns() -> None:
    """A cube within a cube, inside out: resin would stay in it."""
    inner = box(2, 4)
    hollow = join([box(0, 6), Mesh(vertices=inner.vertices, triangles=inner.triangles[:, ::-1].copy())])
    (finding,) = check_closed("pier", stl_of(hollow))
    assert finding.status == "warn"
    assert "drill" in finding.message
    (asked,) = check_closed("pier", stl_of(printed(only(columns(closed=True))).body))
    assert asked.status == "warn"


def test_unreadable_files_fail() -> None:
    """Cut short, empty, or not a number."""
    stl = stl_of(LYING)
    assert check_closed("pier", stl[:-7])[0].status == "fail"
    assert check_closed("pier", stl[:80] + (0).to_bytes(4, "little"))[0].status == "fail"
    spoiled = bytearray(stl)
    spoiled[84 + 12 : 84 + 16] = np.array([np.nan], dtype="<f4").tobytes()
    assert check_closed("pier", bytes(spoiled))[0].status == "fail"


def test_thin_wall_fails_with_its_place() -> None:
    """The same file against a thicker need; the message says how thin, and what to do."""
    (finding,) = check_wall("pier", stl_of(LYING), 1.5)
    assert finding.status == "fail"
    assert finding.limit == 1.5
    assert "1.00 mm thin at" in finding.message


def test_knife_edge_warns_with_its_length() -> None:
    """A prism over a sliver of a triangle: one edge of 14.25 degrees, 7 mm long."""
    section = np.array([(0.0, 0.0), (20.0, -2.5), (20.0, 2.5)])
    (finding,) = check_edges("pier", stl_of(swept("z", [0.0, 7.0], [section, section])))
    assert finding.status == "warn"
    assert finding.value == pytest.approx(2 * np.degrees(np.arctan(2.5 / 20)), abs=1e-3)
    assert "7.0 mm of edge" in finding.message


def test_bed_may_be_turned_but_not_exceeded() -> None:
    """60 x 10 x 10 fits 50 x 70 x 20 turned, not 50 x 50 x 20, nor 70 x 50 x 9."""
    mesh = swept("z", [0.0, 10.0], [np.array([(0.0, 0.0), (60.0, 0.0), (60.0, 10.0), (0.0, 10.0)])] * 2)
    stl = stl_of(mesh)
    assert check_bed("pier", stl, (50, 70, 20))[0].status == "pass"
    over = check_bed("pier", stl, (50, 50, 20))[0]
    assert (over.status, over.value, over.limit) == ("fail", 60.0, 50)
    assert check_bed("pier", stl, (70, 50, 9))[0].status == "fail"
    sunk = Mesh(vertices=mesh.vertices - np.array([0.0, 0.0, 1.0]), triangles=mesh.triangles)
    assert "under the bed" in check_bed("pier", stl_of(sunk), (70, 70, 20))[0].message


def test_grooved_arch_passes() -> None:
    """Joints cut into front and soffit leave one closed body with walls as asked."""
    part = printed(only(arches(voussoirs=9)))
    stl = stl_of(on_bed(part.body, part.built_from_bed))
    assert check_closed("cross-arch", stl)[0].status == "pass"
    assert check_wall("cross-arch", stl, 1.0)[0].status == "pass"
