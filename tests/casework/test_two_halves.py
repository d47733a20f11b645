"""The written files of a box and of the scenes in its two halves, sawn apart, moved together and shut."""

from __future__ import annotations

import io
from functools import cache
from itertools import product

import numpy as np
import pytest
import trimesh
from manifold3d import CrossSection, FillRule, JoinType, Manifold, Mesh

from pipeline.build import Build, build_scene

from ..scene_text import changed
from .boxes import BOXED, ENDS, JOINTS, body, outlines, union

LID = changed(BOXED, "back_gap = 4\n", 'back_gap = 1\npart = "lid"\n').replace("height = 78", "height = 70")
FILM = 1e-3
"""mm; what is written in metres and single precision is a film off."""


@cache
def built(text: str) -> Build:
    return build_scene(text.encode(), "halves")


@pytest.mark.parametrize(("joint", "ends"), list(product(JOINTS, ENDS)))
def test_sawn_along_the_drawn_lines_the_halves_are_as_high_as_planned(joint: str, ends: str) -> None:
    """Everything from the files: the boards by their outlines, the saw by the two lines drawn on each of the four. What
    it leaves is 85 + 4 = 89 mm of box and 24 mm of lid, and shut they are 113 mm, with 85 and 20 mm of room."""
    text = changed(BOXED, 'joint = "finger"', f'joint = "{joint}"\nends = "{ends}"')
    made = built(text)
    entry = made.manifest["casework"]
    boards = {one["id"]: body(one, made.files[one["files"]["dxf"]]) for one in entry["boards"]}
    lines = []
    for one in entry["boards"]:
        if one["saw"] is not None:
            drawn = [line.mean(axis=0) for line in outlines(made.files[one["files"]["dxf"]], "PLACE")[:2]]
            placed = [np.array(one["built_from_flat"]) @ [*spot, 0.0, 1.0] for spot in drawn]
            lines.append(sorted(spot[1] for spot in placed))
    assert np.array(lines) == pytest.approx(np.tile([-1.2, 0.0], (4, 1)), abs=1e-6)
    near, far = lines[0]
    whole = union(list(boards.values()))
    box, lid = whole.trim_by_plane((0, 1, 0), far), whole.trim_by_plane((0, -1, 0), -near)
    moved = lid.transform(np.array(entry["closed_from_sawn"])[:3].tolist())
    ends_of = [np.array(half.bounding_box()).reshape(2, 3)[:, 1] for half in (box, lid, union([box, moved]))]
    assert [float(np.ptp(one)) for one in ends_of] == pytest.approx([89, 24, 113], abs=1e-5)
    assert (box ^ moved).volume() == pytest.approx(0.0, abs=1e-3)
    inside = Manifold.cube((180.0, 105.0, 150.0)).translate((-90.0, -20.0, 0.0))
    shut = union([box, moved])
    assert (shut ^ inside).volume() == pytest.approx(0.0, abs=0.5)
    assert shut.volume() + inside.volume() == pytest.approx(192 * 162 * 113, abs=0.5)


def parts_of(made: Build) -> list[Manifold]:
    """Return the parts as ``built.glb`` has them, read by trimesh, built mm."""
    scene = trimesh.load(io.BytesIO(made.files["built.glb"]), file_type="glb")
    out = []
    for node in scene.graph.nodes_geometry:
        place, name = scene.graph[node]
        mesh = scene.geometry[name]
        if hasattr(mesh, "faces"):
            whole = mesh.copy().apply_transform(place)
            whole.merge_vertices(merge_tex=True, merge_norm=True)
            x, y, z = 1000 * whole.vertices.T  # glTF: y up, the eye looking along -z
            points = np.column_stack([x, -z, y]).astype(np.float32)
            out.append(Manifold(Mesh(points, np.asarray(whole.faces, dtype=np.uint32))))
    return out


def test_both_scenes_shut_into_one_box_without_touching_what_is_not_theirs() -> None:
    """The lid's parts, taken into the frame of the box by the one board that both manifests place, and moved up by the
    kerf: nothing of either room is in the other or in a board, and both are flush with the one line where they meet.
    Moved up by twice the kerf they would not be."""
    box, lid = built(BOXED), built(LID)
    entry, other = box.manifest["casework"], lid.manifest["casework"]
    (from_lid,) = {
        tuple(np.round(np.array(a["built_from_flat"]) @ np.linalg.inv(b["built_from_flat"]), 6).ravel() + 0.0)
        for a, b in zip(entry["boards"], other["boards"], strict=True)
    }
    close = np.array(entry["closed_from_sawn"])
    moved = close @ np.reshape(from_lid, (4, 4))
    ours = parts_of(box)
    theirs = [one.transform(moved[:3].tolist()) for one in parts_of(lid)]
    assert len(ours) == len(box.manifest["parts"])
    assert len(theirs) == len(lid.manifest["parts"])
    whole = union([body(one, box.files[one["files"]["dxf"]]) for one in entry["boards"]])
    sawn = [whole.trim_by_plane((0, 1, 0), 0.0), whole.trim_by_plane((0, -1, 0), 1.2).transform(close[:3].tolist())]

    def shared(some: list[Manifold], others: list[Manifold]) -> float:
        return max(float((one ^ two).volume()) for one, two in product(some, others))

    assert shared(ours, theirs) < FILM
    assert shared([*ours, *theirs], sawn) < FILM
    assert min(one.bounding_box()[1] for one in ours) == pytest.approx(0.0, abs=FILM)
    assert max(one.bounding_box()[4] for one in theirs) == pytest.approx(0.0, abs=FILM)
    assert shared(ours, [one.translate((0.0, 1.2, 0.0)) for one in theirs]) > 1.0


def test_fingers_on_a_sheet_are_the_drawn_ones_once_the_cutter_has_burnt_its_half() -> None:
    """Half a kerf of 0.2 mm taken off each outline of the sheet all round is the board as it is drawn, notches and all:
    they come out as wide as the fingers that go into them."""
    made = built(BOXED)
    (sheet,) = [one for one in made.manifest["sheets"] if one["material"] == "ply"]
    loops = outlines(made.files["sheets/ply-1.dxf"], "OUTLINE")
    boards = {one["id"]: one for one in made.manifest["casework"]["boards"]}
    left = [CrossSection([loop], FillRule.NonZero).offset(-0.1, JoinType.Miter, 4.0) for loop in loops]
    for placed in sheet["parts"]:
        (outline,) = outlines(made.files[boards[placed["id"]]["files"]["dxf"]], "OUTLINE")
        onto = np.array(placed["sheet_from_flat"])
        nominal = CrossSection([outline @ onto[:2, :2].T + onto[:2, 3]], FillRule.NonZero)
        off = [abs((one - nominal).area()) + abs((nominal - one).area()) for one in left]
        assert min(off) < 0.1, placed["id"]
