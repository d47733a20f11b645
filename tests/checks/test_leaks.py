"""Rays that end on no part, counted on boxes of plates whose rays can be worked out one by one."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.leaks import HAIR, cast_leaks, eye_grid, hall_hits, imagined_rays
from pipeline.checks.slits import Slit
from pipeline.elements.hall_shape import HOSTS, Hall
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves
from pipeline.relief.collineation import Relief
from pipeline.sight.eye_box import EYE_PITCH
from pipeline.sight.rays import Target

Array = NDArray[np.float64]

HALL = Hall(scale=48.0, width=30.0, height=20.0, depth=60.0, floor=3.0, apron=0.0, front=0.0)
EYE = (1.25, -100.0, 11.0)
TRUE = Relief(eye=EYE, apron=0.0, apparent_depth=60.0, built_depth=60.0)
"""As deep as it looks: what is imagined is what is built."""
BOX = (40.0, 20.0)
EYES = [(EYE[0] + i, EYE[2] + k) for i, k in product((0, -20, 20), (0, -10, 10))]
SHARE = 0.6
"""Of its way from the eye to the opening a ray goes on to the back wall."""
HOLE = (4.1, -5.2, 9.3, 7.9)
"""Least and most x, most and least z of a hole in the back wall, as x0, z0, x1, z1 less the middle height."""
MIDDLE = 13.0


def rectangle(x0: float, z0: float, x1: float, z1: float, y: float) -> Array:
    """Return a rectangle square to the y axis as two triangles."""
    corners = np.array([[x0, y, z0], [x1, y, z0], [x1, y, z1], [x0, y, z1]])
    return corners[[[0, 1, 2], [0, 2, 3]]]


def plates(hole: tuple[float, float, float, float] | None = HOLE) -> Array:
    """Return the hall's five sides, drawn out past their edges, and a hole in the back wall."""
    x, low, high = 15.0, 3.0, 23.0
    sides = [
        np.array([[-x, -1, low - 9], [-x, 61, low - 9], [-x, 61, high + 9], [-x, -1, high + 9]]),
        np.array([[x, -1, low - 9], [x, 61, low - 9], [x, 61, high + 9], [x, -1, high + 9]]),
        np.array([[-x - 9, -1, low], [x + 9, -1, low], [x + 9, 61, low], [-x - 9, 61, low]]),
        np.array([[-x - 9, -1, high], [x + 9, -1, high], [x + 9, 61, high], [-x - 9, 61, high]]),
    ]
    built = [side[[[0, 1, 2], [0, 2, 3]]] for side in sides]
    if hole is None:
        return np.concatenate([rectangle(-99, -99, 99, 99, 60.0), *built])
    x0, z0, x1, z1 = hole[0], MIDDLE + hole[1], hole[2], MIDDLE + hole[3]
    around = [(-99, -99, x0, 99), (x1, -99, 99, 99), (x0, -99, x1, z0), (x0, z1, x1, 99)]
    return np.concatenate([*(rectangle(*one, 60.0) for one in around), *built])


def through_hole() -> list[tuple[int, float, float, float, float]]:
    """Return eye, x and z on the opening, x and z on the back wall of every ray through the hole, one by one."""
    found = []
    for (number, (ex, ez)), (i, k) in product(enumerate(EYES), product(range(30), range(20))):
        x, z = -14.5 + i, 3.5 + k
        far = (x + SHARE * (x - ex), z + SHARE * (z - ez))
        if HOLE[0] < far[0] < HOLE[2] and HOLE[1] < far[1] - MIDDLE < HOLE[3]:
            found.append((number, x, z, *far))
    return found


