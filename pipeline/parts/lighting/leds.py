"""What real LEDs do in the built room: where they have room, whether they show, how true their light falls.

Terms
-----
place
    The point that the light's rays go through in the built room; an LED there is exact.
stand-in
    An LED at the nearest place that can be reached: on the ray through the middle of the opening, within the box, as
    near to the place as parts leave room; for light that runs together in a point, as far from the opening.
off
    Over the border of a patch, how far from it the stand-in's light through the same points of the opening lands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import curves, frames
from pipeline.geometry.curves import Path
from pipeline.geometry.enclosing import gap_to, holds
from pipeline.geometry.meshes import Mesh
from pipeline.parts.leaves import Lie
from pipeline.parts.lighting.model import Cast, Gate, Patch, Target
from pipeline.parts.lighting.passing import passed
from pipeline.parts.lighting.shading import Corner, Pane, free_way, in_the_light, pane_of
from pipeline.parts.model import Panel
from pipeline.relief.collineation import Relief
from pipeline.room.inside import Inside
from pipeline.room.light_places import LightPlace

Array = NDArray[np.float64]

PLACES = 121
"""Places of a stand-in that are tried along its ray."""
FLATTENING = 0.01
"""mm; borders are only measured here."""
LEVEL = 1e-9
"""mm; a ray that rises no more toward a plane runs along it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """A part that is in LEDs' way: its id and its closed body, built mm."""

    id: str
    body: Mesh


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """An LED at a reachable place, built mm.

    Attributes
    ----------
    place
        Its middle.
    off, off_arcmin
        Of its light from the marked patches, at worst: mm, and minutes of arc as the eye sees it.
    typical
        How far half of their borders are off, mm.
    part
        Where it is worst.
    missed
        Share of the patches' borders whose light misses the face altogether.
    """

    place: tuple[float, float, float]
    off: float
    off_arcmin: float
    typical: float
    part: str
    missed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """Where rays from an LED outside enter the box: its wall, and from where to where, built mm."""

    wall: str
    low: tuple[float, float, float]
    high: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class WayIn:
    """An opening that a light enters by.

    Attributes
    ----------
    gate, name, share
        Its id, its name, and how much of the hole the imagined wall leaves open to the light.
    cut_off
        Share of that which the real sheet's thickness takes from an LED at the place; nothing where no sheet is.
    stand_in
        What an LED at a reachable place does, where the place itself cannot be used and there is one.
    outlet
        What must be open in the box for an LED at its place outside; nothing where it is inside, or none can be exact.
    pane
        Round what of it is open, built.
    more
        How much more than the imagined reveal leaves open the real sheet lets pass, of that, where no reveal is built.
    shaded
        What built things take of its light from where the LED sits, its place or that of its stand-in, the most first;
        what the marks allow for left out.
    """

    gate: str
    name: str
    share: float
    cut_off: float | None
    stand_in: StandIn | None
    outlet: Outlet | None = None
    pane: Pane | None = None
    more: float = 0.0
    shaded: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Led:
    """A light as it is built.

    Attributes
    ----------
    place
        Where it is exact.
    usable
        Whether an LED can sit there: rays leave it, it is in the box, and parts leave room.
    nearest, room
        The part that comes nearest, and how far its surface keeps from the LED's, mm, below zero where it is in the
        way; nothing where the place is not in the box.
    seen
        Whether an eye in the eye box sees the LED at its place.
    ways
        Openings it enters by.
    apron_off
        How far light lands off the marks on the apron, mm, 0 where there are none.
    unmarked
        Bent panels and prints that it falls on, where nothing is marked.
    beside
        The nearest places at which a lamp's LED finds room, in words, where it finds none at its own.
    """

    place: LightPlace
    usable: bool
    nearest: str
    room: float | None
    seen: bool
    ways: tuple[WayIn, ...]
    apron_off: float = 0.0
    unmarked: tuple[str, ...] = ()
    beside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """What all LEDs of a scene share: the built room.

    ``others`` are the battery and the wires, which LEDs are moved for by nobody.
    """

    relief: Relief
    inside: Inside
    made: tuple[Made, ...]
    panels: dict[str, Panel]
    lies: dict[str, Lie]
    gates: dict[str, Gate]
    targets: dict[str, Target]
    others: tuple[Made, ...] = ()

    @property
    def bodies(self) -> list[tuple[str, Mesh]]:
        """The parts by id."""
        return [(one.id, one.body) for one in self.made]

    @property
    def bodies_wired(self) -> list[tuple[str, Mesh]]:
        """The parts, the wires and the battery by id."""
        return [(one.id, one.body) for one in (*self.made, *self.others)]


