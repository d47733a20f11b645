"""How a wire gets from its light out of sight: straight into what is free, or through a sheet.

Terms
-----
exit
    A straight leg from the LED, and where it leads through a sheet, a hole square to that sheet.
upright
    An exit straight down or up: its leg runs in the lamp's own post, or is the cord it hangs from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.regions import Region, path_of
from pipeline.parts.model import Leaf, Panel
from pipeline.parts.wire_search import Passage, Search, Seed
from pipeline.sight.rays import Target

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

WAYS = 1200
"""Directions looked in round a light."""
FARTHEST = 120.0
"""mm; a wire crosses no more of the room than that."""
HOLE = 25.0
"""mm of way that it is worth to make a hole less."""
BARE, POST = 5.0, 3.0
"""mm of way that it is worth to have a mm less of wire in sight; of an upright one, which a post or a cord holds."""
SHOWN = 30.0
"""mm of way that it is worth to have a hole out of sight."""
MARGIN = 2.0
"""mm of sheet left round a hole."""
LATTICE = 4.0
"""mm between holes thought of in sheets that nobody sees."""
STEPS = np.arange(0.25, 8.0, 0.25)
"""mm behind a sheet where wires may find room again."""
ON_SHEET = 0.05
"""mm; nearer to a sheet's front than this a ray ends on it."""
CHORD = 0.01
"""mm; outlines of sheets are told by chords."""
UPRIGHT = 2
"""How many of the directions, the first, are upright."""
LEANING = 0.9
"""A direction whose z is less has the upright for a second one."""
GLANCING = 0.2
"""Cosine; a ray that meets a sheet flatter than that is no exit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """A panel as it may be drilled.

    Attributes
    ----------
    panel
        The panel.
    solid
        Where both of its faces are, flat mm; folds taken out.
    """

    panel: Panel
    solid: shapely.Geometry

    @classmethod
    def of(cls, panel: Panel) -> Sheet:
        """Return a panel ready to be drilled."""
        solid = shapely.intersection(_polygon(panel.cut), _polygon(panel.hidden))
        for fold in panel.folds:
            solid = solid.difference(shapely.LineString(fold).buffer(1e-3))
        return cls(panel=panel, solid=solid)

    def drillable(self, radius: float) -> shapely.Geometry:
        """Return where the middles of holes of a radius may be."""
        return self.solid.buffer(-(radius + MARGIN))

    def leaf(self, at: Array) -> Leaf:
        """Return the leaf a flat point ``(2,)`` lies on."""
        for leaf in self.panel.leaves:
            host = frames.apply(frames.inverse(leaf.flat_from_host), at[None])
            y = float(frames.apply(self.panel.face.imagined_from_host, host)[0, 1])
            if leaf.near - 1e-6 <= y <= leaf.far + 1e-6:
                return leaf
        return self.panel.leaves[-1]


def _polygon(region: Region) -> shapely.Geometry:
    loops = [flatten_path(path_of(loop), CHORD) for loop in region.loops]
    return shapely.make_valid(shapely.Polygon(loops[0], loops[1:]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """What eyes see of points among the parts.

    Attributes
    ----------
    target, parts
        All triangles, and the part of each.
    eyes
        ``(k, 3)``, the eye first.
    opening
        Half the width and the height of the box's opening, mm: nobody looks through its sides.
    """

    target: Target
    parts: Sequence[str]
    eyes: Array
    opening: tuple[float, float]

    def shares(self, points: Array) -> Array:
        """Return by which share of the eyes each point ``(n, 3)`` is seen, ``(n,)``."""
        seen = np.zeros(len(points))
        for eye in self.eyes:
            seen += self._seen(points, eye)
        return seen / len(self.eyes)

    def _seen(self, points: Array, eye: Array) -> Flags:
        ways = points - eye
        away = np.linalg.norm(ways, axis=1)
        reach = self.target.cast(np.broadcast_to(eye, ways.shape), ways / away[:, None])[1]
        crossing = eye + (-eye[1] / np.where(ways[:, 1] > 0, ways[:, 1], np.inf))[:, None] * ways
        half, high = self.opening
        through = (np.abs(crossing[:, 0]) <= half) & (crossing[:, 2] >= 0) & (crossing[:, 2] <= high)
        out: Flags = through & (reach >= away - ON_SHEET)
        return out

    def before(self, point: Array) -> str:
        """Return the part that hides a point ``(3,)`` from the eye, or nothing."""
        way = point - self.eyes[0]
        away = float(np.linalg.norm(way))
        index, reach = self.target.cast(self.eyes[:1], way[None] / away)
        return self.parts[int(index[0])] if reach[0] < away - ON_SHEET else ""


def directions() -> Array:
    """Return unit directions ``(n, 3)``: straight down, straight up, and a spiral of even spacing all round."""
    number = np.arange(WAYS) + 0.5
    z = 1 - 2 * number / WAYS
    turn = np.pi * (1 + np.sqrt(5)) * number
    level = np.sqrt(1 - z**2)
    spiral = np.column_stack([level * np.cos(turn), level * np.sin(turn), z])
    return np.concatenate([[[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]], spiral])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Opening:
    """A hole that an exit may take: its sheet's part, its middle, the points on either side, and whether upright."""

    part: str
    at: tuple[float, float]
    inner: Array
    outer: Array
    upright: bool


