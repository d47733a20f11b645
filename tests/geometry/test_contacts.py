"""Bodies that touch themselves along an edge are made one there."""

from __future__ import annotations

import manifold3d

from pipeline.checks.print_closed import check_closed
from pipeline.exports.stl import write_stl
from pipeline.geometry.booleans import mesh_of
from pipeline.geometry.contacts import BEAD, contacts, fill_contacts

CUBE = manifold3d.Manifold.cube((10.0, 10.0, 10.0))
TOUCHING = CUBE + CUBE.translate((10.0, 10.0, 0.0))
"""Two cubes that have one upright edge in common."""


def test_a_body_that_touches_itself_along_an_edge_is_torn_in_a_file_until_a_bead_is_laid_there() -> None:
    """By the file's points four facets meet at the edge, so the reader finds it torn; filled, it is one closed body."""
    torn = check_closed("touching", write_stl(mesh_of(TOUCHING), "touching"))
    assert torn[0].status == "fail"
    filled = fill_contacts(TOUCHING)
    closed = check_closed("filled", write_stl(mesh_of(filled), "filled"))
    assert closed[0].status == "pass", closed[0].message


def test_a_bead_adds_half_its_own_volume() -> None:
    """The two cubes fill half of the room round their edge: of a square rod of the diagonal 2 r and the length 10,
    2 r^2 each mm, half is new, and of its two points beyond the ends, each a pyramid of 2 r^3 / 3, all."""
    added = fill_contacts(TOUCHING).volume() - TOUCHING.volume()
    assert abs(added - (10 * BEAD**2 + 2 * 2 * BEAD**3 / 3)) < 1e-9


def test_the_contact_is_the_common_edge() -> None:
    lines = contacts(TOUCHING)
    assert lines.shape == (1, 2, 3)
    assert sorted(map(tuple, lines[0].round(6).tolist())) == [(10.0, 10.0, 0.0), (10.0, 10.0, 10.0)]


def test_bodies_without_contacts_stay_as_they_are() -> None:
    apart = CUBE + CUBE.translate((5.0, 5.0, 5.0))
    assert len(contacts(apart)) == 0
    assert fill_contacts(apart) is apart


def test_a_bead_that_touches_the_body_along_another_line_gets_one_there_too() -> None:
    """Three cubes askew, the third at an edge of the second: its bead leaves a contact, which would tear the file."""
    askew = (30.0, 15.0, 0.0)
    cubes = [CUBE.translate((10.0 * x, 10.0 * y, 0.0)).rotate(askew) for x, y in ((0, 1), (1, 1), (2, 0))]
    body = manifold3d.Manifold.batch_boolean(cubes, manifold3d.OpType.Add)
    filled = fill_contacts(body)
    assert len(contacts(filled)) == 0
    closed = check_closed("askew", write_stl(mesh_of(filled), "askew"))
    assert closed[0].status != "fail", closed[0].message
