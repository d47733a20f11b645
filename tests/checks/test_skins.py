"""The steps by which a print's skin is compared with the imagined one, each on plates whose figures are plain."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import print_faithful as check
from pipeline.elements.bodies import Block, Level, Solid
from pipeline.elements.hall_shape import Ground, Hall
from pipeline.geometry import curves, frames
from pipeline.geometry.meshes import EMPTY
from pipeline.parts.model import Print, Raised
from pipeline.relief.collineation import Relief
from pipeline.sight.rays import Target, cast

from ..scene_text import PLAIN

Array = NDArray[np.float64]

EYE = (4.0, -100.0, 30.0)
TRUE = Relief(eye=EYE, apron=0.0, apparent_depth=60.0, built_depth=60.0)
DEEP = Relief(eye=EYE, apron=10.0, apparent_depth=200.0, built_depth=60.0)
HALL = Hall(scale=48.0, width=100.0, height=80.0, depth=60.0, floor=3.0, apron=0.0, front=0.0)


def plate(x0: float, x1: float, z0: float, z1: float, y: float, lean: float = 0.0) -> Array:
    """Return a plate square to the y axis, or leaning back by ``lean`` from left to right, as two triangles."""
    corners = np.array([[x0, y, z0], [x1, y + lean, z0], [x1, y + lean, z1], [x0, y, z1]])
    return corners[[[0, 1, 2], [0, 2, 3]]]


def skin(corners: Array) -> check._Skin:
    return check._Skin.of(corners, Target.of(corners), np.eye(4))


TRIANGLE = np.array([[[0.0, 0, 0], [4, 0, 0], [0, 3, 0]]])


@pytest.mark.parametrize(
    ("point", "distance"),
    [
        ((1.0, 1.0, 0.5), 0.5),
        ((1.0, 1.0, -0.5), 0.5),
        ((0.0, 0.0, 2.0), 2.0),
        ((2.0, -3.0, 4.0), 5.0),
        ((-3.0, 1.0, 4.0), 5.0),
        ((4 + 0.6, 3 + 0.8, 0.0), math.hypot(4.6 - 2.56, 3.8 - 1.08)),
        ((7.0, 0.0, 4.0), 5.0),
        ((-3.0, -4.0, 12.0), 13.0),
        ((0.0, 7.0, 3.0), 5.0),
    ],
)
@pytest.mark.parametrize("turned", [False, True])
def test_a_point_is_as_far_from_a_triangle_as_from_its_nearest_place(
    point: tuple[float, float, float], distance: float, turned: bool
) -> None:
    """Over it, beside each edge, off each corner, by Pythagoras; the foot on the long edge is (2.56, 1.08)."""
    corners = TRIANGLE[:, ::-1] if turned else TRIANGLE
    assert check._exact(np.array(point), corners) == pytest.approx(distance, rel=1e-12)
    far = np.concatenate([corners + np.array([0.0, 0, -90]), corners])
    assert check._exact(np.array(point), far) == pytest.approx(distance, rel=1e-12)


@pytest.mark.parametrize("fallen", [[[0.0, 0, 0], [4, 0, 0], [2, 0, 0]], [[2.0, 0, 0], [2, 0, 0], [2, 0, 0]]])
def test_a_triangle_that_fell_together_is_as_far_as_what_is_left_of_it(fallen: list[list[float]]) -> None:
    """A line or a point; it has no inside over which everything would lie."""
    assert check._exact(np.array([2.0, 3, 4]), np.array([fallen])) == pytest.approx(5.0)
    both = np.concatenate([np.array([fallen]) - np.array([0.0, 90, 0]), TRIANGLE])
    assert check._exact(np.array([1.0, 1, 2]), both) == pytest.approx(2.0)


def test_the_farthest_point_is_told_along_normals_or_exactly() -> None:
    """A plate of 20 x 20 at y = 10. Along the normal where that is fine; a slanted normal reads too long, and the
    nearest place is told instead; one whose normal passes by is 3-4 off the plate's edge."""
    wall = skin(plate(-10, 10, -10, 10, 10.0))
    square, slanted = np.array([0.0, -1.0, 0.0]), np.array([0.0, -0.5, math.sqrt(0.75)])
    cases = [
        ((0.0, 9.97, 0.0), square, 0.03),
        ((0.0, 10.02, 0.0), square, 0.02),
        ((0.0, 9.98, 0.0), slanted, 0.04),  # FINE along the normal: that is told
        ((0.0, 9.9, 0.0), slanted, 0.1),  # 0.2 along it, 0.1 off
        ((0.0, 9.0, 0.0), square, 1.0),
        ((13.0, 6.0, 0.0), square, 5.0),
    ]
    for at, normal, expected in cases:
        found = check._farthest(np.array([at]), normal[None], wall)
        assert found == pytest.approx(expected, abs=1e-9)
        assert check._farthest(np.array([at]), -normal[None], wall) == pytest.approx(expected, abs=1e-9)
    points, normals = np.array([case[0] for case in cases]), np.array([case[1] for case in cases])
    assert check._farthest(points, normals, wall) == pytest.approx(5.0)
    assert check._farthest(points[:-1], normals[:-1], wall) == pytest.approx(1.0)
    assert check._farthest(points[:4], normals[:4], wall) == pytest.approx(0.1)
    assert check._farthest(points[:0], normals[:0], wall) == 0.0


