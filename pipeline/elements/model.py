"""What an element says of itself: the imagined things that make a scene.

Terms
-----
host
    A face other elements may cut or stand on, named by its part id: ``floor``, ``left-wall``, ....
host coordinates
    ``(u, v)`` imagined mm on a host. Side walls: u from the opening along the hall, v above the floor. Back wall and
    front frame: u from the left, v above the floor. Floor and ceiling: u from the left, v from the opening.
section
    A closed plane path that a solid is swept from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Path
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Loop, Region

Array = NDArray[np.float64]
KeyPath = tuple[str | int, ...]

ROUNDING = 1e-6
"""mm; imagined things this near to one another are meant to touch."""

BELOW_FLOORS = 1.0
"""mm that walls begin under the lowest floor, so that all of their foot is cut along the floors."""

HOSTS = ("floor", "ceiling", "left-wall", "right-wall", "back-wall", "front-frame")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something wrong with the scene, said so that it can be mended.

    ``path`` names the key, as in ``("openings", 2, "width")``; the reader finds its line and column.
    """

    path: KeyPath
    found: str
    allowed: str
    remedy: str = ""


class SceneError(Exception):
    """One or more problems of a scene file."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(f"{'.'.join(map(str, p.path))}: {p.found}" for p in problems))
        self.problems = problems


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceSheet:
    """What a face is made of: the sheet's thickness and the finish laid on it, mm."""

    material: str
    thickness: float
    finish: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """One of the floors that flights of steps part the hall's into.

    Attributes
    ----------
    part
        Part id.
    level
        Height over the front floor, imagined mm; below zero where it lies lower.
    origin
        Imagined y where its host coordinates begin.
    near, far
        Imagined y that it reaches over from wall to wall.
    """

    part: str
    level: float
    origin: float
    near: float
    far: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hall:
    """The imagined room, in imagined mm (the opening's scale), computed once and first.

    Attributes
    ----------
    scale
        n of 1:n at the opening; 1 imagined mm stands for ``n / 1000`` m.
    width, height, depth
        Inside measures; depth is from the opening to the visible back wall.
    floor
        Height z of the visible floor above the box's inside bottom.
    apron
        Depth of the strip built true.
    front
        Imagined y where the faces start: 0, or behind the front frame.
    facet
        How far facets of bodies may stray from curves, mm (``make.mesh_tolerance``).
    materials
        Thickness of every sheet material, mm, by name.
    surfaces
        What each built host is made of, by part id.
    files
        Bytes of the files that the scene names, by the name it uses.
    springing
        Height z a vault rises from; nothing under a ceiling.
    bay_lines
        Imagined y of the planes between a vault's bays, and at both ends.
    tops
        Under a vault, the upper border of a host from its right end to its left one, host coordinates.
    covers
        Key of ``[covers]`` that each built host has, or nothing, by part id.
    grounds
        The floors from the opening on where flights of steps part them; else none.
    """

    scale: float
    width: float
    height: float
    depth: float
    floor: float
    apron: float
    front: float
    facet: float = 0.02
    materials: Mapping[str, float] = field(default_factory=dict)
    surfaces: Mapping[str, SurfaceSheet] = field(default_factory=dict)
    files: Mapping[str, bytes] = field(default_factory=dict)
    springing: float | None = None
    bay_lines: tuple[float, ...] = ()
    tops: Mapping[str, Loop] = field(default_factory=dict)
    covers: Mapping[str, str | None] = field(default_factory=dict)
    grounds: tuple[Ground, ...] = ()

    @property
    def foot(self) -> float:
        """How low walls begin, over the front floor, before flights of steps cut them along the floors: 0 without."""
        return min(ground.level for ground in self.grounds) - BELOW_FLOORS if self.grounds else 0.0

    def ground(self, near: float, far: float) -> Ground | None:
        """Return the one floor under everything between two imagined y, or nothing where steps are in the way."""
        whole = Ground(part="floor", level=0.0, origin=0.0, near=0.0, far=self.depth)
        low, high = max(near, 0.0) + ROUNDING, min(far, self.depth) - ROUNDING
        return next((g for g in self.grounds or (whole,) if g.near <= low and high <= g.far), None)

    @property
    def below_vault(self) -> Hall:
        """The hall up to a vault's springing, which is the ceiling of what carries it; all of it under a ceiling."""
        return self if self.springing is None else replace(self, height=self.springing - self.floor)

    def over(self, ground: Ground) -> Hall:
        """Return the hall as it is over one of its floors."""
        return replace(self, floor=self.floor + ground.level, height=self.height - ground.level, grounds=())

    def standing(self, near: float, far: float) -> Hall:
        """Return the hall as it is for what stands between two imagined y: over its own floor, if it has one."""
        ground = self.ground(near, far)
        return self if ground is None else self.over(ground)

    def sheet(self, material: str | None, finish: float = 0.0) -> SurfaceSheet:
        """Return a sheet of a material; without a name, of the only one, or of the first."""
        name = material if material is not None else next(iter(self.materials))
        return SurfaceSheet(material=name, thickness=self.materials[name], finish=finish)

    def millimetres(self, metres: float) -> float:
        """Return imagined metres as imagined mm."""
        return metres * 1000.0 / self.scale

    def metres(self, millimetres: float) -> float:
        """Return imagined mm as imagined metres."""
        return millimetres * self.scale / 1000.0

    def size(self, host: str) -> tuple[float, float]:
        """Return the extent (u, v) of a host, imagined mm, from the opening on."""
        if host in ("left-wall", "right-wall"):
            return self.depth, self.height
        if host in ("floor", "ceiling"):
            return self.width, self.depth
        return self.width, self.height

    def imagined_from_host(self, host: str) -> Array:
        """Return the ``(4, 3)`` matrix from host coordinates (u, v, 1) to imagined points."""
        half, depth, floor = self.width / 2, self.depth, self.floor
        rows: dict[str, list[list[float]]] = {
            "left-wall": [[0, 0, -half], [1, 0, 0], [0, 1, floor]],
            "right-wall": [[0, 0, half], [1, 0, 0], [0, 1, floor]],
            "back-wall": [[1, 0, -half], [0, 0, depth], [0, 1, floor]],
            "front-frame": [[1, 0, -half], [0, 0, 0], [0, 1, floor]],
            "floor": [[1, 0, -half], [0, 1, 0], [0, 0, floor]],
            "ceiling": [[1, 0, -half], [0, 1, 0], [0, 0, floor + self.height]],
        }
        return np.array([*rows[host], [0, 0, 1]], dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Family:
    """Numbered parallel guide lines of a cover, in host coordinates.

    Attributes
    ----------
    lines
        ``(n, 2, 2)`` start and end points, imagined mm.
    numbers
        ``(n,)`` whole numbers; neighbours differ by one, and thinning keeps multiples of powers of two.
    step
        ``(2,)`` the way from a line to the next of its family, imagined mm.
    course
        ``(2,)`` the way across the course that perpends stand in, imagined mm; nothing for other lines.
    """

    lines: Array
    numbers: NDArray[np.int64]
    step: Array
    course: Array | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """A flat visible imagined polygon, made from sheet.

    Attributes
    ----------
    id
        Part id.
    imagined_from_host
        ``(4, 3)`` matrix from host coordinates to imagined points, mm.
    inward
        ``(3,)`` unit normal into the room.
    up
        ``(3,)`` imagined direction that is up on the drawing.
    region
        Outline before any cut, in host coordinates; every edge labelled with the neighbouring part.
    sheet
        What it is made of.
    cover
        Key of ``[covers]``, or nothing.
    extent
        (u, v) up to which the cover is laid, from the origin of the host coordinates, imagined mm.
    level
        Whether it lies level, so that v runs along the hall.
    path
        Where the scene file speaks of it.
    behind
        Part id of the host it stands behind, or nothing; its matrix is then that host's, until the room sets it back.
    inset
        How far behind that host's visible face it stands, imagined mm; nothing, or too little to clear the host's
        sheet, lets it lie flat on the back of that sheet.
    lines
        Guides of its own beside those of its cover.
    through
        Whether it runs on past its neighbours, which then end flat against its visible face.
    """

    id: str
    imagined_from_host: Array
    inward: Array
    up: Array
    region: Region
    sheet: SurfaceSheet
    cover: str | None
    extent: tuple[float, float]
    level: bool
    path: KeyPath
    behind: str = ""
    inset: float | None = None
    lines: tuple[Family, ...] = ()
    through: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """A hole or notch an element asks of a host: a closed path in host coordinates, counter-clockwise.

    ``against``, where given, names the part that stands at each of the path's curves; elsewhere it is ``name``.
    ``length`` is that of the passage or niche behind it, ``reveal`` the thickness of wall seen in it, imagined mm.
    """

    host: str
    name: str
    curve: Path
    beyond: str
    path: KeyPath
    against: tuple[str, ...] = ()
    length: float = 0.0
    reveal: float = 0.0
    reveal_as: Literal["sheet", "print"] = "sheet"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """Where something stands on a host: a closed path in host coordinates.

    ``hidden`` tells that it stands on the sheet's hidden face; the path is then seen through the sheet, square to it.
    """

    host: str
    name: str
    curve: Path
    hidden: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Level:
    """A section of a sweep at one place of its axis, imagined mm."""

    at: float
    section: Path


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Groove:
    """A joint cut into a print's skin, imagined mm.

    Attributes
    ----------
    corners
        ``(8, 3)`` of the box that is taken out.
    line
        ``(2, 3)`` the joint's middle on the skin, to be drawn in pictures.
    """

    corners: Array
    line: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A closed imagined body, swept through sections that correspond curve by curve, then kept inside the hall.

    Attributes
    ----------
    id
        Part id.
    axis
        ``"z"``: sections in (x, y), stacked upward (a column). ``"y"``: sections in (x, z), along the hall (an arch).
    levels
        At least two, in growing order along the axis; two levels may share a place (a step in the profile).
    contacts
        Hosts the body touches; the print stands off each by the play ``make.fit``.
    opens
        Where its hollow may open: a host of ``contacts``, ``"back"`` (the side away from the eye), or ``""``
        for a closed hollow.
    grooves
        Joints cut into the visible skin.
    path
        Where the scene file speaks of it.
    """

    id: str
    axis: Literal["y", "z"]
    levels: tuple[Level, ...]
    contacts: tuple[str, ...]
    opens: str
    grooves: tuple[Groove, ...] = ()
    path: KeyPath = ()

    @property
    def joints(self) -> Array:
        """The grooves' lines on the skin, ``(n, 2, 3)`` imagined mm."""
        return np.array([groove.line for groove in self.grooves]).reshape(-1, 2, 3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block:
    """A closed imagined body given by its facets, printed solid.

    Attributes
    ----------
    id
        Part id.
    mesh
        Closed and outward, imagined mm; curves already faceted within ``Hall.facet``.
    contacts
        Hosts the body touches; the print stands off each by the play ``make.fit``.
    joints
        ``(n, 2, 3)`` lines on the skin to be drawn in pictures, imagined mm.
    path
        Where the scene file speaks of it.
    seams
        Imagined planes ``(4,)`` (n, c) at which it meets other prints, the body where n . x + c >= 0; the print stands
        off each by the play.
    """

    id: str
    mesh: Mesh
    contacts: tuple[str, ...]
    joints: Array
    path: KeyPath = ()
    seams: tuple[Array, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WebEnd:
    """Where a web, or its rulings on one piece of a border, ends.

    Attributes
    ----------
    plane
        ``(4,)`` imagined plane the web ends on, (n, c) with n . x + c >= 0 on the web's side.
    against
        The part that stands there.
    """

    plane: tuple[float, float, float, float]
    against: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Web:
    """A curved visible imagined surface swept by parallel straight lines, its rulings: a cell of a vault.

    Attributes
    ----------
    id
        Part id.
    near, far
        Space curves, imagined mm, the same number of each; points of equal parameter are joined by rulings.
    section
        ``(x, z)`` curves of the barrel along the hall at the same parameters, in order from right to left.
    barrel
        All of that barrel from the right springing to the left one, parted at the crown; the lengths from the
        springing set the levels of the courses.
    imagined_from_section
        ``(4, 4)`` matrix from (x, z, u, 1): u runs along the rulings, from where the cover's perpends are measured.
    near_ends, far_ends
        What stands at each piece of the two borders.
    ends
        What stands at the first and at the last ruling.
    sheet
        What it is made of.
    printed
        Whether it is printed instead of bent.
    cover
        Key of ``[covers]``, or nothing.
    extent
        u up to which the cover is laid, imagined mm.
    hidden_below
        Height z under which tips too narrow to cut are hidden by something else; nothing where all of it is seen.
    path
        Where the scene file speaks of it.
    """

    id: str
    near: Path
    far: Path
    section: Path
    barrel: Path
    imagined_from_section: Array
    near_ends: tuple[WebEnd, ...]
    far_ends: tuple[WebEnd, ...]
    ends: tuple[WebEnd, WebEnd]
    sheet: SurfaceSheet
    printed: bool
    cover: str | None
    extent: float
    hidden_below: float | None
    path: KeyPath

    @property
    def generator(self) -> Array:
        """``(3,)`` imagined direction of the rulings, from near to far."""
        out: Array = self.imagined_from_section[:3, 2]
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One line for the report: what, how much, in which unit."""

    subject: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Imagined:
    """All that elements say, in imagined mm.

    ``planes`` are faces that are not made; panels that end at them are cut along them. ``unseen`` are the ids of those
    among them that no eye in the eye box sees.
    """

    faces: tuple[Face, ...] = ()
    planes: tuple[Face, ...] = ()
    unseen: tuple[str, ...] = ()
    solids: tuple[Solid, ...] = ()
    blocks: tuple[Block, ...] = ()
    webs: tuple[Web, ...] = ()
    cuts: tuple[Cut, ...] = ()
    marks: tuple[Mark, ...] = ()
    facts: tuple[Fact, ...] = ()
    problems: tuple[Problem, ...] = ()


def gather(parts: list[Imagined]) -> Imagined:
    """Return everything the elements said as one."""
    return Imagined(
        faces=tuple(x for part in parts for x in part.faces),
        planes=tuple(x for part in parts for x in part.planes),
        unseen=tuple(x for part in parts for x in part.unseen),
        solids=tuple(x for part in parts for x in part.solids),
        blocks=tuple(x for part in parts for x in part.blocks),
        webs=tuple(x for part in parts for x in part.webs),
        cuts=tuple(x for part in parts for x in part.cuts),
        marks=tuple(x for part in parts for x in part.marks),
        facts=tuple(x for part in parts for x in part.facts),
        problems=tuple(x for part in parts for x in part.problems),
    )
