"""Guides on a built face: none closer than allowed, nothing else touched, carried to the panel point for point."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.elements.covers import PATTERNS, CoverTable, lay_cover
from pipeline.elements.covers.table import Pattern
from pipeline.elements.hall_shape import Hall
from pipeline.elements.surfaces import Family
from pipeline.geometry import frames
from pipeline.geometry.curves import polygon
from pipeline.geometry.regions import Region, loop_of
from pipeline.parts.guides import carry, clip_families, split_families, thin
from pipeline.parts.model import Leaf
from pipeline.relief.collineation import Relief
from tests.covers import wall

Array = NDArray[np.float64]

HALL = Hall(scale=48.0, width=170.0, height=140.0, depth=250.0, floor=3.0, apron=0.0, front=0.0)
RELIEF = Relief(eye=(0.0, -420.0, 78.0), apron=0.0, apparent_depth=250.0, built_depth=80.0)


def on_host(host: str, relief: Relief = RELIEF) -> Callable[[Array], Array]:
    """Return the map from host coordinates to built points."""
    matrix = HALL.imagined_from_host(host)
    return lambda points_host: relief.build_points(frames.apply(matrix, points_host))


def lay(host: str, table: CoverTable) -> list[Family]:
    return lay_cover(table, HALL.scale, *HALL.size(host), level=host in ("floor", "ceiling"))


def build(lines_host: Array, host: str, relief: Relief = RELIEF) -> Array:
    return on_host(host, relief)(lines_host.reshape(-1, 2)).reshape(-1, 2, 3)


def flat_on(lines_built: Array) -> Array:
    """Return built lines of one flat face in two coordinates of its plane, true to length, by their own spread."""
    points = lines_built.reshape(-1, 3)
    _, _, axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    flat: Array = (points - points.mean(axis=0)) @ axes[:2].T
    return flat.reshape(-1, 2, 2)


def least_distance(lines_built: Array) -> float:
    """Return the least distance of two lines that do not run on into one another, measured by shapely."""
    flat = flat_on(lines_built)
    segments = shapely.linestrings(flat)
    tree = shapely.STRtree(segments)
    first, second = tree.query(segments, predicate="dwithin", distance=2.0)
    ways = flat[:, 1] - flat[:, 0]
    normals = np.column_stack([-ways[:, 1], ways[:, 0]]) / np.linalg.norm(ways, axis=1)[:, None]
    away = np.abs(np.einsum("nkd,nd->nk", flat[second] - flat[first, :1], normals[first])).max(axis=1)
    apart = (away > 1e-6) & (first < second)
    distances = shapely.distance(segments[first[apart]], segments[second[apart]])
    return float(distances.min()) if len(distances) else np.inf


HOSTS = st.sampled_from(["left-wall", "right-wall", "back-wall", "floor", "ceiling"])
RELIEFS = st.builds(
    lambda right, distance, height, built: Relief(
        eye=(right, -distance, height), apron=0.0, apparent_depth=250.0, built_depth=built
    ),
    st.floats(-60, 60),
    st.floats(80, 1500),
    st.floats(10, 130),
    st.floats(20, 240),
)
COURSED = sorted(set(PATTERNS) - {"herringbone"})


@settings(deadline=None)
@given(host=HOSTS, relief=RELIEFS, pattern=st.sampled_from(COURSED), least=st.floats(0.2, 6.0))
def test_no_two_guides_of_a_family_are_kept_closer_than_allowed(
    host: str, relief: Relief, pattern: Pattern, least: float
) -> None:
    """Perpends of one course with one another, beds with beds: the distance on the built face, by shapely."""
    table = CoverTable(pattern=pattern, length=0.43, width=0.21, height=0.19)
    for family in lay(host, table):
        kept, _ = thin([family], on_host(host, relief), least)
        if family.course is None:
            rows = [np.ones(len(kept), dtype=bool)]
        else:
            # One course at a time: ends of perpends in courses over one another do not lie side by side.
            feet = np.round(kept[:, 0] @ family.course, 6)
            rows = [feet == foot for foot in np.unique(feet)]
        for row in rows:
            if row.sum() > 1:
                assert least_distance(build(kept[row], host, relief)) >= least - 1e-9


@pytest.mark.parametrize("host", ["left-wall", "floor", "back-wall"])
@pytest.mark.parametrize("least", [1.8, 2.5])
def test_herringbone_joints_side_by_side_keep_their_distance(host: str, least: float) -> None:
    """Joints that run beside one another; those that end on one another's line do not."""
    for family in lay(host, CoverTable(pattern="herringbone", length=0.3, width=0.1)):
        kept, _ = thin([family], on_host(host), least)
        assert 10 < len(kept) < len(family.lines)
        unit = family.lines[0, 1] - family.lines[0, 0]
        unit /= np.linalg.norm(unit)
        spans = np.sort(kept @ unit, axis=1)
        places = kept[:, 0] @ [-unit[1], unit[0]]
        beside = np.minimum.outer(spans[:, 1], spans[:, 1]) - np.maximum.outer(spans[:, 0], spans[:, 0]) > 1e-6
        first, second = np.nonzero(np.triu(beside & (np.abs(np.subtract.outer(places, places)) > 1e-6), 1))
        segments = shapely.linestrings(flat_on(build(kept, host)))
        assert shapely.distance(segments[first], segments[second]).min() >= least - 1e-9