def test_eyes_see_the_front_plate_of_two() -> None:
    """A grid over both, half-way between them: every ray that passes the front one, 10 mm before the grid, meets the
    one behind it, or nothing."""
    corners = np.concatenate([plate(-40, 40, 10, 40, 40.0), plate(-30, 30, 0, 50, 20.0)])
    eyes = np.array([[4.0, -100, 30], [64.0, -100, 30]])
    points, index = check._seen_points(skin(corners), eyes)
    shares = (np.arange(check.RAYS) + 0.5) / check.RAYS
    expected = []
    for ex in (4.0, 64.0):
        for x, z in ((-40 + 80 * sx, 50 * sz) for sz in shares for sx in shares):
            near, far = ((ex + (x - ex) * share, 30 + (z - 30) * share) for share in (120 / 130, 140 / 130))
            if abs(near[0]) < 30:
                expected.append((near[0], 20.0, near[1]))
            elif abs(far[0]) < 40 and 10 < far[1] < 40:
                expected.append((far[0], 40.0, far[1]))
    assert points == pytest.approx(np.array(expected), abs=1e-9)
    assert (np.isin(index, (2, 3)) == (points[:, 1] < 30)).all()
    assert {*index.tolist()} == {0, 1, 2, 3}


@pytest.mark.parametrize("relief", [TRUE, DEEP], ids=["true", "relief"])
@pytest.mark.parametrize(("near", "far"), [(2.0, 9.0), (12.0, 40.0), (5.0, 30.0)], ids=["apron", "behind", "across"])
def test_rays_meet_a_skin_taken_back_where_they_meet_its_triangles(relief: Relief, near: float, far: float) -> None:
    """Cast at the skin as it was made ready on a printer's bed, or at the triangles carried back one by one."""
    corners_built = np.concatenate([plate(-20, 20, 5, 60, near, far - near), plate(-5, 9, 20, 30, near, far - near)])
    turn = frames.rigid([0.0, 1, 0], [0.0, 0, 1], [1.0, 0, 0], [7.0, -3.0, 11.0])
    bed = frames.apply(frames.inverse(turn), corners_built.reshape(-1, 3)).reshape(-1, 3, 3)
    back = check._taken_back(check._Skin.of(corners_built, Target.of(bed), frames.inverse(turn)), relief)
    carried = relief.imagine_points(corners_built.reshape(-1, 3)).reshape(-1, 3, 3)
    assert back.corners == pytest.approx(carried, abs=1e-9)
    rng = np.random.default_rng(3)
    origins = np.column_stack([rng.uniform(-60, 60, 300), np.full(300, -100.0), rng.uniform(0, 60, 300)])
    ways = carried.mean(axis=(0, 1)) + rng.normal(scale=12.0, size=(300, 3)) - origins
    expected, lengths = cast(carried, origins, ways)
    index, distance = back.cast(origins, ways)
    assert 30 < (expected >= 0).sum() < 299
    assert index.tolist() == expected.tolist()
    assert distance[index >= 0] == pytest.approx(lengths[index >= 0], rel=1e-9)
    assert np.isinf(distance[index < 0]).all()


def test_what_the_play_takes_off_at_the_halls_surfaces_is_left_out() -> None:
    """A strip of 1.05 plays along side walls, floor, ceiling and back wall; not at the opening."""
    strip = check.PLAY_STRIPS * 0.2
    inner, outer = strip + 0.001, strip - 0.001
    middle = (0.0, 30.0, 40.0)

    def keeps(points: list[tuple[float, float, float]], hall: Hall = HALL) -> list[bool]:
        out: list[bool] = check._off_the_hall(np.array(points), TRUE, hall, 0.2).tolist()
        return out

    for side in (-1, 1):
        assert keeps([(side * (50 - inner), 30, 40), (side * (50 - outer), 30, 40), middle]) == [True, False, True]
    assert keeps([(0, 30, 3 + inner), (0, 30, 3 + outer), middle]) == [True, False, True]
    assert keeps([(0, 30, 83 - inner), (0, 30, 83 - outer), middle]) == [True, False, True]
    assert keeps([(0, 60 - inner, 40), (0, 60 - outer, 40), middle]) == [True, False, True]
    assert keeps([(0, 0.0, 40)]) == [True]
    assert check._off_the_hall(np.zeros((0, 3)), TRUE, HALL, 0.2).tolist() == []
    grounds = (
        Ground(part="floor", level=0.0, origin=0.0, near=0.0, far=30.0),
        Ground(part="pit", level=-4.0, origin=30.0, near=30.0, far=60.0),
    )
    lower = replace(HALL, grounds=grounds)
    assert keeps([(0, 40, inner - 1), (0, 40, outer - 1), middle], lower) == [True, False, True]


