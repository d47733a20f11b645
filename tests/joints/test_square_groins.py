"""Square edges along groins: bent bodies that only touch, set back as at a flat arris with the same angle."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from pipeline.build import build_scene, make
from pipeline.checks import CHECKS, bare_box, bent_faithful, joint_gaps
from pipeline.checks.evidence import Evidence
from pipeline.geometry import curves, frames
from pipeline.parts.bent import BentPanel
from pipeline.parts.joints import square_outward
from pipeline.parts.web_edges import PLAY
from pipeline.scene.problems import SceneFileError
from tests.vault.test_bent_panels import scene

SQUARE = (("make.edges", "square"),)
THICK = scene().replace("thickness = 0.5", "thickness = 1.5").replace("min_bend = 1.0", "min_bend = 0.5")
TALL = scene().replace("springing = 3.0\nrise = 2.8", 'springing = 1.6\nrise = 4.2\nprofile = "pointed"')
FOLDED = scene().replace("depth = 12.0", "depth = 12.0\napron = 20")
ASIDE = scene(bays=3).replace("height = 78", "height = 100\nright = -40")
PAIRS = [("vault-bay-1-web-left", "vault-bay-1-web-front"), ("vault-bay-2-web-right", "vault-bay-2-web-back")]


@cache
def made(text: str) -> Evidence:
    return make(text.encode(), SQUARE)


def bent(evidence: Evidence, name: str) -> BentPanel:
    return next(panel for panel in evidence.bents if panel.id == name)


@pytest.mark.parametrize(
    "text", [scene(), THICK, TALL, FOLDED, ASIDE], ids=["round", "thick", "tall", "apron", "aside"]
)
def test_bent_sheets_cut_square_take_no_common_room(text: str) -> None:
    """Round and pointed, three times as thick, broken at an apron, seen from aside (manifold3d); and no check fails."""
    evidence = made(text)
    assert [f"{f.id} {f.part}: {f.message}" for c in CHECKS for f in c.run(evidence) if f.status == "fail"] == []
    for a, b in itertools.combinations(evidence.bents, 2):
        assert (evidence.bodies[a.id] ^ evidence.bodies[b.id]).volume() < 1e-6


def test_cut_on_the_groin_they_would() -> None:
    """Square to their sheets as they are, but not set back, two webs share a good part of a cubic millimetre."""
    evidence = made(scene())
    for through, butting in PAIRS:
        a, b = bent(evidence, through), bent(evidence, butting)
        (edge,) = [edge for edge in b.edges if edge.against == through]
        (border,) = [border for border in b.borders if border.against == through]
        moved = evidence.bodies[butting].translate(-edge.back / 2 * border.inward[len(border.inward) // 2])
        assert (evidence.bodies[a.id] ^ moved).volume() > 0.1


@pytest.mark.parametrize(("through", "butting"), PAIRS)
def test_a_butting_web_stands_back_as_a_flat_sheet_does(through: str, butting: str) -> None:
    """At each point of the groin by what `square_outward` says of its angle, but for the sheets' bend."""
    evidence = made(scene())
    a, b = bent(evidence, through), bent(evidence, butting)
    mine = next(border for border in b.borders if border.against == through)
    theirs = next(border for border in a.borders if border.against == butting)
    assert b.trimmed is not None
    ends = frames.apply(evidence.room.relief.built_from_imagined, b.trimmed[:, 0])
    compared = 0
    for point in mine.points[40:-40:25]:
        at = np.linalg.norm(mine.points - point, axis=1).argmin()
        other = np.linalg.norm(theirs.points - point, axis=1).argmin()
        psi = np.arccos(-(mine.normals[at] @ theirs.normals[other]))
        joint = square_outward(2 * np.pi - psi, b.thickness, a.thickness, through=False)
        back = np.linalg.norm(ends - point, axis=1).min()
        assert back == pytest.approx(joint.back, abs=0.05)
        compared += joint.back > 0.2
    assert compared > 5
    (edge,) = [edge for edge in b.edges if edge.against == through]
    assert edge.through == through
    assert edge.angle_deg is not None
    sharpest = square_outward(np.radians(edge.angle_deg[1]), b.thickness, a.thickness, through=False)
    assert edge.back == pytest.approx(sharpest.back, abs=0.05)


