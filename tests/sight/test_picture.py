"""Pictures: what the eye sees of the built room is what it would see of the imagined one."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh
from pipeline.sight import rays
from pipeline.sight.camera import Camera, aim, front_points, project
from pipeline.sight.light import mix, shade
from pipeline.sight.picture import SHEET_EDGE, Picture, render
from pipeline.sight.scenery import Scenery, Surface, assemble
from tests.sight.box_room import (
    DEPTH,
    FLOOR,
    FRONT,
    HEIGHT,
    LIGHT,
    RELIEF,
    TONES,
    WIDTH,
    face,
    imagined_faces,
    surface,
    surfaces,
)

EYE = aim(RELIEF.eye, FRONT, 400, 300)
NO_LINES = np.zeros((0, 2, 3))


def picture(scenery: Scenery, room: str = "built", camera: Camera = EYE) -> Picture:
    return render(
        scenery,
        "built" if room == "built" else "imagined",
        camera,
        front=FRONT,
        light=LIGHT,
        imagine_points=RELIEF.imagine_points,
    )


def difference(one: Picture, two: Picture) -> NDArray[np.int64]:
    out: NDArray[np.int64] = np.abs(one.astype(np.int64) - two.astype(np.int64)).max(axis=2)
    return out


@pytest.fixture(scope="module")
def scenery() -> Scenery:
    return assemble(surfaces())


def test_built_and_imagined_room_coincide_from_the_eye(scenery: Scenery) -> None:
    """The relief keeps every ray through the eye (Burmester 1883), and the paint is the imagined one."""
    off = difference(picture(scenery), picture(scenery, "imagined"))
    assert off.mean() < 0.002
    # Rounding to whole tones is all that may differ, but for rays that graze an edge.
    assert (off > 1).sum() <= 40
    assert off.max() <= 16


def test_the_eye_beside_its_place_sees_another_picture(scenery: Scenery) -> None:
    """From 60 mm to the right the rays differ, so the built room does not look like the imagined one."""
    x, y, z = RELIEF.eye
    aside = aim((x + 60, y, z), FRONT, 400, 300)
    assert difference(picture(scenery, camera=aside), picture(scenery, "imagined", aside)).mean() > 3


def test_a_built_room_that_stands_wrong_is_seen(scenery: Scenery) -> None:
    """Pushed 3 mm to the right, the picture no longer coincides."""
    aside = np.array([3.0, 0, 0])
    shifted = [
        Surface(
            part=one.part,
            tone=one.tone,
            built=Mesh(vertices=one.built.vertices + aside, triangles=one.built.triangles),
            imagined=one.imagined,
            lines_built=one.lines_built + aside,
            lines_imagined=one.lines_imagined,
            solid=one.solid,
        )
        for one in surfaces()
    ]
    assert difference(picture(assemble(shifted)), picture(scenery)).mean() > 1


def test_casting_without_embree_takes_the_same_picture(scenery: Scenery, monkeypatch: pytest.MonkeyPatch) -> None:
    """The way of casting is no part of the picture."""
    if not rays.EMBREE:
        pytest.skip("embreex has no wheel for this machine")
    camera = aim(RELIEF.eye, FRONT, 200, 150)
    expected = picture(scenery, camera=camera)
    monkeypatch.setattr(rays, "EMBREE", False)
    off = difference(picture(assemble(surfaces()), camera=camera), expected)
    assert (off > 1).sum() <= 10


def test_a_guide_lands_on_the_row_the_ray_law_gives() -> None:
    """A line at height z and depth y meets the opening's plane at ez + (z - ez) D / (D + y)."""
    height, depth = 60.0, DEPTH
    line = np.array([[[-70.0, depth, height], [70, depth, height]]])
    wall = surface("back-wall", TONES["back-wall"], face(*imagined_faces()["back-wall"]), line, solid=False)
    bare = surface("back-wall", TONES["back-wall"], face(*imagined_faces()["back-wall"]), NO_LINES, solid=False)
    darker = difference(picture(assemble([wall])), picture(assemble([bare])))
    _, eye_y, eye_z = RELIEF.eye
    on_front = eye_z + (height - eye_z) * -eye_y / (depth - eye_y)
    row = (EYE.top - on_front) / EYE.pixel - 0.5
    rows = np.flatnonzero(darker.any(axis=1))
    assert rows.tolist() == [int(np.floor(row)), int(np.floor(row)) + 1]
    # The two rows share the stroke as the line lies between them.
    share = darker[rows, 200].astype(float)
    assert share[1] / share.sum() == pytest.approx(row - np.floor(row), abs=0.06)


def test_a_guide_behind_a_column_is_hidden(scenery: Scenery) -> None:
    """Columns carry no lines, so no pixel of theirs is darkened by the wall's."""
    plain = [
        Surface(part=one.part, tone=one.tone, built=one.built, imagined=one.imagined, solid=one.solid)
        for one in surfaces()
    ]
    darker = difference(picture(scenery), picture(assemble(plain)))
    columns, rows, _ = project(EYE, RELIEF.build_points([[-60.0, 51.0, FLOOR + h] for h in (20, 70, 120)]))
    for column, row in zip(columns.round().astype(int), rows.round().astype(int), strict=True):
        assert (darker[row - 3 : row + 4, column - 3 : column + 4] == 0).all()
    assert (darker > 0).mean() > 0.2