def test_a_strip_is_as_much_wider_as_the_relief_shows_the_play() -> None:
    """A play of 0.2 mm is longest imagined at the far corner of what is looked at."""
    points = np.array([[49.0, 12.0, 40.0], [0.0, 150.0, 40.0]])
    wide = check.PLAY_STRIPS * 0.2 * check.stretch(DEEP, DEEP.build_points(points))
    assert wide > 5 * 0.2
    hall = replace(HALL, depth=200.0)
    for off, kept in ((1.001 * wide, True), (0.999 * wide, False)):
        at = np.concatenate([points, [[50 - off, 30.0, 40.0]]])
        assert check._off_the_hall(at, DEEP, hall, 0.2)[2] == kept


def print_of(solid: Solid | Block | Raised) -> Print:
    return Print(
        solid=solid, body=EMPTY, skin_imagined=EMPTY, built_from_bed=np.eye(4), hollow=False, volume=0.0, min_wall=1.0
    )


def swept(axis: Literal["y", "z"], near: float, far: float) -> Print:
    """Return what is swept up or along the hall between two depths."""
    if axis == "y":
        section = curves.polygon([(-5, 5), (5, 5), (5, 15)])
        levels = (Level(at=near, section=section), Level(at=far, section=section))
    else:
        section = curves.polygon([(-5, near), (5, near), (5, far), (-5, far)])
        levels = (Level(at=3.0, section=section), Level(at=30.0, section=section))
    return print_of(Solid(id="post", axis=axis, levels=levels, contacts=(), opens=""))


def test_a_print_is_looked_at_as_far_as_the_room_it_stands_in() -> None:
    """A column reaches the vault's springing, 40 mm up, an arch the vault; each stands on its own floor, and on no
    other; a mesh may stand on any."""
    vaulted = replace(HALL, springing=40.0)
    grounds = (
        Ground(part="floor", level=0.0, origin=0.0, near=0.0, far=30.0),
        Ground(part="pit", level=-4.0, origin=30.0, near=30.0, far=60.0),
    )
    stepped = replace(HALL, grounds=grounds)
    over, under, sunk = (0.0, 40.0, 41.0), (0.0, 40.0, 39.0), (0.0, 40.0, 1.0)

    def counts(part: Print, hall: Hall) -> list[bool]:
        out: list[bool] = check._counts(np.array([over, under, sunk]), part, TRUE, hall, 0.2).tolist()
        return out

    assert counts(swept("z", 35.0, 45.0), vaulted) == [False, True, False]
    assert counts(swept("y", 35.0, 45.0), vaulted) == [True, True, False]
    assert counts(swept("z", 35.0, 45.0), stepped) == [True, True, True]
    assert counts(swept("z", 15.0, 25.0), stepped) == [True, True, False]
    assert counts(swept("y", 15.0, 25.0), stepped) == [True, True, False]
    block = Block(id="thing", mesh=EMPTY, contacts=(), joints=np.zeros((0, 2, 3)))
    assert counts(print_of(block), vaulted) == [True, True, False]
    assert counts(print_of(block), stepped) == [True, True, True]


def test_of_a_raised_face_all_counts_but_what_lies_behind_it() -> None:
    """By more than single precision may be off, as the relief shows it; points of the hall's other surfaces too."""
    (wall,) = (panel for panel in make(PLAIN.encode()).panels if panel.id == "back-wall")
    raised = Raised(
        face=wall.face, region=wall.region, leaf=wall.leaves[0], relief=1.0, units=1, joints=np.zeros((0, 2, 3))
    )
    part, relief = print_of(raised), replace(DEEP, apparent_depth=250.0)
    points = np.array([[30.0, 250.0, 40.0]])
    behind = check.SINGLE * check.stretch(relief, relief.build_points(points))
    assert behind > 5 * check.SINGLE
    for off, kept in ((-3.0, True), (0.98 * behind, True), (1.02 * behind, False), (3.0, False)):
        at = points + np.array([0.0, off, 0.0])
        assert check._counts(at, part, relief, HALL, 0.2).tolist() == [kept]
    assert check._counts(np.zeros((0, 3)), part, relief, HALL, 0.2).tolist() == []
