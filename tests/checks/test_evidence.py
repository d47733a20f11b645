"""What checks are given: parts together as they are made, made ready once."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import numpy as np
import pytest

from pipeline.build import make
from pipeline.checks.evidence import Evidence, as_manifold
from pipeline.elements.bodies import Block
from pipeline.geometry.meshes import EMPTY
from pipeline.parts.model import Print
from pipeline.parts.nets import Net
from pipeline.parts.stencils import Stencil
from pipeline.sight.rays import Target

from ..scene_text import PLAIN


@pytest.fixture(scope="module")
def room() -> Evidence:
    return make(PLAIN.encode())


def print_of(name: str, piece: int = 0) -> Print:
    return Print(
        solid=Block(id=name, mesh=EMPTY, contacts=(), joints=np.zeros((0, 2, 3))), body=EMPTY, skin_imagined=EMPTY,
        built_from_bed=np.eye(4), hollow=False, volume=0.0, min_wall=1.0, piece=piece,
    )  # fmt: skip


def test_pieces_of_a_print_are_one_whole(room: Evidence) -> None:
    """Whatever stands between them, in the order in which wholes begin."""
    prints = (print_of("arch", 1), print_of("post"), print_of("arch", 2))
    wholes = replace(room, prints=prints).whole_prints
    assert [[part.id for part in whole] for whole in wholes] == [["arch-1", "arch-2"], ["post"]]
    assert room.whole_prints == ()


def test_what_is_cut_in_one_piece_is_told_once(room: Evidence) -> None:
    """Panels of a net are cut with it; stencils of paper alone are not cut from sheet."""
    first, second, *others = room.panels
    net = Net(id="net", panels=(first, second), net_from_flat={}, cut=first.cut, creases=())

    def stencil(name: str, material: str) -> Stencil:
        return Stencil(
            id=name, panel="floor", light="lamp", kind="light", material=material, cut=first.cut,
            register=np.zeros((0, 2, 2)), pins=np.zeros((0, 2)), islands=0,
        )  # fmt: skip

    evidence = replace(room, nets=(net,), stencils=(stencil("masked", "foam"), stencil("drawn", "")))
    assert [piece.id for piece in evidence.pieces] == [*(panel.id for panel in others), "net", "masked"]
    assert [piece.id for piece in room.pieces] == [panel.id for panel in room.panels]
    assert evidence.boards == ()
    boards = cast("Any", ("a", "b"))
    casework = cast("Any", type("Case", (), {"boards": boards}))
    assert replace(room, casework=casework).boards == boards


def test_triangles_and_broad_ways_are_made_ready_once(room: Evidence) -> None:
    """When they are asked for, and kept then."""
    evidence = replace(room, prints=(print_of("post"),))
    evidence.__dict__["shells_bed"] = {"post": np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]])}
    target = evidence.targets["post"]
    assert isinstance(target, Target)
    assert evidence.targets["post"] is target
    assert target.cast([[0.2, 0.2, 5.0]], [[0.0, 0.0, -1.0]])[1].tolist() == [5.0]
    ways = room.ways["floor"]
    assert room.ways["floor"] is ways
    for panel in room.panels:
        assert np.abs(room.ways[panel.id] @ panel.leaves[0].built_from_flat[:3, 2]).max() == pytest.approx(1.0)


def test_a_question_about_shapes_changes_with_them_alone(room: Evidence) -> None:
    """With what was left out too; not with what a panel wears."""
    said = replace(room.imagined, unseen=("floor",))
    assert replace(room, imagined=said).shapes[-1] != room.shapes[-1]
    assert replace(room, sheet_notes=("a note",)).shapes == room.shapes


def test_parts_touch_within_both_plays(room: Evidence) -> None:
    """Sheets that meet touch; the floor and the ceiling do not come near one another."""
    assert ("floor", "left-wall") in {(min(pair), max(pair)) for pair in room.touching}
    assert set(room.touching) <= set(room.gaps)
    assert not any({"floor", "ceiling"} == set(pair) for pair in room.gaps)
    volume = as_manifold(room.panels[0].body).volume()
    assert room.bodies[room.panels[0].id].volume() == pytest.approx(volume)
