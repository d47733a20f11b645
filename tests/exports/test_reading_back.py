"""The reader of written files on texts typed by hand: what it takes, what it refuses, and points along curves."""

from __future__ import annotations

import math
import struct

import numpy as np
import pytest

from pipeline.checks.written import (
    WrittenPolyline,
    WrittenSpline,
    polyline_points,
    read_dxf,
    read_stl,
    spline_points,
)


def dxf(entities: str, header: str = "", tables: str = "") -> bytes:
    """Return a file of ``code value`` pairs, a pair on each line, in sections."""
    sections = [("HEADER", header), ("TABLES", tables), ("ENTITIES", entities)]
    pairs = [f"0 SECTION\n2 {name}\n{body.strip()}\n0 ENDSEC" for name, body in sections if body]
    lines = "\n".join([*pairs, "0 EOF"]).splitlines()
    return "".join(f"{code:>3}\n{value}\n" for code, value in (line.strip().split(" ", 1) for line in lines)).encode()


LINE = "0 LINE\n8 CUT\n10 1\n20 2\n11 3\n21 4.5"
POLYLINE = "0 LWPOLYLINE\n8 CUT\n90 3\n70 {flags}\n10 0\n20 0\n10 4\n20 0\n42 0.5\n10 4\n20 4"
OLD = "0 POLYLINE\n8 OLD\n66 1\n70 {flags}\n0 VERTEX\n8 OLD\n10 1\n20 2\n0 VERTEX\n8 OLD\n10 5\n20 2\n42 -1\n0 SEQEND"
SPLINE = (
    "0 SPLINE\n8 CUT\n70 {flags}\n71 2\n72 6\n73 3\n40 0\n40 0\n40 0\n40 1\n40 1\n40 1\n"
    "10 1\n20 0\n10 1\n20 1\n10 0\n20 1"
)
WEIGHTS = "\n41 1\n41 0.5\n41 1"
TEXT = "0 TEXT\n8 SAID\n10 7\n20 8\n40 2.5\n1 a b"


@pytest.mark.parametrize(("flags", "closed"), [(0, False), (1, True), (128, False), (129, True), (2, False)])
def test_bit_one_of_group_70_closes(flags: int, closed: bool) -> None:
    """Whatever other bits are set, of a polyline in either version and of a spline."""
    body = "\n".join((POLYLINE.format(flags=flags), OLD.format(flags=flags), SPLINE.format(flags=flags)))
    layers = read_dxf(dxf(body)).layers
    assert layers["CUT"].polylines[0].closed == closed
    assert layers["OLD"].polylines[0].closed == closed
    assert layers["CUT"].splines[0].closed == closed


def test_every_kind_stands_on_its_layer_with_its_numbers() -> None:
    """Two layers that tables define, one of them with a colour, and one that is only used; in the order they come."""
    tables = "0 TABLE\n2 LAYER\n0 LAYER\n2 CUT\n420 255\n0 LAYER\n2 EMPTY\n0 ENDTAB"
    body = "\n".join((SPLINE.format(flags=0) + WEIGHTS, TEXT, POLYLINE.format(flags=0), OLD.format(flags=1), LINE))
    written = read_dxf(dxf(body, "9 $ACADVER\n1 AC1024\n9 $INSUNITS\n70 4\n9 $MEASUREMENT\n70 1", tables))
    assert (written.insunits, written.measurement) == (4, 1)
    assert list(written.layers) == ["CUT", "EMPTY", "OLD", "SAID"]
    cut, empty, old, said = written.layers.values()
    assert (cut.true_colour, empty.true_colour, old.true_colour) == (255, None, None)
    assert cut.lines.tolist() == [[[1, 2], [3, 4.5]]]
    assert cut.polylines[0].points.tolist() == [[0, 0, 0], [4, 0, 0.5], [4, 4, 0]]
    assert old.polylines[0].points.tolist() == [[1, 2, 0], [5, 2, -1]]
    (spline,) = cut.splines
    assert (spline.degree, spline.knots.tolist(), spline.weights.tolist()) == (2, [0, 0, 0, 1, 1, 1], [1, 0.5, 1])
    assert spline.control.tolist() == [[1, 0], [1, 1], [0, 1]]
    (text,) = said.texts
    assert (text.at, text.height, text.text) == ((7.0, 8.0), 2.5, "a b")
    assert empty.lines.shape == (0, 2, 2)


def test_what_a_file_leaves_out_is_nothing() -> None:
    """No header, no tables, nothing drawn; a spline without weights has them all alike."""
    assert (read_dxf(dxf("")).layers, read_dxf(dxf("")).insunits, read_dxf(dxf("")).measurement) == ({}, None, None)
    (spline,) = read_dxf(dxf(SPLINE.format(flags=0))).layers["CUT"].splines
    assert spline.weights.tolist() == [1, 1, 1]


