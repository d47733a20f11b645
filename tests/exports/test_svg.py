"""SVG files read by an XML parser: sizes, groups, and arcs evaluated as the SVG specification says."""

from __future__ import annotations

import cmath
import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

from pipeline.exports.drawing import COLOURS, CUTTING_ORDER, Drawing, Layer, Shape
from pipeline.exports.svg import MARGIN, write_svg
from pipeline.geometry import curves
from pipeline.geometry.curves import Array, Path
from tests.exports.sample_drawing import TOLERANCE, doorway, lancet, sample

SPACE = "{http://www.w3.org/2000/svg}"


def root_of(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(write_svg(drawing, TOLERANCE))


def group(root: ElementTree.Element, layer: Layer) -> ElementTree.Element:
    return next(g for g in root.iter(f"{SPACE}g") if g.get("id") == layer)


def path_points(data: str, steps: int = 64) -> Array:
    """Return points along M, L, A and Z commands (SVG 1.1, F.6.5: centre from end points, radius and flags)."""
    points: list[complex] = []
    for letter, numbers in re.findall(r"([MLAZ])([^MLAZ]*)", data):
        values = [float(number) for number in numbers.split()]
        if letter == "Z":
            points.append(points[0])
        elif letter in "ML":
            points.append(complex(*values))
        else:
            radius, other, turn, large, sweep, x, y = values
            assert (radius, 0.0, 0.0) == (other, turn, large)
            points += arc_points(points[-1], complex(x, y), radius, sweep == 1, steps)
    return np.array([(p.real, p.imag) for p in points])


def arc_points(start: complex, end: complex, radius: float, sweep: bool, steps: int) -> list[complex]:
    half = (end - start) / 2
    # y runs down: sweep 1 turns with growing angle, and the small arc's centre lies on the side of +90 degrees then.
    up = math.sqrt(max(radius**2 - abs(half) ** 2, 0.0)) * half / abs(half) * 1j
    centre = start + half + (up if sweep else -up)
    turn = cmath.phase((end - centre) / (start - centre))
    assert (turn > 0) == sweep
    return [centre + (start - centre) * cmath.exp(1j * turn * k / steps) for k in range(1, steps + 1)]


def on_paper(path: Path) -> Array:
    """Return dense points of an exact path on the paper of the sample, whose bounds are -2 to 155 and -2 to 105."""
    points = np.vstack([curves.evaluate(curve, np.linspace(0, 1, 201)) for curve in path])
    return np.column_stack([points[:, 0] + 2 + MARGIN, 105 + MARGIN - points[:, 1]])


def test_size_in_mm_and_view_box_bear_the_same_numbers() -> None:
    """157 x 107 mm and a margin on every side (SVG: width in mm and a viewBox of the same numbers)."""
    root = root_of(sample())
    assert root.get("width") == f"{157 + 2 * MARGIN:.4f}mm"
    assert root.get("height") == f"{107 + 2 * MARGIN:.4f}mm"
    assert root.get("viewBox") == f"0 0 {157 + 2 * MARGIN:.4f} {107 + 2 * MARGIN:.4f}"


def test_a_long_note_lies_on_the_paper() -> None:
    """Letters are at most as wide as they are assumed to be on the whole."""
    width = float((root_of(sample(note="m" * 200)).get("width") or "").removesuffix("mm"))
    assert width > 10 + 200 * 3.0 * 0.8


def test_every_layer_has_one_group_of_its_colour() -> None:
    """Group ids are the layer names, drawn or not, in the order of cutting."""
    groups = [(g.get("id"), g.get("stroke")) for g in root_of(Drawing(title="", shapes=())).iter(f"{SPACE}g")]
    assert groups == [(layer.value, COLOURS[layer]) for layer in CUTTING_ORDER]


@pytest.mark.parametrize("which", [0, 1])
def test_arcs_pass_within_the_tolerance_of_the_exact_curves(which: int) -> None:
    """Dense points of the exact hole, y turned down, against the path read back."""
    exact = on_paper((doorway(), lancet())[which])
    path = group(root_of(sample()), Layer.HOLES).findall(f"{SPACE}path")[which]
    border = shapely.LineString(path_points(path.get("d") or ""))
    assert shapely.distance(shapely.points(exact), border).max() <= TOLERANCE + 1e-3
    assert (path.get("d") or "").endswith("Z")


def test_counter_clockwise_arcs_stay_so_to_the_eye() -> None:
    """The circle's area, y down, is negative for a path that runs counter-clockwise as seen."""
    data = group(root_of(sample()), Layer.PLACE)[0].get("d") or ""
    points = path_points(data, 2000)
    area = float(np.sum(points[:-1, 0] * points[1:, 1] - points[1:, 0] * points[:-1, 1]) / 2)
    assert -64 * math.pi == pytest.approx(area, abs=2e-3)


def test_lines_are_all_there() -> None:
    """One path a layer, a move and a line for each guide."""
    drawing = sample(321)
    (path,) = group(root_of(drawing), Layer.GUIDE)
    numbers = np.array(re.findall(r"-?\d+\.\d+", path.get("d") or ""), dtype=float).reshape(-1, 2, 2)
    expected = drawing.lines[Layer.GUIDE] * [1, -1] + [2 + MARGIN, 105 + MARGIN]
    assert expected == pytest.approx(numbers, abs=5.1e-5)


def test_words_are_escaped() -> None:
    """A title and a note of markup arrive as words; control characters, which XML forbids, as blanks."""
    root = root_of(sample(title='<b>"A" & B\x00</b>', note="</text>&<\x0b>"))
    assert root.findtext(f"{SPACE}title") == '<b>"A" & B </b>'
    assert group(root, Layer.NOTES).findtext(f"{SPACE}text") == "</text>&< >"


def test_numbers_have_four_decimals() -> None:
    """Places in paths: fixed decimals, never a minus zero."""
    drawing = replace(sample(), texts=(), lines={Layer.GUIDE: np.array([[[-2 - MARGIN - 1e-9, 3.0], [1 / 3, 5.0]]])})
    text = write_svg(replace(drawing, lines=drawing.lines), TOLERANCE).decode()
    assert "-0.0000" not in text
    assert all(len(number) == 4 for number in re.findall(r"[ML]-?\d+\.(\d+)", text))


def test_numbers_that_are_not_finite_are_refused() -> None:
    """Lines and shapes alike."""
    lines = replace(sample(), lines={Layer.GUIDE: np.array([[[0, math.nan], [1, 1]]])})
    shape = Shape(layer=Layer.OUTLINE, path=curves.polygon(np.array([[0, 0], [1, math.inf], [1, 1]])))
    for drawing in (lines, replace(sample(), shapes=(shape,))):
        with pytest.raises(ValueError, match="not finite"):
            write_svg(drawing, TOLERANCE)


def test_the_same_drawing_gives_the_same_bytes() -> None:
    """No clock, no random ids."""
    assert write_svg(sample(), TOLERANCE) == write_svg(sample(), TOLERANCE)


def test_lines_are_joined_round() -> None:
    """A mitre at a sharp tip reaches past the outline by more than the line is wide: at 10 degrees by 5.7 times."""
    assert root_of(sample()).get("stroke-linejoin") == "round"
