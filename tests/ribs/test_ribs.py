"""The ribs of a vault as prints: closed, apart, and together all that there is."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any

import manifold3d
import pytest

from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Hall
from pipeline.elements.vault.rib_bodies import PLAY_ALONG, arched, diagonal, transverse, wall
from pipeline.geometry.booleans import body_of
from pipeline.parts.blocks import block_print
from tests.ribs.samples import CASES, HALL, RELIEF, blocks, imagined, shared

ROUNDING = 1e-6
"""mm^3; what two bodies with one common plane share by rounding."""
FIT = 0.15


def _common(a: manifold3d.Manifold, b: manifold3d.Manifold) -> float:
    return float((a ^ b).volume())


@pytest.mark.parametrize("name", CASES)
def test_every_rib_is_one_closed_body_without_tunnels_before_and_after_the_relief(name: str) -> None:
    for block in blocks(**CASES[name]).values():
        built = block_print(block, RELIEF, HALL, fit=FIT, min_wall=1.0, min_cavity=2.0).body
        for mesh in (block.mesh, built):
            body = body_of(mesh)
            assert len(body.decompose()) == 1, block.id
            assert body.genus() == 0, block.id


@pytest.mark.parametrize("name", CASES)
def test_no_two_ribs_share_room(name: str) -> None:
    bodies = {part: body_of(block.mesh) for part, block in blocks(**CASES[name]).items()}
    for a, b in combinations(bodies, 2):
        assert _common(bodies[a], bodies[b]) < ROUNDING, (a, b)


@pytest.mark.parametrize("name", ["plain", "boss and ridge", "pointed"])
def test_built_ribs_stand_off_one_another_by_the_play(name: str) -> None:
    """Seams leave exactly the play; flanks of neighbours, which the imagined room parts, no less."""
    prints = {
        part: body_of(block_print(b, RELIEF, HALL, fit=FIT, min_wall=1.0, min_cavity=2.0).body)
        for part, b in blocks(**CASES[name]).items()
    }
    for a, b in combinations(prints, 2):
        assert prints[a].min_gap(prints[b], 1.0) > FIT - 1e-6, (a, b)
    bedded = prints["vault-springer-left-2"].min_gap(prints["vault-rib-transverse-2"], 1.0)
    assert bedded == pytest.approx(FIT, abs=1e-6)


def test_the_pieces_together_are_all_the_whole_ribs() -> None:
    """Cutting loses nothing and doubles nothing: the pieces' volumes add up to that of whole ribs and bosses united."""
    ribs, said = shared(), {part: body_of(block.mesh) for part, block in blocks(boss=0.8).items()}
    shape = ribs.shape
    whole = [body for part, body in said.items() if "boss" in part]
    whole += [arched(ribs, transverse(shape, line)) for line in shape.lines]
    for near, far in shape.bays:
        room = manifold3d.Manifold.cube([400.0, far - near, 500.0]).translate([-200.0, near, 0])
        whole += [arched(ribs, t(shape, (near, far), side)) ^ room for t in (diagonal, wall) for side in (-1, 1)]
    room = manifold3d.Manifold.cube([HALL.width, HALL.depth, 500.0]).translate([-HALL.width / 2, 0, 0])
    united = manifold3d.Manifold.batch_boolean(whole, manifold3d.OpType.Add) ^ room
    pieces = sum(body.volume() for body in said.values())
    assert pieces == pytest.approx(united.volume(), rel=1e-5)


def test_springers_reach_to_where_the_last_ribs_part() -> None:
    """Ribs as much wider as their flanks are to stand apart share room up to the bed, and none above it."""
    ribs = shared()
    shape, bay = ribs.shape, ribs.shape.bays[0]
    wide = shared(rib_width=0.5 + PLAY_ALONG * 48 / 1000)
    corner = manifold3d.Manifold.cube([HALL.width / 2, HALL.depth / 6, 500.0]).translate([-HALL.width / 2, 0, 0])
    tracks = (transverse(shape, 0.0), wall(shape, bay, -1), diagonal(shape, bay, 1))
    bodies = [arched(wide, replace(track, play=0.0)) for track in tracks]
    top = max((a ^ b ^ corner).bounding_box()[5] for a, b in combinations(bodies, 2))
    springer = blocks()["vault-springer-left-1"].mesh.vertices[:, 2]
    assert springer.min() == pytest.approx(shape.springing, abs=1e-9)
    assert springer.max() == pytest.approx(top, abs=2 * HALL.facet)
    assert springer.max() - shape.springing > shape.rise / 2


