"""The check that the eye sees what was imagined, itself checked: wrong files must not pass."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import panel_faithful
from pipeline.checks.evidence import Evidence
from pipeline.checks.panel_faithful import two_way_arcmin
from pipeline.exports.drawing import COLOURS, Drawing
from pipeline.exports.dxf import write_dxf
from pipeline.exports.panel_drawing import draw_panel
from pipeline.geometry import curves, frames

from ..scene_text import COVERED, DOOR, changed

Array = NDArray[np.float64]
SCENE = COVERED + DOOR


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    """A covered room with a round-headed door."""
    return make(SCENE.encode())


def doctored(evidence: Evidence, matrix: Array) -> dict[str, float]:
    """Return the check's figures when every drawing is moved by a plane homography before it is written."""
    files = dict(evidence.files)
    for panel in evidence.panels:
        files[f"panels/{panel.id}.dxf"] = write_dxf(moved(draw_panel(panel, COLOURS), matrix), 0.02)
    findings = panel_faithful.run(replace(evidence, files=files))
    return {finding.part: finding.value or 0.0 for finding in findings if finding.status == "fail"}


def moved(drawing: Drawing, matrix: Array) -> Drawing:
    shapes = tuple(replace(shape, path=curves.transform_path(shape.path, matrix)) for shape in drawing.shapes)
    lines = {
        layer: frames.apply(matrix, rows.reshape(-1, 2)).reshape(-1, 2, 2) for layer, rows in drawing.lines.items()
    }
    return replace(drawing, shapes=shapes, lines=lines)


def shift(x: float, y: float) -> Array:
    return np.array([[1.0, 0, x], [0, 1, y], [0, 0, 1]])


ALL = {"floor", "ceiling", "left-wall", "right-wall", "back-wall"}


def test_true_files_pass(evidence: Evidence) -> None:
    """Written files of a room with bricks, flags and a round door are seen within half an arc minute."""
    findings = panel_faithful.run(evidence)
    assert {finding.part for finding in findings} == ALL
    assert all(finding.status == "pass" for finding in findings)
    assert max(finding.value or 0 for finding in findings) < 0.25


@pytest.mark.parametrize(("x", "y"), [(0.15, 0.0), (0.0, 0.15), (-0.4, 0.0), (0.0, -0.4)])
def test_shifted_files_fail(evidence: Evidence, x: float, y: float) -> None:
    """0.15 mm across the line of sight at 420 to 500 mm is about an arc minute (0.145 mm at 500 mm: 20/20)."""
    failing = doctored(evidence, shift(x, y))
    # A shift along the depth of a raked panel is foreshortened for the eye, so the flat panels show it first.
    assert "back-wall" in failing
    assert failing["back-wall"] == pytest.approx(math.degrees(math.hypot(x, y) / 497.5) * 60, rel=0.1)


@pytest.mark.parametrize("factor", [1.003, 0.997])
def test_scaled_files_fail(evidence: Evidence, factor: float) -> None:
    """A printer's 0.3 % is 0.4 mm at the far corner of a panel."""
    assert doctored(evidence, np.diag([factor, factor, 1.0])).keys() == ALL


def test_mirrored_files_fail(evidence: Evidence) -> None:
    """A mirrored side wall is the commonest slip of all."""
    assert {"left-wall", "right-wall"} <= doctored(evidence, np.diag([-1.0, 1.0, 1.0]) + 0).keys()


def test_a_panel_mirrored_in_its_own_outline_fails(evidence: Evidence) -> None:
    """Flipped left for right about its own middle, a wall with a door shows the door on the wrong side."""
    wall = next(panel for panel in evidence.panels if panel.id == "right-wall")
    width = evidence.entries["right-wall"]["size"][0]
    files = dict(evidence.files)
    mirror = np.array([[-1.0, 0, width], [0, 1, 0], [0, 0, 1]])
    files["panels/right-wall.dxf"] = write_dxf(moved(draw_panel(wall, COLOURS), mirror), 0.02)
    findings = {finding.part: finding for finding in panel_faithful.run(replace(evidence, files=files))}
    assert findings["right-wall"].status == "fail"
    assert findings["left-wall"].status == "pass"


def test_a_missing_guide_fails(evidence: Evidence) -> None:
    """The imagined lines are looked for in the file too, not only the other way."""
    wall = next(panel for panel in evidence.panels if panel.id == "back-wall")
    drawing = draw_panel(replace(wall, guides=wall.guides[1:]), COLOURS)
    files = {**evidence.files, "panels/back-wall.dxf": write_dxf(drawing, 0.02)}
    findings = {finding.part: finding for finding in panel_faithful.run(replace(evidence, files=files))}
    assert findings["back-wall"].status == "fail"


def test_a_guide_along_another_is_not_missed() -> None:
    """A perpend shifted along its course still touches the course lines; its middle gives it away."""
    beds = [[[0.0, 0.0], [10.0, 0.0]], [[0.0, 1.0], [10.0, 1.0]]]
    true = np.array([*beds, [[5.0, 0.0], [5.0, 1.0]]])
    false = np.array([*beds, [[5.3, 0.0], [5.3, 1.0]]])
    seen = two_way_arcmin(true, false, 420.0)
    assert seen == pytest.approx(math.degrees(0.3 / 420) * 60, rel=1e-6)


@pytest.mark.parametrize(
    "text",
    [
        changed(SCENE, "depth = 12.0", "depth = 12.0\napron = 20"),
        changed(SCENE, "height = 78", "height = 40\nright = -50"),
        changed(SCENE, "depth = 12.0", "depth = 12.0\nwidth = 7.0\nheight = 6.5"),
        SCENE + '[make]\ncurves = "splines"\n',
        SCENE + "[ceiling]\nfinish = 1\n",
        SCENE + '[make]\nedges = "square"\n',
        changed(SCENE, "depth = 12.0", "depth = 12.0\napron = 20") + '[make]\nedges = "square"\n',
        changed(SCENE, "thickness = 3.0", "thickness = 0.5") + '[make]\ncorners = "flaps"\n',
        SCENE + '[make]\ncorners = "tabs"\n',
    ],
    ids=["apron", "eye aside", "framed", "splines", "finish", "square", "square apron", "flaps", "tabs"],
)
def test_every_kind_of_panel_is_faithful(text: str) -> None:
    """Folded, oblique, framed, splined and finished panels pass with their written files, and so do those cut square,
    with flaps or with tabs; half a millimetre aside none does that stands square to the line of sight."""
    evidence = make(text.encode())
    findings = panel_faithful.run(evidence)
    assert [finding for finding in findings if finding.status != "pass"] == []
    assert "back-wall" in doctored(evidence, shift(0.5, 0.0))


@pytest.mark.parametrize("counts", [(1, 2), (3, 40), (60, 45)])
def test_the_search_finds_the_farthest_sample(counts: tuple[int, int]) -> None:
    """Source: each of the five samples of every line against every other line, by shapely, without a search."""
    rng = np.random.default_rng(counts[0])
    lines, others = (rng.normal(size=(count, 2, 2)) for count in counts)

    def most(some: Array, rest: Array) -> float:
        samples = some[:, :1] + panel_faithful.SHARES[:, None] * (some[:, 1:] - some[:, :1])
        gaps = shapely.distance(shapely.points(samples.reshape(-1, 1, 2)), shapely.linestrings(rest))
        return float(gaps.min(axis=1).max())

    expected = max(most(lines, others), most(others, lines))
    assert two_way_arcmin(lines, others, 420.0) == pytest.approx(math.degrees(expected / 420) * 60, rel=1e-12)
