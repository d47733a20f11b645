"""Figures of the checks on single printed files, on bodies whose figures are known."""

from __future__ import annotations

from typing import TypeAlias

import manifold3d
import numpy as np
import pytest

from pipeline.checks.print_bed import ROUNDING, check_bed
from pipeline.checks.print_closed import MOST_HANDLES, check_closed, open_edges, tunnels
from pipeline.checks.print_edges import check_edges
from pipeline.checks.print_wall import check_wall
from pipeline.exports.stl import write_stl
from pipeline.geometry.meshes import Mesh
from pipeline.parts.thickness import KNIFE_DEG

Body: TypeAlias = manifold3d.Manifold


def cube(x: float, y: float, z: float) -> Body:
    return Body.cube((x, y, z))


def mesh_of(body: Body) -> Mesh:
    raw = body.to_mesh64()
    return Mesh(
        vertices=np.array(raw.vert_properties)[:, :3], triangles=np.array(raw.tri_verts, dtype=np.int64).reshape(-1, 3)
    )


def stl_of(body: Body) -> bytes:
    return write_stl(mesh_of(body), "thing")


def plate(holes: int) -> Body:
    """Return a plate with square holes: a surface of as many handles, by manifold3d's own count."""
    body = cube(4.0 * holes + 2, 10, 2)
    for number in range(holes):
        body -= cube(2, 6, 4).translate((2 + 4.0 * number, 2, -1))
    assert body.genus() == holes
    return body


def test_a_body_is_told_by_its_volume() -> None:
    """10 mm cubed."""
    (finding,) = check_closed("thing", stl_of(cube(10, 10, 10)))
    assert (finding.id, finding.part, finding.status, finding.unit) == ("print-closed", "thing", "pass", "mm3")
    assert finding.value == pytest.approx(1000.0, rel=1e-6)
    assert finding.limit == 0
    assert finding.message == "closed, outward, one body of 1.00 cm3"


@pytest.mark.parametrize("missing", [1, 2])
def test_every_edge_that_lost_a_neighbour_is_counted(missing: int) -> None:
    """Triangles that do not meet take three neighbours' edges each."""
    whole = mesh_of(cube(10, 10, 10))
    first = set(whole.triangles[0])
    apart = next(n for n, row in enumerate(whole.triangles) if len(first & set(row)) < 2)
    gone = [0, apart][:missing]
    torn = Mesh(vertices=whole.vertices, triangles=np.delete(whole.triangles, gone, axis=0))
    (finding,) = check_closed("thing", write_stl(torn, "thing"))
    assert (finding.status, finding.value, finding.limit, finding.unit) == ("fail", 3 * missing, 0, "edges")
    assert finding.message.startswith(f"{3 * missing} edges lack a neighbour: the surface is torn")


def test_an_edge_of_three_triangles_is_open() -> None:
    """A fin on a tetrahedron: its foot is gone along twice the same way, its two free edges have nobody."""
    closed = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    assert open_edges(closed) == 0
    assert open_edges(np.vstack([closed, [[0, 1, 4]]])) == 3


@pytest.mark.parametrize("holes", [0, 1, 2, 5])
def test_tunnels_are_counted_by_eulers_formula(holes: int) -> None:
    """As manifold3d counts its genus."""
    assert tunnels(mesh_of(plate(holes)), 1) == holes
    two = Body.batch_boolean([plate(holes), plate(2).translate((0, 50, 0))], manifold3d.OpType.Add)
    assert tunnels(mesh_of(two), 2) == holes + 2


