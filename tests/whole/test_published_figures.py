"""Published figures through the public path: scene in, written files read back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import Build, build_scene
from pipeline.checks.written import WrittenDrawing, read_dxf

Array = NDArray[np.float64]

THIN = """
format = 1
[box]
width = {width}
height = {height}
depth = {depth}
clearance = 0
[eye]
distance = {distance}
height = {eye}
[space]
scale = {scale}
depth = "{apparent} mm"
built_depth = {built}
[materials.card]
thickness = 0.001
process = "knife"
sheet = [3000, 3000]
{more}
"""
"""A box of sheet so thin that the hall is the box: its figures are then the published ones."""


def build(
    more: str = "", *, scale: float = 1, distance: float = 1000, apparent: float = 300, built: float = 100
) -> Build:
    text = THIN.format(
        width=400.002,
        height=300.002,
        depth=built + 1,
        eye=150.001,
        scale=scale,
        distance=distance,
        apparent=apparent * scale,
        built=built,
        more=more,
    )
    return build_scene(text.encode(), "published")


def drawing(made: Build, part: str) -> WrittenDrawing:
    return read_dxf(made.files[f"panels/{part}.dxf"])


def placed(made: Build, part: str, points_flat: Array) -> Array:
    entry = next(p for p in made.manifest["parts"] if p["id"] == part)
    matrix = np.array(entry["built_from_flat"])
    out: Array = points_flat @ matrix[:3, :2].T + matrix[:3, 3]
    return out


@pytest.mark.parametrize(
    ("distance", "apparent", "built", "vanishing", "scale", "half"),
    [(1000, 300, 100, 650.0, 0.84615, 54.167), (500, 600, 150, 366.667, 0.59091, 94.286)],
)
def test_relief_figures_of_the_harmonic_law(
    distance: float, apparent: float, built: float, vanishing: float, scale: float, half: float
) -> None:
    """Derived by the matrix and by the harmonic law: the manifest's figures, and a plank joint at half the depth."""
    more = f"""
[floor]
cover = "halves"
[covers.halves]
pattern = "planks"
across = true
width = "{apparent / 2} mm"
length = "4000 mm"
joint = 0
"""
    made = build(more, distance=distance, apparent=apparent, built=built)
    relief = made.manifest["relief"]
    assert relief["vanishing_depth"] == pytest.approx(vanishing, abs=5e-4)
    assert relief["back_scale"] == pytest.approx(scale, abs=5e-6)
    lines = placed(made, "floor", drawing(made, "floor").layers["GUIDE"].lines.reshape(-1, 2)).reshape(-1, 2, 3)
    assert lines[:, :, 1].min() == pytest.approx(half, abs=5e-4)
    rake = math.atan(150 / vanishing)
    floor = np.array(next(p for p in made.manifest["parts"] if p["id"] == "floor")["built_from_flat"])
    assert math.atan2(floor[2, 1], floor[1, 1]) == pytest.approx(rake, abs=1e-6)


BRICK = """
[back]
cover = "brick"
[covers.brick]
pattern = "running"
length = {length}
height = {height}
width = {width}
joint = {joint}
"""


@pytest.mark.parametrize(
    ("height", "joint", "courses", "rise"),
    [
        (0.065, 0.010, 4, 300.0),  # BS EN 771-1 / BS 4729: four courses of the UK brick are 300 mm
        (0.071, 0.012, 12, 996.0),  # DIN 4172: NF, 12 courses a metre (12 x 83.33), bed joints 12
        (0.113, 0.012, 8, 1000.0),  # DIN 4172: 2DF, 8 courses a metre
    ],
)
def test_courses_rise_as_published(height: float, joint: float, courses: int, rise: float) -> None:
    """Bed joints of the written back wall, taken back by the back scale and 1:10, are whole gauges apart."""
    more = BRICK.format(length=0.215, height=height, width=0.1025, joint=joint)
    made = build(more, scale=10)
    lines = drawing(made, "back-wall").layers["GUIDE"].lines
    level = lines[np.abs(lines[:, 0, 1] - lines[:, 1, 1]) < 1e-5]
    beds = np.unique(np.round(level[:, 0, 1], 4))
    back_scale = made.manifest["relief"]["back_scale"]
    found = beds[courses - 1 :] - np.concatenate([[-joint * 50 * back_scale], beds])[: len(beds) - courses + 1]
    metres = found[:3] / back_scale * 10
    assert metres == pytest.approx(np.full(3, rise), abs=0.05)


def test_stretchers_coordinate_at_225() -> None:
    """MasonryFirst TIS 9, rule 225 n: perpends of one course are a brick and a joint apart."""
    made = build(BRICK.format(length=0.215, height=0.065, width=0.1025, joint=0.010), scale=10)
    lines = drawing(made, "back-wall").layers["GUIDE"].lines
    upright = lines[np.abs(lines[:, 0, 0] - lines[:, 1, 0]) < 1e-5]
    first = upright[np.abs(upright[:, :, 1].min(axis=1) - upright[:, :, 1].min()) < 1e-4]
    steps = np.diff(np.sort(first[:, 0, 0])) / made.manifest["relief"]["back_scale"] * 10
    assert steps == pytest.approx(np.full(len(steps), 225.0), abs=0.05)


@pytest.mark.parametrize(
    ("span", "rise", "radius"),
    [
        (2.4, 0.6, 1.5),  # derived: R = s^2 / (8 h) + h / 2
        (0.96, 0.12, 1.02),  # published: 96 x 12 -> 102
        (0.96, 0.24, 0.60),  # published: 96 x 24 -> 60
    ],
)
def test_segmental_heads_have_the_published_radius(span: float, rise: float, radius: float) -> None:
    """The back wall keeps shapes: the bulges of its DXF are arcs of the published radius at the back scale, 1:10."""
    more = f"""
[[openings]]
name = "hole"
wall = "back"
at = 2.0
width = {span}
sill = 0.3
height = {rise + 1.0}
head = "segmental"
rise = {rise}
"""
    made = build(more, scale=10)
    (hole,) = drawing(made, "back-wall").layers["HOLES"].polylines
    points, bulges = hole.points[:, :2], hole.points[:, 2]
    chords = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    bent = bulges != 0
    assert bent.any()
    radii = chords[bent] / (2 * np.abs(np.sin(2 * np.arctan(bulges[bent]))))
    size = radii / made.manifest["relief"]["back_scale"] / 100
    assert size == pytest.approx(np.full(bent.sum(), radius), rel=1e-5)


def test_a_quarter_circle_is_written_with_the_published_weight() -> None:
    """Piegl and Tiller: the middle weight of a quarter circle is sqrt(2) / 2; the similar back wall keeps it."""
    more = """
[make]
curves = "splines"
[[openings]]
name = "hole"
wall = "back"
at = 2.0
width = 1.0
sill = 0.5
height = 1.5
head = "round"
"""
    (spline,) = drawing(build(more, scale=10), "back-wall").layers["HOLES"].splines
    inner = spline.weights[np.abs(spline.weights - 1) > 1e-6]
    assert inner == pytest.approx(np.full(len(inner), math.sqrt(2) / 2), abs=1e-9)
    assert len(inner) == 2
