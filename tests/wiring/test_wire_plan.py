"""Ways of wires planned in rooms of a few blocks, where each can be told by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeAlias, cast

import manifold3d
import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.parts.wire_plan import NO_WAY, Ground, Holes, Outlook, Spot, battery_place, lead, total_cost, without
from pipeline.parts.wire_plan import _entry as entry
from pipeline.parts.wire_search import Passage, Search, Seed
from tests.wiring.test_space import space_with

Array = NDArray[np.float64]
Body: TypeAlias = manifold3d.Manifold

SPOT = Spot(light="lantern", led="lantern", place=(0.0, 0.0, 0.0), size=3.0)
HOLE_OF = {2: 1.0, 4: 1.5, 6: 2.0}
BACK = 8.0
"""y of the box's back; blocks are 2 mm wide, their middles at odd places."""


def ground(
    passages: tuple[Passage, ...] = (), bodies: dict[str, Body] | None = None, wall: bool = False, radius: float = 0.4
) -> Ground:
    """Return a room 12 x 8 x 8 mm, parted by a wall from y = 4 to 6 or not."""
    free = np.ones((12, 8, 8), dtype=bool)
    if wall:
        free[:, 4:6] = False
    search = Search(space_with(free), radius, passages)
    return Ground(search=search, sheets={}, sight=cast("Any", None), bodies=bodies or {}, hole_of=HOLE_OF)


def seed(*points: tuple[float, float, float], passage: Passage | None = None, bare: bool = False) -> Seed:
    return Seed(points=np.array(points, dtype=float), cost=0.0, passage=passage, bare=bare)


def outlook(room: Ground, *seeds: Seed, first: int | None = None) -> Outlook:
    count = len(seeds) if first is None else first
    return Outlook(seeds=seeds, first=count, ways=room.search.spread(seeds[:count]))


def cuboid(low: tuple[float, float, float], high: tuple[float, float, float]) -> Body:
    x, y, z = (float(b - a) for a, b in zip(low, high, strict=True))
    return Body.cube((x, y, z)).translate(low)


def passage(x: float, part: str = "wall", cost: float = 5.0, z: float = 3.0) -> Passage:
    """Return a hole through the wall, whose drawing's x and y are the room's x and z."""
    ends = np.array([[x, 3.0, z], [x, 7.0, z]])
    return Passage(part=part, at=(x, z), ends=ends, cost=cost, how=f"at {x:g}")


WALL = cuboid((0, 4, 0), (12, 6, 8))


def test_wires_run_straight_to_the_back_where_nothing_is_in_the_way() -> None:
    """From the seed's end on, at its height; no holes."""
    room = ground()
    run = lead(SPOT, outlook(room, seed((5, 0, 3), (5, 1, 3))), room, BACK, Holes(ground=room))
    assert run.points[0].tolist() == [5, 0, 3]
    assert run.points[-1].tolist() == [5, 8, 3]
    assert {(x, z) for x, _, z in run.points.tolist()} == {(5.0, 3.0)}
    assert (run.light, run.led, run.why) == ("lantern", "lantern", "")
    assert run.through == ("",) * (len(run.points) - 1)
    assert run.length == pytest.approx(8.0)


def test_wires_end_on_their_battery() -> None:
    """Where the leg to its middle enters it; 5 mm to the left and 1 down of where they begin."""
    room = ground()
    battery = np.array([[0.0, 4.0, 0.0], [2.0, 8.0, 8.0]])
    run = lead(SPOT, outlook(room, seed((7, 1, 3), (7, 1, 5))), room, battery, Holes(ground=room))
    assert run.points[0].tolist() == [7, 1, 3]
    end = run.points[-1]
    assert (battery[0] - 1e-9 <= end).all()
    assert (end <= battery[1] + 1e-9).all()
    on_face = np.isclose(end, battery[0]) | np.isclose(end, battery[1])
    assert on_face.any()
    assert not ((run.points[:-1] > battery[0]) & (run.points[:-1] < battery[1])).all(axis=1).any()


