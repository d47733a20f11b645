"""What is seen and what hangs: areas of prisms in closed form, and prints turned so that none of it does."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.checks.print_overhang import check_overhang
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import Mesh, normals
from pipeline.parts.bed import lay_on_bed, on_bed
from pipeline.parts.overhang import eyes_before, hanging_area, seen_facets
from pipeline.parts.solids import swept
from tests.printer.prisms import EYES_FRONT, box
from tests.prints.samples import RELIEF, arches, columns, only, printed

UPRIGHT = np.eye(4)
BELOW = np.array([[10.0, 5.0, -400.0]])


def table(reach: float) -> Mesh:
    """Return a T standing on its stem of 10 x 10: a plate 10 + 2 reach wide on top, 20 mm up."""
    return mesh_of(body_of(box(10, 10, 21)) + body_of(box(10 + 2 * reach, 10, 5, (-reach, 0, 20))))


@pytest.mark.parametrize("reach", [2.0, 5.0, 12.5])
def test_a_level_overhang_counts_in_full(reach: float) -> None:
    """Both undersides of a T, 2 x reach x 10 mm^2, seen from below."""
    assert hanging_area(table(reach).corners, BELOW, UPRIGHT) == pytest.approx(2 * reach * 10, rel=1e-6)


def test_what_no_eye_sees_does_not_count() -> None:
    """From above, and from behind, the undersides of a T are hidden."""
    above = np.array([[5.0, 5.0, 400.0]])
    assert hanging_area(table(5.0).corners, above, UPRIGHT) == 0.0


def test_what_another_piece_hides_does_not_count() -> None:
    """A plate under one side of the T leaves the other side's 5 x 10 mm^2."""
    lid = box(20, 60, 1, (-20, -20, 10))
    assert hanging_area(table(5.0).corners, np.array([[5.0, 5.0, -400.0]]), UPRIGHT, lid.corners) == pytest.approx(50.0)


def test_a_strip_as_narrow_as_a_joint_holds_itself() -> None:
    """Undersides 0.9 mm wide are bridged; 1.1 mm ones are not."""
    assert hanging_area(table(0.9).corners, BELOW, UPRIGHT) == 0.0
    assert hanging_area(table(1.1).corners, BELOW, UPRIGHT) == pytest.approx(22.0, rel=1e-6)


@pytest.mark.parametrize(("run", "expected"), [(9.9, 0.0), (10.1, 101.0), (20.0, 200.0)])
def test_slopes_hang_from_45_degrees_on(run: float, expected: float) -> None:
    """A side that leans out ``run`` mm over 10 mm of height hangs where run > 10; its plan is run x 10 mm^2."""
    foot = np.array([(0.0, 0.0), (30.0, 0.0), (30.0, 10.0), (0.0, 10.0)])
    head = foot + np.array([(0, 0), (run, 0), (run, 0), (0, 0)])
    leaning = swept("z", [0.0, 10.0], [foot, head])
    assert hanging_area(leaning.corners, np.array([[400.0, 5.0, -400.0]]), UPRIGHT) == pytest.approx(expected, rel=1e-6)


def test_the_side_on_the_bed_does_not_hang() -> None:
    """A box's underside rests, all of it."""
    assert hanging_area(box(20, 10, 5).corners, BELOW, UPRIGHT) == 0.0


def test_the_inside_of_an_open_shell_is_not_seen_from_before() -> None:
    """Of a box open at the back an eye before it sees the front face alone."""
    shell = mesh_of(body_of(box(20, 10, 20)) - body_of(box(16, 20, 16, (2, 2, 2))))
    seen = seen_facets(shell.corners, np.array([[10.0, -400.0, 10.0]]))
    area = np.linalg.norm(normals(shell)[seen], axis=1).sum() / 2
    assert area == pytest.approx(400.0, rel=1e-9)


def test_the_check_warns_with_the_area_and_passes_without() -> None:
    """The finding's value is the area."""
    (warned,) = check_overhang("t", table(5.0).corners, UPRIGHT, BELOW)
    (passed,) = check_overhang("t", box(20, 10, 5).corners, UPRIGHT, BELOW)
    assert (warned.status, warned.unit, passed.status) == ("warn", "mm2", "pass")
    assert warned.value == pytest.approx(100.0)
    assert "100 mm2" in warned.message


def test_a_body_lies_on_a_smaller_side_if_that_keeps_supports_off_what_is_seen() -> None:
    """A wide plate with a block on its seen front lies plate down as its largest side; turned round it would hang."""
    tray = mesh_of(body_of(box(60, 4, 60)) + body_of(box(20, 10, 20, (20, -9, 20))))
    laid = lay_on_bed(tray, EYES_FRONT)
    assert laid[:3, 2] == pytest.approx([0, -1, 0], abs=1e-9)
    stool = mesh_of(body_of(box(60, 4, 60)) + body_of(box(50, 10, 50, (5, -9, 5))) - body_of(box(58, 3, 58, (1, 3, 1))))
    assert hanging_area(stool.corners, EYES_FRONT, lay_on_bed(stool, EYES_FRONT)) == 0.0


def test_a_body_lies_on_a_side_that_fits_the_bed_if_there_is_one() -> None:
    """A board of 100 x 60 x 10 lies flat on a wide bed, and on its edge on a narrow one."""
    board = box(100, 60, 10)
    assert on_bed(board, lay_on_bed(board, bed=(120, 120, 120))).vertices.max(axis=0) == pytest.approx([100, 60, 10])
    assert on_bed(board, lay_on_bed(board, bed=(120, 20, 120))).vertices.max(axis=0) == pytest.approx([100, 10, 60])


@pytest.mark.parametrize(
    "said",
    [columns(at=[4.0, 5.0], engaged=True, diameter=1.0, base=0.4, capital=0.4), arches(), arches(voussoirs=9)],
    ids=["half column", "arch", "voussoirs"],
)
def test_prints_against_walls_lie_with_their_seen_side_clear(said: object) -> None:
    """Half columns lie on the wall's side, arches on a face."""
    part = printed(only(said))  # type: ignore[arg-type]
    eyes = eyes_before(RELIEF.eye)
    laid = lay_on_bed(part.body, eyes)
    assert hanging_area(part.body.corners, eyes, laid) < 1.0