def room_round(bench: Bench, point: Array, size: float, within: float = np.inf) -> tuple[str, float]:
    """Return the part nearest to an LED ``(3,)`` of a diameter, and the room between their surfaces, mm.

    Below zero it is in the way; within a part, by the whole diameter. The box's walls count as ``box``. Parts farther
    off than ``within`` are passed over.
    """
    nearest, room = "", within
    planes = bench.inside.planes.values()
    wall = min(float(plane[:3] @ point + plane[3]) for plane in planes) - size / 2
    if wall < room:
        nearest, room = "box", wall
    for part in bench.made:
        low, high = part.body.vertices.min(axis=0), part.body.vertices.max(axis=0)
        away = np.maximum(0.0, np.maximum(low - point, point - high))
        if float(np.linalg.norm(away)) - size / 2 >= room:
            continue
        gap = -size if holds(part.body, point) else gap_to(part.body, point) - size / 2
        if gap < room:
            nearest, room = part.id, gap
    return nearest, room


def way_in(bench: Bench, cast: Cast, way_number: int, place: LightPlace, size: float, *, usable: bool) -> WayIn:
    """Return what an opening does to a light's rays, and what stands in where its place cannot be used."""
    way = cast.ways[way_number]
    gate = bench.gates[way.gate]
    stand_in = None if usable else _stand_in(bench, cast, gate, way.loops, place=place, size=size)
    allowed: set[str] = set()
    there = None if stand_in is None else stand_in.place
    if usable:
        there, allowed = place.point, {shadow.by for shadow in cast.shadows}
    shaded = {} if there is None else _taken(bench, gate, way.loops, (there, size))
    panel, lined = bench.panels.get(gate.host), any(one.id.startswith(f"{gate.id}-") for one in bench.made)
    cut_off, more = (
        (None, 0.0) if panel is None else passed(panel, bench.lies[gate.host], gate, way.loops, place, lined=lined)
    )
    return WayIn(
        gate=gate.id,
        name=gate.name,
        share=way.share,
        cut_off=cut_off,
        more=more,
        outlet=_outlet(bench, gate, way.loops, place),
        stand_in=stand_in,
        pane=pane_of(gate, way.loops, bench.relief),
        shaded=tuple((part, share) for part, share in shaded.items() if part not in allowed),
    )


def _taken(bench: Bench, gate: Gate, loops: Sequence[Path], led: tuple[Corner, float]) -> dict[str, float]:
    return in_the_light(gate, loops, led, bench.relief, bench.bodies_wired)


def _outlet(bench: Bench, gate: Gate, loops: Sequence[Path], place: LightPlace) -> Outlet | None:
    """Return where the rays through an opening from an LED outside pass the wall of the box that most of them pass."""
    if place.inside_box or place.point is None or place.nature == "converging":
        return None
    flat = np.vstack([curves.flatten_path(loop, FLATTENING) for loop in loops])
    starts = bench.relief.build_points(frames.apply(gate.matrix, flat))
    ways = np.array(place.point) - starts
    walls, planes = list(bench.inside.planes), np.array(list(bench.inside.planes.values()))
    falling = ways @ planes[:, :3].T
    height = starts @ planes[:, :3].T + planes[:, 3]
    reach = np.divide(height, -falling, out=np.full_like(height, np.inf), where=falling < 0)
    first = reach.argmin(axis=1)
    wall = int(np.bincount(first).argmax())
    near = reach[first == wall, wall]
    passed = starts[first == wall] + near[:, None] * ways[first == wall]
    if not (near < 1).all():
        return None
    (x0, y0, z0), (x1, y1, z1) = passed.min(axis=0).tolist(), passed.max(axis=0).tolist()
    return Outlet(wall=walls[wall], low=(x0, y0, z0), high=(x1, y1, z1))


def off_apron(bench: Bench, cast: Cast, place: LightPlace) -> float:
    """Return how far light of an LED at its place lands off the marks on the apron, mm: rays are not bent there."""
    if bench.relief.apron <= 0:
        return 0.0
    worst = 0.0
    for patch in cast.patches:
        points = _imagined_border(bench, patch)
        near = points[points[:, 1] < bench.relief.apron]
        if len(near) and len(patch.through) == 1:
            gate = bench.gates[patch.through[0]]
            off, _ = _off(bench, gate, near, patch.part, place=place, there=place)
            worst = max([worst, *off[np.isfinite(off)].tolist()])
    return worst