def cut(beyond: str, host: str = "back-wall", length: float = 5.0) -> Cut:
    """Return the hole as an element asks for it; u begins at the left wall, v at the floor."""
    u, v = np.array([HOLE[0], HOLE[2]]) + 15, np.array([HOLE[1], HOLE[3]]) + MIDDLE - 3
    corners = [(u[0], v[0]), (u[1], v[0]), (u[1], v[1]), (u[0], v[1])]
    return Cut(host=host, name="gap", curve=curves.polygon(corners), beyond=beyond, path=("openings", 0), length=length)


def by_eye(numbers: NDArray[np.int64], targets: Array) -> set[tuple[tuple[float, float], float, float]]:
    """Return leaks by their eyes' places, however the eyes are numbered."""
    eyes = eye_grid(EYE, BOX)
    return {((eyes[n][0], eyes[n][2]), x, z) for n, (x, z) in zip(numbers.tolist(), targets.tolist(), strict=True)}


def test_eyes_stand_on_the_edges_and_corners_of_their_box_and_in_between() -> None:
    """The eye first; 90 mm take seven columns, no farther apart than EYE_PITCH, 20 mm three rows."""
    eyes = eye_grid(EYE, (90.0, 20.0))
    assert eyes[0].tolist() == list(EYE)
    assert set(eyes[:, 1]) == {-100.0}
    places = {(round(x - EYE[0], 9), round(z - EYE[2], 9)) for x, z in eyes[:, [0, 2]].tolist()}
    assert places == set(product((-45.0, -30.0, -15.0, 0.0, 15.0, 30.0, 45.0), (-10.0, 0.0, 10.0)))
    assert len(eyes) == len(places) == 21
    assert EYE_PITCH >= 15


def test_a_closed_box_has_no_leaks() -> None:
    """30 x 20 rays from each of nine eyes."""
    leaks = cast_leaks(Target.of(plates(None)), ((), ()), HALL, TRUE, BOX)
    assert (leaks.rays, leaks.eyes, leaks.pitch) == (30 * 20 * 9, 9, 1.0)
    assert (len(leaks.targets), len(leaks.eye), leaks.needed) == (0, 0, {})


def test_every_ray_through_a_hole_that_nobody_told_of_is_a_leak() -> None:
    """Of each eye, at its place on the opening; all leave the hall through the back wall, by no cut and no slit."""
    leaks = cast_leaks(Target.of(plates()), ((), ()), HALL, TRUE, BOX)
    expected = through_hole()
    assert len(expected) > 200
    assert by_eye(leaks.eye, leaks.targets) == {(EYES[number], x, z) for number, x, z, _, _ in expected}
    assert len(leaks.targets) == len(expected)
    assert set(leaks.host.tolist()) == {HOSTS.index("back-wall")}
    assert set(leaks.cut.tolist()) == set(leaks.slit.tolist()) == {-1}
    assert leaks.needed == {}


@pytest.mark.parametrize("beyond", ["bare", "light", "wire"])
def test_a_hole_that_is_meant_to_be_open_leaks_nothing(beyond: str) -> None:
    """Told as a cut, the second of two; the first is a notch that steps make, which no hole of the hall is."""
    told = (cut("floor"), cut(beyond))
    for cuts in (told, told[1:]):
        leaks = cast_leaks(Target.of(plates()), (cuts, ()), HALL, TRUE, BOX)
        assert len(leaks.targets) == 0
        assert leaks.needed == {}


def deepest(rays: list[tuple[int, float, float, float, float]]) -> float:
    """Return how far behind the back wall the last of some rays meets a side of what is behind the hole."""
    out = 0.0
    for number, x, z, far_x, far_z in rays:
        steps = []
        for slope, at, (low, high) in (
            ((x - EYES[number][0]) / 100, far_x, (HOLE[0], HOLE[2])),
            ((z - EYES[number][1]) / 100, far_z - MIDDLE, (HOLE[1], HOLE[3])),
        ):
            if slope:
                steps.append(((high if slope > 0 else low) - at) / slope)
        out = max(out, min(steps))
    return out


