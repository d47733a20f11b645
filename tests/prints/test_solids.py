"""Outer bodies: volumes against closed forms and independent integrals, skins on the exact surface."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from pipeline.elements.bodies import Solid
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import body_of
from pipeline.geometry.meshes import signed_volume
from pipeline.keeping.kept import Kept
from pipeline.parts.solids import built_body, imagined_skin, placed_planes, placement, rings
from pipeline.relief.collineation import Relief
from tests.prints.samples import HALL, IDENTITY, RELIEF, arches, columns, only
from tests.strategies import HEADS

FINE = 0.0005
NODES, WEIGHTS = np.polynomial.legendre.leggauss(60)


def built_volume(solid: Solid, relief: Relief, fit: float = 0.0) -> float:
    matrix = placement(solid, relief)
    return float(built_body(solid, rings(solid, matrix, FINE), HALL, matrix, fit).volume())


def squash(relief: Relief, y: np.ndarray) -> np.ndarray:
    """Return the local volume factor b / w^4, w = 1 + a y (V k^3 / (y + k)^4, derived from the ray law)."""
    return relief.b / (1 + relief.a * y) ** 4


def test_round_column_as_imagined_is_a_cylinder_with_two_profiles() -> None:
    """Under the identity: frustums stacked, pi h (r^2 + r q + q^2) / 3."""
    solid = only(columns(base=0.4, capital=0.5))
    expected = 0.0
    for low, high in zip(solid.levels[:-1], solid.levels[1:], strict=True):
        r, q = (float(np.ptp(curves.bounds(level.section)[:, 0])) / 2 for level in (low, high))
        expected += math.pi * (high.at - low.at) * (r * r + r * q + q * q) / 3
    assert built_volume(solid, IDENTITY) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize(("section", "area"), [("square", 625.0), ("octagon", 625 * 2 * (2**0.5 - 1))])
def test_prismatic_columns_as_imagined_are_exact(section: str, area: float) -> None:
    """Under the identity nothing is faceted: area times height to rounding."""
    assert built_volume(only(columns(section=section)), IDENTITY) == pytest.approx(area * 280.0, rel=1e-12)


def test_engaged_columns_are_halves_and_quarters() -> None:
    """The wall takes half of the cylinder, the opening another half."""
    whole = math.pi * 12.5**2 * 280
    base = {"engaged": True, "diameter": 0.6}
    assert built_volume(only(columns(at=[4.0, 5.0], **base)), IDENTITY) == pytest.approx(whole / 2, rel=2e-4)
    assert built_volume(only(columns(at=[4.0, 0.0], **base)), IDENTITY) == pytest.approx(whole / 4, rel=2e-4)
    assert built_volume(only(columns(at=[4.0, 12.0], **base)), IDENTITY) == pytest.approx(whole / 4, rel=2e-4)


def test_round_column_under_the_relief_has_the_integrated_volume() -> None:
    """Independent route: chords of the circle times height times b / w^4, by Gauss-Legendre."""
    r, y0 = 12.5, 5000 / 24
    theta = (NODES + 1) * math.pi / 2
    y = y0 - r * np.cos(theta)
    integrand = 2 * r * np.sin(theta) * 280.0 * squash(RELIEF, y) * r * np.sin(theta)
    expected = float(WEIGHTS @ integrand) * math.pi / 2
    assert built_volume(only(columns()), RELIEF) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("legs", [True, False])
@pytest.mark.parametrize("spandrel", [True, False])
def test_arches_under_the_relief_have_the_integrated_volume(head: str, legs: bool, spandrel: bool) -> None:
    """Area of the section in the hall times the integral of b / w^4 over the depth, and under the identity times it."""
    solid = only(arches(head=head, legs=legs, spandrel=spandrel, span=4.0))
    points = np.vstack([curves.evaluate(c, np.linspace(0, 1, 500, endpoint=False)) for c in solid.levels[0].section])
    box = shapely.box(-HALL.width / 2, HALL.floor, HALL.width / 2, HALL.floor + HALL.height)
    area = shapely.intersection(shapely.Polygon(points), box).area
    y0, y1 = solid.levels[0].at, solid.levels[1].at
    y = (y0 + y1) / 2 + NODES * (y1 - y0) / 2
    depth = float(WEIGHTS @ squash(RELIEF, y)) * (y1 - y0) / 2
    assert built_volume(solid, RELIEF) == pytest.approx(area * depth, rel=2e-4)
    assert built_volume(solid, IDENTITY) == pytest.approx(area * (y1 - y0), rel=2e-4)


def test_skin_points_go_back_to_the_imagined_cylinder() -> None:
    """Every vertex lies on the circle of its level, every chord's middle within the tolerance as built."""
    solid = only(columns())
    matrix = placement(solid, RELIEF)
    (ring, _) = rings(solid, matrix, 0.02)
    axis = np.array([1000 / 24, 5000 / 24])
    assert np.linalg.norm(ring - axis, axis=1) == pytest.approx(np.full(len(ring), 12.5), abs=1e-9)
    angles = np.arctan2(ring[:, 1] - axis[1], ring[:, 0] - axis[0])
    middles = angles + (np.roll(angles, -1) - angles) % (2 * math.pi) / 2
    arc = axis + 12.5 * np.column_stack([np.cos(middles), np.sin(middles)])

    def built(plan: np.ndarray) -> np.ndarray:
        return RELIEF.build_points(np.column_stack([plan, np.full(len(plan), 100.0)]))[:, :2]

    a, b, m = built(ring), built(np.roll(ring, -1, axis=0)), built(arc)
    way = b - a
    strays = np.abs(way[:, 0] * (m - a)[:, 1] - way[:, 1] * (m - a)[:, 0]) / np.linalg.norm(way, axis=1)
    assert 0.005 < strays.max() <= 0.0205