def test_an_exit_within_the_battery_has_come_to_its_end() -> None:
    """No leg of no length is added."""
    room = ground()
    battery = np.array([[4.0, 0.0, 2.0], [6.0, 8.0, 4.0]])
    run = lead(SPOT, outlook(room, seed((5, -3, 3), (5, 1, 3))), room, battery, Holes(ground=room))
    assert run.points.tolist() == [[5, -3, 3], [5, 1, 3]]


@pytest.mark.parametrize(
    ("outside", "inside", "expected"),
    [
        ((0, 0, 0), (4, 4, 4), (2, 2, 2)),
        ((8, 4, 4), (5, 4, 4), (6, 4, 4)),
        ((0, 3, 8), (4, 4, 4), (2, 3.5, 6)),
        ((4, 9, 1), (4, 5, 4), (4, 19 / 3, 3)),
    ],
)
def test_a_leg_enters_a_box_where_it_comes_past_the_last_of_its_planes(
    outside: tuple[float, float, float], inside: tuple[float, float, float], expected: tuple[float, float, float]
) -> None:
    """The box from 2 to 6 each way, from 3 up in the last case that comes from two sides at once."""
    low = 3.0 if outside == (4, 9, 1) else 2.0
    box = np.array([[2.0, 2.0, low], [6.0, 7.0, 6.0]])
    assert entry(np.array(outside, float), np.array(inside, float), box) == pytest.approx(expected)


def test_wires_go_through_the_hole_that_costs_least_and_later_ones_through_the_same() -> None:
    """The first makes it, for two wires; the second leads two more through it, and it is wider; named in order."""
    room = ground((passage(9.0, cost=1.0), passage(3.0, cost=5.0)), {"wall": WALL}, wall=True)
    holes = Holes(ground=room)
    view = outlook(room, seed((7, 0, 3), (7, 1, 3)))
    run = lead(SPOT, view, room, BACK, holes)
    (made,) = holes.made.values()
    assert (made.name, made.part, made.at, made.diameter, made.wires) == ("wires-1", "wall", (9.0, 3.0), 1.0, 2)
    assert (made.lights, made.how) == (("lantern",), "at 9")
    assert [name for name in run.through if name] == ["wires-1"]
    leg = run.through.index("wires-1")
    assert run.points[leg : leg + 2].tolist() == [[9, 3, 3], [9, 7, 3]]
    other = Spot(light="porch", led="porch left", place=(0.0, 0.0, 0.0), size=3.0)
    again = lead(other, view, room, BACK, holes)
    (made,) = holes.made.values()
    assert (made.name, made.diameter, made.wires, made.lights) == ("wires-1", 1.5, 4, ("lantern", "porch left"))
    assert "wires-1" in again.through
    assert (again.light, again.led) == ("porch", "porch left")


def test_the_first_of_the_passages_is_closed_like_any_other() -> None:
    """With a rod in it, and alone: no way is left."""
    rod = cuboid((8.5, 4.9, 0), (9.5, 5.1, 8))
    room = ground((passage(9.0, cost=1.0),), {"wall": WALL, "rod": rod}, wall=True)
    run = lead(SPOT, outlook(room, seed((7, 0, 3), (7, 1, 3))), room, BACK, Holes(ground=room))
    assert (run.light, run.led, run.why) == ("lantern", "lantern", NO_WAY)


def test_ways_are_straight_where_they_may_be() -> None:
    """Aslant to a hole in another corner: one leg to it, one through it, one on."""
    room = ground((passage(9.0, z=5.0),), {"wall": WALL}, wall=True)
    run = lead(SPOT, outlook(room, seed((3, 0, 3), (3, 1, 3))), room, BACK, Holes(ground=room))
    assert run.points.tolist()[-2:] == [[9, 7, 5], [9, 8, 5]]
    assert len(run.points) <= 6


