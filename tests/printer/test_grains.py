"""What sticks out across a cut by a little is no print of its own."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.parts.bed import Size
from pipeline.parts.model import Print
from pipeline.parts.splitting import LENGTH, split
from tests.printer.prisms import EYES_FRONT, FIT, WALL, box, disc, printed_as
from tests.prints.samples import IDENTITY

LONG = 250.0


def beam(near: float, far: float, foot: float) -> Print:
    """Return a beam with a shelf on it, from near to far, 1 mm above its top, on a foot 2 mm wide."""
    shelf = body_of(box(far - near, 2, 1, (near, 9, 13))) + body_of(box(2, 2, 2, (foot, 9, 11.5)))
    return printed_as(mesh_of(body_of(box(LONG, 20, 12)) + shelf))


def cut(part: Print, places: tuple[float, ...], bed: Size = (180.0, 180.0, 180.0)) -> tuple[Print, ...]:
    planes = tuple(np.array([1.0, 0.0, 0.0, -place]) for place in places)
    return split(part, planes, IDENTITY, fit=FIT, wall=WALL, bed=bed, eyes=EYES_FRONT)


def lost(pegs: int) -> float:
    """Return what the play of pegs 4 mm thick takes away, mm^3."""
    return pegs * (disc(2.0 + FIT) * (LENGTH + FIT) - disc(2.0) * LENGTH)


@pytest.mark.parametrize(("near", "far", "foot", "owner"), [(123, 128, 126, 1), (122, 127, 122, 0)])
def test_a_grain_stays_on_the_piece_it_is_part_of(near: float, far: float, foot: float, owner: int) -> None:
    """A shelf that reaches 2 mm across the cut at 125, from either side: two pieces, nothing lost but play."""
    part = beam(near, far, foot)
    pieces = cut(part, (125.0,))
    assert len(pieces) == 2
    assert sum(piece.volume for piece in pieces) == pytest.approx(part.volume - lost(2), rel=1e-9)
    assert (body_of(pieces[0].body) ^ body_of(pieces[1].body)).volume() == pytest.approx(0.0, abs=1e-9)
    shelf = pieces[owner].body.vertices[pieces[owner].body.vertices[:, 2] > 13.5]
    assert [shelf[:, 0].min(), shelf[:, 0].max()] == pytest.approx([near, far], abs=1e-9)
    skins = [body_of(piece.skin_imagined) for piece in pieces]
    assert sum(skin.volume() for skin in skins) == pytest.approx(part.volume, rel=1e-9)
    assert np.ptp(pieces[owner].skin_imagined.vertices[:, 0]) == pytest.approx(127.0, abs=1e-9)


def test_what_is_as_large_as_a_peg_is_long_is_a_piece() -> None:
    """A shelf that reaches 4 mm across the cut: printed, it can be held and glued."""
    assert len(cut(beam(121, 128, 126), (125.0,))) == 3


def test_grains_are_cut_off_where_the_bed_has_no_room_for_them() -> None:
    """A middle piece of 84 mm with its peg of 4 fills a bed of 88; a grain of 2 mm on its other end is too much."""
    part = beam(82, 87, 85)
    roomy, tight = cut(part, (84.0, 168.0), (90.0, 40.0, 40.0)), cut(part, (84.0, 168.0), (88.0, 40.0, 40.0))
    assert [len(roomy), len(tight)] == [3, 4]
