"""Ribs laminated from slices of sheet: where they lie, what they leave over, and that they can be put together."""

from __future__ import annotations

import math
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path

import manifold3d
import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import shape
from pipeline.checks import bare_box, bodies_apart, in_box, rib_slices
from pipeline.checks.evidence import Evidence
from pipeline.elements.laminations import Lamination
from pipeline.geometry import curves, frames
from pipeline.parts.model import Panel
from pipeline.scene.problems import SceneFileError
from tests.checks.holding import hold

Array = NDArray[np.float64]

CISTERN = Path(__file__).parents[2] / "scenes" / "cistern.toml"
HALF = 250.0 / 48 * 1.0
"""Imagined mm: half of the cistern's ribs of 0.5 m at 1:48."""
LINES = (0.0, 250 / 3, 500 / 3, 250.0)
SPRINGING, RISE, WIDE = 3.0 + 3200 / 48, 3000 / 48, 86.5


@cache
def sliced(*more: tuple[str, str]) -> Evidence:
    return shape(CISTERN.read_bytes(), (("vault.ribs", "sheet"), ("vault.boss", "0"), *more))


def slices(evidence: Evidence, rib: str) -> list[Panel]:
    return [panel for panel in evidence.panels if panel.id.startswith(f"{rib}-slice-")]


def lamination_of(evidence: Evidence, rib: str) -> Lamination:
    return next(found for found in evidence.imagined.laminations if found.id == f"vault-rib-{rib}")


@pytest.mark.parametrize("more", [(), (("vault.rib_material", "card"), ("vault.ridge", "true"))])
def test_no_two_parts_share_room_and_nothing_bare_is_seen(more: tuple[tuple[str, str], ...]) -> None:
    """Of manifold3d's intersections of all parts: webs, walls, capitals and slices of ribs that cross."""
    evidence = sliced(*more)
    for check in (bodies_apart, bare_box, in_box):
        assert [f.message for f in check.CHECK.run(evidence) if f.status == "fail"] == []
    made = [panel for panel in evidence.panels if "-slice-" in panel.id]
    bodies = [evidence.bodies[panel.id] for panel in made if "-1-" in panel.id or "transverse-2" in panel.id]
    assert max((a ^ b).volume() for a, b in combinations(bodies, 2)) < 1e-3


def test_the_number_of_slices_is_the_built_width_over_the_sheets_thickness() -> None:
    """An arch across the hall lies between planes y = const, which the relief puts at y' = apron + b u / w; in 0.5 mm
    bristol it is as many slices as that distance holds, to the nearest one; against the back wall, those that fit."""
    evidence = sliced()
    relief = evidence.room.relief
    for number, line in enumerate(LINES, start=1):
        near, far = max(line - HALF, 0.0), min(line + HALF, 250.0)
        wide = (relief.built_y(far) - relief.built_y(near)) / 0.5
        expected = math.floor(wide) if number == 4 else round(wide)
        assert len(slices(evidence, f"vault-rib-transverse-{number}")) == expected


@pytest.mark.parametrize("rib", ["transverse-2", "diagonal-2-right", "wall-right-3"])
def test_every_slices_front_shows_the_soffits_conic(rib: str) -> None:
    """By the ray law: each point of a slice's soffit, seen from the eye, lies on the imagined soffit's surface, the
    semi-ellipse of half span and rise less the depth, at the w of the track where the ray passes it."""
    evidence = sliced()
    relief, depth = evidence.room.relief, 250.0 / 48
    half_span = {"transverse-2": WIDE, "diagonal-2-right": math.hypot(WIDE, LINES[1] / 2), "wall-right-3": LINES[1] / 2}
    found = 0
    for panel in slices(evidence, f"vault-rib-{rib}"):
        placed = panel.leaves[0].built_from_flat
        for edge in panel.cut.outline:
            points = curves.evaluate(edge.curve, np.linspace(0, 1, 9))
            built = frames.apply(placed, np.column_stack([points, np.zeros(len(points))]))
            room = relief.imagine_points(built)
            lamination = lamination_of(evidence, rib)
            on_track = frames.apply(frames.inverse(lamination.imagined_from_track), room)
            low, high = lamination.flanks
            assert low - 1e-6 <= on_track[:, 2].min() <= on_track[:, 2].max() <= high + 0.5 / 0.3
            across, up = on_track[:, 0] / (half_span[rib] - depth), (on_track[:, 1] - SPRINGING) / (RISE - depth)
            off = across**2 + up**2
            if not edge.curve.straight and np.abs(off - 1).max() < 0.02:
                np.testing.assert_allclose(off, 1.0, atol=1e-9)
                found += 1
    assert found >= len(slices(evidence, f"vault-rib-{rib}"))