def test_lines_of_two_layers_in_turn_keep_their_order() -> None:
    """By layer as each is first used, whatever its name; other entities between them."""
    rows = [("B", 1), ("A", 2), ("B", 3), ("A", 4)]
    body = "\n".join(f"0 LINE\n8 {name}\n10 {x}\n20 0\n11 {x}\n21 9\n{TEXT}" for name, x in rows)
    layers = read_dxf(dxf(body)).layers
    assert [name for name in layers if name != "SAID"] == ["B", "A"]
    assert layers["B"].lines[:, 0, 0].tolist() == [1, 3]
    assert layers["A"].lines[:, 0, 0].tolist() == [2, 4]
    assert len(layers["SAID"].texts) == 4


def test_group_codes_may_have_four_digits_and_no_line_end_after_the_last() -> None:
    """1071 is no 71; a file may end right after EOF."""
    long = SPLINE.format(flags=0) + "\n1071 9\n1040 7"
    assert read_dxf(dxf(long).rstrip(b"\n")).layers["CUT"].splines[0].degree == 2


@pytest.mark.parametrize(
    ("entities", "said"),
    [
        ("0 TEXT\n8 SAID\n10 7\n20 8\n1 a", "a record without group 40"),
        ("0 TEXT\n10 7\n20 8\n40 2\n1 a", "a record without group 8"),
        (LINE + "\n10 7", "LINE entities with more or less than one group 10"),
        (LINE.replace("\n21 4.5", ""), "LINE entities with more or less than one group 21"),
        (
            POLYLINE.format(flags=1).replace("90 3", "90 2"),
            "an LWPOLYLINE whose number of vertices is not what it says",
        ),
        (POLYLINE.format(flags=1).replace("\n20 4", ""), "a vertex without x or y"),
        (OLD.format(flags=1).replace("\n0 SEQEND", ""), "a POLYLINE that does not end in SEQEND"),
        (OLD.format(flags=1).replace("\n0 SEQEND", "\n" + LINE + "\n0 SEQEND"), "that does not end in SEQEND"),
        (f"{OLD.format(flags=1)}\n0 POLYLINE\n8 OLD\n70 1", "a POLYLINE that does not end in SEQEND"),
        (SPLINE.format(flags=0).replace("72 6", "72 5"), "a SPLINE whose number of knots or control points is not"),
        (SPLINE.format(flags=0).replace("73 3", "73 4"), "a SPLINE whose number of knots or control points is not"),
        (SPLINE.format(flags=0) + "\n41 1\n41 1", "a SPLINE whose knots, weights and control points do not fit"),
        (SPLINE.format(flags=0).replace("71 2", "71 1"), "a SPLINE whose knots, weights and control points do not fit"),
        ("0 CIRCLE\n8 CUT\n10 0\n20 0\n40 2", "an entity this reader does not know: 'CIRCLE'"),
    ],
)
def test_what_is_incomplete_or_unknown_is_refused(entities: str, said: str) -> None:
    """With what is wrong."""
    with pytest.raises(ValueError, match=said.replace("(", "\\(")):
        read_dxf(dxf(entities))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "a group code without a value"),
        (b"  0\nEOF\n  0\n", "a group code without a value"),
        (b" 0x\nEOF\n", "a group code that is not a number"),
        (b"  \nEOF\n", "a group code that is not a number"),
        (b" -1\nEOF\n", "a group code that is not a number"),
        (b"0 \nEOF\n", "a group code that is not a number"),
        (b"  0\nEOF\n  0\nSECTION\n", "a DXF file that does not end in EOF"),
    ],
)
def test_what_is_no_dxf_is_refused(data: bytes, said: str) -> None:
    """Group codes are digits after blanks, values follow them, and EOF ends it all."""
    with pytest.raises(ValueError, match=said):
        read_dxf(data)


@pytest.mark.parametrize("bulge", [0.2, -0.5, 1.0, 3.0])
@pytest.mark.parametrize("tolerance", [0.3, 0.01])
def test_arcs_have_no_more_chords_than_they_need(bulge: float, tolerance: float) -> None:
    """A chord over an angle s strays r (1 - cos(s / 2)) from its arc: the fewest for which that is within tolerance."""
    x0, y0, x1, y1 = 3.0, -2.0, 10.0, 4.0
    polyline = WrittenPolyline(points=np.array([[x0, y0, bulge], [x1, y1, 0.0]]), closed=False)
    points = polyline_points(polyline, tolerance)
    chord, turn = math.hypot(x1 - x0, y1 - y0), 4 * math.atan(bulge)
    radius = chord / 2 / abs(math.sin(turn / 2))
    fewest = next(n for n in range(1, 999) if radius * (1 - math.cos(abs(turn) / n / 2)) <= tolerance)
    assert len(points) == fewest + 1
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert steps == pytest.approx(2 * radius * math.sin(abs(turn) / fewest / 2), rel=1e-9)