@pytest.mark.parametrize(("through", "butting"), PAIRS)
def test_no_slit_is_left_along_a_groin(through: str, butting: str) -> None:
    """In level sections (manifold3d, shapely) the webs stay nearer than the play and what chords leave.

    On the through web's hidden face, back by tA / sin psi, the other would leave tA cos^2 psi / sin psi.
    """
    evidence = made(scene())
    border = next(border for border in bent(evidence, butting).borders if border.against == through)
    low, high = border.points[:, 2].min(), border.points[:, 2].max()
    for share in (0.4, 0.55, 0.7, 0.85):
        cuts = [evidence.bodies[part].slice(low + share * (high - low)).to_polygons() for part in (through, butting)]
        one, other = (shapely.unary_union([shapely.Polygon(loop) for loop in loops]) for loops in cuts)
        assert 0 < one.distance(other) < 3 * PLAY


def test_guides_and_folds_end_where_the_sheet_does() -> None:
    """Every line drawn lies in the trimmed outline (shapely), whose area is that of the visible face as built."""
    evidence = made(scene())
    for panel in evidence.bents:
        (loop,) = panel.cut.loops
        outline = shapely.Polygon(np.vstack([curves.evaluate(edge.curve, np.linspace(0, 1, 200)) for edge in loop]))
        lines = shapely.MultiLineString([*panel.guides, *panel.folds])
        assert lines.difference(outline.buffer(0.02)).length < 0.05
        corners = panel.visible.corners
        faces = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
        assert panel.area == pytest.approx(faces.sum(), rel=2e-3)


def test_the_trimmed_line_is_held_against_the_written_one() -> None:
    """A sheet that ended on the groin would be seen off where this one is said to end."""
    evidence = made(scene())
    assert {finding.status for finding in bent_faithful.run(evidence)} == {"pass"}
    name = "vault-bay-1-web-front"
    bents = tuple(replace(one, trimmed=None) if one.id == name else one for one in evidence.bents)
    assert [f.part for f in bent_faithful.run(replace(evidence, bents=bents)) if f.status == "fail"] == [name]


def test_gaps_along_groins_are_told_and_warned() -> None:
    """The manifest gives back, gap and through of each groin; above max_gap both checks say so."""
    content = json.loads(build_scene(scene().encode(), "hall", SQUARE).files["manifest.json"])
    groin = ["vault-bay-1-web-front", "vault-bay-1-web-left"]
    (joint,) = [joint for joint in content["joints"] if joint["parts"] == groin]
    assert joint["through"] == "vault-bay-1-web-left"
    assert joint["angle_deg"][1] > 270
    assert 0.3 < joint["gap"] < 0.7
    evidence = made(scene())
    assert "vault-bay-1-web-front" in {f.part for f in joint_gaps.run(evidence) if f.status == "warn"}
    told = [f for f in bare_box.run(evidence) if f.part]
    assert {f.part for f in told} <= {panel.id for panel in evidence.bents}  # tips too narrow to be cut


def test_bevelled_webs_are_as_they_were() -> None:
    """Only square edges set webs back."""
    evidence = make(scene().encode())
    assert all(panel.trimmed is None and not panel.bare for panel in evidence.bents)
    assert {(edge.back, edge.gap) for panel in evidence.bents for edge in panel.edges} == {(0.0, (0.0, 0.0))}


def test_a_sheet_too_thick_to_leave_anything_is_refused() -> None:
    """Cells a few millimetres wide of sheet as thick: nothing is left between two groins."""
    text = (
        scene(bays=9).replace("thickness = 0.5", "thickness = 6").replace("depth = 12.0", "depth = 12.0\nwidth = 0.2")
    )
    with pytest.raises(SceneFileError, match="leave nothing of vault-bay"):
        make(text.encode(), SQUARE)
