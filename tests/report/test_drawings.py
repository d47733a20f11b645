"""Plan and section: sizes, figures and lines read back from the SVG."""

import re
from collections.abc import Callable
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Ground, Hall
from pipeline.geometry.meshes import Mesh
from pipeline.relief.collineation import Relief
from pipeline.report import sections
from pipeline.report.draughting import width_of
from pipeline.report.drawing_layout import Box, Subject
from pipeline.report.drawings import plan_svg, section_svg

Array = NDArray[np.float64]

SVG = "{http://www.w3.org/2000/svg}"
RELIEF = Relief(eye=(0.0, -500.0, 70.0), apron=0.0, apparent_depth=600.0, built_depth=150.0)
"""The second row of the table of relief figures: V = 366.667, s = 0.59091 (derived there by two routes)."""
HALL = Hall(scale=50.0, width=200.0, height=140.0, depth=600.0, floor=5.0, apron=0.0, front=0.0)


def block(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    """A closed box, outward."""
    x, y, z = zip(low, high, strict=True)
    vertices = np.array([[a, b, c] for a in x for b in y for c in z])
    quads = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    triangles = [[q[i] for i in t] for q in quads for t in ([0, 1, 2], [0, 2, 3])]
    return Mesh(vertices=vertices, triangles=np.array(triangles))


def subject(relief: Relief = RELIEF, title: str = "Rain store") -> Subject:
    return Subject(
        title=title,
        box=Box(width=210, height=155, depth=160, back_gap=5),
        relief=relief,
        hall=replace(HALL, depth=relief.apparent_depth),
        panels=(block((-100, 0, 2), (100, 150, 5)), block((-103, 0, 2), (-100, 150, 145))),
        prints=(block((-20, 60, 5), (-5, 75, 145)),),
    )


def texts(svg: bytes) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def paths(svg: bytes, style: str) -> list[Array]:
    """Point lists of the paths of a style."""
    found = [e for e in ET.fromstring(svg).iter(f"{SVG}path") if e.get("class") == style]
    return [np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", e.get("d", "")), dtype=np.float64) for e in found]


FAR = Relief(eye=(0.0, -5000.0, 70.0), apron=0.0, apparent_depth=4000.0, built_depth=150.0)
FLAT = Relief(eye=(0.0, -500.0, 70.0), apron=0.0, apparent_depth=150.0, built_depth=150.0)
ASIDE = Relief(eye=(-40.0, -400.0, 90.0), apron=20.0, apparent_depth=220.0, built_depth=150.0)


@pytest.mark.parametrize("draw", [plan_svg, section_svg])
@pytest.mark.parametrize("relief", [RELIEF, FAR, FLAT, ASIDE], ids=["near", "far", "identity", "aside"])
def test_a_drawing_is_well_formed_and_says_its_size_in_mm(draw: object, relief: Relief) -> None:
    """Width in mm and viewBox bear the same numbers, and the sheet fits A3 (ISO 216: 420 x 297)."""
    assert callable(draw)
    root = ET.fromstring(draw(subject(relief)))
    box = [float(x) for x in root.get("viewBox", "").split()]
    assert root.get("width") == f"{box[2]:g}mm"
    assert root.get("height") == f"{box[3]:g}mm"
    assert box[:2] == [0, 0]
    assert box[2] <= 420
    assert box[3] <= 297


@pytest.mark.parametrize("draw", [plan_svg, section_svg])
@pytest.mark.parametrize("relief", [RELIEF, FAR, FLAT, ASIDE], ids=["near", "far", "identity", "aside"])
def test_everything_drawn_lies_on_the_sheet(draw: object, relief: Relief) -> None:
    """No line and no note runs off the paper."""
    assert callable(draw)
    svg = draw(subject(relief))
    root = ET.fromstring(svg)
    width, height = (float(x) for x in root.get("viewBox", "").split()[2:])
    for style in ("heavy", "line", "thin", "ray", "ghost", "axis", "beyond", "body"):
        for points in paths(svg, style):
            assert (points >= 0).all(), style
            assert (points <= [width, height]).all(), style
    for element in root.iter(f"{SVG}text"):
        if element.get("transform"):
            continue
        long = len(element.text or "") * float(element.get("font-size", "0")) * 0.5
        start = (
            float(element.get("x", "0"))
            - {"start": 0, "middle": long / 2, "end": long}[element.get("text-anchor", "start")]
        )
        assert start >= 0
        assert start + long <= width


def test_the_figures_of_the_relief_stand_on_the_drawings() -> None:
    """s = 0.59091 and V = 366.667 at D = 500, L = 600, d = 150: a 200 wide wall is built 118.2, a 140 high one 82.7."""
    plan, section = texts(plan_svg(subject())), texts(section_svg(subject()))
    both = ["eye distance 500.0", "apparent depth 600.0 (30.00 m)", "160.0", "150.0", "5.0"]
    for found, sizes in ((plan, ["210.0", "200.0", "118.2"]), (section, ["70.0", "155.0", "140.0", "82.7"])):
        for size in both + sizes:
            assert any(words.endswith(size) for words in found), size
        assert "to the vanishing point, 366.7 deep" in found


def test_the_rake_of_the_floor_stands_on_the_section() -> None:
    """A level floor h below the eye rises with rake h / V: atan(65 / 366.667) = 10.053 degrees, the ceiling 11.565."""
    words = texts(section_svg(subject()))
    assert "10.1\N{DEGREE SIGN}" in words
    assert "11.6\N{DEGREE SIGN}" in words


@pytest.mark.parametrize("draw", [plan_svg, section_svg])
def test_eye_built_and_imagined_corner_lie_on_one_drawn_line(draw: object) -> None:
    """The ray drawn to the built back corner runs on, dashed, to the imagined one."""
    assert callable(draw)
    svg = draw(subject())
    rays, ghosts = paths(svg, "ray")[:-1], paths(svg, "ghost")[:-1]  # without the samples of the legend
    eye = rays[0][0]
    assert all((ray[0] == eye).all() for ray in rays)
    back = [ray[1] for ray in rays if ray[1][0] == max(r[1][0] for r in rays)]
    assert len(back) == 2
    for corner in back:
        onward = next(ghost[1] for ghost in ghosts if (ghost[0] == corner).all())
        slopes = [(p[1] - eye[1]) / (p[0] - eye[0]) for p in (corner, onward)]
        assert slopes[0] == pytest.approx(slopes[1], abs=2e-4)  # two decimals of a mm on paper
        assert any((ghost[1] == onward).all() for ghost in ghosts if ghost[0][1] == ghost[1][1])


def test_a_sheet_is_cut_at_its_thickness() -> None:
    """On the plan the left wall, 3 mm thick and 150 deep, is hatched 3 x 150 mm at the scale."""
    svg = plan_svg(subject())
    heavy = paths(svg, "heavy")[0]
    scale = np.ptp(heavy[:, 0]) / 160
    wall = next(body for body in paths(svg, "body") if np.ptp(body[:, 0]) > 140 * scale)
    np.testing.assert_allclose([150 * scale, 3 * scale], np.ptp(wall, axis=0), atol=0.011)
    # The plan is seen from above with the viewer at the left: what is left for him lies up on paper.
    assert wall[:, 1].max() < heavy[:, 1].mean()


def test_a_title_cannot_break_the_file() -> None:
    """Markup in a title is text."""
    hostile = '</title><script>alert("x")</script>&'
    svg = plan_svg(subject(title=hostile))
    assert b"<script" not in svg
    assert hostile in texts(svg)


def test_a_broken_length_is_said() -> None:
    """An eye five metres away is not drawn to scale: zigzag lines, said in words."""
    assert any("Zigzag" in words for words in texts(plan_svg(subject(FAR))))
    assert not any("Zigzag" in words for words in texts(plan_svg(subject(FLAT))))


def test_drawings_are_the_same_bytes_twice() -> None:
    """Same input, same bytes."""
    assert plan_svg(subject()) == plan_svg(subject())
    assert section_svg(subject()) == section_svg(subject())


def area(loops: list[Array], right: int, up: int) -> float:
    """Area inside loops, holes counted off by their direction."""
    total = 0.0
    for loop in loops:
        x, y = loop[:, right], loop[:, up]
        total += float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2
    return abs(total)


def test_a_block_is_cut_in_its_rectangle() -> None:
    """4 x 6 at every height, one loop, every point on the plane."""
    loops = sections.cut(block((0, 0, 0), (4, 6, 9)), np.array([0.0, 0, 1]), 2.5)
    assert len(loops) == 1
    assert area(loops, 0, 1) == pytest.approx(24)
    np.testing.assert_allclose(2.5, loops[0][:, 2])


def test_a_hollow_body_is_cut_in_two_loops() -> None:
    """A tube 10 x 10 outside and 6 x 6 inside shows 64."""
    outer, inner = block((0, 0, 0), (10, 10, 10)), block((2, 2, 2), (8, 8, 8))
    shell = Mesh(
        vertices=np.vstack([outer.vertices, inner.vertices]),
        triangles=np.vstack([outer.triangles, inner.triangles[:, ::-1] + 8]),
    )
    loops = sections.cut(shell, np.array([0.0, 0, 1]), 5.0)
    assert len(loops) == 2
    assert area(loops, 0, 1) == pytest.approx(64)


@pytest.mark.parametrize("height", [0.0, 9.0, -1.0, 10.0])
def test_a_plane_along_a_face_or_past_the_body_makes_no_crossing_loops(height: float) -> None:
    """On the lower face the body lies above the plane: nothing is cut; on the upper one its rectangle is."""
    loops = sections.cut(block((0, 0, 0), (4, 6, 9)), np.array([0.0, 0, 1]), height)
    assert area(loops, 0, 1) == pytest.approx(24 if height == 9.0 else 0)


def test_a_plane_through_vertices_still_closes_its_loop() -> None:
    """An octahedron of radius 5 cut through its four equator vertices: a square of area 2 r^2 = 50."""
    tips = np.array([[5, 0, 0], [-5, 0, 0], [0, 5, 0], [0, -5, 0], [0, 0, 5], [0, 0, -5]], dtype=np.float64)
    top = [[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4]]
    mesh = Mesh(vertices=tips, triangles=np.array(top + [[b, a, 5] for a, b, _ in top]))
    loops = sections.cut(mesh, np.array([0.0, 0, 1]), 0.0)
    assert area(loops, 0, 1) == pytest.approx(50)


def test_only_what_lies_behind_the_cut_is_outlined() -> None:
    """Seen from above, a stepped body shows the part below the plane; a body wholly above it shows nothing."""
    right, up = np.array([1.0, 0, 0]), np.array([0.0, 1, 0])
    whole = block((0, 0, 0), (4, 6, 9))
    assert area(sections.outline(whole, right, up, 5.0), 0, 1) == pytest.approx(24)
    assert sections.outline(whole, right, up, 0.0) == []


def test_rays_go_to_the_foot_of_the_back_wall_behind_steps() -> None:
    """Behind steps 30 mm high the built back wall is (140 - 30) 0.59091 = 65.0 mm high, not 82.7; rays end at its ends.

    The front edge of the room, 140 mm high, gives the drawing's scale.
    """
    floors = (
        Ground(part="floor", level=0.0, origin=0.0, near=0.0, far=300.0),
        Ground(part="dais-floor", level=30.0, origin=360.0, near=360.0, far=600.0),
    )
    plain = subject()
    svg = section_svg(replace(plain, hall=replace(plain.hall, grounds=floors)))
    rays = paths(svg, "ray")[:-1]  # the last is the sample beside its name
    pieces = len(rays) // 4
    front_low, back_low, front_high, back_high = (ray[-1] for ray in rays[pieces - 1 :: pieces])
    scale = (front_low[1] - front_high[1]) / 140
    assert (back_low[1] - back_high[1]) / scale == pytest.approx(65.0, abs=0.2)
    assert any(words.endswith("65.0") for words in texts(svg))
    lower = next(line for line in paths(svg, "ghost") if len(line) == 4)
    assert (lower[0, 1] - lower[-1, 1]) / scale == pytest.approx(30.0, abs=0.2)


@pytest.mark.parametrize("draw", [plan_svg, section_svg])
@pytest.mark.parametrize("title", ["A title that never comes to its end " * 6, "\u57ce" * 120, "W" * 120])
def test_a_long_title_ends_within_the_sheet(title: str, draw: Callable[[Subject], bytes]) -> None:
    """Cut short with an ellipsis, on a row that no key shares; the sheet's own name keeps the whole of it, and a title
    of sixty letters stands as it is."""
    root = ET.fromstring(draw(subject(title=title)))
    (bold,) = (one for one in root.iter(f"{SVG}text") if one.get("font-weight") == "bold")
    width = float((root.get("viewBox") or "").split()[2])
    words = bold.text or ""
    assert words.endswith("\N{HORIZONTAL ELLIPSIS}")
    assert title.startswith(words[:-1])
    assert width_of(words, 5.0) * 1.1 + 20 <= width
    row = float(bold.get("y", 0))
    others = [float(one.get("y", 0)) for one in root.iter(f"{SVG}text") if one is not bold]
    assert min(abs(row - other) for other in others) > 4.0
    assert (root.findtext(f"{SVG}title") or "").startswith(title.strip())
    usual = "The cistern under the old market, with its pump and its stair"
    assert usual in texts(draw(subject(title=usual)))
