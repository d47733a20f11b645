"""A face full of holes, cut into triangles band by band."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from pipeline.checks.print_closed import check_closed, tunnels
from pipeline.checks.written import read_stl
from pipeline.geometry.meshes import weld
from pipeline.parts.banding import crossed, triangulate_bands
from tests.brick_relief.rooms import DOOR_AND_WINDOW, made, raised_print, text
from tests.scene_text import changed

RIM = [
    np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 0.6], [7.0, 0.6], [7.0, 2.6], [9.0, 2.6], [9.0, 6.0], [0.0, 6.0]]),
    np.array([[3.3, 2.2], [3.3, 4.4], [5.7, 4.4], [5.7, 2.2]]),
]
"""A notch on the right, and an opening in the middle, clockwise."""
CUTS = np.array([[[-1.0, k], [10.0, k]] for k in (1.0, 2.0, 3.0, 5.0)])


def holes() -> list[np.ndarray[tuple[int, ...], np.dtype[np.float64]]]:
    """Return small squares, clockwise, on either side of every cut and clear of the rim."""
    square = np.array([[0.1, 0.1], [0.1, 0.4], [0.4, 0.4], [0.4, 0.1]])
    places = [(x, y) for x in np.arange(0.0, 9.0, 0.5) for y in np.arange(0.0, 6.0, 0.5)]
    face = shapely.Polygon(RIM[0], RIM[1:])
    return [square + place for place in places if shapely.contains_properly(face, shapely.Polygon(square + place))]


def test_the_triangles_fill_the_face_and_leave_the_holes() -> None:
    """Areas add up; no edge is met twice the same way, and those met once are the rim and the holes."""
    front, _, cuts = crossed(RIM, RIM, CUTS)
    left_out = holes()
    triangles = triangulate_bands(front, cuts, left_out)
    points = np.concatenate([*front, *left_out])
    a, b, c = (points[triangles[:, k]] for k in range(3))
    areas = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert areas.min() > 0
    assert areas.sum() == pytest.approx(9 * 6 - 2 * 2 - 2.4 * 2.2 - 0.09 * len(left_out), abs=1e-12)
    half = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    keys = {(int(i), int(j)) for i, j in half}
    assert len(keys) == len(half)
    assert sum((j, i) not in keys for i, j in keys) == len(points)


def test_cuts_run_inside_the_face_from_rim_to_rim() -> None:
    """At height 1 from side to notch, at 3 round the opening, at 5 right across; both rims get the points."""
    front, back, cuts = crossed(RIM, [loop + 0.25 for loop in RIM], CUTS)
    spans = sorted((cut[0, 1], cut[0, 0], cut[1, 0]) for cut in cuts.tolist() for cut in [np.array(cut)])
    expected = [(1.0, 0.0, 7.0), (2.0, 0.0, 7.0), (3.0, 0.0, 3.3), (3.0, 5.7, 9.0), (5.0, 0.0, 9.0)]
    np.testing.assert_allclose(spans, expected, rtol=0, atol=1e-12)
    assert [len(loop) for loop in front] == [8 + 8, 4 + 2]
    for ours, theirs in zip(front, back, strict=True):
        np.testing.assert_allclose(theirs, ours + 0.25, rtol=0, atol=1e-12)


def test_a_line_through_a_corner_is_no_cut() -> None:
    """It would leave an edge of rounding's length."""
    _, _, cuts = crossed(RIM, RIM, np.array([[[-1.0, 0.6], [10.0, 0.6]]]))
    assert cuts.shape == (0, 2, 2)


@pytest.mark.parametrize("pattern", ["running", "herringbone", "planks"])
def test_thousands_of_units_are_one_closed_body(pattern: str) -> None:
    """The written file, welded, on a wall with a notch and a window; herringbone has no beds to be cut along."""
    scene = text("left", pattern=pattern, more=DOOR_AND_WINDOW)
    for old, new in (("0.90", "0.30"), ("0.44", "0.14"), ("0.40", "0.13")):
        scene = changed(scene, f"= {old}", f"= {new}")
    evidence = made(scene)
    stl = evidence.files[evidence.entries["left-wall"]["files"]["stl"]]
    [finding] = check_closed("left-wall", stl)
    assert finding.status == "pass", finding.message
    assert tunnels(weld(read_stl(stl)), 1) == 1
    assert raised_print(evidence, "left-wall")[1].units > 1000
