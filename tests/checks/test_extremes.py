"""Widths and heights of joints over a face, for faces whose relief is a formula, and where they fall below a limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import relief_joints as check
from pipeline.checks.evidence import Evidence
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region, loop_of
from pipeline.parts.model import Leaf, Raised
from pipeline.relief.collineation import Relief

from ..scene_text import PLAIN

Array = NDArray[np.float64]

RELIEF = Relief(eye=(0.0, -420.0, 60.0), apron=0.0, apparent_depth=250.0, built_depth=77.5)
A = (250 - 77.5) / (250 * (420 + 77.5))
B = 77.5 * (250 + 420) / (250 * (420 + 77.5))


@pytest.fixture(scope="module")
def room() -> Evidence:
    return make(PLAIN.encode())


def face(room: Evidence, part: str, corners: list[tuple[float, float]]) -> Face:
    """Return a host's face with another outline; u runs into the hall on the side walls, v does on the floor."""
    found = next(panel.face for panel in room.panels if panel.id == part)
    return replace(found, region=Region(loop_of(curves.polygon(corners))))


def built_y(y: float) -> float:
    return B * y / (1 + A * y)


BOUNDS = [(20.0, 10.0), (150.0, 10.0), (150.0, 70.0), (20.0, 70.0)]


def test_the_extremes_of_what_shrinks_into_the_hall_are_at_its_ends(room: Evidence) -> None:
    """4 mm less a hundredth of the imagined depth: from 3.8 at 20 mm to 2.5 at 150; under 3 mm from 100 mm on, which
    is built at b y / w. Where nothing is under the limit nothing vanishes, where all is it does from the front on."""
    wall = face(room, "left-wall", BOUNDS)

    def measure(points_host: Array) -> Array:
        out: Array = 4 - points_host[:, 0] / 100
        return out

    for limit, depth in ((3.0, 100.0), (2.4, None), (2.5, None), (3.9, 20.0), (3.8 + 1e-9, 20.0)):
        found = check.extremes(wall, RELIEF, measure, limit)
        assert (found.least, found.most) == pytest.approx((2.5, 3.8))
        assert found.vanishes == (None if depth is None else pytest.approx(built_y(depth), abs=1e-6))


def test_on_a_floor_the_hall_runs_along_the_other_axis(room: Evidence) -> None:
    """v from 30 to 130; under the limit first on one side: there alone is enough."""
    floor = face(room, "floor", [(10.0, 30.0), (60.0, 30.0), (60.0, 130.0), (10.0, 130.0)])

    def measure(points_host: Array) -> Array:
        out: Array = 3 - points_host[:, 1] / 100 - (points_host[:, 0] - 10) / 100
        return out

    found = check.extremes(floor, RELIEF, measure, 1.5)
    assert (found.least, found.most) == pytest.approx((3 - 1.3 - 0.5, 3 - 0.3))
    assert found.vanishes == pytest.approx(built_y(100.0), abs=1e-6)


def test_a_face_square_to_the_hall_has_one_depth(room: Evidence) -> None:
    """The back wall's rows run up it, and all of it is built at 77.5 mm."""
    wall = face(room, "back-wall", [(10.0, 5.0), (60.0, 5.0), (60.0, 45.0), (10.0, 45.0)])

    def measure(points_host: Array) -> Array:
        out: Array = points_host[:, 0] / 100 + points_host[:, 1] / 10
        return out

    found = check.extremes(wall, RELIEF, measure, 1.0)
    assert (found.least, found.most) == pytest.approx((0.6, 5.1))
    assert found.vanishes == pytest.approx(77.5)


def raised(room: Evidence, part: str, flat_from_host: Array, built_from_flat: Array, relief: float = 1.0) -> Raised:
    wall = next(panel for panel in room.panels if panel.id == part)
    leaf = Leaf(flat_from_host=flat_from_host, built_from_flat=built_from_flat, near=0.0, far=250.0)
    return Raised(face=wall.face, region=wall.region, leaf=leaf, relief=relief, units=1, joints=np.zeros((0, 2, 3)))


def test_a_joint_is_as_wide_as_its_edges_are_apart_in_the_built_face(room: Evidence) -> None:
    """A face drawn in to 0.8 across and 0.5 along and sheared: an upright joint of 0.4 mm runs along (0.1, 0.5) in it,
    and a level one along (0.8, 0), 0.3 mm times 0.5 apart. The narrowest of all that are asked for counts."""
    flat = np.array([[0.8, 0.1, 3.0], [0.0, 0.5, 9.0], [0.0, 0.0, 1.0]])
    thing = raised(room, "left-wall", flat, np.eye(4))
    upright, level = (np.array([1.0, 0.0]), 0.4), (np.array([0.0, 1.0]), 0.3)
    points = np.array([[10.0, 10.0], [90.0, 40.0]])
    wide = 0.4 * 0.8 * 0.5 / np.hypot(0.1, 0.5)
    assert check.narrowest(thing, (upright,))(points) == pytest.approx(wide)
    assert check.narrowest(thing, (level,))(points) == pytest.approx(0.3 * 0.5)
    assert check.narrowest(thing, (upright, level))(points) == pytest.approx(min(wide, 0.15))
    assert check.narrowest(thing, (level, upright))(points) == pytest.approx(min(wide, 0.15))
    assert np.isinf(check.narrowest(thing, ())(points)).all()


def test_a_joint_narrows_where_the_face_is_foreshortened(room: Evidence) -> None:
    """u to b u / w: an upright joint of 0.4 mm at u spans b j / (w w'), w and w' at its edges."""
    flat = np.array([[B, 0.0, 0.0], [0.0, 1.0, 0.0], [A, 0.0, 1.0]])
    thing = raised(room, "left-wall", flat, np.eye(4))
    for u in (10.0, 200.0):
        (found,) = check.narrowest(thing, ((np.array([1.0, 0.0]), 0.4),))(np.array([[u, 0.0]]))
        w, other = 1 + A * (u - 0.2), 1 + A * (u + 0.2)
        assert found == pytest.approx(B * 0.4 / (w * other), rel=1e-9)


def test_units_stand_out_by_what_the_relief_leaves_of_them(room: Evidence) -> None:
    """On the back wall, imagined at 250 mm: built at 77.5, their tops 3 mm before it at b y / w of 247 mm. The leaf's
    own place is taken off, whatever it is."""
    depth, relief = 250.0, replace(RELIEF)
    for turn in (frames.rigid([1.0, 0, 0], [0.0, 0, 1], [0.0, -1, 0], [5.0, built_y(depth), 3.0]),
                 frames.rigid([0.0, 0, 1], [-1.0, 0, 0], [0.0, -1, 0], [0.0, built_y(depth), 0.0])):  # fmt: skip
        thing = raised(room, "back-wall", np.eye(3), turn, 3.0)
        found = check.standing(thing, relief)(np.array([[10.0, 20.0], [70.0, 40.0]]))
        assert found == pytest.approx(built_y(depth) - built_y(depth - 3), rel=1e-9)