def test_more_tunnels_than_anything_means_are_a_torn_surface() -> None:
    """Each drain is one more that is meant."""
    most = MOST_HANDLES
    assert check_closed("thing", stl_of(plate(most)))[0].status == "pass"
    (finding,) = check_closed("thing", stl_of(plate(most + 1)))
    assert (finding.id, finding.part, finding.status) == ("print-closed", "thing", "fail")
    assert (finding.value, finding.limit, finding.unit) == (most + 1, most, "tunnels")
    assert finding.message.startswith(f"{most + 1} tunnels: the surface is torn")
    (finding,) = check_closed("thing", stl_of(plate(most + 1)), drains=(2.5,))
    assert finding.message.endswith(", its hollow drained by a hole of 2.5 mm")
    (finding,) = check_closed("thing", stl_of(plate(most + 2)), drains=(2.5, 2.0))
    assert finding.message.startswith("closed, outward, one body of ")
    assert finding.message.endswith(", its hollow drained by 2 holes of 2 mm")


def test_inside_out_is_told_by_a_volume_below_nothing() -> None:
    """The same cube, every triangle turned."""
    mesh = mesh_of(cube(10, 10, 10))
    turned = Mesh(vertices=mesh.vertices, triangles=mesh.triangles[:, ::-1].copy())
    (finding,) = check_closed("thing", write_stl(turned, "thing"))
    assert (finding.status, finding.limit, finding.unit) == ("fail", 0, "mm3")
    assert finding.value == pytest.approx(-1000.0, rel=1e-6)


def test_bodies_beside_one_another_are_counted() -> None:
    """A print is one."""
    (finding,) = check_closed("thing", stl_of(cube(5, 5, 5) + cube(5, 5, 5).translate((9, 0, 0))))
    assert (finding.id, finding.part, finding.status) == ("print-closed", "thing", "fail")
    assert (finding.value, finding.limit, finding.unit) == (2, 1, "bodies")
    assert finding.message.startswith("the print is 2 separate bodies")


@pytest.mark.parametrize(("hollows", "said"), [(1, "a sealed hollow"), (2, "2 sealed hollows")])
def test_sealed_hollows_hold_resin_but_no_filament(hollows: int, said: str) -> None:
    """Counted in words; of filament the figure is the volume: 30 x 10 x 10 less 4 mm cubed each."""
    body = cube(30, 10, 10)
    for number in range(hollows):
        body -= cube(4, 4, 4).translate((3 + 10.0 * number, 3, 3))
    (finding,) = check_closed("thing", stl_of(body), process="resin")
    assert (finding.status, finding.value, finding.limit, finding.unit) == ("warn", hollows, 0, "hollows")
    assert f", with {said}: liquid resin stays inside" in finding.message
    (finding,) = check_closed("thing", stl_of(body), process="filament")
    assert (finding.status, finding.limit, finding.unit) == ("pass", 0, "mm3")
    assert finding.value == pytest.approx(3000 - 64 * hollows, rel=1e-6)
    assert finding.message.endswith(f", with {said}")


def test_the_thinnest_wall_is_measured_up_to_twice_the_least() -> None:
    """A plate of 1.5 mm against 1 and 1.6 mm; a wall just as thick as is needed will do."""
    stl = stl_of(cube(20, 20, 1.5))
    for least, status in ((1.0, "pass"), (1.5, "pass"), (1.6, "fail")):
        (finding,) = check_wall("thing", stl, least)
        assert (finding.id, finding.part, finding.status, finding.unit) == ("print-wall", "thing", status, "mm")
        assert (finding.value, finding.limit) == (1.5, least)
    assert "1.50 mm thin at " in finding.message
    assert "1.6 mm is needed; make the imagined piece thicker" in finding.message


def test_a_body_without_two_sides_that_face_has_no_wall() -> None:
    """The sides of a regular tetrahedron stand at 70.5 degrees to one another."""
    (finding,) = check_wall("thing", stl_of(Body.tetrahedron().scale((9, 9, 9))), 1.0)
    assert (finding.id, finding.part, finding.status) == ("print-wall", "thing", "warn")
    assert (finding.value, finding.limit, finding.unit) == (None, 1.0, "mm")
    assert finding.message.startswith("no two sides of it face each other")


