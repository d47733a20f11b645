"""Panels larger than every sheet: by how much, and a seam whose pieces fit, drawn where it says."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import ops

from pipeline.build import make
from pipeline.checks import panel_stock
from pipeline.sheets.parting import excess, part
from pipeline.sheets.stock import Stock, too_large
from tests.scene_text import COVERED, PLAIN, changed

NONE = np.zeros((0, 2, 2))


def stock(width: float, height: float, *, grain: bool = False) -> Stock:
    return Stock(name="card", size=(width, height), kerf=0.0, spacing=2.0, margin=5.0, grain=grain)


def pieces(shape: shapely.Polygon, lines: np.ndarray) -> list[shapely.Polygon]:
    """Return what is left after cutting along lines one after the other, each drawn out a little."""
    left = [shape]
    for line in lines:
        way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
        cut = shapely.LineString([line[0] - 1e-3 * way, line[1] + 1e-3 * way])
        left = [piece for one in left for piece in ops.split(one, cut).geoms]
    return left


@given(st.floats(50, 900), st.floats(50, 900), st.floats(-30, 30), st.booleans())
def test_pieces_fit_the_stock_and_make_up_the_panel(wide: float, tall: float, slant: float, grain: bool) -> None:
    """Every piece fits, and together they have the panel's area; a sheet of 210 x 160 leaves 200 x 150."""
    shape = shapely.Polygon([(0, 0), (wide, 0), (wide - 20, tall), (10, tall + slant)])
    card = stock(210, 160, grain=grain)
    parting = part(shape, NONE, card)
    if parting.enough:
        left = pieces(shape, parting.lines)
        assert len(left) == len(parting.lines) + 1
        assert not any(too_large(card, piece) for piece in left)
        assert sum(piece.area for piece in left) == pytest.approx(shape.area)
    else:
        assert wide > 400 or tall > 300  # more than two by two
    assert (len(parting.lines) > 0) == too_large(card, shape)


def test_excess_is_told_for_the_way_that_leaves_least() -> None:
    """220 x 100 on 200 x 150 is 20 mm too long; with the grain across, 100 x 220 is 70 mm too high."""
    assert excess(stock(210, 160), shapely.box(0, 0, 100, 220)) == pytest.approx(20)
    assert excess(stock(210, 160, grain=True), shapely.box(0, 0, 100, 220)) == pytest.approx(70)


def test_a_seam_runs_in_a_joint_of_the_cover_where_one_goes_across() -> None:
    """Of courses at 90 and 160 of a panel 300 high both leave pieces that fit 200; 160 is nearer to halves."""
    guides = np.array([[[0, y], [100, y]] for y in (20.0, 90.0, 160.0, 280.0)] + [[[50, 140], [50, 160.0]]])
    parting = part(shapely.box(0, 0, 100, 300), guides, stock(210, 160))
    assert parting.along_guide == (True,)
    assert parting.lines[0] == pytest.approx(np.array([[0, 160], [100, 160]]))


@pytest.mark.parametrize("text", [PLAIN, COVERED], ids=["plain", "covered"])
def test_the_check_says_by_how_much_and_the_drawing_holds_the_line(text: str) -> None:
    """The floor, 173 mm at its front and both mitres, on 160 mm of room; its DXF has the seam on NOTES (ezdxf)."""
    evidence = make(changed(text, "sheet = [300, 200]", "sheet = [170, 170]").encode())
    found = {finding.part: finding for finding in panel_stock.run(evidence)}
    assert found["floor"].status == "fail"
    wide = evidence.entries["floor"]["size"][0]
    assert wide > 173
    assert f"{wide - 160:.1f} mm too large" in found["floor"].message
    assert "cut it in 2 from (" in found["floor"].message
    drawing = ezdxf.read(io.StringIO(evidence.files["panels/floor.dxf"].decode()))
    (line,) = drawing.modelspace().query("LINE[layer=='NOTES']")
    said = found["floor"].message.split("from (")[1].split(")")[0]
    assert f"{line.dxf.start.x:.1f}, {line.dxf.start.y:.1f}" == said
