"""What is in whose way: against swept bodies of manifold3d, a closed form, and an order turned round."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pipeline.build import make
from pipeline.checks import push_in
from pipeline.geometry.booleans import mesh_of
from pipeline.parts.apart import Spread
from pipeline.parts.facets import GRAZE, Facets, looking, surface_of
from pipeline.parts.order import HOME, Bench, Piece, order_of_work
from pipeline.parts.pushing import STRAIGHT_OUT, in_the_way, lifted_into
from tests.scene_text import PLAIN, changed

BOX = (200.0, 200.0, 100.0)
FAR = 500.0

turns = st.tuples(*(st.floats(0, 360) for _ in range(3)))
sizes = st.tuples(*(st.floats(5, 40) for _ in range(3)))
places = st.tuples(*(st.floats(-40, 40) for _ in range(3)))


def block(size: tuple[float, ...], turn: tuple[float, ...], place: tuple[float, ...]) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube(size, center=True).rotate(turn).translate(place)


def swept(body: manifold3d.Manifold, way: np.ndarray) -> manifold3d.Manifold:
    return manifold3d.Manifold.batch_hull([body, body.translate(way)])


def facing(body: manifold3d.Manifold, pull: np.ndarray, *, out: bool) -> Facets:
    return looking(surface_of(mesh_of(body)), pull, out=out)


def meets(part: manifold3d.Manifold, other: manifold3d.Manifold, pull: np.ndarray) -> bool:
    return in_the_way(facing(part, pull, out=False), facing(other, pull, out=True))


def lifts_into(part: manifold3d.Manifold, other: manifold3d.Manifold, pull: np.ndarray, lift: float) -> bool:
    return lifted_into(facing(part, pull, out=True), facing(other, pull, out=False), lift)


def pull_of(tilt_deg: float, turn_deg: float) -> np.ndarray:
    tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
    return np.array([math.sin(tilt) * math.cos(turn), -math.cos(tilt), math.sin(tilt) * math.sin(turn)])


@given(sizes, turns, places, sizes, turns, places, st.floats(0, 60), st.floats(0, 360))
def test_one_block_is_in_anothers_way_where_the_swept_body_meets_it(
    size: tuple[float, ...],
    turn: tuple[float, ...],
    place: tuple[float, ...],
    other_size: tuple[float, ...],
    other_turn: tuple[float, ...],
    other_place: tuple[float, ...],
    tilt: float,
    aside: float,
) -> None:
    """The swept body of a convex part is the hull of where it starts and where it ends (manifold3d)."""
    a, b = block(size, turn, place), block(other_size, other_turn, other_place)
    assume((a ^ b).volume() == 0)
    pull = pull_of(tilt, aside)
    found = meets(a, b, pull)
    if (swept(a, FAR * pull) ^ b).volume() == 0:
        assert not found
    # Moved aside to any side by more than a graze, it is stopped still: then it must have been found.
    moves = [sign * 8 * GRAZE * np.cross(pull, axis) for axis in np.eye(3) for sign in (1, -1)]
    if all((swept(a.translate(move), FAR * pull) ^ b).volume() > 1 for move in moves):
        assert found


@given(sizes, turns, places, sizes, turns, places, st.floats(1, 30))
def test_a_lift_meets_what_its_short_sweep_meets(
    size: tuple[float, ...],
    turn: tuple[float, ...],
    place: tuple[float, ...],
    other_size: tuple[float, ...],
    other_turn: tuple[float, ...],
    other_place: tuple[float, ...],
    lift: float,
) -> None:
    """As above, but the sweep ends after the lift (manifold3d)."""
    a, b = block(size, turn, place), block(other_size, other_turn, other_place)
    assume((a ^ b).volume() == 0)
    up = np.array([0.0, 0.0, 1.0])
    found = lifts_into(a, b, up, lift)
    if (swept(a, lift * up) ^ b).volume() == 0:
        assert not found
    moves = [sign * 8 * GRAZE * axis for axis in np.eye(3)[:2] for sign in (1, -1)]
    if lift > 1 and all((swept(a.translate(move), (lift - 0.9) * up) ^ b).volume() > 1 for move in moves):
        assert found


@given(sizes, turns, st.floats(0, 80), st.floats(0, 360), st.floats(2, 30))
def test_a_lift_meets_what_touches_from_before_and_leaves_what_touches_from_behind(
    size: tuple[float, ...], turn: tuple[float, ...], tilt: float, aside: float, lift: float
) -> None:
    """Of a block cut in two by a slanted plane the lower half runs into the upper one, which itself is free to go.

    Lifted by l, it would go l cos(tilt) beyond the plane. The whole is turned anyhow: what touches in truth may stand a
    rounding apart either way.
    """
    plane = pull_of(tilt, aside)[[0, 2, 1]] * (1, 1, -1)
    halves = manifold3d.Manifold.cube(size, center=True).split_by_plane(plane, 0.0)
    up = np.array([0.0, 0.0, 1.0])
    rest = manifold3d.Manifold.tetrahedron().rotate(turn)
    frame = np.linalg.lstsq(mesh_of(manifold3d.Manifold.tetrahedron()).vertices, mesh_of(rest).vertices)[0]
    upper, lower = (half.rotate(turn) for half in halves)
    assert lifts_into(lower, upper, up @ frame, lift)
    assert not lifts_into(upper, lower, up @ frame, lift)


def test_a_wedge_lifts_off_the_wedge_it_lies_on() -> None:
    """Where both run out to nothing the one stands a full lift before the other, and no more."""
    corners = np.array([[x, y, z] for y in (0.0, 9.0) for x, z in ((-20.0, 0.0), (0.0, 0.0), (-20.0, 10.0))])
    upper, lower = (manifold3d.Manifold.hull_points(corners * (1, 1, side)) for side in (1, -1))
    up = np.array([0.0, 0.0, 1.0])
    assert not lifts_into(upper, lower, up, 6.0)
    assert lifts_into(lower, upper, up, 6.0)


@given(sizes, st.floats(0, 80), st.floats(0, 360), st.floats(0, 0.5), st.floats(1, 20))
def test_bodies_told_apart_by_their_reach_do_not_meet(
    size: tuple[float, ...], tilt: float, aside: float, overlap: float, lift: float
) -> None:
    """Two halves of a block that overlap by less than they may are told apart by the plane between them.

    Where they are told apart they do not meet, facet by facet: pulled straight out, and lifted toward one another.
    """
    plane, out = pull_of(tilt, aside), np.array(STRAIGHT_OUT)
    rise = float(plane @ out)
    ahead, behind = manifold3d.Manifold.cube(size, center=True).split_by_plane(plane, 0.0)
    apart = ahead.translate(plane * (lift * rise - overlap))
    ahead = ahead.translate(-overlap * plane)
    cleared = Spread([mesh_of(ahead), mesh_of(behind)], [plane]).cleared(0, np.zeros(3))[1]
    cleared_home = Spread([mesh_of(behind), mesh_of(apart)], [plane]).cleared_home(0, lift * out)[1]
    if overlap < 0.9 * GRAZE * rise:
        assert cleared
        assert cleared_home
    assert not (cleared and meets(ahead, behind, out))
    assert not (cleared_home and lifts_into(behind, apart, out, lift))


def piece(name: str, body: manifold3d.Manifold) -> Piece:
    return Piece(id=name, body=mesh_of(body), kind=0)


def test_a_part_behind_another_goes_in_first_whatever_their_rank() -> None:
    """The wide block reaches farther back, but the small one stands behind its overhang."""
    cube = manifold3d.Manifold.cube
    wide = cube((60, 60, 20)).translate((-30, 0, 0)) + cube((60, 10, 60)).translate((-30, 0, 0))
    small = cube((10, 10, 10)).translate((0, 20, 30))
    steps = order_of_work(Bench((piece("wide", wide), piece("small", small)), BOX))
    assert [(step.id, step.held_off) for step in steps] == [("small", HOME), ("wide", HOME)]


def test_a_part_inside_a_ring_has_no_way_in() -> None:
    """A block in a closed box cannot come out; nor the box, over it. One of them is named."""
    outer = manifold3d.Manifold.cube((60, 60, 60)) - manifold3d.Manifold.cube((40, 40, 40)).translate((10, 10, 10))
    inner = manifold3d.Manifold.cube((38, 38, 38)).translate((11, 11, 11))
    bench = Bench((piece("outer", outer), piece("inner", inner)), BOX)
    first, second = order_of_work(bench)
    assert (first.held_off, second.held_off) == (HOME, None)
    assert bench.blockers(second.id, [first.id], HOME) == (first.id,)


def test_what_hangs_behind_a_lip_is_pushed_in_below_it_and_raised() -> None:
    """A lip 4 mm lower than the block's top, before it: held 6 mm lower it passes, and the lip is no obstacle."""
    lip = manifold3d.Manifold.cube((100, 4, 20)).translate((-50, 10, 76))
    hung = manifold3d.Manifold.cube((20, 20, 40)).translate((-10, 30, 40))
    bench = Bench((piece("lip", lip), piece("hung", hung)), BOX)
    assert bench.hold_offs("hung") == (HOME, (0.0, 0.0, -6.0))
    assert bench.blocker("hung", ["lip"], HOME) == "lip"
    assert bench.blocker("hung", ["lip"], (0.0, 0.0, -6.0)) is None