@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("host", ["left-wall", "right-wall", "back-wall", "floor"])
def test_what_is_not_too_fine_comes_back_bit_for_bit(pattern: Pattern, host: str) -> None:
    """A least distance below every spacing changes nothing and reports nothing."""
    families = lay(host, CoverTable(pattern=pattern))
    lines, thinning = thin(families, on_host(host), 1e-3)
    np.testing.assert_array_equal(lines, wall.all_lines(families))
    assert (thinning.dropped, thinning.shortened, thinning.begins) == (0, 0, None)


def test_a_back_wall_keeps_every_second_bed_when_one_gauge_is_too_fine() -> None:
    """Built gauge = g s, s = (D + d) / (D + L) (Burmester 1883): just below the least, every second bed goes."""
    scale = (420 + 80) / (420 + 250)
    beds = lay("back-wall", CoverTable())[0]
    built_gauge = 75 / 48 * scale
    for least, every in (
        (built_gauge * (1 - 1e-9), 1),
        (built_gauge * (1 + 1e-9), 2),
        (built_gauge * (2 - 1e-9), 2),
        (built_gauge * (2 + 1e-9), 4),
        (built_gauge * (4 + 1e-9), 8),
    ):
        kept, thinning = thin([beds], on_host("back-wall"), least)
        np.testing.assert_array_equal(kept, beds.lines[beds.numbers % every == 0])
        assert thinning.dropped == len(beds.lines) - len(kept)
        assert thinning.begins == (None if every == 1 else pytest.approx(80, abs=1e-9))


def test_a_bed_stops_where_its_neighbour_is_just_far_enough() -> None:
    """On a side wall beds run to the vanishing point; each odd one ends at the least distance from the nearer other."""
    beds = lay("left-wall", CoverTable())[0]
    kept, thinning = thin([beds], on_host("left-wall"), 1.3)
    whole, built = build(beds.lines, "left-wall"), build(kept, "left-wall")
    stopped = kept[:, 1, 0] < HALL.depth
    assert thinning.shortened == stopped.sum() > 10
    assert (beds.numbers[stopped] % 2 == 1).all()
    for number in np.flatnonzero(stopped):
        distances = []
        for other in (number - 1, number + 1):
            if 0 <= other < len(whole):
                way = whole[other, 1] - whole[other, 0]
                distances.append(
                    np.linalg.norm(np.cross(built[number, 1] - whole[other, 0], way)) / np.linalg.norm(way)
                )
        if 0 < number < len(whole) - 1:
            assert min(distances) == pytest.approx(1.3, abs=1e-9)
    assert thinning.begins == pytest.approx(built[stopped, 1, 1].min(), abs=1e-12)
    np.testing.assert_array_equal(kept[~stopped], beds.lines[~stopped])
    assert (kept[:, 0] == beds.lines[:, 0]).all()