def test_slices_lie_flat_on_one_another_and_on_the_flank_turned_to_the_eye() -> None:
    """Slice k's front lies k - 1 thicknesses behind the flank; all are parallel."""
    evidence = sliced()
    for rib in ("vault-rib-transverse-3", "vault-rib-diagonal-1-right", "vault-rib-wall-left-2"):
        first, *others = slices(evidence, rib)
        normal, at = first.leaves[0].built_from_flat[:3, 2], first.leaves[0].built_from_flat[:3, 3]
        eye = np.array(evidence.room.relief.eye)
        assert (eye - at) @ normal > 0
        for number, panel in enumerate(others, start=1):
            placed = panel.leaves[0].built_from_flat
            np.testing.assert_allclose(placed[:3, 2], normal, atol=1e-12)
            assert (placed[:3, 3] - at) @ normal == pytest.approx(-0.5 * number, abs=1e-9)


def test_what_the_slices_leave_over_is_at_most_half_a_sheet_or_a_sheet_at_a_wall() -> None:
    """By manifold3d: what slices take of a thin rod square through the rib, over the rod's section, is their width."""
    evidence = sliced()
    relief = evidence.room.relief
    for rib, wall in (("diagonal-1-right", False), ("wall-left-1", True)):
        lamination = lamination_of(evidence, rib)
        for s in (-15.0, -10.0, 5.0, 11.0):
            level = SPRINGING + RISE * math.sqrt(1 - (s / lamination.half_span) ** 2) - 3.0
            panels = slices(evidence, f"vault-rib-{rib}")
            normal = panels[0].leaves[0].built_from_flat[:3, 2]
            corners = [[[a, z, w] for a, z in ((s, level), (s + 5, level), (s, level - 5))] for w in lamination.flanks]
            planes = [relief.build_points(frames.apply(lamination.imagined_from_track, three)) for three in corners]
            front, far = sorted(planes, key=lambda plane: -float(plane[0] @ normal))
            square, start = np.cross(far[1] - far[0], far[2] - far[0]), front[0]
            wide = float((start - far[0]) @ square / (normal @ square))
            stick = manifold3d.Manifold.hull_points(_stick(start + 0.5 * normal, -normal, wide + 2.0))
            section = 0.02 * 0.02
            made = sum((stick ^ evidence.bodies[panel.id]).volume() for panel in panels) / section
            assert -1e-3 <= wide - made <= 0.5 + 1e-3 if wall else abs(wide - made) <= 0.25 + 1e-3


def _stick(start: Array, way: Array, length: float) -> Array:
    """Return the corners of a rod 0.02 mm square from a point along a level unit direction."""
    side, up = np.array([-way[1], way[0], 0.0]), np.array([0.0, 0.0, 1.0])
    ends = (start, start + length * way)
    return np.array([end + 0.01 * (b * side + c * up) for end in ends for b in (-1, 1) for c in (-1, 1)])


