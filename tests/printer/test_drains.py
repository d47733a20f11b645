"""Drain holes: they open every closed hollow, at its low points, on hidden sides only."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from pipeline.checks.print_closed import check_closed
from pipeline.checks.print_wall import check_wall
from pipeline.exports.stl import write_stl
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import Mesh, normals
from pipeline.parts.bed import lay_on_bed, on_bed
from pipeline.parts.drains import drained, without_loose
from pipeline.parts.overhang import eyes_before, seen_facets
from pipeline.sight.rays import Target
from tests.printer.prisms import box, disc, hollow_box, printed_as
from tests.prints.samples import RELIEF, arches, columns, only, printed

ROUNDING = 1e-3
"""mm^3; a body turned to the bed and back differs from itself by slivers."""


def unseen(mesh: Mesh) -> np.ndarray:
    return np.zeros(len(mesh.triangles), dtype=bool)


def skin_seen(mesh: Mesh, eyes: np.ndarray) -> float:
    """Return how much of a body's skin is seen, mm^2."""
    return float(np.linalg.norm(normals(mesh)[seen_facets(mesh.corners, eyes)], axis=1).sum() / 2)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_holes_join_a_hollow_to_the_outside(count: int) -> None:
    """A sealed box is two surfaces of genus 0; k holes make one of genus k - 1, and take k rods of wall."""
    part = printed_as(hollow_box(60, 30, 20, 2.0), hollow=True, wall=2.0)
    assert len(body_of(part.body).decompose()) == 2
    open_part = drained(part, unseen(part.body), 2.5, count)
    after = body_of(open_part.body)
    assert open_part.drains == (2.5,) * count
    assert len(after.decompose()) == 1
    assert after.genus() == count - 1
    assert part.volume - open_part.volume == pytest.approx(count * disc(1.25) * 2.0, rel=1e-6)


def test_what_a_drill_cuts_loose_goes_and_hollows_it_missed_stay() -> None:
    """A grain in a box's hollow is left out; the hollow itself, and a small one in the wall, are there as before."""
    solid = body_of(hollow_box(60, 30, 20, 2.0)) - body_of(box(0.9, 0.9, 0.9, (0.5, 0.5, 0.5)))
    grain = body_of(box(1.0, 1.0, 1.0, (10, 10, 10)))
    left = without_loose(solid + grain)
    assert len((solid + grain).decompose()) == len(left.decompose()) + 1
    assert left.volume() == pytest.approx(float(solid.volume()), rel=1e-12)


def test_a_body_of_many_hollows_is_made_ready_for_rays_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A mesh from elsewhere may hold hundreds, most too small for any hole: each is looked at in the same body."""
    solid = body_of(box(90, 30, 20))
    for number in range(12):
        solid -= body_of(box(0.8, 20, 10, (5 + 7 * number, 5, 5)))
    part = printed_as(mesh_of(solid), hollow=True)
    made: list[int] = []
    ready = Target.on

    def counted(mesh: Mesh) -> Target:
        made.append(len(mesh.triangles))
        return ready(mesh)

    monkeypatch.setattr(Target, "on", counted)
    assert drained(part, unseen(part.body), 2.5, 2).drains == ()
    assert made.count(len(part.body.triangles)) == 1


def test_holes_lie_in_the_lowest_wall_and_far_apart() -> None:
    """Of a box lying flat they go through the wall on the bed, at the hollow's far corners."""
    part = printed_as(hollow_box(60, 30, 20, 2.0), hollow=True, wall=2.0)
    open_part = drained(part, unseen(part.body), 2.5, 2)
    lying = on_bed(open_part.body, open_part.built_from_bed)
    rim = np.unique(np.round(lying.vertices[np.abs(lying.vertices[:, 2]) < 1e-6], 6), axis=0)
    rim = rim[(rim[:, 0] > 1) & (rim[:, 0] < 59)]
    middles = np.array([rim[rim[:, 0] < 30].mean(axis=0), rim[rim[:, 0] > 30].mean(axis=0)])
    assert len(rim) == 64
    assert np.linalg.norm(middles[1] - middles[0]) > 50


def test_an_inclined_floor_is_drained_where_it_is_lowest() -> None:
    """A hollow whose floor falls along x has its hole at the low end."""
    whole = body_of(hollow_box(60, 30, 20, 2.0))
    wedge = manifold3d.Manifold.hull_points([(2, 2, 2), (2, 28, 2), (58, 2, 2), (58, 28, 2), (2, 2, 8), (2, 28, 8)])
    mesh = mesh_of(whole + wedge)
    part = replace(printed_as(mesh, hollow=True, wall=2.0), built_from_bed=np.eye(4))
    open_part = drained(part, unseen(mesh), 2.5, 1)
    gone = body_of(part.body) - body_of(open_part.body)
    assert gone.bounding_box()[0] > 50


def test_no_hole_comes_out_where_it_is_seen() -> None:
    """With the wall on the bed seen, the hollow stays closed and the check says so."""
    part = printed_as(hollow_box(60, 30, 20, 2.0), hollow=True, wall=2.0)
    kept = drained(part, np.ones(len(part.body.triangles), dtype=bool), 2.5, 2)
    assert kept.drains == ()
    (finding,) = check_closed("part", write_stl(on_bed(kept.body, kept.built_from_bed), "part"))
    assert finding.status == "warn"
    assert "drains" in finding.message


@pytest.mark.parametrize(
    "said",
    [columns(closed=True, base=0.4), columns(at=[4.0, 5.0], engaged=True, closed=True), arches(closed=True)],
    ids=["free column", "half column", "arch"],
)
def test_closed_shells_are_drained_and_keep_their_walls(said: object) -> None:
    """Closed columns and arches come out with one surface, walls as asked, and holes nobody sees from before."""
    part = printed(only(said))  # type: ignore[arg-type]
    eyes = eyes_before(RELIEF.eye)
    part = replace(part, built_from_bed=lay_on_bed(part.body, eyes, drained=True))
    open_part = drained(part, seen_facets(part.body.corners, eyes), 2.5, 2)
    stl = write_stl(on_bed(open_part.body, open_part.built_from_bed), "part")
    (closed,) = check_closed("part", stl, drains=open_part.drains)
    (wall,) = check_wall("part", stl, 1.0)
    assert (closed.status, wall.status) == ("pass", "pass")
    assert "2 holes of 2.5 mm" in closed.message
    gone = [piece for piece in (body_of(part.body) - body_of(open_part.body)).decompose() if piece.volume() > ROUNDING]
    assert len(gone) == 2
    assert skin_seen(open_part.body, eyes) == pytest.approx(skin_seen(part.body, eyes), rel=1e-6)


def test_a_narrow_hollow_has_narrower_holes() -> None:
    """A hollow 2 mm wide takes no hole of 2.5 mm; it gets the widest of the shares tried that fits."""
    part = replace(printed_as(hollow_box(60, 6, 20, 2.0), hollow=True, wall=2.0), built_from_bed=np.eye(4))
    open_part = drained(part, unseen(part.body), 2.5, 2)
    assert list(open_part.drains) == pytest.approx([1.6, 1.6])


def test_filament_prints_may_keep_air_inside() -> None:
    """No liquid is caught in a hollow printed from filament: closed is as good as open."""
    part = printed_as(hollow_box(60, 30, 20, 2.0), hollow=True)
    stl = write_stl(on_bed(part.body, part.built_from_bed), "part")
    assert [f.status for f in check_closed("part", stl, process="filament")] == ["pass"]
    assert [f.status for f in check_closed("part", stl, process="resin")] == ["warn"]
