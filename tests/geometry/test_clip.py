"""Clipping of lines and points to exact regions: closed forms, collineations, and shapely on fine polygons."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.geometry import curves, frames
from pipeline.geometry.clip import clip_lines, contains
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.regions import Region, loop_of, path_of

Array = NDArray[np.float64]

FINE = 1e-5
"""mm; how far the polygons that shapely sees may lie from the exact curves."""


def rectangle(left: float, low: float, right: float, high: float) -> Path:
    return curves.polygon([[left, low], [right, low], [right, high], [left, high]])


def circle(x: float, y: float, radius: float) -> Path:
    return curves.arc([x, y], radius, 0.0, 2 * math.pi)


def doorway(x: float, half: float, springing: float) -> Path:
    """A round-headed notch of the lower edge y = 0, counter-clockwise."""
    return (
        curves.line([x - half, 0], [x + half, 0]),
        curves.line([x + half, 0], [x + half, springing]),
        *curves.arc([x, springing], half, 0.0, math.pi),
        curves.line([x - half, springing], [x - half, 0]),
    )


def region(outline: Path, *holes: Path) -> Region:
    return Region(loop_of(outline), tuple(loop_of(curves.reverse_path(hole)) for hole in holes))


def level(y: float, left: float = -100.0, right: float = 100.0) -> list[list[float]]:
    return [[left, y], [right, y]]


@pytest.mark.parametrize("y", [-6.9, -3.0, 0.0, 1e-9, 2.5, 6.999])
def test_chords_of_a_circle_are_as_long_as_pythagoras_says(y: float) -> None:
    """2 sqrt(r^2 - y^2), middles on the diameter."""
    lines, source = clip_lines([level(y)], region(circle(3, 0, 7)))
    half = math.sqrt(49 - y * y)
    expected = np.array([[[3 - half, y], [3 + half, y]]])
    np.testing.assert_allclose(lines, expected, rtol=0, atol=float(1e-12 / half))
    assert list(source) == [0]


def test_a_line_that_misses_or_touches_a_circle_gives_nothing() -> None:
    """Beyond the radius there is no chord; at it the chord has no length."""
    assert len(clip_lines([level(7.0), level(7.1), level(-7.0)], region(circle(3, 0, 7)))[0]) == 0


def test_a_wall_with_an_arched_hole_is_clipped_at_jambs_and_head() -> None:
    """Below the springing the jambs cut, above it the circle, over the crown nothing."""
    wall = region(rectangle(0, -10, 40, 30), doorway(15, 4, 9))
    lines, source = clip_lines([level(5), level(11), level(13.5)], wall)
    head = math.sqrt(16 - 4)
    expected: list[list[list[float]]] = [
        [[0, 5], [11, 5]],
        [[19, 5], [40, 5]],
        [[0, 11], [15 - head, 11]],
        [[15 + head, 11], [40, 11]],
        [[0, 13.5], [40, 13.5]],
    ]
    np.testing.assert_allclose(lines, np.array(expected), rtol=0, atol=1e-12)
    assert list(source) == [0, 0, 1, 1, 2]


def test_lines_inside_come_back_bit_for_bit_and_in_order() -> None:
    """Whole lines are not recomputed, nor turned round."""
    rng = np.random.default_rng(5)
    lines = rng.uniform(-1, 1, (200, 2, 2)) * math.pi
    kept, source = clip_lines(lines, region(circle(0, 0, 7)))
    np.testing.assert_array_equal(kept, lines)
    np.testing.assert_array_equal(source, np.arange(200))


def test_ends_inside_come_back_bit_for_bit() -> None:
    """Only the end that is cut moves."""
    start, end = [0.1, 0.2], [0.3, 50.7]
    ((first, second),), _ = clip_lines([[start, end]], region(circle(0, 0, 7)))
    assert first.tolist() == start
    ((second, last),), _ = clip_lines([[end, start]], region(circle(0, 0, 7)))
    assert last.tolist() == start
    assert np.linalg.norm(second) == pytest.approx(7, abs=1e-12)


def test_what_runs_along_an_edge_is_left_out_and_goes_on_behind_it() -> None:
    """The outline is already there; beyond the edge of a hole the same line is a guide again."""
    wall = region(rectangle(0, 0, 40, 30), rectangle(10, 10, 20, 20))
    along_the_outline = [[[0, 0], [40, 0]], [[40, 30], [0, 30]], [[40, 5], [40, 25]], [[0, 30], [0, 0]]]
    assert len(clip_lines(along_the_outline, wall)[0]) == 0
    for y in (10.0, 20.0, 10 + 1e-9, 20 - 1e-9):
        for line in (level(y), level(y)[::-1]):
            lines, _ = clip_lines([line], wall)
            reached = np.sort(lines[:, :, 0], axis=None)
            np.testing.assert_allclose(reached, [0, 10, 20, 40], rtol=0, atol=1e-12)


def test_a_line_through_corners_is_cut_like_its_neighbours() -> None:
    """A corner on the line counts for one side, so parity holds at every vertex of a star."""
    angles = np.arange(10) * math.pi / 5
    radii = np.where(np.arange(10) % 2, 3.0, 8.0)
    corners = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
    star = region(curves.polygon(corners))
    for corner in corners:
        line = np.array([[-30 * corner, 30 * corner]])
        lines, _ = clip_lines(line, star)
        length = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum()
        assert length == pytest.approx(8 + 3, abs=1e-9)


def test_excluded_borders_take_away_their_union() -> None:
    """Two overlapping circles and a ring: what lies in any of them goes, a ring's own hole stays."""
    wall = region(rectangle(-50, -10, 50, 10))
    ring = region(circle(30, 0, 6), circle(30, 0, 2))
    lines, _ = clip_lines([level(0)], wall, [circle(0, 0, 5), circle(4, 0, 5), ring])
    expected = [[-50, -5], [9, 24], [28, 32], [36, 50]]
    np.testing.assert_allclose(lines[:, :, 0], expected, rtol=0, atol=1e-12)