@pytest.mark.parametrize(("share", "count"), [(0.99, 2), (1.01, 3)])
def test_an_arc_as_flat_as_the_tolerance_is_its_chord(share: float, count: int) -> None:
    """Its height is bulge times half the chord."""
    bulge = share * 0.02 / 5.0
    polyline = WrittenPolyline(points=np.array([[0.0, 0.0, bulge], [6.0, 8.0, 0.0]]), closed=False)
    assert len(polyline_points(polyline, 0.02)) == count


def test_straight_pieces_stay_as_they_are_and_a_last_bulge_of_an_open_one_means_nothing() -> None:
    """Its vertices; closed, it comes back to the first, by the last bulge: half a circle of radius 2."""
    rows = np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [4.0, 4.0, -1.0]])
    assert polyline_points(WrittenPolyline(points=rows, closed=False), 1e-3).tolist() == rows[:, :2].tolist()
    closed = polyline_points(WrittenPolyline(points=rows, closed=True), 1e-3)
    assert closed[:3].tolist() == rows[:, :2].tolist()
    assert closed[-1].tolist() == [0, 0]
    assert np.hypot(*(closed[2:] - [2.0, 2.0]).T) == pytest.approx(math.sqrt(8), rel=1e-9)
    middle = closed[2:][np.argmin(np.abs(closed[2:] @ [1.0, 1.0] - 4))]
    assert middle == pytest.approx([4, 0], abs=0.2), "clockwise from (4, 4)"
    assert polyline_points(WrittenPolyline(points=np.zeros((0, 3)), closed=False), 1e-3).shape == (0, 2)


def test_a_rational_quadratic_is_a_circle() -> None:
    """Weights 1, cos 45, 1 on a quarter, twice over with a double knot: every point is 1 from the middle, and at the
    middle of each quarter it stands at 45 degrees."""
    control = np.array([[1.0, 0], [1, 1], [0, 1], [-1, 1], [-1, 0]])
    weights = np.array([1, math.sqrt(0.5), 1, math.sqrt(0.5), 1])
    spline = WrittenSpline(
        degree=2, flags=0, knots=np.array([0.0, 0, 0, 1, 1, 3, 3, 3]), weights=weights, control=control
    )
    points = spline_points(spline, np.linspace(0, 3, 31))
    assert np.hypot(*points.T) == pytest.approx(1.0, rel=1e-12)
    assert points[[0, 10, 30]] == pytest.approx(np.array([[1, 0], [0, 1], [-1, 0]]), abs=1e-12)
    assert spline_points(spline, np.array([0.5, 2.0])) == pytest.approx(
        math.sqrt(0.5) * np.array([[1, 1], [-1, 1]]), abs=1e-12
    )


def test_an_even_cubic_passes_a_sixth_of_its_neighbours() -> None:
    """Knots one apart: at a knot (P0 + 4 P1 + P2) / 6, half-way (P0 + 23 P1 + 23 P2 + P3) / 48."""
    control = np.array([[0.0, 0], [1, 3], [4, 5], [6, 1], [9, 2]])
    spline = WrittenSpline(degree=3, flags=0, knots=np.arange(9.0), weights=np.ones(5), control=control)
    knots = [(control[k] + 4 * control[k + 1] + control[k + 2]) / 6 for k in range(3)]
    assert spline_points(spline, np.array([3.0, 4.0, 5.0])) == pytest.approx(np.array(knots), abs=1e-12)
    half = [(control[k] + 23 * control[k + 1] + 23 * control[k + 2] + control[k + 3]) / 48 for k in range(2)]
    assert spline_points(spline, np.array([3.5, 4.5])) == pytest.approx(np.array(half), abs=1e-12)


def stl(count: int, said: int | None = None, head: bytes = b"prints") -> bytes:
    numbers = [struct.pack("<12fH", *(100 * n + k + 0.1 for k in range(12)), 7) for n in range(count)]
    return head.ljust(80, b" ") + struct.pack("<I", count if said is None else said) + b"".join(numbers)


def test_triangles_are_what_follows_the_normal() -> None:
    """Nine numbers after three, the attribute after them left out; to single precision."""
    expected = np.array([100 * n + 3 + k + 0.1 for n in range(2) for k in range(9)], dtype=np.float32)
    assert read_stl(stl(2)).tolist() == expected.reshape(2, 3, 3).tolist()
    assert read_stl(stl(0)).shape == (0, 3, 3)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (stl(2, 3), "84 \\+ 50 n bytes"),
        (stl(2, 1), "84 \\+ 50 n bytes"),
        (stl(1) + b" ", "84 \\+ 50 n bytes"),
        (stl(0)[:83], "84 \\+ 50 n bytes"),
        (b"", "84 \\+ 50 n bytes"),
        (stl(1, head=b"Solid thing"), "begins like the text form"),
    ],
)
def test_what_is_no_binary_stl_is_refused(data: bytes, said: str) -> None:
    """By its length, or its first word."""
    with pytest.raises(ValueError, match=said):
        read_stl(data)