def _stand_in(
    bench: Bench, cast: Cast, gate: Gate, loops: Sequence[Path], *, place: LightPlace, size: float
) -> StandIn | None:
    u, v = shapely.Polygon(curves.flatten_path(loops[0], FLATTENING)).centroid.coords[0]
    start = bench.relief.build_points(frames.apply(gate.matrix, [[u, v]]))[0]
    spot = _reachable(bench, gate, start, place, size)
    if spot is None:
        return None
    x, y, z = (float(value) for value in spot)
    there = LightPlace(nature="lamp", point=(x, y, z), way=None, inside_box=True)
    worst: tuple[float, float, str] = (0.0, 0.0, "")
    offs: list[float] = []
    count = 0
    for patch in cast.patches:
        if patch.through == (gate.id,):
            off, arc = _off(bench, gate, _imagined_border(bench, patch), patch.part, place=place, there=there)
            landed = np.isfinite(off)
            offs, count = [*offs, *off[landed].tolist()], count + len(off)
            if landed.any() and off[landed].max() > worst[0]:
                worst = (float(off[landed].max()), float(arc[landed].max()), patch.part)
    return StandIn(
        place=(x, y, z),
        off=worst[0],
        off_arcmin=worst[1],
        typical=float(np.median(offs)) if offs else 0.0,
        part=worst[2],
        missed=1 - len(offs) / count if count else 0.0,
    )


def _reachable(bench: Bench, gate: Gate, start: Array, place: LightPlace, size: float) -> Array | None:
    """Return the place on the ray through an opening's middle that has room for an LED and comes nearest to exact."""
    way, far = _back(place, start[None])[0], np.inf
    if place.nature in ("lamp", "leaving"):
        far = float(np.linalg.norm(way))
    way = way / np.linalg.norm(way)
    for plane in bench.inside.planes.values():
        falling = float(plane[:3] @ way)
        if falling < -LEVEL:
            far = min(far, (float(plane[:3] @ start + plane[3]) - size / 2) / -falling)
    if far > 0:
        far = free_way(gate, start, way, far, bench.bodies)
    if far <= 0:
        return None
    for along in np.linspace(far, 0.0, PLACES)[:-1]:
        spot: Array = start + along * way
        if spot[1] > size / 2 and room_round(bench, spot, size, within=1.0)[1] >= -LEVEL:
            return spot
    return None


def _back(place: LightPlace, points: Array) -> Array:
    """Return the ways ``(n, 3)`` from points back to where light comes from."""
    if place.point is None:
        return np.broadcast_to(-np.array(place.way), points.shape)
    ways = np.array(place.point) - points
    return -ways if place.nature == "converging" else ways


def _off(
    bench: Bench, gate: Gate, points_imagined: Array, part: str, *, place: LightPlace, there: LightPlace
) -> tuple[Array, Array]:
    """Return how far light through the same points of an opening lands off when it comes from elsewhere: mm, arcmin.

    Both are ``(n,)``, infinite where it misses the face's plane, or lands behind the eye.
    """
    relief = bench.relief
    marked = relief.build_points(points_imagined)
    behind = points_imagined[:, 1] >= relief.apron
    passed = _met(points_imagined, gate, bench, place)
    target = bench.targets[part]
    plane = np.array([*target.inward, -target.inward @ target.matrix[:3, 2]])
    planes = np.where(behind[:, None], relief.build_plane(plane), plane)
    ways = -_back(there, passed)
    fall = np.einsum("ij,ij->i", planes[:, :3], ways)
    rise = np.einsum("ij,ij->i", planes[:, :3], passed) + planes[:, 3]
    lands = fall < -LEVEL * np.linalg.norm(ways, axis=1)
    landed = passed + np.divide(rise, -fall, out=np.zeros_like(fall), where=lands)[:, None] * ways
    lands &= landed[:, 1] > relief.eye[1]
    eye = np.array(relief.eye)
    one, other = marked - eye, landed - eye
    turned = np.arctan2(np.linalg.norm(np.cross(one, other), axis=1), np.einsum("ij,ij->i", one, other))
    off, arc = np.linalg.norm(landed - marked, axis=1), np.degrees(turned) * 60
    return np.where(lands, off, np.inf), np.where(lands, arc, np.inf)


def _met(points_imagined: Array, gate: Gate, bench: Bench, place: LightPlace) -> Array:
    """Return where the exact rays to points pass the opening's plane, built ``(n, 3)``."""
    source = np.linalg.inv(bench.relief.built_from_imagined)
    if place.point is None:
        back = source[:3, :3] @ -np.array(place.way)
        homogeneous = np.append(back, 0.0)
    else:
        homogeneous = source @ np.append(place.point, 1.0)
    if gate.plane @ homogeneous < 0:
        homogeneous = -homogeneous  # an ideal point has no side of its own
    height = float(gate.plane @ homogeneous)
    heights = points_imagined @ gate.plane[:3] + gate.plane[3]
    rows = height * np.column_stack([points_imagined, np.ones(len(points_imagined))]) - np.outer(heights, homogeneous)
    return bench.relief.build_points(rows[:, :3] / rows[:, 3:])


def _imagined_border(bench: Bench, patch: Patch) -> Array:
    """Return points along a patch's border, imagined ``(n, 3)``."""
    flat = np.vstack([curves.flatten_path(loop, FLATTENING) for loop in patch.loops])
    return frames.apply(bench.targets[patch.part].matrix, flat)