@pytest.mark.parametrize(("height", "first", "second"), [("100", "floor", "left-wall"), ("50", "left-wall", "floor")])
def test_of_two_mitred_sheets_the_one_that_leans_more_goes_in_first(height: str, first: str, second: str) -> None:
    """Along their mitre n_f / t_f = n_w / t_w a wall slides out where sin(rake) / t_f > sin(lean) / t_w.

    tan(rake) = (eye - floor) / V and tan(lean) = (W/2 + x) / V, so the heights 97 and 47 mm over the floor against half
    the width of 86.5 mm decide it.
    """
    evidence = make(changed(PLAIN, "height = 78", f"height = {height}").encode())
    order = {part: entry["order"] for part, entry in evidence.entries.items()}
    assert order[first] < order[second]
    assert evidence.bench.meets(first, second, HOME)
    assert not evidence.bench.meets(second, first, HOME)


def test_the_check_follows_the_order_it_is_given_and_names_who_is_in_the_way() -> None:
    """Turned round, the order of a plain room puts the back wall in last, past all the others."""
    evidence = make(PLAIN.encode())
    assert [finding.status for finding in push_in.run(evidence)] == ["pass"]
    count = len(evidence.entries)
    turned = {part: {**entry, "order": count + 1 - entry["order"]} for part, entry in evidence.entries.items()}
    found = {finding.part: finding for finding in push_in.run(replace(evidence, entries=turned))}
    assert found["back-wall"].status == "warn"
    assert "no straight way in past" in found["back-wall"].message


