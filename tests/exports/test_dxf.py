"""DXF files against the DXF reference and readers that are not ours: ezdxf's audit and GDAL."""

from __future__ import annotations

import io
import itertools
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely

from pipeline.exports.drawing import COLOURS, Drawing, Layer, Shape, Text
from pipeline.exports.dxf import write_dxf
from pipeline.geometry import curves
from pipeline.geometry.arcs import bulge_length, fit_path
from tests.exports.sample_drawing import TOLERANCE, doorway, guides, lancet, sample

FORMS = ("arcs", "splines")


def reread(data: bytes) -> Any:
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


def of_kind(document: Any, kind: str) -> list[Any]:
    return [entity for entity in document.modelspace() if entity.dxftype() == kind]


@pytest.fixture
def fine_arcs() -> Iterator[None]:
    """GDAL steps arcs at 4 degrees unless told otherwise."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": 0.2})
    yield
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})


def gdal_geometries(data: bytes, folder: FilePath) -> dict[str, list[Any]]:
    (folder / "drawing.dxf").write_bytes(data)
    meta, _, wkb, columns = pyogrio.raw.read(folder / "drawing.dxf")
    layers = columns[list(meta["fields"]).index("Layer")]
    out: dict[str, list[Any]] = {}
    for layer, geometry in zip(layers, shapely.from_wkb(wkb), strict=True):
        out.setdefault(str(layer), []).append(geometry)
    return out


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("drawing", [sample(), Drawing(title="nothing", shapes=())], ids=["full", "empty"])
def test_audit_finds_nothing_to_mend(drawing: Drawing, form: Any) -> None:
    """ezdxf's audit: no errors, and no fixes it made in silence."""
    auditor = reread(write_dxf(drawing, TOLERANCE, form)).audit()
    assert [error.message for error in auditor.errors] == []
    assert [fix.message for fix in auditor.fixes] == []


def test_both_header_variables_say_millimetres() -> None:
    """$INSUNITS 4 = mm, $MEASUREMENT 1 = metric (DXF reference); R2010 is AC1024."""
    header = reread(write_dxf(sample(), TOLERANCE)).header
    assert (header["$INSUNITS"], header["$MEASUREMENT"], header["$ACADVER"]) == (4, 1, "AC1024")


def test_header_bounds_are_those_of_what_is_drawn() -> None:
    """The hidden outline reaches furthest: -2 to 155 by -2 to 105."""
    header = reread(write_dxf(sample(), TOLERANCE)).header
    assert tuple(header["$EXTMIN"]) == (-2.0, -2.0, 0.0)
    assert tuple(header["$EXTMAX"]) == (155.0, 105.0, 0.0)


def test_all_layers_are_defined_with_true_colours() -> None:
    """Seven layers whatever is drawn, true colour in 420, and fallbacks that differ from each other."""
    layers = reread(write_dxf(Drawing(title="nothing", shapes=()), TOLERANCE)).layers
    found = {layer.dxf.name: "#{:02X}{:02X}{:02X}".format(*layer.rgb) for layer in layers if layer.rgb}
    assert {layer.value: colour for layer, colour in COLOURS.items()} == found
    assert len(Layer) == len({layer.dxf.color for layer in layers if layer.rgb})


@pytest.mark.parametrize("form", FORMS)
def test_entities_are_those_drawn(form: Any) -> None:
    """Three loops have curves; outline and bevel are straight in either form."""
    curved = {"arcs": "LWPOLYLINE", "splines": "SPLINE"}[form]
    found = Counter((e.dxftype(), e.dxf.layer) for e in reread(write_dxf(sample(50), TOLERANCE, form)).modelspace())
    expected = {
        ("LWPOLYLINE", "OUTLINE"): 1,
        (curved, "HOLES"): 2,
        (curved, "PLACE"): 1,
        ("LWPOLYLINE", "BEVEL"): 1,
        ("LINE", "FOLD"): 1,
        ("LINE", "GUIDE"): 50,
        ("TEXT", "NOTES"): 1,
    }
    assert expected == dict(found)


def test_handles_are_unique_and_below_the_seed() -> None:
    """Group 5 (105 for dimension styles) of all objects; $HANDSEED is the next free one."""
    lines = write_dxf(sample(200), TOLERANCE).decode().split("\n")
    pairs = list(zip(lines[0::2], lines[1::2], strict=False))
    handles = [int(value, 16) for code, value in pairs if code.strip() in ("5", "105")]
    seed = handles.pop(0)
    assert len(handles) == len(set(handles))
    assert max(handles) < seed


