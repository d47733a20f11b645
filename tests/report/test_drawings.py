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
from pipeline.report.drawing_layout import Box, Subject
from pipeline.report.draughting import width_of
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