def test_body_stands_off_every_host_by_the_play() -> None:
    """No vertex is nearer to a built host than `fit`, and some are exactly that near."""
    solid = only(columns(at=[4.0, 5.0], engaged=True, base=0.4, capital=0.4))
    matrix = placement(solid, RELIEF)
    body = built_body(solid, rings(solid, matrix, 0.02), HALL, matrix, 0.15)
    points = np.array(body.to_mesh64().vert_properties[:, :3])
    planes = placed_planes(HALL, matrix)
    for host in solid.contacts:
        assert (points @ planes[host][:3] + planes[host][3]).min() == pytest.approx(0.15, abs=1e-9)


def test_built_planes_are_those_of_the_relief() -> None:
    """A level floor h below the eye rises with rake h / V (derived); the ceiling falls likewise."""
    planes = placed_planes(HALL, RELIEF.built_from_imagined)
    v = RELIEF.vanishing_depth
    assert v is not None
    floor, ceiling = planes["floor"], planes["ceiling"]
    assert -floor[1] / floor[2] == pytest.approx((120.0 - 3.0) / v, rel=1e-12)
    assert -ceiling[1] / ceiling[2] == pytest.approx((120.0 - 283.0) / v, rel=1e-12)


def test_solid_before_the_aprons_end_is_built_true() -> None:
    """On the apron built and imagined agree point by point."""
    relief = Relief(eye=(0, -400, 100), apron=60, apparent_depth=500, built_depth=200)
    solid = only(arches(at=0.2, depth=0.8))
    assert np.array_equal(placement(solid, relief), np.eye(4))
    behind = only(arches(at=2.0, depth=0.8))
    assert np.array_equal(placement(behind, relief), relief.built_from_imagined)


def test_imagined_skin_is_closed_and_has_the_imagined_volume() -> None:
    """Clipped to the hall: half a cylinder, closed and outward."""
    solid = only(columns(at=[4.0, 5.0], engaged=True))
    skin = imagined_skin(solid, HALL, placement(solid, RELIEF), 0.02)
    assert signed_volume(skin) == pytest.approx(math.pi * 12.5**2 * 140, rel=2e-3)
    assert body_of(skin).genus() == 0
    assert frames.apply(np.eye(4), skin.vertices).max(axis=0) == pytest.approx([170, 5000 / 24 + 12.5, 283], abs=1e-9)


def test_the_imagined_skin_knows_nothing_of_the_eye() -> None:
    """Behind the apron's end w >= 1, so that facets fine enough in the imagined room serve every eye."""
    solid, kept = only(columns(at=[4.0, 5.0], engaged=True)), Kept()
    other = Relief(eye=(25, -300, 60), apron=0, apparent_depth=500, built_depth=120)
    skins = [imagined_skin(solid, HALL, placement(solid, relief), 0.02, kept) for relief in (RELIEF, other)]
    assert skins[0] is skins[1]
    assert imagined_skin(solid, HALL, placement(solid, other), 0.01, kept) is not skins[0]


def test_grooves_take_their_volume_out_of_front_and_soffit() -> None:
    """One stone's joints on a lintel: four boxes, two of them crossing; counted by hand under the identity."""
    plain = only(arches(head="flat", span=4.0, legs=False))
    cut = only(arches(head="flat", span=4.0, legs=False, voussoirs=3))
    j, t, d = 20 / 24, 350 / 24, 1000 / 24
    each = j * j * t + j * j * d - j**3
    assert built_volume(plain, IDENTITY) - built_volume(cut, IDENTITY) == pytest.approx(2 * each, rel=1e-9)