def test_how_long_a_passage_must_be_is_where_the_last_ray_meets_a_side() -> None:
    """Each ray drifts (x - ex) / 100 to the side a mm, and so up: the side that it drifts to, or floor or head, stops
    it; the deepest counts."""
    told = (cut("bare", host="left-wall"), cut("floor"), cut("passage"))
    leaks = cast_leaks(Target.of(plates()), (told, ()), HALL, TRUE, BOX)
    assert set(leaks.cut.tolist()) == {2}
    assert leaks.needed.keys() == {2}
    assert leaks.needed[2] == pytest.approx(deepest(through_hole()), rel=1e-9)


def test_a_ray_through_a_slit_is_told_of_its_slit_and_asks_no_length_of_a_passage() -> None:
    """The slit lies behind the left half of the hole."""
    middle = (HOLE[0] + HOLE[2]) / 2 + 0.01
    near = Slit(parts=("a", "b"), gap=0.3, corners=rectangle(-90, -90, -80, -80, 61.0))
    slit = Slit(parts=("c", "d"), gap=0.3, corners=rectangle(HOLE[0] - 1, -99, middle, 99, 60.0))
    leaks = cast_leaks(Target.of(plates()), ((cut("passage"),), (near, slit)), HALL, TRUE, BOX)
    far = {((EYES[n]), x, z): far_x for n, x, z, far_x, _ in through_hole()}
    eyes = eye_grid(EYE, BOX)
    for number, (x, z), passed in zip(leaks.eye.tolist(), leaks.targets.tolist(), leaks.slit.tolist(), strict=True):
        assert passed == (1 if far[(eyes[number][0], eyes[number][2]), x, z] < middle else -1)
    right = cast_leaks(Target.of(plates()), ((cut("passage"),), ()), HALL, TRUE, BOX)
    assert leaks.slits == (near, slit)
    assert len(leaks.targets) == len(right.targets)
    assert set(leaks.slit.tolist()) == {1, -1}
    only = (leaks.slit < 0).nonzero()[0]
    assert 0 < len(only) < len(leaks.slit)
    beside = [ray for ray in through_hole() if ray[3] >= middle]
    assert leaks.needed[0] == pytest.approx(deepest(beside), rel=1e-9)
    alone = cast_leaks(Target.of(plates()), ((cut("passage"),), (slit,)), HALL, TRUE, BOX)
    assert set(alone.slit.tolist()) == {0, -1}
    assert alone.needed[0] == pytest.approx(deepest(beside), rel=1e-9)
    all_slit = Slit(parts=("c", "d"), gap=0.3, corners=rectangle(-99, -99, 99, 99, 60.0))
    whole = cast_leaks(Target.of(plates()), ((cut("passage"),), (all_slit,)), HALL, TRUE, BOX)
    assert set(whole.slit.tolist()) == {0}
    assert whole.needed == {}


@pytest.mark.parametrize(
    ("left", "right", "half_height", "told"),
    [
        (0.8, 0.8, 0.8, False),
        (0.5, 3.0, 0.5, False),
        (0.8, 0.8, 3.0, True),
        (3.0, 3.0, 0.8, True),
        (1.2, 1.2, 1.2, True),
    ],
)
def test_a_hole_narrower_than_a_hair_both_ways_is_rounding(
    left: float, right: float, half_height: float, told: bool
) -> None:
    """A hole in the back wall round the ray through (0.5, 13.5), in HAIRs on the opening; a long crack is no hair."""
    eye = (0.5, -100.0, 13.5)
    x0, z0, x1, z1 = (HAIR * (1 + SHARE) * size for size in (-left, -half_height, right, half_height))
    hole = (0.5 + x0, 13.5 - MIDDLE + z0, 0.5 + x1, 13.5 - MIDDLE + z1)
    leaks = cast_leaks(Target.of(plates(hole)), ((), ()), HALL, replace(TRUE, eye=eye), (1e-6, 1e-6))
    assert set(map(tuple, leaks.targets.round(9).tolist())) == ({(0.5, 13.5)} if told else set())