def test_an_upright_joint_goes_where_the_next_one_inward_is_too_near() -> None:
    """Uprights at y are built at b y / (1 + a y), on a raked wall: kept while the way to the next is enough."""
    uprights = lay("left-wall", CoverTable(pattern="stack", height=2.0))[1]
    least = 1.2
    kept, thinning = thin([uprights], on_host("left-wall"), least)

    def along(y: Array) -> Array:
        # The wall x = -85 is built as a plane through x' = ex + (x - ex) / w: its run in (x, y) is straight.
        w = 1 + RELIEF.a * y
        return np.hypot(RELIEF.b * y / w, -85 / w + 85)

    places = uprights.lines[:, 0, 0]
    expected = np.zeros(len(places), dtype=bool)
    for row, (place, number) in enumerate(zip(places, uprights.numbers, strict=True)):
        rank = int(number & -number)
        expected[row] = along(place + rank * uprights.step[0]) - along(place) >= least
    assert 0 < expected.sum() < len(expected)
    np.testing.assert_array_equal(kept, uprights.lines[expected])
    first_gone = places[~expected].min()
    assert thinning.begins == pytest.approx(RELIEF.built_y(first_gone), abs=1e-12)
    assert thinning.dropped == (~expected).sum()


def test_perpends_go_with_the_height_of_their_course() -> None:
    """Where beds are too close for a course to be drawn, its perpends would be dots: they go, long units or not."""
    families = lay("back-wall", CoverTable(length=2.0, height=0.01, joint=0.002))
    beds, *perpends = families
    lines, thinning = thin(families, on_host("back-wall"), 0.4)
    assert len(lines) == (beds.numbers % 4 == 0).sum()
    assert thinning.dropped == sum(len(family.lines) for family in families) - len(lines)
    # The same perpends without their course are wide enough apart.
    alone, _ = thin([replace(family, course=None) for family in perpends], on_host("back-wall"), 0.4)
    assert len(alone) == sum(len(family.lines) for family in perpends)


def test_perpends_stay_or_go_whole() -> None:
    """Joints between flags that run into the depth are not cut short within their row."""
    families = lay("floor", CoverTable(pattern="flags", length=0.3, width=0.5))
    lines, thinning = thin(families, on_host("floor"), 4.0)
    given = {line.tobytes() for line in wall.all_lines(families)}
    across = lines[lines[:, 0, 0] == lines[:, 1, 0]]
    assert 0 < len(across) < sum(len(family.lines) for family in families[1:])
    assert all(line.tobytes() in given for line in across)
    assert thinning.shortened == 0


def test_number_nought_is_even_for_ever() -> None:
    """The line everything is counted from stays, however fine the rest."""
    numbers = np.arange(-8, 9)
    lines = np.stack([np.column_stack([numbers * 0.1 + 50, np.full(17, y)]) for y in (1.0, 9.0)], axis=1)
    family = Family(lines=lines, numbers=numbers, step=np.array([0.1, 0.0]))
    kept, _ = thin([family], on_host("back-wall"), 1000.0)
    np.testing.assert_array_equal(kept, lines[[8]])


def test_no_families_give_no_lines() -> None:
    """A face without a cover."""
    lines, thinning = thin([], on_host("floor"), 0.4)
    assert lines.shape == (0, 2, 2)
    assert thinning.begins is None


def test_an_english_wall_drops_closers_first_and_all_at_once() -> None:
    """The joint beside the quoin header stands half a header from the next; it goes when that is too close."""
    families = lay("back-wall", CoverTable(pattern="english"))
    scale = (420 + 80) / (420 + 250)
    half_header = 56.25 / 48 * scale
    quoins = families[2]
    assert len(thin([quoins], on_host("back-wall"), half_header * (1 - 1e-9))[0]) == len(quoins.lines) > 20
    assert len(thin([quoins], on_host("back-wall"), half_header * (1 + 1e-9))[0]) == 0


def test_clipped_families_keep_their_numbers() -> None:
    """A piece counts as the line it came from."""
    (u, v) = HALL.size("left-wall")
    hole = polygon([[40, 20], [40, 60], [90, 60], [90, 20]])
    outline = polygon(np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [u, v])
    families = lay("left-wall", CoverTable())
    for before, after in zip(
        families, clip_families(families, Region(loop_of(outline), (loop_of(hole),))), strict=True
    ):
        place = {int(n): line[0] @ before.step for n, line in zip(before.numbers, before.lines, strict=True)}
        assert len(after.lines) > 0
        for number, line in zip(after.numbers, after.lines, strict=True):
            assert line[0] @ before.step == pytest.approx(place[int(number)], abs=1e-9)