@pytest.mark.parametrize("side", ["left", "right"])
def test_one_springer_a_pier_carries_what_begins_at_it(side: str) -> None:
    said = blocks()
    springers = [part for part in said if part.startswith(f"vault-springer-{side}-")]
    assert springers == [f"vault-springer-{side}-{k}" for k in (1, 2, 3, 4)]
    bed = said[springers[0]].mesh.vertices[:, 2].max()
    for part, block in said.items():
        if "springer" not in part:
            assert block.mesh.vertices[:, 2].min() == pytest.approx(bed, abs=1e-9)


def test_names_say_what_and_which() -> None:
    """Part ids are lower-case words joined by hyphens, the element's name first, then what and which."""
    said = blocks(ridge=True, boss=0.9)
    for part in (
        "vault-springer-left-1", "vault-rib-transverse-2", "vault-rib-wall-left-1", "vault-boss-3",
        "vault-rib-diagonal-1-near-left", "vault-rib-ridge-2-far", "vault-rib-ridge-2-right",
    ):  # fmt: skip
        assert part in said
    assert len(said) == 4 + 8 + 6 + 12 + 12 + 3


@pytest.mark.parametrize("keys", [{"rib_width": 0.0}, {"rib_width": 0.0, "boss": 1.0}])
def test_a_vault_without_ribs_has_none(keys: dict[str, Any]) -> None:
    said = imagined(**keys)
    assert (said.blocks, said.problems) == ((), ())


@pytest.mark.parametrize(
    ("keys", "key", "said"),
    [
        ({"rib_width": 2.0}, "rib_width", "do not leave one another"),
        ({"rib_depth": 2.2}, "rib_width", "do not leave one another"),
        ({"boss": 7.0}, "rib_width", "do not leave one another"),
        ({"boss": 0.4}, "boss", "a boss 0.4 m wide where ribs 0.5 m wide meet"),
        ({"form": "barrel", "boss": 0.9}, "boss", "no diagonal ribs"),
    ],
)
def test_ribs_that_cannot_be_are_refused(keys: dict[str, Any], key: str, said: str) -> None:
    (problem,) = imagined(**keys).problems
    assert problem.path == ("vault", key)
    assert said in problem.found


def test_what_crosses_the_aprons_end_is_two_prints() -> None:
    """The room is built true before the apron's end: a solid lies wholly on one side of it."""
    hall = Hall(scale=48, width=170.0, height=145.0, depth=250.0, floor=3.0, apron=30.0, front=0.0)
    parted, plain = blocks(hall), blocks()
    depths = [(b.mesh.vertices[:, 1].min(), b.mesh.vertices[:, 1].max()) for b in parted.values()]
    assert all(far <= 30.0 + 1e-9 or near >= 30.0 - 1e-9 for near, far in depths)
    assert set(plain) < set(parted)
    assert _volume(parted) == pytest.approx(_volume(plain), rel=1e-6)


def _volume(said: dict[str, Block]) -> float:
    return float(sum(body_of(block.mesh).volume() for block in said.values()))


def test_ribs_leave_a_front_frame_its_room() -> None:
    """The frame's body stands before y = front and above the barrel's outline at the opening; so no rib goes there."""
    hall = Hall(scale=48, width=170.0, height=145.0, depth=250.0, floor=3.0, apron=0.0, front=6.0)
    springing, rise = 3.0 + 3.2 * 1000 / 48, 3.0 * 1000 / 48
    for part, block in blocks(hall).items():
        assert len(body_of(block.mesh).decompose()) == 1, part
        before = block.mesh.vertices[block.mesh.vertices[:, 1] < 6.0]
        outline = (before[:, 0] / 85.0) ** 2 + ((before[:, 2] - springing) / rise) ** 2
        assert (outline < 1).all(), part
    assert set(blocks(hall)) == set(blocks())