def test_touching_excluded_borders_leave_no_sliver() -> None:
    """Two boxes with a common edge leave nothing between them, and no piece is cut at a border inside another."""
    wall = region(rectangle(-50, -10, 50, 10))
    lines, _ = clip_lines([level(1)], wall, [rectangle(0, 0, 5, 5), rectangle(5, 0, 9, 5), rectangle(1, 0, 2, 5)])
    np.testing.assert_allclose(lines[:, :, 0], [[-50, 0], [9, 50]], rtol=0, atol=1e-12)


def test_nothing_in_nothing_out() -> None:
    """No line, or a line of no length, gives none."""
    for lines in (np.empty((0, 2, 2)), np.ones((3, 2, 2))):
        kept, source = clip_lines(lines, region(circle(0, 0, 7)))
        assert kept.shape == (0, 2, 2)
        assert source.shape == (0,)
    assert contains(region(circle(0, 0, 7)), np.empty((0, 2))).shape == (0,)


@st.composite
def star_loops(draw: st.DrawFn, least: float, most: float) -> Path:
    """A closed path round the origin: lines and conics of any weight, each inside its own sector."""
    count = draw(st.integers(5, 9))
    radius = st.floats(least, most)
    turned = draw(st.floats(0, 1))
    angles = (np.arange(count) + turned) * 2 * math.pi / count
    corners = [draw(radius) * np.array([math.cos(a), math.sin(a)]) for a in angles]
    loop = []
    for number, angle in enumerate(angles):
        start, end = corners[number], corners[(number + 1) % count]
        if draw(st.booleans()):
            middle = draw(radius) * np.array([math.cos(angle + math.pi / count), math.sin(angle + math.pi / count)])
            weight = draw(st.floats(0.2, 4.0))
            loop.append(Curve(np.array([[*start, 1.0], [*(weight * middle), weight], [*end, 1.0]])))
        else:
            loop.append(curves.line(start, end))
    return tuple(loop)


@st.composite
def regions(draw: st.DrawFn) -> Region:
    """A star-shaped region with a star-shaped hole."""
    return region(draw(star_loops(4.0, 10.0)), draw(star_loops(1.0, 3.0)))


SEEDS = st.integers(0, 2**32 - 1)


def flattened(shape: Region) -> shapely.Polygon:
    rings = [curves.flatten_path(path_of(loop), FINE) for loop in shape.loops]
    return shapely.Polygon(rings[0], rings[1:])


