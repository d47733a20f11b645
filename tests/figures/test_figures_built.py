"""Figures through the whole flow: mark, manifest, check, page and paper."""

from __future__ import annotations

import io
import re
from functools import cache

import ezdxf
import ezdxf.path
import numpy as np
import pytest
import shapely
from pypdf import PdfReader

from pipeline.build import Build, build_scene, make
from pipeline.checks.figure_scale import run
from pipeline.exports.drawing import COLOURS, Layer
from pipeline.exports.figure_drawing import draw_figure
from pipeline.geometry.curves import bounds, flatten_path
from pipeline.relief.collineation import Relief
from pipeline.report.figure_rows import standings

from ..scene_text import changed
from .people import ROOM, STEPPED, figure

PEOPLE = (
    STEPPED
    + figure("boatman", x=-1.2, y=4.0, facing=40)
    + figure("far keeper", x=0.5, y=10.6, height=1.8, facing=90)
    + figure("child", x=2.0, y=0.4, height=1.1)
)


@cache
def people() -> Build:
    return build_scene(PEOPLE.encode(), "people")


def relief(build: Build) -> Relief:
    said = build.manifest["relief"]
    return Relief(
        eye=tuple(said["eye"]),
        apron=said["apron"],
        apparent_depth=said["apparent_depth"],
        built_depth=said["built_depth"],
    )


def test_the_manifest_tells_every_figure_in_its_order() -> None:
    """With the keys that programs are promised; all of this scene is buildable."""
    entries = people().manifest["figures"]
    assert [entry["name"] for entry in entries] == ["boatman", "far keeper", "child"]
    assert all(list(entry) == ["name", "feet", "height", "scale", "slope_deg"] for entry in entries)
    assert all(entry["height"] * entry["scale"] == pytest.approx(1000 * tall) for entry, tall in zip(
        entries, (1.75, 1.8, 1.1), strict=True))  # fmt: skip


@pytest.mark.parametrize(("index", "part"), [(0, "floor"), (1, "floor-behind-dais"), (2, "floor")])
def test_feet_stand_on_the_panel_whose_mark_goes_round_them(index: int, part: str) -> None:
    """The written DXF, placed by the manifest: feet lie in its visible face, and all of the stance is on PLACE.

    The stance is drawn anew: an ellipse of 0.259 by 0.152 of the stature (Drillis and Contini) on the imagined floor,
    its long axis across the way the figure looks, point by point through the relief.
    """
    x, y, tall, facing, floor = [(-1.2, 4.0, 1.75, 40, 0.0), (0.5, 10.6, 1.8, 90, 0.45), (2.0, 0.4, 1.1, 0, 0.0)][index]
    build = people()
    entry = next(one for one in build.manifest["parts"] if one["id"] == part)
    to_flat = np.linalg.inv(np.array(entry["built_from_flat"]))
    feet = to_flat @ [*build.manifest["figures"][index]["feet"], 1.0]
    assert feet[2] == pytest.approx(0.0, abs=1e-5)
    turn, t = np.radians(facing), np.linspace(0, 2 * np.pi, 33)
    across, ahead = np.array([np.cos(turn), np.sin(turn)]), np.array([np.sin(turn), -np.cos(turn)])
    rim = np.array([x, y]) + tall / 2 * (0.259 * np.outer(np.cos(t), across) + 0.152 * np.outer(np.sin(t), ahead))
    imagined = np.column_stack([rim * 1000 / 48, np.full(len(t), 3.0 + floor * 1000 / 48)])
    flat = np.column_stack([relief(build).build_points(imagined), np.ones(len(t))]) @ to_flat[:3].T
    document = ezdxf.read(io.StringIO(build.files[entry["files"]["dxf"]].decode()))
    marks = [
        shapely.Polygon([(p.x, p.y) for p in ezdxf.path.make_path(one).flattening(0.001)])
        for one in document.modelspace().query('*[layer=="PLACE"]')
    ]
    around = [mark for mark in marks if mark.contains(shapely.Point(feet[:2]))]
    assert len(around) == 1
    off = shapely.distance(around[0].exterior, shapely.points(flat[:, :2]))
    assert off.max() < 0.02  # curve_tolerance is 0.01 mm, and so is what its arcs are flattened to here


@pytest.mark.parametrize(("index", "part", "facing"), [(0, "floor", 40), (1, "floor-behind-dais", 90), (2, "floor", 0)])
def test_its_mark_bears_its_name_and_shows_where_it_looks(index: int, part: str, facing: float) -> None:
    """Beside the stance its name; within it an arrowhead whose tip lies that way of the feet, imagined."""
    build = people()
    said = build.manifest["figures"][index]
    entry = next(one for one in build.manifest["parts"] if one["id"] == part)
    document = ezdxf.read(io.StringIO(build.files[entry["files"]["dxf"]].decode()))
    feet = (np.linalg.inv(np.array(entry["built_from_flat"])) @ [*said["feet"], 1.0])[:2]
    marks = [
        np.array([(p.x, p.y) for p in ezdxf.path.make_path(one).flattening(0.001)])[:-1]
        for one in document.modelspace().query('*[layer=="PLACE"]')
    ]
    stance = next(shapely.Polygon(mark) for mark in marks if shapely.Polygon(mark).contains(shapely.Point(feet)))
    (head,) = (mark for mark in marks if len(mark) == 3 and stance.contains(shapely.Polygon(mark)))
    tip = head[np.linalg.norm(head - feet, axis=1).argmax()]
    built = np.array(entry["built_from_flat"]) @ [*tip, 0.0, 1.0]
    back = relief(build).imagine_points([built[:3], said["feet"]])
    way = (back[0] - back[1])[:2]
    assert np.degrees(np.arctan2(way[0], -way[1])) == pytest.approx(facing, abs=0.1)
    (name,) = (text for text in document.modelspace().query("TEXT") if text.dxf.text == said["name"])
    assert shapely.Point(name.dxf.insert.x, name.dxf.insert.y).distance(stance) < 3.0