def test_slices_carry_the_places_of_the_next_and_walls_those_of_ribs_that_lie_on_them() -> None:
    """Each slice but the last is marked on its hidden face; the back wall with the last slice of its half arch."""
    evidence = sliced()
    panels = slices(evidence, "vault-rib-transverse-2")
    for panel, following in pairwise(panels):
        assert [name for name, _ in panel.hidden_places] == [following.id]
    marks = [m.name for m in evidence.imagined.marks if m.host == "back-wall" and "-slice-" in m.name]
    assert marks == ["vault-rib-transverse-4-slice-2"]
    left = {m.name for m in evidence.imagined.marks if m.host == "left-wall" and "-slice-" in m.name}
    assert len(left) == 3
    assert all("rib-wall-left" in name for name in left)


def test_the_step_that_is_seen_grows_with_the_sheet() -> None:
    """Twice the thickness leans twice as far; the check tells both, and warns of the thicker one's diagonals."""
    thin = {f.part: f for f in rib_slices.CHECK.run(sliced())}
    thick = {f.part: f for f in rib_slices.CHECK.run(sliced(("vault.rib_material", "card"), ("vault.ridge", "true")))}
    assert {f.status for f in thin.values()} == {"pass"}
    assert thick["vault-rib-diagonal-2-right"].status == "warn"
    for rib in ("vault-rib-transverse-2", "vault-rib-diagonal-2-right"):
        one, two = thin[rib].value, thick[rib].value
        assert one is not None
        assert two is not None
        assert two == pytest.approx(2 * one, rel=0.15)


def test_soffits_tell_the_bevel_that_would_follow_them() -> None:
    """Lines across an arch run along the hall, and meet at the vanishing point V behind the eye's axis: at a point p of
    its soffit they lean, square to the soffit, by atan(n . (e - p) / (V - y)) from the slice's square edge."""
    evidence = sliced()
    relief = evidence.room.relief
    first = slices(evidence, "vault-rib-transverse-2")[0]
    crown = max((edge for edge in first.edges if edge.angle_deg is None), key=lambda edge: edge.length)
    vanishing = relief.vanishing_depth
    assert vanishing is not None
    y = first.leaves[0].built_from_flat[1, 3]
    scale = (vanishing - y) / vanishing
    top = 78.0 + (SPRINGING + RISE - 78.0) * scale
    at_crown = math.degrees(math.atan((top - 78.0) / (vanishing - y)))
    assert crown.bevel_deg[0] <= -at_crown + 0.6
    assert crown.bevel_deg[0] < 0
    assert all(edge.bevel_deg == (0.0, 0.0) for edge in first.edges if edge.start[0] == edge.end[0])


def test_slices_nest_on_the_stock() -> None:
    from pipeline.exports.cut_sheets import fill_sheets

    evidence = sliced()
    panels = tuple(panel for panel in evidence.panels if "transverse" in panel.id)
    laid, _ = fill_sheets(panels, evidence.scene.materials)
    assert sorted(name for filled in laid for name, _ in filled.placed) == sorted(panel.id for panel in panels)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ((("space.apron", "5"),), "apron"),
        ((("vault.section", "roll"),), "section"),
        ((("vault.boss", "0.9"),), "boss"),
        ((("vault.rib_material", "foam"),), "webs"),
        ((("vault.rib_material", "fome"),), "fome"),
    ],
)
def test_what_slices_cannot_be_is_refused(keys: tuple[tuple[str, str], ...], said: str) -> None:
    with pytest.raises(SceneFileError) as caught:
        sliced(*keys)
    assert said in str(caught.value)


def test_findings_on_slices_are_whole_and_of_every_rib() -> None:
    """In the order of the ribs; the front and the diagonals in thin sheet pass."""
    evidence = sliced()
    assert hold(evidence, (rib_slices.CHECK,)) == {"pass"}
    made = [panel.id for panel in evidence.panels if "-slice-" in panel.id]
    ribs = [r.id for r in evidence.imagined.laminations if any(one.startswith(f"{r.id}-") for one in made)]
    assert [finding.part for finding in rib_slices.CHECK.run(evidence)] == ribs