def test_of_those_in_the_way_two_are_named_and_all_are_counted() -> None:
    """The figures are the bench's own; the first in the way is whom to glue it to."""
    evidence = make(PLAIN.encode())
    order = sorted(evidence.entries, key=lambda part: -evidence.entries[part]["order"])
    turned = {part: {**evidence.entries[part], "order": number} for number, part in enumerate(order)}
    head, *found = push_in.run(replace(evidence, entries=turned))
    ways = {part: evidence.bench.blockers(part, order[:number], HOME) for number, part in enumerate(order)}
    blocked = {part: others for part, others in ways.items() if others}
    assert sorted(len(others) for others in blocked.values()) == [2, 2, 4]
    assert head.message.startswith(f"{5 - len(blocked)} of 5 parts go straight in")
    assert (head.id, head.part, head.status, head.value, head.limit) == (push_in.ID, "", "pass", 0.0, 0.0)
    assert [finding.part for finding in found] == list(blocked)
    for finding in found:
        others = blocked[finding.part]
        named = f"{others[0]} and {others[1]}" + (" and 2 more" if len(others) == 4 else "")
        assert finding.message.startswith(f"no straight way in past {named}: glue it to {others[0]} before")
        assert (finding.id, finding.status, finding.value, finding.unit) == ("push-in", "warn", len(others), "parts")


def test_what_is_held_off_is_said_with_whom_it_passes() -> None:
    """The block behind the lip, 6 mm lower; before the lip it goes straight in, and not held off it has no way in."""
    lip = manifold3d.Manifold.cube((100, 4, 20)).translate((-50, 10, 76))
    hung = manifold3d.Manifold.cube((20, 20, 40)).translate((-10, 30, 40))
    bench = Bench((piece("lip", lip), piece("hung", hung)), BOX)
    plain = make(PLAIN.encode())

    def told(*order: tuple[str, tuple[float, ...] | None]) -> list[tuple[str, str, float | None, str]]:
        entries = {part: {"id": part, "order": i, "held_off": off} for i, (part, off) in enumerate(order)}
        findings = push_in.run(replace(plain, bench=bench, entries=entries))
        return [(one.part, one.status, one.value, one.message) for one in findings]

    straight = "{} of 2 parts go straight in, square to the opening, in the order of work"
    assert told(("hung", HOME), ("lip", HOME)) == [("", "pass", 0.0, straight.format(2))]
    assert told(("lip", HOME), ("hung", (0.0, 0.0, -6.0))) == [
        ("", "pass", 0.0, straight.format(1)),
        ("hung", "pass", 0.0, "goes in past lip held 6 mm below its place, and is then set home"),
    ]
    stuck = "no straight way in past lip: glue it to lip before that goes in, or spring it past"
    assert told(("lip", HOME), ("hung", None)) == [
        ("", "pass", 0.0, straight.format(1)),
        ("hung", "warn", 1.0, stuck),
    ]