def exits(light: Array, search: Search, sheets: Mapping[str, Sheet], sight: Sight, hole_radius: float) -> list[Seed]:
    """Return the exits of a light at a built point ``(3,)``, straight ones into what is free and through sheets."""
    ways = directions()
    index, reach = sight.target.cast(np.broadcast_to(light, ways.shape), ways)
    parts = [sight.parts[number] if number >= 0 else "" for number in index]
    alike, least = _beside(light, ways, parts, sight, search.radius)
    seeds = [Seed(points=light[None], cost=0.0)] if search.stands(light) else []
    seeds += _into_the_open(light, ways, np.minimum(reach, least), search, sight)
    found = []
    drillable = {part: sheet.drillable(hole_radius) for part, sheet in sheets.items()}
    for sheet_area in drillable.values():
        shapely.prepare(sheet_area)
    for number in np.flatnonzero(alike & (reach < FARTHEST)):
        part = parts[number]
        if part in sheets:
            hit = light + reach[number] * ways[number]
            one = _opening(hit, ways[number], sheets[part], drillable[part], search, upright=bool(number < UPRIGHT))
            if one is not None:
                found.append(one)
    return seeds + _weighed(found, light, sight)


def _beside(light: Array, ways: Array, parts: list[str], sight: Sight, radius: float) -> tuple[Flags, Array]:
    """Return whether rays round each way meet the same part as it does, and how far the shortest of them goes."""
    aside = np.where(np.abs(ways[:, 2:]) < LEANING, np.array([[0.0, 0.0, 1.0]]), np.array([[1.0, 0.0, 0.0]]))
    first = np.cross(ways, aside)
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = np.cross(ways, first)
    alike, least = np.ones(len(ways), dtype=bool), np.full(len(ways), np.inf)
    for way in (first, -first, second, -second):
        index, reach = sight.target.cast(light + radius * way, ways)
        alike &= np.array(
            [number >= 0 and sight.parts[number] == part for number, part in zip(index, parts, strict=True)]
        )
        least = np.minimum(least, reach)
    return alike, least


def _into_the_open(light: Array, ways: Array, reach: Array, search: Search, sight: Sight) -> list[Seed]:
    """Return straight legs into what is free, the cheapest for each block."""
    marks = np.arange(1.0, FARTHEST)
    points = light + marks[None, :, None] * ways[:, None]
    going = marks[None, :] < (reach - search.radius)[:, None]
    open_there = np.zeros(going.shape, dtype=bool)
    open_there[going] = search.space.block_free(points[going])
    out: dict[int, Seed] = {}
    rows = np.flatnonzero(open_there.any(axis=1))
    firsts = open_there[rows].argmax(axis=1)
    ends = points[rows, firsts]
    bare = sight.shares((light + ends) / 2)
    for end, share, mark in zip(ends, bare, marks[firsts], strict=True):
        if not search.stands(end):
            continue
        seed = Seed(points=np.array([light, end]), cost=float(mark * (1 + BARE * share)), bare=bool(share > 0))
        node = search.node(end)
        if node not in out or seed.cost < out[node].cost:
            out[node] = seed
    return list(out.values())


