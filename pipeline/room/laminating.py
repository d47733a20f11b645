"""Ribs made of slices of sheet, cut to the built room.

Terms
-----
front
    The flank of a rib that is turned to the eye, and the visible face of each of its slices. The first slice's front is
    the flank itself; each further one begins where the one before it ends, a thickness behind it.
back
    The other flank, moved out by as much as the last slice may stand out of it.
end
    Where a slice stops: at another rib, at a wall, or where the rib becomes too thin for one more slice.

A slice shows the rib's own profile, lifted to the plane of its front (`built_ribs`), so its outline is exact. The sheet
behind it is cut square, so its edges leave the rib's soffit by what the rib leans over one thickness; the check of rib
slices measures that at the eye. Of a rib that runs into the depth, the built width shrinks: slice k, from 0, ends where
the rib is less than k + 1/2 sheets wide, so that what is left over is nowhere more than half a sheet. Against a wall,
and level under a crown, it ends where the rib is less than k + 1 sheets wide: it nowhere enters the wall, or the web
that falls away to both sides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.laminations import Lamination
from pipeline.elements.model import Fact, Imagined, gather
from pipeline.elements.problems import Problem
from pipeline.elements.surfaces import Face, Mark
from pipeline.geometry import curves, frames
from pipeline.geometry.clipping import clip
from pipeline.geometry.curves import Path
from pipeline.geometry.regions import Edge, Region, loop_of
from pipeline.relief.collineation import Relief
from pipeline.room.built_ribs import Built, carry
from pipeline.room.measure import Room
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

MOST_SLICES = 60
"""Of one rib; of more, nobody glues one."""
SHORTEST = 2.0
"""Sheets; a slice no longer than so many thicknesses cannot be held."""
SHALLOWEST = 0.866
"""Cosine of the angle of 30 degrees at which slices are still pared to lie flat against what they end at; at a
shallower one they are cut square, short of it, as nobody cuts a bevel of more than 60 degrees."""
LEVEL = 1e-9
"""A plane's slope against a slice below which the two are parallel."""
HALVINGS = 16
"""Of the drop that is sought: to less than a micron."""
FINE = 1025
"""Points of each half of the arch that it is held against; chords lie inside, by a millionth of its rise."""
FOOT = 0.1
"""Sheets that feet keep clear of what they stand on beyond the play: they are cut square, it rises toward the back."""
SAMPLES = np.linspace(0.0, 1.0, 33)
"""Of each curve of a back."""


@dataclass(frozen=True, slots=True, eq=False)
class Interval:
    """A stretch of s, and the planes it ends at; nothing where it is cut square."""

    low: float
    high: float
    low_end: str = ""
    high_end: str = ""