@settings(deadline=None)
@given(shape=regions(), seed=SEEDS)
def test_pieces_are_shapelys_but_for_the_polygons_own_error(shape: Region, seed: int) -> None:
    """Along each line both give the same intervals, save where the border is within the flattening's tolerance."""
    lines = np.random.default_rng(seed).uniform(-12, 12, (30, 2, 2))
    polygon = flattened(shape)
    kept, source = clip_lines(lines, shape)
    for number, line in enumerate(lines):
        way = line[1] - line[0]
        ours = ((kept[source == number] - line[0]) @ way / (way @ way)).reshape(-1)
        assert (np.diff(ours) >= 0).all()
        cut = shapely.get_coordinates(polygon.intersection(shapely.LineString(line)))
        theirs = (cut - line[0]) @ way / (way @ way)
        places = np.sort(np.concatenate([ours, theirs, [0.0, 1.0]]))
        at = ((places[1:] + places[:-1]) / 2)[np.diff(places) > 1e-12]
        middles = line[0] + at[:, None] * way
        in_ours = np.searchsorted(ours, at) % 2 == 1
        near_border = shapely.distance(polygon.boundary, shapely.points(middles)) <= 2 * FINE
        np.testing.assert_array_equal(in_ours | near_border, shapely.contains_xy(polygon, middles) | near_border)


@settings(deadline=None)
@given(shape=regions(), seed=SEEDS)
def test_points_inside_are_shapelys(shape: Region, seed: int) -> None:
    """Even-odd, but for points within the flattening's tolerance of the border."""
    points = np.random.default_rng(seed).uniform(-11, 11, (300, 2))
    polygon = flattened(shape)
    clear = shapely.distance(polygon.boundary, shapely.points(points)) > 2 * FINE
    inside = contains(shape, points)
    np.testing.assert_array_equal(inside[clear], shapely.contains_xy(polygon, points)[clear])


@settings(deadline=None)
@given(shape=regions(), seed=SEEDS)
def test_clipping_commutes_with_a_collineation(shape: Region, seed: int) -> None:
    """Lines and conics go through a collineation exactly, so clip-then-map is map-then-clip."""
    matrix = np.array([[1.0, 0.1, 2.0], [0.0, 0.8, -1.0], [0.004, 0.015, 1.0]])
    lines = np.random.default_rng(seed).uniform(-11, 11, (30, 2, 2))
    outline, *holes = (loop_of(curves.transform_path(path_of(loop), matrix)) for loop in shape.loops)
    mapped = Region(outline, tuple(holes))
    before, source = clip_lines(lines, shape)
    after, mapped_source = clip_lines(frames.apply(matrix, lines.reshape(-1, 2)).reshape(-1, 2, 2), mapped)
    expected = frames.apply(matrix, before.reshape(-1, 2)).reshape(-1, 2, 2)
    long = np.linalg.norm(expected[:, 1] - expected[:, 0], axis=1) > 1e-5
    mapped_long = np.linalg.norm(after[:, 1] - after[:, 0], axis=1) > 1e-5
    np.testing.assert_array_equal(mapped_source[mapped_long], source[long])
    np.testing.assert_allclose(after[mapped_long], expected[long], rtol=0, atol=1e-6)


@settings(deadline=None)
@given(shape=regions(), seed=SEEDS)
def test_pieces_and_what_is_left_of_a_line_make_the_line(shape: Region, seed: int) -> None:
    """Inside a region and outside it (the region excluded from a box) add up to the whole."""
    lines = np.random.default_rng(seed).uniform(-11, 11, (30, 2, 2))
    box = region(rectangle(-20, -20, 20, 20))
    inside, outside = clip_lines(lines, shape)[0], clip_lines(lines, box, [shape])[0]
    total = sum(np.linalg.norm(part[:, 1] - part[:, 0], axis=1).sum() for part in (inside, outside))
    assert total == pytest.approx(np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum(), abs=1e-4)


@settings(deadline=None)
@given(shape=regions(), seed=SEEDS)
def test_the_ends_of_pieces_lie_on_the_border_or_are_the_lines_own(shape: Region, seed: int) -> None:
    """Every cut is a point of the exact border: the polygon's, within its own tolerance."""
    lines = np.random.default_rng(seed).uniform(-12, 12, (30, 2, 2))
    kept, source = clip_lines(lines, shape)
    border = flattened(shape).boundary
    for end in (0, 1):
        own = (kept[:, end] == lines[source, end]).all(axis=1)
        assert (shapely.distance(border, shapely.points(kept[~own, end])) <= 2 * FINE).all()