def _opening(
    hit: Array, way: Array, sheet: Sheet, drillable: shapely.Geometry, search: Search, *, upright: bool
) -> _Opening | None:
    """Return the hole where a ray meets a sheet's visible side, if one may be there and wires go on behind it."""
    panel = sheet.panel
    flats = [frames.apply(frames.invert_rigid(leaf.built_from_flat), hit[None])[0] for leaf in panel.leaves]
    number = int(np.argmin([abs(flat[2] + panel.finish) for flat in flats]))
    flat, leaf = flats[number], panel.leaves[number]
    if abs(flat[2] + panel.finish) > ON_SHEET or way @ leaf.built_from_flat[:3, 2] > -GLANCING:
        return None
    if not drillable.contains(shapely.Point(flat[:2])):
        return None
    outer = _behind(flat[:2], leaf, -(panel.finish + panel.thickness) - search.radius - STEPS, search)
    if outer is None:
        return None
    before = np.array([*flat[:2], search.radius + STEPS[0]])
    at = (float(flat[0]), float(flat[1]))
    inner = frames.apply(leaf.built_from_flat, before[None])[0]
    return _Opening(part=panel.id, at=at, inner=inner, outer=outer, upright=upright)


def _behind(at: Array, leaf: Leaf, depths: Array, search: Search) -> Array | None:
    """Return the first point ``(3,)``, built, square to a leaf at some flat z, where wires find room; or nothing."""
    points = frames.apply(leaf.built_from_flat, np.column_stack([np.tile(at, (len(depths), 1)), depths]))
    for point in points[search.space.block_free(points)]:
        if search.stands(point):
            out: Array = point
            return out
    return None


def _weighed(found: list[_Opening], light: Array, sight: Sight) -> list[Seed]:
    if not found:
        return []
    inner = np.array([one.inner for one in found])
    shown = sight.shares(inner)
    legs = np.linalg.norm(inner - light, axis=1)
    bare = np.mean([sight.shares(light + share * (inner - light)) for share in (0.25, 0.5, 0.75)], axis=0)
    seeds = []
    for one, leg, hole_shown, leg_bare in zip(found, legs, shown, bare, strict=True):
        bare_cost = POST if one.upright else BARE
        cost = float(leg * (1 + bare_cost * leg_bare)) + HOLE + (0.0 if one.upright or hole_shown == 0 else SHOWN)
        passage = Passage(
            part=one.part,
            at=one.at,
            ends=np.array([one.inner, one.outer]),
            cost=HOLE,
            how=_how(one, light, hole_shown, sight),
        )
        points = np.array([light, one.inner, one.outer])
        bare = not one.upright and bool(hole_shown > 0 or leg_bare > 0)
        seeds.append(Seed(points=points, cost=cost, passage=passage, bare=bare))
    return seeds


def _how(one: _Opening, light: Array, shown: float, sight: Sight) -> str:
    if one.upright:
        return (
            "at its feet, under the lamp"
            if one.inner[2] < light[2]
            else "straight above it, for the cord it hangs from"
        )
    if shown > 0:
        return ""
    part = sight.before(one.inner)
    return f"out of sight behind {part}" if part and part != one.part else "out of sight"


def passages(sheets: Mapping[str, Sheet], search: Search, hole_radius: float) -> list[Passage]:
    """Return the holes that may be made in sheets which have free room on both sides, on a lattice over each."""
    out = []
    for part, sheet in sheets.items():
        area = sheet.drillable(hole_radius)
        if area.is_empty:
            continue
        left, bottom, right, top = area.bounds
        gx, gy = np.meshgrid(np.arange(left, right + 1e-9, LATTICE), np.arange(bottom, top + 1e-9, LATTICE))
        places = np.column_stack([gx.ravel(), gy.ravel()])
        panel = sheet.panel
        for at in places[shapely.contains_xy(area, places[:, 0], places[:, 1])]:
            leaf = sheet.leaf(at)
            inner = _behind(at, leaf, search.radius - panel.finish + STEPS, search)
            outer = (
                None
                if inner is None
                else _behind(at, leaf, -(panel.finish + panel.thickness) - search.radius - STEPS, search)
            )
            if inner is not None and outer is not None:
                ends = np.array([inner, outer])
                out.append(
                    Passage(part=part, at=(float(at[0]), float(at[1])), ends=ends, cost=HOLE, how="behind the scene")
                )
    return out