def test_a_hole_too_near_to_another_is_not_made() -> None:
    """Half of both and the margin between them: the next one is taken, and without one there is no way."""
    near, far = passage(9.0, cost=1.0), passage(3.0, cost=5.0)
    for passages, at in (((near, far), (3.0, 3.0)), ((near,), None)):
        room = ground(passages, {"wall": WALL}, wall=True)
        holes = Holes(ground=room)
        holes.add(passage(9.9), "porch", "porch")
        run = lead(SPOT, outlook(room, seed((7, 0, 3), (7, 1, 3))), room, BACK, holes)
        if at is None:
            assert (len(run.points), run.why) == (0, NO_WAY)
            assert len(holes.made) == 1
        else:
            assert [hole.at for hole in holes.made.values()] == [(9.9, 3.0), at]
            assert [name for name in run.through if name] == ["wires-2"]


def test_a_hole_leaves_room_by_both_halves_and_a_margin_on_its_own_sheet() -> None:
    """On another sheet, or where it is one of those made, it needs none."""
    from pipeline.parts.wire_exits import MARGIN

    room = ground()
    holes = Holes(ground=room)
    holes.add(passage(0.0), 4, "lantern")
    holes.add(passage(0.0), 4, "porch")
    apart = 1.0 / 2 + 1.5 / 2 + MARGIN
    for x, z, fits in ((apart - 1e-6, 3.0, False), (apart + 1e-6, 3.0, True), (0.6 * apart, 3 + 0.7 * apart, False)):
        assert holes.leaves_room(passage(x, z=z), 7) == fits
    assert holes.leaves_room(passage(0.1, part="floor"), 7)
    assert holes.leaves_room(passage(0.1), 4)


def test_a_first_hole_is_made_for_its_own_light() -> None:
    """Where a way begins with one, through the floor it stands on; two such too near to one another do not both go."""
    room = ground(bodies={"floor": cuboid((0, -1, 0), (12, 0, 8))})
    exit_hole = Passage(part="floor", at=(5.0, 3.0), ends=np.zeros((2, 3)), cost=0.0, how="under its post")
    other_hole = Passage(part="floor", at=(9.0, 3.0), ends=np.zeros((2, 3)), cost=0.0)
    holes = Holes(ground=room)
    seeds = (seed((5, -3, 3), (5, 1, 3), passage=exit_hole), seed((9, -3, 3), (9, 1, 3), passage=other_hole))
    run = lead(SPOT, outlook(room, *seeds), room, BACK, holes)
    assert run.through[0] == "wires-1"
    assert set(run.through[1:]) <= {""}
    assert holes.made["lantern"].at == (5.0, 3.0)
    second = Spot(light="porch", led="porch", place=(0.0, 0.0, 0.0), size=3.0)
    run = lead(second, outlook(room, *seeds), room, BACK, holes)
    assert run.points[0].tolist() == [9, -3, 3]
    assert holes.made["porch"].at == (9.0, 3.0)


def test_what_no_cell_tells_of_is_gone_round_from_another_exit() -> None:
    """A rod across the way of the nearer exit, thinner than the cells know: straight or crooked its wires would meet
    it; the farther exit is taken, and without one there is no way."""
    rod = cuboid((4.7, 4.9, 0), (5.3, 5.1, 8))
    near, far = seed((5, 0, 3), (5, 1, 3)), Seed(points=np.array([[9.0, 0, 3], [9, 1, 3]]), cost=9.0)
    room = ground(bodies={"rod": rod})
    run = lead(SPOT, outlook(room, near, far), room, BACK, Holes(ground=room))
    assert run.points[0].tolist() == [9, 0, 3]
    run = lead(SPOT, outlook(room, near), room, BACK, Holes(ground=room))
    assert (run.points.shape, run.why, run.through) == ((0, 3), NO_WAY, ())
    assert (run.light, run.led) == ("lantern", "lantern")
    before = ground(bodies={"rod": cuboid((4.7, 0.2, 0), (5.3, 0.4, 8))})
    run = lead(SPOT, outlook(before, near, far), before, BACK, Holes(ground=before))
    assert run.points[0].tolist() == [9, 0, 3], "what stands in the way to the exit itself"