def test_guides_too_dense_to_tell_apart_do_not_turn_black() -> None:
    """However close the lines, a wall loses at most ``DENSE * STROKE_DARKNESS`` of its tone, 0.4 x 0.5 = a fifth."""
    sides = imagined_faces()["back-wall"]
    scale = (DEPTH - RELIEF.eye[1]) / -RELIEF.eye[1] * EYE.pixel

    def mean_tone(spacing: float) -> float:
        heights = np.arange(FLOOR + 5, FLOOR + HEIGHT - 5, spacing * scale)
        lines = np.array([[[-80.0, DEPTH, z], [80, DEPTH, z]] for z in heights])
        shown = picture(assemble([surface("back-wall", (1, 1, 1), face(*sides), lines, solid=False)]))
        return float(shown[120:160, 150:250].mean())

    bare = mean_tone(1e3)
    assert bare - mean_tone(2.0) > bare / 8
    for spacing in (1.0, 0.5, 0.25):
        assert bare - mean_tone(spacing) == pytest.approx(bare / 5, abs=1)


def test_a_hole_in_the_room_is_dark() -> None:
    """A ray that ends nowhere inside the room is no lighter than the darkest wall."""
    shown = picture(assemble([surface("floor", (1, 1, 1), face(*imagined_faces()["floor"]), NO_LINES, solid=False)]))
    column, row, _ = project(EYE, np.array([[0.0, DEPTH, FLOOR + 70]]))
    assert shown[round(float(row[0])), round(float(column[0]))].max() < 30


def test_the_opening_stands_true_to_scale_and_centred() -> None:
    """A pixel measures the same on the opening's plane all over; the box's corners are symmetric in the picture."""
    camera = aim((30.0, -200.0, 40.0), FRONT)
    box = FRONT.box
    corners = np.array([[box.left, 0, box.bottom], [box.right, 0, box.top]])
    column, row, nearness = project(camera, corners)
    assert nearness.tolist() == [1.0, 1.0]
    assert column.sum() == pytest.approx(1199)
    assert row.sum() == pytest.approx(899)
    assert (column[1] - column[0]) / (row[0] - row[1]) == pytest.approx(180 / 150)
    x, z = front_points(camera, column, row)
    np.testing.assert_allclose(corners[:, [0, 2]], np.column_stack([x, z]), atol=1e-9)


def test_verticals_stay_vertical_from_any_place() -> None:
    """The picture plane is upright whatever the pinhole's height."""
    camera = aim((55.0, -300.0, 140.0), FRONT)
    column, _, _ = project(camera, np.array([[20.0, 60, 10], [20, 60, 120]]))
    assert column[0] == pytest.approx(column[1], abs=1e-9)


def test_a_camera_inside_the_box_is_refused() -> None:
    """The pinhole stands before the opening."""
    with pytest.raises(ValueError, match="before the opening"):
        aim((0.0, 0.0, 70.0), FRONT)


def test_a_column_is_shaded_round_and_its_edges_stay_sharp() -> None:
    """Inside a facet of a curved skin the tone runs; on a box (90 degrees between faces) every face keeps its own."""
    scenery = assemble(surfaces())
    sides = scenery.part >= 5
    assert (scenery.bend[sides] >= 0).all()
    assert (scenery.bend[~sides] == -1).all()
    cube = [[x, y, z] for x in (0.0, 9.0) for y in (50.0, 59.0) for z in (20.0, 29.0)]
    quads = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    corners = np.array([[cube[q[i]] for i in t] for q in quads for t in ([0, 1, 2], [0, 2, 3])])
    assert (assemble([surface("cube", (1, 1, 1), corners, NO_LINES, solid=True)]).bend == -1).all()


def test_smoothed_normals_of_a_column_are_radial() -> None:
    """On a true cylinder the tone is that of the radial normal; the column's facets (7.5 degrees) come within 1 %."""
    scenery = assemble(surfaces())
    chosen = np.flatnonzero(scenery.part == 5)
    bends = scenery.bends[scenery.bend[chosen]]
    centre = np.array([-60.0, 60.0])
    at = np.stack([RELIEF.eye] * len(chosen))
    mesh = surfaces()[5].imagined
    at = mesh.corners.mean(axis=1)
    normal = np.einsum("ijk,ik->ij", bends[:, :, :3], at) + bends[:, :, 3]
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    radial = at[:, :2] - centre
    radial /= np.linalg.norm(radial, axis=1)[:, None]
    assert (np.einsum("ij,ij->i", normal[:, :2], radial) > np.cos(np.radians(1.0))).all()


def test_the_paint_darkens_and_warms_with_imagined_depth() -> None:
    """Blue falls most from the opening to the back, whatever is built."""
    scenery = assemble(surfaces())
    floor = np.zeros(2, dtype=np.int64)
    near, far = shade(
        scenery, mix(scenery, LIGHT), LIGHT, floor, np.array([[0.0, 5, FLOOR], [0, DEPTH - 5, FLOOR]])
    ).tolist()
    assert all(b < a for a, b in zip(near, far, strict=True))
    assert far[2] / near[2] < far[0] / near[0]


def test_triangles_that_do_not_correspond_are_refused() -> None:
    """Both rooms hold the same triangles, vertex for vertex."""
    one, two = surfaces()[:2]
    with pytest.raises(ValueError, match="not the same"):
        Surface(
            part="x", tone=(1, 1, 1), built=one.built, imagined=Mesh(vertices=two.imagined.vertices[:3],
                                                                     triangles=np.array([[0, 1, 2]])),
        )  # fmt: skip


def test_the_rooms_width_fills_its_share_of_the_picture(scenery: Scenery) -> None:
    """The imagined outline at the opening is drawn in true size: hall width over pixel size, in pixels."""
    shown = picture(scenery)
    middle = shown[250].astype(int)  # a row through the side walls, below the columns' feet
    inside = np.flatnonzero(np.abs(middle - np.round(np.array(SHEET_EDGE) * 255)).max(axis=1) == 0)
    left, right = inside[inside < 200].max(), inside[inside > 200].min()
    assert right - left - 1 == pytest.approx(WIDTH / EYE.pixel, abs=2)