def test_polylines_are_closed_and_their_bulges_turn_as_drawn() -> None:
    """Group 70 bit 1 is closed; the circle is three arcs of tan 30 degrees, counter-clockwise positive."""
    polylines = of_kind(reread(write_dxf(sample(), TOLERANCE)), "LWPOLYLINE")
    assert all(polyline.closed for polyline in polylines)
    round_one = next(p for p in polylines if p.dxf.layer == "PLACE")
    assert [1 / math.sqrt(3)] * 3 == pytest.approx([bulge for *_, bulge in round_one.get_points()], abs=1e-12)
    holes = [p for p in polylines if p.dxf.layer == "HOLES"]
    assert all(bulge <= 0 for hole in holes for *_, bulge in hole.get_points())


def test_written_arcs_pass_within_the_tolerance_of_the_exact_curves() -> None:
    """Dense points of the exact holes against ezdxf's own flattening of the file."""
    holes = [p for p in of_kind(reread(write_dxf(sample(), TOLERANCE)), "LWPOLYLINE") if p.dxf.layer == "HOLES"]
    for exact, written in zip((doorway(), lancet()), holes, strict=True):
        pieces = [
            np.array([v.vec2 for v in part.flattening(1e-5)])
            if part.dxftype() == "ARC"
            else np.array([part.dxf.start.vec2, part.dxf.end.vec2])
            for part in written.virtual_entities()
        ]
        border = shapely.MultiLineString([shapely.LineString(piece) for piece in pieces])
        points = np.vstack([curves.evaluate(curve, np.linspace(0, 1, 201)) for curve in exact])
        assert shapely.distance(shapely.points(points), border).max() <= TOLERANCE + 2e-5


def test_splines_are_exact() -> None:
    """Points of the file's splines, evaluated by ezdxf, lie on the exact curves within 1e-9 mm."""
    splines = of_kind(reread(write_dxf(sample(), TOLERANCE, "splines")), "SPLINE")
    circle = curves.arc((80, 75), 8, 0, 2 * math.pi)
    for path, spline in zip((doorway(), lancet(), circle), splines, strict=True):
        tool = spline.construction_tool()
        for number, curve in enumerate(path):
            control, weights = curves.normalised_weights(curve)
            same = curves.Curve(np.column_stack([control * weights[:, None], weights]))
            share = np.linspace(0, 1, 9)
            found = np.array([point.vec2 for point in tool.points((number + share).tolist())])
            assert curves.evaluate(same, share) == pytest.approx(found, abs=1e-9)


def test_splines_have_the_knots_weights_and_flags_of_the_reference() -> None:
    """Flags 1 closed + 4 rational + 8 planar; degree 2; clamped, double knots between curves; end weights 1."""
    spline = of_kind(reread(write_dxf(sample(), TOLERANCE, "splines")), "SPLINE")[0]
    pieces = len(doorway())
    assert (spline.dxf.flags, spline.dxf.degree) == (13, 2)
    assert [0.0, *np.repeat(np.arange(pieces + 1.0), 2), float(pieces)] == list(spline.knots)
    assert 2 * pieces + 1 == len(spline.control_points) == len(spline.weights)
    assert len(spline.knots) == len(spline.control_points) + spline.dxf.degree + 1
    assert [1.0] * (pieces + 1) == list(spline.weights)[0::2]
    exact = [curves.normalised_weights(curve)[1][1] for curve in doorway()]
    assert exact == pytest.approx(list(spline.weights)[1::2], abs=1e-12)
    assert np.array(spline.control_points[0]) == pytest.approx(np.array(spline.control_points[-1]), abs=1e-12)


def test_an_arc_of_nearly_half_a_turn_is_written_in_pieces() -> None:
    """Its weight is cos 88 deg = 0.035, with a middle point 28 radii away; some programs draw such a spline badly.

    Halved, every piece still lies on the circle. A line without length between two curves is left out.
    """
    half = math.radians(88)
    ends, middle = [(10 * math.cos(half), side * 10 * math.sin(half)) for side in (-1, 1)], 10 / math.cos(half)
    weight = math.cos(half)
    rows = np.array([[*ends[0], 1.0], [middle * weight, 0.0, weight], [*ends[1], 1.0]])
    path = (curves.Curve(rows), curves.line(ends[1], ends[1]), curves.line(ends[1], ends[0]))
    drawing = Drawing(title="half", shapes=(Shape(layer=Layer.OUTLINE, path=path),))
    (spline,) = of_kind(reread(write_dxf(drawing, TOLERANCE, "splines")), "SPLINE")
    assert len(spline.weights) == 2 * 3 + 1, "two halves of the arc, and the chord"
    assert min(spline.weights) == pytest.approx(math.cos(half / 2), abs=1e-12)
    found = np.array([point.vec2 for point in spline.construction_tool().points(np.linspace(0, 2, 33).tolist())])
    assert np.hypot(*found.T) == pytest.approx(np.full(33, 10.0), abs=1e-9)


