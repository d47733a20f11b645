"""The reader of written DXF files: what it finds, against ezdxf, and what it refuses."""

from __future__ import annotations

import io
import math

import ezdxf
import numpy as np
import pytest

from pipeline.checks.written import (
    WrittenPolyline,
    polyline_points,
    read_dxf,
    spline_points,
)
from pipeline.exports.drawing import COLOURS, Layer
from pipeline.exports.dxf import write_dxf
from pipeline.geometry import curves
from tests.exports.sample_drawing import TOLERANCE, doorway, sample


def test_it_finds_everything_drawn() -> None:
    """Counts, lines, notes, units and colours of the sample."""
    drawing = sample(40)
    written = read_dxf(write_dxf(drawing, TOLERANCE))
    assert (written.insunits, written.measurement) == (4, 1)
    assert list(written.layers) == ["0", *(layer.value for layer in Layer)]
    assert {name: layer.true_colour for name, layer in written.layers.items() if name != "0"} == {
        layer.value: int(colour[1:], 16) for layer, colour in COLOURS.items()
    }
    assert [len(layer.polylines) for layer in written.layers.values()] == [0, 1, 2, 0, 0, 1, 1, 0]
    assert drawing.lines[Layer.GUIDE] == pytest.approx(written.layers["GUIDE"].lines, abs=5.1e-7)
    assert written.layers["FOLD"].lines.tolist() == [[[5.0, 0.0], [5.0, 90.0]]]
    (note,) = written.layers["NOTES"].texts
    assert (note.at, note.height, note.text) == ((10.0, 5.0), 3.0, "left-wall")


def test_it_agrees_with_ezdxf_on_a_file_of_ezdxf() -> None:
    """A file it was not made beside: other order of groups, other shell, bulges on some vertices only."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    vertices = [(0, 0, 0), (4, 0, 0.5), (4, 4, 0), (0, 4, -0.25)]
    space.add_lwpolyline(vertices, format="xyb", close=True, dxfattribs={"layer": "CUT"})
    space.add_lwpolyline([(0, 0), (1, 1)], dxfattribs={"layer": "CUT"})
    space.add_line((1, 2), (3, 4), dxfattribs={"layer": "B"})
    space.add_line((5, 6), (7, 8), dxfattribs={"layer": "A"})
    space.add_text("hello", height=2).set_placement((1, 1))
    stream = io.StringIO()
    document.write(stream)
    written = read_dxf(stream.getvalue().encode())
    closed, opened = written.layers["CUT"].polylines
    assert closed.points.tolist() == [list(map(float, vertex)) for vertex in vertices]
    assert (closed.closed, opened.closed) == (True, False)
    assert written.layers["A"].lines.tolist() == [[[5, 6], [7, 8]]]
    assert written.layers["B"].lines.tolist() == [[[1, 2], [3, 4]]]
    assert written.layers["0"].texts[0].text == "hello"
    assert written.insunits == 4


def test_carriage_returns_make_no_difference() -> None:
    """Both line ends are in use."""
    data = write_dxf(sample(5), TOLERANCE)
    plain, returned = read_dxf(data), read_dxf(data.replace(b"\n", b"\r\n"))
    assert plain.layers["GUIDE"].lines.tolist() == returned.layers["GUIDE"].lines.tolist()
    assert plain.layers["HOLES"].polylines[0].points.tolist() == returned.layers["HOLES"].polylines[0].points.tolist()


def test_splines_pass_through_the_exact_points() -> None:
    """De Boor on the numbers of the file against the curves themselves, 1e-9 mm."""
    spline = read_dxf(write_dxf(sample(), TOLERANCE, "splines")).layers["HOLES"].splines[0]
    assert spline.closed
    for number, curve in enumerate(doorway()):
        control, weights = curves.normalised_weights(curve)
        same = curves.Curve(np.column_stack([control * weights[:, None], weights]))
        share = np.linspace(0, 1, 9)
        assert curves.evaluate(same, share) == pytest.approx(spline_points(spline, number + share), abs=1e-9)


@pytest.mark.parametrize("bulge", [1 / math.sqrt(3), -1 / math.sqrt(3), math.sqrt(2) - 1, 1e-3])
def test_arcs_are_read_as_the_reference_says(bulge: float) -> None:
    """Bulge = tan(theta / 4), counter-clockwise positive: it passes the chord on the right by bulge times half."""
    polyline = WrittenPolyline(points=np.array([[0, 0, bulge], [0.0, 10, 0]]), closed=False)
    points = polyline_points(polyline, 1e-5)
    height = bulge * 5
    radius = (25 + height**2) / (2 * abs(height))
    centre = np.array([height - math.copysign(radius, height), 5.0])
    assert np.full(len(points), radius) == pytest.approx(np.hypot(*(points - centre).T), rel=1e-9)
    assert height == pytest.approx(points[np.argmax(np.abs(points[:, 0])), 0], abs=1e-5)
    assert points[[0, -1]].tolist() == [[0, 0], [0, 10]]


def test_a_closed_polyline_ends_where_it_starts() -> None:
    """Two half arcs of a lens."""
    lens = WrittenPolyline(points=np.array([[0, 0, 0.3], [10.0, 0, 0.3]]), closed=True)
    points = polyline_points(lens, 1e-4)
    assert points[0].tolist() == points[-1].tolist() == [0, 0]


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        (b"\n  0\nEOF\n", b"\n", "EOF"),
        (b"\n  0\nTEXT\n", b"\n  0\nELLIPSE\n", "does not know"),
        (b"\n 90\n4\n", b"\n 90\n6\n", "number of vertices"),
        (b"\n 11\n", b"\n 12\n", "group 11"),
        (b"\n  0\nSECTION\n", b"\n  x\nSECTION\n", "not a number"),
        (b"\n  0\nEOF\n", b"\n  0\nEOF\n  0\n", "without a value"),
    ],
)
def test_broken_files_are_refused(old: bytes, new: bytes, what: str) -> None:
    """Each with its reason."""
    data = write_dxf(sample(3), TOLERANCE)
    entities = data.index(b"ENTITIES")
    broken = data[:entities] + data[entities:].replace(old, new) if b"SECTION" not in old else data.replace(old, new)
    assert broken != data
    with pytest.raises(ValueError, match=what):
        read_dxf(broken)


def test_a_spline_that_does_not_add_up_is_refused() -> None:
    """Knots = control points + degree + 1."""
    data = write_dxf(sample(3), TOLERANCE, "splines").replace(b"\n 71\n2\n 72\n", b"\n 71\n3\n 72\n")
    with pytest.raises(ValueError, match="do not fit"):
        read_dxf(data)