def test_rays_from_within_the_hall_leave_it_where_they_are_aimed() -> None:
    """At five points of its surfaces, however long the ray's direction is."""
    aims = {
        "floor": ((10.0, 30.0), (10.0 - 15, 30.0, 3.0)),
        "ceiling": ((20.0, 40.0), (20.0 - 15, 40.0, 23.0)),
        "left-wall": ((12.0, 7.0), (-15.0, 12.0, 10.0)),
        "right-wall": ((50.0, 17.0), (15.0, 50.0, 20.0)),
        "back-wall": ((4.0, 6.0), (4.0 - 15, 60.0, 9.0)),
    }
    starts = np.array([[1.0, 2.0, 11.0]] * 5)
    ways = (np.array([at for _, at in aims.values()]) - starts) * np.array([[0.1], [1.0], [3.0], [0.5], [7.0]])
    which, points_host = hall_hits(HALL, starts, ways)
    assert [HOSTS[number] for number in which] == list(aims)
    assert points_host == pytest.approx(np.array([host for host, _ in aims.values()]), abs=1e-9)


def test_a_ray_square_to_the_back_wall_meets_no_side() -> None:
    """It runs along all four of them."""
    which, points_host = hall_hits(HALL, np.array([[2.0, 0.0, 8.0]]), np.array([[0.0, 1.0, 0.0]]))
    assert (HOSTS[which[0]], points_host.tolist()) == ("back-wall", [[17.0, 5.0]])


def test_rays_go_on_in_the_imagined_room_as_the_relief_bends_them() -> None:
    """By the relief's formula turned round, u = t / (b - a t) for t mm behind the apron; the eye's own stay straight,
    and one that leaves the hall before the apron's end stays as it is."""
    relief = Relief(eye=EYE, apron=10.0, apparent_depth=60.0, built_depth=30.0)
    hall = replace(HALL, apron=10.0)
    distance, apparent, built = 110.0, 50.0, 20.0
    a = (apparent - built) / (apparent * (distance + built))
    b = built * (apparent + distance) / (apparent * (distance + built))

    def imagined(x: float, y: float, z: float) -> list[float]:
        u = (y - 10) / (b - a * (y - 10))
        w = 1 + a * u
        return [EYE[0] + (x - EYE[0]) * w, 10 + u, EYE[2] + (z - EYE[2]) * w]

    eyes = np.array([EYE, (21.25, -100.0, 1.0), (-18.75, -100.0, 21.0)])
    targets = np.array([[-5.0, 0.0, 9.0], [3.0, 0.0, 20.0], [-14.9, 0.0, 5.0]])
    out = np.array([[14.9, 0.0, 9.0], [3.0, 0.0, 22.9], [3.0, 0.0, 3.1], [-14.9, 0.0, 9.0]])
    aside = out - np.array([[-30.0, -100, 9], [3, -100, 1], [3, -100, 30], [30, -100, 9]])
    starts, ways = imagined_rays(np.concatenate([targets, out]), np.concatenate([targets - eyes, aside]), hall, relief)
    for target, way, start, onward in zip(targets, targets - eyes, starts[:3], ways[:3], strict=True):
        at_end, deeper = (np.array(imagined(*(target + y / way[1] * way))) for y in (10.0, 25.0))
        assert start == pytest.approx(at_end, abs=1e-9)
        assert onward / np.linalg.norm(onward) == pytest.approx(
            (deeper - at_end) / np.linalg.norm(deeper - at_end), abs=1e-9
        )
    straight = (targets[0] - eyes[0]) / np.linalg.norm(targets[0] - eyes[0])
    assert ways[0] / np.linalg.norm(ways[0]) == pytest.approx(straight, abs=1e-9)
    assert starts[3:] == pytest.approx(out)
    assert ways[3:] == pytest.approx(aside)