def test_gdal_reads_the_same_counts_and_lengths(tmp_path: FilePath, fine_arcs: None) -> None:
    """An independent reader: lines within 1e-6 mm, arcs as near as steps of 0.2 degrees allow."""
    drawing = sample(500)
    found = gdal_geometries(write_dxf(drawing, TOLERANCE), tmp_path)
    assert {layer: len(geometries) for layer, geometries in found.items()} == {
        "OUTLINE": 1,
        "HOLES": 2,
        "PLACE": 1,
        "BEVEL": 1,
        "FOLD": 1,
        "GUIDE": 500,
        "NOTES": 1,
    }
    lines = drawing.lines[Layer.GUIDE]
    expected = np.hypot(*(lines[:, 1] - lines[:, 0]).T)
    assert expected == pytest.approx([line.length for line in found["GUIDE"]], abs=2e-6)
    for shape, geometry in zip(drawing.shapes[1:4], [*found["HOLES"], *found["PLACE"]], strict=True):
        assert bulge_length(fit_path(shape.path, TOLERANCE)) == pytest.approx(geometry.length, rel=2e-6)
        assert geometry.is_closed


def test_gdal_reads_the_splines(tmp_path: FilePath) -> None:
    """GDAL takes eight chords a control point, so its lengths are short by under half a percent."""
    found = gdal_geometries(write_dxf(sample(), TOLERANCE, "splines"), tmp_path)
    for path, geometry in zip((doorway(), lancet()), found["HOLES"], strict=True):
        length = sum(curves.length(curve) for curve in path)
        assert 0.995 * length < geometry.length <= length
        assert geometry.is_closed


def test_numbers_have_fixed_decimals_and_no_minus_zero() -> None:
    """Six decimals for lines; what rounds to zero has no sign."""
    tiny = replace(sample(), lines={Layer.GUIDE: np.array([[[-1e-9, -0.0], [1 / 3, -4e-7]]])})
    text = write_dxf(tiny, TOLERANCE).decode()
    assert "\n 10\n0.000000\n 20\n0.000000\n 30\n0.0\n 11\n0.333333\n 21\n0.000000\n" in text
    assert "-0.000000\n" not in text


def test_a_line_without_length_is_left_out() -> None:
    """What is written as a point is no line."""
    drawing = replace(sample(), lines={Layer.GUIDE: np.array([[[1, 1], [1, 1 + 1e-8]], [[0, 0], [2.0, 0]]])})
    assert len(of_kind(reread(write_dxf(drawing, TOLERANCE)), "LINE")) == 1


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_numbers_that_are_not_finite_are_refused(bad: float) -> None:
    """In lines, notes and shapes alike."""
    drawings = [
        replace(sample(), lines={Layer.GUIDE: np.array([[[0, bad], [1, 1]]])}),
        replace(sample(), texts=(Text(at=(bad, 0.0), height=3.0, text="a"),)),
        replace(sample(), shapes=(Shape(layer=Layer.OUTLINE, path=curves.polygon(np.array([[0, 0], [1, bad]]))),)),
    ]
    for drawing, form in itertools.product(drawings, FORMS):
        with pytest.raises(ValueError, match="not finite"):
            write_dxf(drawing, TOLERANCE, form)  # type: ignore[arg-type]


@pytest.mark.parametrize("form", FORMS)
def test_a_shape_that_is_not_closed_is_refused(form: Any) -> None:
    """Shapes are cut lines: an open one would not come free."""
    open_path = (*curves.arc((0, 0), 5, 0, 2), curves.line([0, 0], [3, 0]))[:1]
    with pytest.raises(ValueError, match="not closed"):
        write_dxf(replace(sample(), shapes=(Shape(layer=Layer.HOLES, path=open_path),)), TOLERANCE, form)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("two\nlines\r\n  0\nEOF", "two lines   0 EOF"),
        ("bell\x07 nul\x00 next\x85 line\u2028", "bell  nul  next  line "),
        ("half a \ud800 pair", "half a   pair"),
        ("caret ^J", "caret ^J"),
        ("100%%d", "100% %d"),
        ("č é ß 房", "č é ß 房"),
        ("", ""),
    ],
)
def test_notes_cannot_break_out_of_their_line(text: str, read: str) -> None:
    """Line breaks and control codes are made harmless; other letters arrive as they are."""
    document = reread(write_dxf(sample(note=text), TOLERANCE))
    assert document.audit().errors == []
    assert [read] == [entity.plain_text() for entity in of_kind(document, "TEXT")]


def test_the_same_drawing_gives_the_same_bytes() -> None:
    """No clock, no random ids, no order of a set."""
    assert write_dxf(sample(), TOLERANCE) == write_dxf(sample(), TOLERANCE)


def test_many_guides_write_and_read_back() -> None:
    """Linear in the number of lines: a hundred thousand pass through, all handles in place."""
    data = write_dxf(replace(sample(), shapes=(), lines={Layer.GUIDE: guides(100_000)}), TOLERANCE)
    assert data.count(b"\nLINE\n") == 100_000