def test_a_passage_with_something_in_it_is_closed() -> None:
    """A rod in the first hole; the sheet it is drilled through is no hindrance, another sheet there is."""
    passages = (passage(9.0, cost=1.0), passage(3.0, cost=5.0))
    rod = cuboid((8.5, 4.9, 0), (9.5, 5.1, 8))
    room = ground(passages, {"wall": WALL, "rod": rod}, wall=True)
    holes = Holes(ground=room)
    lead(SPOT, outlook(room, seed((7, 0, 3), (7, 1, 3))), room, BACK, holes)
    assert [hole.at for hole in holes.made.values()] == [(3.0, 3.0)]


def test_exits_in_sight_are_taken_where_no_hidden_one_leads_anywhere() -> None:
    """The hidden one ends in a closed room."""
    room = ground(bodies={"wall": WALL}, wall=True)
    hidden, bare = seed((5, 0, 3), (5, 1, 3)), seed((9, 0, 3), (9, 7, 3), bare=True)
    run = lead(SPOT, outlook(room, hidden, bare, first=1), room, BACK, Holes(ground=room))
    assert len(run.points) == 0, "its own leg goes through the wall"
    room = ground(wall=True)
    run = lead(SPOT, outlook(room, hidden, bare, first=1), room, BACK, Holes(ground=room))
    assert run.points[0].tolist() == [9, 0, 3]
    run = lead(SPOT, outlook(room, hidden, first=1), room, BACK, Holes(ground=room))
    assert run.why == NO_WAY


def test_the_cost_of_all_lights_is_their_sum_but_for_those_that_reach_nothing() -> None:
    """Where they reach no block together, the first one's; where none reaches any, nothing in what is free."""
    room = ground(wall=True)
    front, rear = (room.search.spread([seed((5, y, 3))]) for y in (1.0, 7.0))
    stuck = room.search.spread([])
    space = room.space
    assert (total_cost([front, front, stuck], space) == 2 * front.cost).all()
    assert (total_cost([stuck, front, rear], space) == front.cost).all()
    none = total_cost([stuck], space)
    assert (none[space.blocks] == 0).all()
    assert np.isinf(none[~space.blocks]).all()


def test_a_battery_keeps_off_the_lights() -> None:
    """Of cells that a box touches none is free; a box that reaches out of the room takes what lies in it."""
    room = ground()
    box = np.array([[-9.0, 2.5, -9.0], [99.0, 4.2, 99.0]])
    kept = without(room.space, [box]).free
    assert not kept[:, 2:5].any()
    assert kept[:, :2].all()
    assert kept[:, 5:].all()
    assert room.space.free.all(), "what was given is not changed"
    cost = np.zeros(room.space.blocks.shape)
    place = battery_place((3.0, 3.0, 3.0), room, cost, [box])
    assert place is not None
    assert place[0, 1] >= 5.0
    corner = np.array([[-3.0, -2.0, -1.0], [0.5, 0.5, 0.5]])
    taken = without(room.space, [corner]).free
    assert not taken[0, 0, 0]
    assert taken.sum() == taken.size - 1
    wide = replace(room.space, origin=np.array([1.0, 0, 0]), cell=np.array([0.5, 1, 1]))
    free = without(wide, [np.array([[2.0, 0, 0], [3.0, 99, 99]])]).free
    assert np.flatnonzero(~free[:, 0, 0]).tolist() == [2, 3]
    assert battery_place((4.0, 4.0, 4.0), room, cost, [box]) is None
    assert battery_place((4.0, 4.0, 4.0), room, cost, []) is not None