def test_a_torn_surface_is_told_and_not_measured() -> None:
    """One triangle: it has no other side, and edges of nothing. The program goes on to what else is wrong."""
    sheet = Mesh(vertices=np.array([[0.0, 0, 0], [5, 0, 0], [0, 5, 0]]), triangles=np.array([[0, 1, 2]]))
    (finding,) = check_wall("thing", write_stl(sheet, "thing"), 1.0)
    assert (finding.id, finding.part, finding.status) == ("print-wall", "thing", "fail")
    assert (finding.value, finding.limit, finding.unit) == (None, 1.0, "mm")
    (finding,) = check_edges("thing", write_stl(sheet, "thing"))
    assert (finding.id, finding.part, finding.status) == ("print-edges", "thing", "fail")
    assert (finding.value, finding.limit, finding.unit) == (None, KNIFE_DEG, "deg")


def test_blunt_edges_have_no_figure() -> None:
    """Those of a cube have 90 degrees."""
    (finding,) = check_edges("thing", stl_of(cube(5, 5, 5)))
    assert (finding.id, finding.part, finding.status) == ("print-edges", "thing", "pass")
    assert (finding.value, finding.limit, finding.unit) == (None, KNIFE_DEG, "deg")
    assert finding.message == "no edge is sharper than 30 degrees"


def test_the_length_of_sharp_edges_is_that_of_all_of_them() -> None:
    """Two wedges of 14.25 degrees, one of 7 and one of 4 mm, away from where the figures are counted from."""
    wedge = Body.extrude(manifold3d.CrossSection([[(0.0, 0.0), (20.0, -2.5), (20.0, 2.5)]]), 7.0)
    both = wedge.translate((30, 40, 50)) + wedge.scale((1, 1, 4 / 7)).translate((30, 60, 50))
    (finding,) = check_edges("thing", stl_of(both))
    assert (finding.status, finding.limit, finding.unit) == ("warn", KNIFE_DEG, "deg")
    assert finding.value == pytest.approx(2 * np.degrees(np.arctan(2.5 / 20)), abs=1e-3)
    assert finding.message.startswith("11.0 mm of edge sharper than 30 degrees, down to 14: ")


def test_the_side_that_is_most_too_large_is_told() -> None:
    """60 x 10 x 20 turned by a quarter on beds that lack room one way or another; one as large as the bed fits."""
    stl = stl_of(cube(60, 10, 20))
    said = "60.0 x 10.0 x 20.0 mm on a bed of"
    for bed, value, limit, over in (
        ((50.0, 70.0, 10.0), 20.0, 10.0, 10.0),
        ((8.0, 70.0, 30.0), 10.0, 8.0, 2.0),
        ((30.0, 55.0, 18.0), 60.0, 55.0, 5.0),
        ((50.0, 50.0, 200.0), 60.0, 50.0, 10.0),
    ):
        (finding,) = check_bed("thing", stl, bed)
        assert (finding.id, finding.part, finding.status, finding.unit) == ("print-bed", "thing", "fail", "mm")
        assert (finding.value, finding.limit) == (value, limit)
        assert finding.message.startswith(said)
        assert f": {over:.1f} mm too large; tilt it on the bed, or split it" in finding.message
    (finding,) = check_bed("thing", stl, (10.0, 60.0, 20.0))
    assert finding.status == "pass"
    assert finding.message == f"{said} 10 x 60 x 20 mm"


@pytest.mark.parametrize(("depth", "status"), [(ROUNDING / 2, "pass"), (2 * ROUNDING, "fail"), (1.0, "fail")])
def test_what_lies_under_the_bed_is_told_by_how_far(depth: float, status: str) -> None:
    """A rounding of the file's numbers is not under it."""
    (finding,) = check_bed("thing", stl_of(cube(5, 5, 5).translate((0, 0, -depth))), (50.0, 50.0, 50.0))
    assert (finding.id, finding.part, finding.status, finding.unit) == ("print-bed", "thing", status, "mm")
    if status == "fail":
        assert finding.value == pytest.approx(-depth, rel=1e-3)
        assert finding.limit == 0.0
        assert finding.message.startswith(f"it reaches {depth:.2f} mm under the bed")