def cut_slices(said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return what was said, with a face for every slice of every lamination, and their places; or what does not fit."""
    ribs: dict[str, Built] = {}
    parts: list[Imagined] = []
    hosts = {face.id: face for face in said.faces}
    for rib in said.laminations:
        ribs[rib.id] = built = carry(rib, room.relief)
        parts.append(_sliced(built, ribs, hosts, scene, room))
    if not parts:
        return said
    return gather([said, *parts, Imagined(facts=_facts(said.laminations, parts))])


def _sliced(built: Built, ribs: dict[str, Built], hosts: dict[str, Face], scene: Scene, room: Room) -> Imagined:
    """Return the slices of one rib with the planes they end at, and their places on one another and on a wall."""
    rib, relief, thick = built.rib, room.relief, built.thickness
    others = {f"{name}-{side}": plane for name in rib.yields for side, plane in _sides(ribs[name])}
    others |= {name: relief.build_plane(plane) for name, plane in rib.stops.items()}
    drop = find_drop(built)
    if drop is None:
        found = f"slices {thick:g} mm thick of the {rib.id}, which cut square would stand into the webs"
        allowed, remedy = "thinner slices, or deeper ribs", "name a thinner sheet as rib_material"
        return Imagined(problems=(Problem(path=(*rib.path, "ribs"), found=found, allowed=allowed, remedy=remedy),))
    outline = rib.outline(drop, _foot(built, scene.make.fit))
    parted = not all(_own_sides(built, name, others) for name in rib.yields)
    faces, used, number = [], set[str](), 0
    before: list[Face] = []
    marks: list[Mark] = []
    while stretches := _stretches(built, number, ribs, others, bevelled=scene.make.edges == "bevel"):
        if number == MOST_SLICES:
            return Imagined(problems=(_too_many_slices(built),))
        made = [_face(built, number, stretch, outline, relief, parted=parted) for stretch in stretches]
        marks += [_place(face, other, built, number, relief) for face in made for other in _touching(face, before)]
        used |= {end for stretch in stretches for end in (stretch.low_end, stretch.high_end) if end}
        faces += made
        before, number = made, number + 1
    if rib.wall in hosts and faces:
        marks += [_place(face, hosts[rib.wall], built, number, relief) for face in before]
    planes = tuple(_plane(name, plane, room.hall, relief) for name, plane in others.items() if name in used)
    return Imagined(faces=tuple(faces), planes=planes, marks=tuple(marks))


def _sides(built: Built) -> tuple[tuple[str, Array], tuple[str, Array]]:
    return (("front", built.front), ("back", built.back))


def _too_many_slices(built: Built) -> Problem:
    return Problem(
        path=(*built.rib.path, "rib_material"),
        found=f"of sheet {built.thickness:g} mm thick the {built.rib.id} would need more than {MOST_SLICES} slices",
        allowed=f"at most {MOST_SLICES} for each rib",
        remedy='name a thicker sheet, or write ribs = "print"',
    )


def _stretches(
    built: Built, number: int, ribs: dict[str, Built], others: dict[str, Array], *, bevelled: bool
) -> list[Interval]:
    """Return the stretches of a rib's s that hold its slice of a number, from 0."""
    depth, thick, span = number * built.thickness, built.thickness, built.rib.half_span
    built_from_host = built.built_from_host(depth)

    def keep(stretches: list[Interval], name: str) -> list[Interval]:
        plane = others[name]
        pared = bevelled and abs(float(plane[:3] @ built.front[:3])) <= SHALLOWEST
        out = _kept(stretches, built_from_host.T @ plane, name if pared else "")
        return out if pared else _kept(out, built_from_host.T @ built.shifted(plane, thick), "")

    least = built.shifted(built.within, built.share * thick)
    found = _kept([Interval(-span, span)], built_from_host.T @ least, "")
    for name in built.rib.stops:
        found = keep(found, name)
    for name in built.rib.yields:
        sides, own = [f"{name}-{side}" for side, _ in _sides(ribs[name])], _own_sides(built, name, others)
        found = sorted((s for side in own or sides for s in keep(found, side)), key=lambda s: s.low)
    return [s for s in found if _length(s, built_from_host) > SHORTEST * thick]


def _own_sides(built: Built, name: str, others: dict[str, Array]) -> list[str]:
    """Return the side of another rib on which a rib's middle lies; none where the other runs through there."""
    lines = {f"{name}-{side}": built.built_from_host(0.0).T @ others[f"{name}-{side}"] for side in ("front", "back")}
    return [side for side, line in lines.items() if line[2] >= 0]


def _kept(stretches: list[Interval], line: Array, name: str) -> list[Interval]:
    """Return what is left of stretches where a s + c >= 0, ending there at a plane of that name."""
    slope, start = float(line[0]), float(line[2])
    if abs(slope) < LEVEL * (abs(start) + 1):
        return stretches if start >= 0 else []
    at = -start / slope
    if slope > 0:
        return [replace(s, low=at, low_end=name) if at > s.low else s for s in stretches if s.high > at]
    return [replace(s, high=at, high_end=name) if at < s.high else s for s in stretches if s.low < at]


def _length(stretch: Interval, built_from_host: Array) -> float:
    ends = frames.apply(built_from_host, [[stretch.low, 0.0], [stretch.high, 0.0]])
    return float(np.linalg.norm((ends[1] - ends[0])[:2]))


def find_drop(built: Built) -> float | None:
    """Return the least drop of a back's curve, of its play and more, that keeps square-cut slices below the webs.

    A slice's back edge lies square behind its front one; there it must not come nearer to the vault than the rib says.
    """
    rib = built.rib
    count = max(1, round(_widest(built) / built.thickness))
    level = [np.array([[1.0, 1.0], [0.0, 1.0]])]  # a straight rib's back is level
    arch = np.vstack([curves.evaluate(c, np.linspace(0.0, 1.0, FINE)) for c in rib.unit] if rib.unit else level)[::-1]
    if _clear(built, rib.play, count, arch):
        return rib.play
    low, high = rib.play, rib.depth / 2
    if not _clear(built, high, count, arch):
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if _clear(built, middle, count, arch) else (middle, high)
    return high


def _clear(built: Built, drop: float, count: int, arch: Array) -> bool:
    """Return whether the back edges of slices whose front edges have a drop lie under the vault's unit ``arch``."""
    rib, track_from_built = built.rib, frames.inverse(built.built_from_track)
    points = np.vstack([curves.evaluate(curve, SAMPLES) for curve in rib.curve(drop)])
    limit = rib.scaled(rib.nearest)
    for number in range(count):
        depth = number * built.thickness
        front = frames.apply(built.built_from_host(depth), points)
        edge = front - built.thickness * built.front[:3]
        if (edge @ track_from_built[3, :3] + track_from_built[3, 3] <= 0).any():
            return False  # as built there is not so much depth as the slice is thick: nothing imagined is there
        on_track = frames.apply(track_from_built, edge)
        across = np.abs(on_track[:, 0]) / limit[0, 0]
        up = (on_track[:, 1] - rib.springing) / limit[1, 1]
        if (rib.unit and (across > 1).any()) or (up > np.interp(across, arch[:, 0], arch[:, 1])).any():
            return False
    return True


def _widest(built: Built) -> float:
    """Return the rib's greatest built width, mm."""
    return float(width(built, np.array([-built.rib.half_span, built.rib.half_span])).max())


def width(built: Built, along: Array) -> Array:
    """Return a rib's built width, square to its front, at places ``(n,)`` along it, mm."""
    points = frames.apply(built.built_from_host(0.0), np.column_stack([along, np.zeros(len(along))]))
    out: Array = (points @ built.within[:3] + built.within[3]) / float(built.within[:3] @ built.front[:3])
    return out


def _foot(built: Built, fit: float) -> float:
    """Return how far feet keep above the springing, imagined mm, so that the play is left as built."""
    if not built.rib.unit:
        return 0.0
    ends = [[-built.rib.half_span, 0.0, 0.0, 1.0], [built.rib.half_span, 0.0, 0.0, 1.0]]
    shrunk = max(float(built.built_from_track[3] @ np.array(end)) for end in ends)
    return (fit + FOOT * built.thickness) * shrunk


def _face(built: Built, number: int, stretch: Interval, outline: Path, relief: Relief, *, parted: bool) -> Face:
    """Return the face of one slice between its ends."""
    rib, depth = built.rib, number * built.thickness
    part = f"{rib.id}-slice-{number + 1}"
    if parted:
        level = abs(float(rib.imagined_from_track[1, 0])) < LEVEL
        names = ("left", "right") if level else ("near", "far")
        part = f"{rib.id}-{names[stretch.low + stretch.high > 0]}-slice-{number + 1}"
    path = clip(outline, [(1.0, 0.0, -stretch.low), (-1.0, 0.0, stretch.high)])
    edges = tuple(Edge(curve, _end_of(curve, stretch)) for curve in path)
    plane = relief.built_from_imagined.T @ built.behind(depth)
    return Face(
        id=part,
        imagined_from_host=rib.imagined_from_track @ built.track_from_host(depth),
        inward=frames.unit(plane[:3]),
        up=np.array([0.0, 0.0, 1.0]),
        region=Region(edges),
        sheet=rib.sheet,
        cover=None,
        extent=(0.0, 0.0),
        level=False,
        path=rib.path,
        lean=rib.imagined_from_track[:3, 2],
    )


def _end_of(curve: curves.Curve, stretch: Interval) -> str:
    """Return the plane that an edge of a slice lies on."""
    if not curve.straight:
        return ""
    for at, end in ((stretch.low, stretch.low_end), (stretch.high, stretch.high_end)):
        if np.abs(np.array([curve.start[0], curve.end[0]]) - at).max() < 1e-6:
            return end
    return ""


def _touching(face: Face, before: list[Face]) -> list[Face]:
    """Return the slices before a slice that it lies on: those of the same piece of the rib."""
    return [other for other in before if other.id.rsplit("-", 1)[0] == face.id.rsplit("-", 1)[0]]


def _place(face: Face, host: Face, built: Built, number: int, relief: Relief) -> Mark:
    """Return the place of a slice on the one before it, on its hidden face, or on the wall behind it."""
    hidden = host.id.startswith(built.rib.id)
    plane = np.array([*host.inward, -host.inward @ host.imagined_from_host[:3, 2]])
    onto = relief.build_plane(plane)
    behind = 0.0 if hidden else built.thickness
    depth = number * built.thickness if hidden else (number - 1) * built.thickness
    square = np.eye(4)
    if not hidden:  # the wall is touched by the slice's hidden face
        square[:3, 3] = -behind * built.front[:3]
    drop = np.eye(4)
    drop[:3] -= np.outer(onto[:3], onto)
    flat = np.linalg.pinv(host.imagined_from_host) @ relief.imagined_from_built @ drop @ square
    matrix = flat @ built.built_from_host(depth)
    curve = curves.transform_path(tuple(edge.curve for edge in face.region.outline), matrix)
    return Mark(host=host.id, name=face.id, curve=curve, hidden=hidden)


def _plane(name: str, plane_built: Array, hall: Hall, relief: Relief) -> Face:
    """Return a face that is not made, on an upright built plane, for slices to end at."""
    plane = relief.built_from_imagined.T @ plane_built
    normal = frames.unit(plane[:3])
    along = np.array([-normal[1], normal[0], 0.0])
    origin = -plane[3] / np.linalg.norm(plane[:3]) * normal
    if abs(along[1]) > LEVEL:
        spans = sorted((y - origin[1]) / along[1] for y in (hall.front, hall.depth))
    else:
        spans = [-hall.width / 2, hall.width / 2]
    low, high = hall.floor, hall.floor + hall.height
    square = curves.polygon([(spans[0], low), (spans[1], low), (spans[1], high), (spans[0], high)])
    matrix = np.column_stack([[*along, 0.0], [0.0, 0.0, 1.0, 0.0], [*origin, 1.0]])
    return Face(
        id=name,
        imagined_from_host=matrix,
        inward=normal,
        up=np.array([0.0, 0.0, 1.0]),
        region=Region(loop_of(square)),
        sheet=hall.sheet(None),
        cover=None,
        extent=(0.0, 0.0),
        level=False,
        path=("vault",),
    )


def _facts(ribs: tuple[Lamination, ...], parts: list[Imagined]) -> tuple[Fact, ...]:
    count, sheet = sum(len(part.faces) for part in parts), ribs[0].sheet
    text = (
        f"{len(ribs)} ribs are laminated from {count} slices of {sheet.material}, {sheet.thickness:g} mm thick. Glue "
        "each slice onto the one before it, where its place is drawn; slice 1 is the one turned to the viewer. Arches "
        "across the hall go in first, then the diagonals that rise to the right, then the other ones, in halves, then "
        "wall ribs and ridges."
    )
    return (Fact(subject="vault", text=text),)