APRON = 30.0
FOLDED = Relief(eye=(5.0, -420.0, 78.0), apron=APRON, apparent_depth=250.0, built_depth=80.0)


def test_lines_are_parted_at_the_apron_and_nowhere_else() -> None:
    """Every piece lies on one side; ends that meet at the fold are the same point; the length is kept."""
    families = lay("left-wall", CoverTable())
    parted = split_families(families, HALL.imagined_from_host("left-wall"), APRON)
    beds, split = families[0].lines, parted[0].lines
    assert len(split) == 2 * len(beds)
    np.testing.assert_array_equal(split[0::2, 1], split[1::2, 0])
    np.testing.assert_allclose(split[0::2, 1, 0], APRON, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(split[0::2, 0], beds[:, 0])
    np.testing.assert_array_equal(split[1::2, 1], beds[:, 1])
    np.testing.assert_array_equal(parted[0].numbers, np.repeat(families[0].numbers, 2))
    for before, after in zip(families[1:], parted[1:], strict=True):
        np.testing.assert_array_equal(before.lines, after.lines)


def test_on_the_apron_the_spacing_is_the_true_one() -> None:
    """Before the fold nothing shrinks: a least distance between the two scales thins only behind it."""
    families = split_families(lay("left-wall", CoverTable()), HALL.imagined_from_host("left-wall"), APRON)
    gauge = 75 / 48
    lines, thinning = thin(families[:1], on_host("left-wall", FOLDED), gauge * 0.999)
    before = families[0].lines[families[0].lines[:, 1, 0] <= APRON + 1e-9]
    kept_before = lines[lines[:, 1, 0] <= APRON + 1e-9]
    np.testing.assert_array_equal(kept_before, before)
    assert thinning.begins is not None
    assert APRON <= thinning.begins < APRON + 5


def leaf(flat_from_host: Array, near: float, far: float) -> Leaf:
    return Leaf(flat_from_host=flat_from_host, built_from_flat=np.eye(4), near=near, far=far)


def test_guides_are_carried_leaf_by_leaf_and_stay_paired_with_their_host_lines() -> None:
    """Each leaf's own homography for what lies on it; lines over the fold are parted on it."""
    near = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    # Agrees with ``near`` on the fold u = 30 and shrinks behind it.
    far = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.01, 0.0, 0.7]])
    leaves = (leaf(near, 0.0, APRON), leaf(far, APRON, 250.0))
    lines = np.array([[[0, 10], [250, 12]], [[5, 1], [25, 8]], [[40, 1], [35, 8]], [[200, 9], [10, 4]]], dtype=float)
    flat, host = carry(lines, HALL.imagined_from_host("left-wall"), leaves)
    assert len(flat) == len(host) == 6
    for flat_line, host_line in zip(flat, host, strict=True):
        matrix = near if host_line[:, 0].mean() < APRON else far
        homogeneous = np.column_stack([host_line, [1, 1]]) @ matrix.T
        np.testing.assert_allclose(flat_line, homogeneous[:, :2] / homogeneous[:, 2:], rtol=0, atol=1e-12)
        assert host_line[:, 0].min() >= APRON - 1e-12 or host_line[:, 0].max() <= APRON + 1e-12
    lengths = np.linalg.norm(host[:, 1] - host[:, 0], axis=1).sum()
    assert lengths == pytest.approx(np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum(), rel=1e-12)


def test_one_leaf_carries_every_line_as_it_is() -> None:
    """Without an apron there is no fold, and host lines come back untouched."""
    lines = wall.all_lines(lay("back-wall", CoverTable()))
    flat, host = carry(lines, HALL.imagined_from_host("back-wall"), (leaf(np.diag([0.7, 0.7, 1.0]), 0.0, 250.0),))
    np.testing.assert_array_equal(host, lines)
    np.testing.assert_allclose(flat, 0.7 * lines, rtol=0, atol=1e-12)
