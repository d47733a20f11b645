"""Pieces of prints larger than the bed: nothing is lost but the pegs' play, and each fits."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest

from pipeline.checks.print_bed import check_bed, joined
from pipeline.checks.print_closed import check_closed
from pipeline.checks.print_wall import check_wall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import SceneError
from pipeline.exports.stl import write_stl
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.parts.bed import Size, on_bed
from pipeline.parts.model import Print
from pipeline.parts.overhang import eyes_before
from pipeline.parts.splitting import LENGTH, bulkhead_depth, cutting_planes, split
from tests.printer.prisms import EYES_FRONT, FIT, WALL, box, disc, printed_as
from tests.prints.samples import IDENTITY, RELIEF, arches, columns, only, printed

BEAM = printed_as(box(250, 20, 12))
BED = (180.0, 180.0, 180.0)


def pieces_of(part: Print, bed: Size = BED) -> tuple[Print, ...]:
    planes = cutting_planes(part, bed)
    return split(part, planes, IDENTITY, fit=FIT, wall=WALL, bed=bed, eyes=EYES_FRONT)


def lost(radius: float) -> float:
    """Return what a peg's play takes away, mm^3: the hole, longer and wider by the play, less the peg in it."""
    return disc(radius + FIT) * (LENGTH + FIT) - disc(radius) * LENGTH


def test_a_print_that_fits_is_not_cut() -> None:
    """No planes; a quarter turn counts as fitting."""
    assert cutting_planes(BEAM, (20.0, 250.0, 12.0)) == ()


def test_a_beam_is_cut_in_two_equal_pieces_with_two_pegs() -> None:
    """The volumes add up to the whole less the play of two pegs of 4 mm."""
    one, two = pieces_of(BEAM)
    assert [one.id, two.id] == ["part-1", "part-2"]
    assert one.pegs == two.pegs == (4.0, 4.0)
    assert one.volume + two.volume == pytest.approx(BEAM.volume - 2 * lost(2.0), rel=1e-9)
    assert one.volume == pytest.approx(BEAM.volume / 2 + 2 * disc(2.0) * LENGTH, rel=1e-9)


def test_pegs_stand_in_their_holes_with_the_play_asked_for() -> None:
    """Put together, the pieces touch in their cut alone; a peg moved by less than the play stays free."""
    one, two = (body_of(piece.body) for piece in pieces_of(BEAM))
    assert (one ^ two).volume() == pytest.approx(0.0, abs=1e-9)
    for way in [(0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]:
        moved = np.array(way) * 0.99 * FIT
        assert (one.translate(moved.tolist()) ^ two).volume() == pytest.approx(0.0, abs=1e-9)
        beyond = np.array(way) * 1.02 * FIT
        assert (one.translate(beyond.tolist()) ^ two).volume() > 0


def test_pieces_of_a_beam_put_together_are_the_beam() -> None:
    """Their union lacks only the rings of play, which lie inside."""
    whole = body_of(BEAM.body)
    union = manifold3d.Manifold.batch_boolean([body_of(p.body) for p in pieces_of(BEAM)], manifold3d.OpType.Add)
    assert (union - whole).volume() == pytest.approx(0.0, abs=1e-6)
    missing, inside = whole - union, body_of(box(248, 18, 10, (1, 1, 1)))
    assert missing.volume() == pytest.approx(2 * lost(2.0), rel=1e-6)
    assert (missing - inside).volume() == pytest.approx(0.0, abs=1e-6)


def test_every_piece_shows_its_own_part_of_the_imagined_skin() -> None:
    """The skins add up to the whole one; each has its piece's volume but for pegs and holes."""
    one, two = pieces_of(BEAM)
    skins = [body_of(piece.skin_imagined) for piece in (one, two)]
    assert sum(skin.volume() for skin in skins) == pytest.approx(BEAM.volume, rel=1e-9)
    assert (skins[0] ^ skins[1]).volume() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("size", "bed", "count"), [((400, 20, 12), BED, 3), ((300, 250, 12), BED, 4)])
def test_as_many_pieces_as_the_bed_asks(size: tuple[float, float, float], bed: Size, count: int) -> None:
    """400 mm on 180 asks for three; 300 x 250 for two by two. All fit, all are one closed body."""
    pieces = pieces_of(printed_as(box(*size)), bed)
    assert len(pieces) == count
    for piece in pieces:
        stl = write_stl(on_bed(piece.body, piece.built_from_bed), piece.id)
        assert [f.status for f in check_bed(piece.id, stl, bed) + check_closed(piece.id, stl)] == ["pass", "pass"]
    assert sum(p.volume for p in pieces) < printed_as(box(*size)).volume


def test_a_plate_too_thin_for_pegs_has_none_and_says_so() -> None:
    """A wall of 1 mm is left on both sides of a hole, so 3 mm take no peg of 1.5 mm with its play."""
    one, two = pieces_of(printed_as(box(250, 20, 3)))
    assert one.pegs == two.pegs == ()
    assert one.volume + two.volume == pytest.approx(250 * 20 * 3, rel=1e-9)
    assert "too thin for pegs" in joined(one)
    assert "2 pegs of 4 mm" in joined(pieces_of(BEAM)[0])
    assert joined(BEAM) == ""


def test_a_cut_keeps_away_from_a_joint() -> None:
    """A groove across the middle of a beam moves the cut past it."""
    grooved = printed_as(mesh_of(body_of(box(250, 20, 12)) - body_of(box(1, 30, 1, (124.5, -5, 11.5)))))
    (plane,) = cutting_planes(grooved, BED)
    at = -plane[3] / plane[0]
    assert abs(at - 125) > 0.5 + bulkhead_depth(0.0, 1.0)


def test_a_bed_of_a_few_millimetres_is_refused() -> None:
    """It would take hundreds of pieces."""
    with pytest.raises(SceneError, match="pieces"):
        cutting_planes(BEAM, (6.0, 6.0, 6.0))


@pytest.mark.parametrize(
    ("said", "bed"),
    [
        (columns(base=0.4, capital=0.4), BED),
        (columns(at=[4.0, 5.0], engaged=True), BED),
        (arches(voussoirs=9), BED),
        (arches(), (400.0, 180.0, 180.0)),
        (arches(closed=True, spandrel=True), (200.0, 300.0, 180.0)),
    ],
    ids=["column", "half column", "arch", "legs cut off", "spandrel"],
)
def test_shells_are_cut_through_bulkheads(said: Imagined, bed: Size) -> None:
    """Every piece is one closed body with walls as asked, fits the bed, and is joined by at least two pegs."""
    solid = only(said)
    planes = cutting_planes(printed(solid), bed)
    part = printed(solid, bulkheads=tuple((plane, bulkhead_depth(FIT, WALL)) for plane in planes))
    pieces = split(part, planes, RELIEF, fit=FIT, wall=WALL, bed=bed, eyes=eyes_before(RELIEF.eye))
    assert len(pieces) > 1
    for piece in pieces:
        stl = write_stl(on_bed(piece.body, piece.built_from_bed), piece.id)
        found = [*check_closed(piece.id, stl, process="filament"), *check_wall(piece.id, stl, 1.0)]
        assert [f.status for f in found + check_bed(piece.id, stl, bed)] == ["pass"] * 3
        assert len(piece.pegs) >= 2
    rings = sum(lost(diameter / 2) for piece in pieces for diameter in piece.pegs) / 2
    short = [d for piece in pieces for d in piece.pegs if d < 4]
    if not short:  # thinner pegs are shorter
        assert sum(piece.volume for piece in pieces) == pytest.approx(part.volume - rings, rel=1e-6)
