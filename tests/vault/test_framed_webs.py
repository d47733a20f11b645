"""Webs behind a thick front frame: no gap is seen between them."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import shape
from pipeline.checks import bare_box, bodies_apart
from pipeline.checks.evidence import Evidence
from pipeline.parts.thickness import knife_edges, thinnest_wall
from pipeline.sight.rays import cast

CISTERN = Path(__file__).parents[2] / "scenes" / "cistern.toml"
SPRINGING, HALF, RISE, EYE_Z = 3.0 + 3200 / 48, 86.5, 3000 / 48, 78.0
"""Of the cistern at 1:48: floor 3 mm thick, box 180 mm wide, sheets of 3 mm and play of 0.5 mm on either side."""


@cache
def framed(finish: float) -> Evidence:
    """Return the cistern behind a frame of 3 mm of foam with a finish before it; its webs are 0.5 mm thick."""
    return shape(CISTERN.read_bytes(), (("front.material", "foam"), ("front.finish", str(finish))))


@pytest.mark.parametrize("finish", [0.0, 3.0])
def test_nothing_bare_is_seen_between_a_thick_frame_and_the_webs(finish: float) -> None:
    """Before, a frame of 3 mm left a gap of a few hundredths at the crown, one of 6 mm more than half a millimetre."""
    evidence = framed(finish)
    assert [f.message for f in bare_box.CHECK.run(evidence) if f.status != "pass"] == []


@pytest.mark.parametrize("finish", [0.0, 3.0])
def test_the_first_web_stands_within_the_frames_hole_and_apart_from_it(finish: float) -> None:
    """Its front edge lies before the frame's back, and its body shares no room with anything."""
    evidence = framed(finish)
    first = next(web for web in evidence.bents if web.id == "vault-bay-1-web-front")
    assert first.body.vertices[:, 1].min() <= 3.0 + finish - 0.5 + 1e-9
    found = [f.message for f in bodies_apart.CHECK.run(evidence) if f.status == "fail"]
    assert [message for message in found if "front-frame" in message and "web" in message] == []


def test_no_point_of_the_web_leaves_the_holes_outline_within_the_frame() -> None:
    """By the ellipse itself: the hole is the barrel's outline at the opening, (x / a)^2 + (z / r)^2 = 1, cut straight
    back; all the web's corners before the frame's back lie inside."""
    evidence = framed(3.0)
    first = next(web for web in evidence.bents if web.id == "vault-bay-1-web-front")
    points = first.body.vertices[first.body.vertices[:, 1] < 6.0]
    assert len(points)
    out = (points[:, 0] / HALF) ** 2 + ((points[:, 2] - SPRINGING) / RISE) ** 2
    assert float(np.max(out)) < 1.0


def test_what_is_eased_off_is_told() -> None:
    """Only where the hole leaves less room than the sheet is thick. Lines along the hall meet at the vanishing depth V,
    so at the built depth y what is m mm from the axis has come inward by m y / V: 54.17 mm at the crown. A sheet that
    leans as the barrel does at its foot, hypot(86.5, 8.33) in V, is 0.5 hypot(1, lean) mm across; 0.02 mm stay free."""
    relief = framed(0.0).room.relief
    vanishing = relief.vanishing_depth
    assert vanishing is not None
    shrunk = (SPRINGING + RISE - EYE_Z) * 2.5 / vanishing
    across = 0.5 * math.hypot(1.0, math.hypot(HALF, EYE_Z - SPRINGING) / vanishing)
    web = next(web for web in framed(0.0).bents if web.id == "vault-bay-1-web-front").web
    assert shrunk < across
    assert web.eased == pytest.approx(across + 0.02 - shrunk, abs=1e-3)
    assert any("Ease the hidden side" in fact.text for fact in framed(0.0).imagined.facts)
    assert not any("Ease" in fact.text for fact in framed(3.0).imagined.facts)


@cache
def printed() -> Evidence:
    return shape(CISTERN.read_bytes(), (("vault.webs", "print"),))


def test_printed_webs_are_thick_enough_and_leave_nothing_bare() -> None:
    """The tips at the springing are left out behind the springers; no wall of any web is thinner than 1 mm."""
    found = [f.message for check in (bare_box, bodies_apart) for f in check.CHECK.run(printed()) if f.status == "fail"]
    assert found == []
    for part in printed().prints:
        if "-web-" in part.id:
            wall = thinnest_wall(part.body, 3.0, 1.0)
            assert wall is not None
            assert wall.thickness >= 1.0, part.id


def test_printed_webs_end_blunt_where_ribs_cover_them() -> None:
    """Along the groins the cross webs ran out to feathers: 134 mm of edge down to 4 degrees on each of the first ones.
    Half is left: the viewer looks over the far diagonal's flank at the edge behind it. Along the hall all are blunt."""
    for part in printed().prints:
        if part.id.endswith(("bay-1-web-left", "bay-2-web-back")):
            edges, _ = knife_edges(part.body)
            length = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1).sum()
            assert length < (75.0 if part.id.endswith("left") else 1.0)


def test_printed_webs_show_the_same_room_as_bent_ones() -> None:
    """Rays from the eye to the vault's left half, 0.8 mm apart at the opening, end equally far with either. Webs
    blunted at both groins let 2 in a hundred through, to the next bay's webs and the wall."""
    across, up = np.meshgrid(np.arange(-72.0, -5.0, 0.8), np.arange(88.0, 128.0, 0.8))
    ends = np.column_stack([across.ravel(), np.zeros(across.size), up.ravel()])

    def reach(evidence: Evidence) -> NDArray[np.float64]:
        eye = np.array(evidence.room.relief.eye)
        ways = (ends - eye) / np.linalg.norm(ends - eye, axis=1, keepdims=True)
        bodies = [part.body for part in (*evidence.cut_parts, *evidence.prints)]
        return cast(np.concatenate([body.corners for body in bodies]), np.tile(eye, (len(ends), 1)), ways)[1]

    np.testing.assert_allclose(reach(printed()), reach(shape(CISTERN.read_bytes())), atol=0.6)
