"""The wires of all lights planned together: ways, holes, and the place of the battery.

Terms
-----
goal
    Where all wires go: the battery, or the back of the box, where they leave it.
stretch
    A piece of a way through what is free, from one hole to the next.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.parts.battery_room import place_battery
from pipeline.parts.lighting.shading import Pane
from pipeline.parts.space import Space
from pipeline.parts.wire_exits import MARGIN, Sheet, Sight, exits
from pipeline.parts.wire_search import Passage, Reached, Search, Seed, in_the_way, tube
from pipeline.parts.wires import Run, WireHole

Array = NDArray[np.float64]

TOGETHER = 1e-6
"""mm; nearer than this two corners are one."""
TRIES = 40
"""Ways looked for until one is free of everything to the last figure."""
NO_WAY = (
    "no wire finds a way from it that is out of sight and free of parts; move the light nearer to the floor or to a "
    "wall with room behind it, or leave more room (box.back_gap)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where an LED sits: its light's name and its own, its middle, built mm, and its diameter.

    ``panes`` are the openings that it shines in by, told by four built corners each. Without a place ``why`` says why
    it has none in the box.
    """

    light: str
    led: str
    place: tuple[float, float, float] | None
    size: float
    why: str = ""
    panes: tuple[Pane, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What ways are sought in.

    Attributes
    ----------
    search
        The ways through what is free, for one pair of wires.
    sheets, sight
        Panels that may be drilled, and what eyes see.
    bodies
        Every part.
    hole_of
        Diameter of a hole by the number of wires, mm.
    """

    search: Search
    sheets: Mapping[str, Sheet]
    sight: Sight
    bodies: Mapping[str, manifold3d.Manifold]
    hole_of: Mapping[int, float]

    @property
    def space(self) -> Space:
        """What is free."""
        return self.search.space


@dataclass(slots=True, kw_only=True)
class Holes:
    """Holes made so far: by passage, or by light for the first one of a way."""

    ground: Ground
    made: dict[int | str, WireHole] = field(default_factory=dict)

    def leaves_room(self, passage: Passage, key: int | str) -> bool:
        """Return whether a hole would leave sheet enough between itself and the others, or is one of them."""
        if key in self.made:
            return True
        own = self.ground.hole_of[2] / 2
        for other in self.made.values():
            apart = float(np.hypot(other.at[0] - passage.at[0], other.at[1] - passage.at[1]))
            if other.part == passage.part and apart < own + other.diameter / 2 + MARGIN:
                return False
        return True

    def add(self, passage: Passage, key: int | str, light: str) -> None:
        """Make a hole, or lead two more wires through one that is there."""
        known = self.made.get(key)
        lights = (*(known.lights if known else ()), light)
        self.made[key] = WireHole(
            name=known.name if known else f"wires-{len(self.made) + 1}",
            part=passage.part,
            at=passage.at,
            diameter=self.ground.hole_of[2 * len(lights)],
            wires=2 * len(lights),
            lights=lights,
            how=passage.how,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """What a light's wires can do.

    Attributes
    ----------
    seeds
        All its exits, first those of which nothing bare is in sight.
    first
        How many those are; or all, where each shows something.
    ways
        What can be reached from those.
    """

    seeds: tuple[Seed, ...]
    first: int
    ways: Reached

    @classmethod
    def of(cls, light: Array, ground: Ground) -> Outlook:
        """Return what the wires of a light at a built point ``(3,)`` can do."""
        seeds = exits(light, ground.search, ground.sheets, ground.sight, ground.hole_of[2] / 2)
        hidden = [seed for seed in seeds if not seed.bare]
        first = hidden or seeds
        others = [seed for seed in seeds if seed.bare] if hidden else []
        return cls(seeds=(*first, *others), first=len(first), ways=ground.search.spread(first))


def total_cost(reached: Sequence[Reached], space: Space) -> Array:
    """Return what it costs to lead all lights to each block ``(bx, by, bz)``, those left out that reach nothing.

    Where they reach no block together, what the first of them reaches counts.
    """
    costs = [one.cost for one in reached if np.isfinite(one.cost).any()]
    if not costs:
        return np.where(space.blocks, 0.0, np.inf)
    total: Array = np.sum(costs, axis=0)
    return total if np.isfinite(total).any() else costs[0]


def battery_place(
    size: tuple[float, float, float], ground: Ground, cost: Array, keep_off: Sequence[Array]
) -> Array | None:
    """Return the corners ``(2, 3)`` of where a battery lies, built mm, or nothing where it fits nowhere.

    ``keep_off`` are boxes ``(2, 3)`` round the lights.
    """
    return place_battery(without(ground.space, keep_off), size, cost)


def without(space: Space, boxes: Sequence[Array]) -> Space:
    """Return a space in which boxes ``(2, 3)`` are not free."""
    free = space.free.copy()
    for box in boxes:
        low = np.maximum(np.floor((box[0] - space.origin) / space.cell).astype(np.int64), 0)
        high = np.maximum(np.ceil((box[1] - space.origin) / space.cell).astype(np.int64), 0)
        free[low[0] : high[0], low[1] : high[1], low[2] : high[2]] = False
    return replace(space, free=free)


def lead(spot: Spot, outlook: Outlook, ground: Ground, goal: Array | float, holes: Holes) -> Run:
    """Return one LED's wires, and make their holes.

    ``goal`` is the battery's corners ``(2, 3)``, or the y of the box's back.
    """
    run = _lead(spot, outlook, ground, goal, holes)
    if len(run.points) or outlook.first == len(outlook.seeds):
        return run
    count = len(outlook.seeds)
    shown = Outlook(seeds=outlook.seeds, first=count, ways=ground.search.spread(outlook.seeds))
    return _lead(spot, shown, ground, goal, holes)


def _lead(spot: Spot, outlook: Outlook, ground: Ground, goal: Array | float, holes: Holes) -> Run:
    search, reached, left = ground.search, outlook.ways, [*outlook.seeds[: outlook.first]]
    closed: set[int] = set()
    crooked, light = False, spot.led
    for attempt in range(TRIES):
        reached = search.spread(left, closed) if attempt else reached
        end = _end(search, reached, goal)
        if end is None:
            break
        seed, stretches = search.way_to(end, reached, left)
        way = _way(search, seed, _up_to(stretches, goal), crooked=crooked)
        tight = [(one, key) for one, key in way.passages if not holes.leaves_room(one, light if key < 0 else key)]
        if tight:
            closed |= {key for _, key in tight if key >= 0}
            left = [other for other in left if all(key >= 0 or other.passage is not one for one, key in tight)]
            continue
        bad = _first_in_the_way(way, ground)
        if bad is None:
            for passage, number in way.passages:
                holes.add(passage, light if number < 0 else number, light)
            return Run(light=spot.light, led=light, points=way.points, through=way.named(holes, light))
        # What cannot be, though every cell on the way seemed free, is a wire's own thickness where legs meet.
        if bad < len(seed.points) - 1:
            left = [other for other in left if other is not seed]
        elif way.numbers[bad] >= 0:
            closed.add(way.numbers[bad])
        elif not crooked:
            crooked = True
        else:
            left = [other for other in left if other is not seed]
    return Run(light=spot.light, led=light, points=np.zeros((0, 3)), why=NO_WAY)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """Corners ``(n, 3)``, the passage of each leg (number, -2 none, -1 the seed's own), and all passages in order."""

    points: Array
    numbers: tuple[int, ...]
    passages: tuple[tuple[Passage, int], ...]

    def named(self, holes: Holes, light: str) -> tuple[str, ...]:
        """Return the name of the hole each leg goes through, empty for none."""
        keys = [None if number == -2 else light if number == -1 else number for number in self.numbers]
        return tuple("" if key is None else holes.made[key].name for key in keys)


def _end(search: Search, reached: Reached, goal: Array | float) -> int | None:
    """Return the block where a way ends: the middle of the battery, or the cheapest at the box's back."""
    if isinstance(goal, np.ndarray):
        node = search.node(goal.mean(axis=0))
        return node if node in reached.before else None
    last = reached.cost[:, -1]
    if not np.isfinite(last).any():
        return None
    x, z = np.unravel_index(int(last.argmin()), last.shape)
    return search.node(search.space.middle(np.array([x, reached.cost.shape[1] - 1, z])))


def _up_to(stretches: list[tuple[Array, int]], goal: Array | float) -> list[tuple[Array, int]]:
    """Return the stretches up to where they enter the battery or reach the box's back."""
    if not isinstance(goal, np.ndarray):
        points, _ = stretches[-1]
        return [*stretches[:-1], (np.vstack([points, [points[-1, 0], goal, points[-1, 2]]]), -1)]
    out: list[tuple[Array, int]] = []
    for points, number in stretches:
        inside = ((points > goal[0]) & (points < goal[1])).all(axis=1)
        if inside.any():
            first = int(inside.argmax())
            if first == 0:
                out.append((points[:1], -1))
            else:
                enters = _entry(points[first - 1], points[first], goal)
                out.append((np.vstack([points[:first], enters]), -1))
            return out
        out.append((points, number))
    return out


def _entry(outside: Array, inside: Array, box: Array) -> Array:
    """Return where a leg enters a box ``(2, 3)``."""
    way = inside - outside
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.where(way > 0, (box[0] - outside) / way, np.where(way < 0, (box[1] - outside) / way, -np.inf))
    out: Array = outside + float(shares.max()) * way
    return out


def _way(search: Search, seed: Seed, stretches: list[tuple[Array, int]], *, crooked: bool) -> _Way:
    """Return a way's corners; the legs of its stretches straightened but where that is not wanted."""
    points = [*seed.points]
    numbers = [-2] * (len(points) - 1)
    passages: list[tuple[Passage, int]] = []
    if seed.passage is not None:
        numbers[-1] = -1
        passages.append((seed.passage, -1))
    for index, (corners, number) in enumerate(stretches):
        last = index == len(stretches) - 1
        own = corners[:-1] if last and len(corners) > 1 else corners  # the last leg runs into the goal
        straight = own if crooked else search.straightened(own)
        more = [*straight[1:], *([corners[-1]] if last and len(corners) > 1 else [])]
        points += more
        numbers += [-2] * len(more)
        if number >= 0 and not last:
            points.append(stretches[index + 1][0][0])
            numbers.append(number)
            passages.append((search.passages[number], number))
    apart = [k for k in range(len(numbers)) if np.linalg.norm(points[k + 1] - points[k]) > TOGETHER]
    return _Way(
        points=np.array([points[0], *(points[k + 1] for k in apart)]),
        numbers=tuple(numbers[k] for k in apart),
        passages=tuple(passages),
    )


def _first_in_the_way(way: _Way, ground: Ground) -> int | None:
    """Return the number of the first leg that runs into a part other than the one it is drilled through."""
    through = [passage.part for passage, _ in way.passages]
    for leg, number in enumerate(way.numbers):
        own = through.pop(0) if number != -2 else ""
        body = tube(way.points[leg], way.points[leg + 1], ground.search.radius)
        if any(part != own for part, _ in in_the_way(body, ground.bodies)):
            return leg
    return None