def test_a_figure_between_the_stock_scales_is_warned() -> None:
    """At 10.6 m it stands at 1:62.7: 1:56 reads 12 % too tall, 1:72 13 % too small; the nearer one is told."""
    said = {one["part"]: one for one in people().manifest["checks"] if one["id"] == "figure-scale"}
    assert {k: one["status"] for k, one in said.items()} == {"boatman": "pass", "far-keeper": "warn", "child": "pass"}
    scale = people().manifest["figures"][1]["scale"]
    assert 100 * (scale / 56 - 1) == pytest.approx(said["far-keeper"]["value"], abs=1e-4)
    assert f"1:56 reads as {1.8 * scale / 56:.2f} m tall instead of 1.80 m" in said["far-keeper"]["message"]


def test_where_the_warning_sends_a_figure_it_passes() -> None:
    """Moved just inside each of the stretches the message tells."""
    said = next(one for one in people().manifest["checks"] if one["part"] == "far-keeper")
    stretches = re.findall(r"(\d+\.\d+) to (\d+\.\d+) m \(1:(\d+)\)", said["message"])
    assert [stock for *_, stock in stretches] == ["48", "56"]
    ends = [max(float(near), 0.3) + 0.02 for near, _, _ in stretches] + [float(far) - 0.02 for _, far, _ in stretches]
    text = ROOM + "".join(figure(f"f{k}", y=y, x=0.6 * k - 1) for k, y in enumerate(ends))
    assert [finding.status for finding in run(make(text.encode()))] == ["pass"] * 4


def test_the_page_and_the_paper_tell_every_figure() -> None:
    """On the page with a wedge of what the rake asks for ten mm of base; on paper in both directions."""
    page = people().files["report.html"].decode()
    rake = np.tan(np.radians(people().manifest["figures"][0]["slope_deg"]))
    assert 'id="standing"' in page
    assert f"({10 * rake:.2f} mm for every 10 mm of a base)" in page
    paper = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(people().files["templates.pdf"])).pages)
    for entry in people().manifest["figures"]:
        words = f"{entry['name']} {entry['height']:.1f} mm, fold foot back {90 + entry['slope_deg']:.0f} deg"
        assert paper.count(words) == 2


def test_a_paper_figure_is_one_simple_outline_of_the_built_height() -> None:
    """Its crown is that far above the fold, its foot as long as a foot, its shoulders about 0.259 of the stature."""
    one = standings(make((ROOM + figure()).encode()))[0]
    drawing = draw_figure(one, COLOURS)
    (low, high), path = bounds(drawing.shapes[0].path), drawing.shapes[0].path
    assert (one.height, -0.152 * one.height) == pytest.approx((high[1], low[1]))
    assert 0.259 * one.height == pytest.approx(high[0] - low[0], rel=0.05)
    shape = shapely.Polygon(flatten_path(path, 0.001))
    assert shape.is_valid
    assert shape.exterior.is_ccw
    fold = shapely.LineString(drawing.lines[Layer.FOLD][0])
    assert shape.buffer(1e-6).covers(fold)
    assert fold.length == pytest.approx(shape.intersection(shapely.LineString([(-99, 0), (99, 0)])).length)
    np.testing.assert_allclose([curve.end for curve in path], [curve.start for curve in (*path[1:], path[0])])


def test_raised_flags_run_on_beneath_a_figure() -> None:
    """It stands on them; left out under its feet they would show a hole. A column at that place takes some away."""
    raised = changed(ROOM, "joint = 0.02", "joint = 0.02\nrelief = 0.05")
    volumes = [
        sum(part.volume for part in make((raised + more).encode()).prints if part.id.startswith("floor"))
        for more in ("", figure(), '[[columns]]\nname = "post"\nat = [1.0, 4.0]\ndiameter = 0.5\n')
    ]
    assert volumes[0] > 0
    assert volumes[1] == volumes[0]
    assert volumes[2] < volumes[0]


def test_a_scene_without_figures_tells_of_none() -> None:
    """An empty list for programs, no section, and the check has nothing to look at."""
    build = build_scene(ROOM.encode(), "room")
    assert build.manifest["figures"] == build.manifest["lights"] == []
    assert 'id="standing"' not in build.files["report.html"].decode()
    assert not any(one["id"] == "figure-scale" for one in build.manifest["checks"])
