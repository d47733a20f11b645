"""Flat imagined things: faces, what is cut from them, what stands on them and what is drawn on them.

Terms
-----
host
    A face other elements may cut or stand on, named by its part id: ``floor``, ``left-wall``, ....
host coordinates
    ``(u, v)`` imagined mm on a host. Side walls: u from the opening along the hall, v above the floor. Back wall and
    front frame: u from the left, v above the floor. Floor and ceiling: u from the left, v from the opening.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.problems import KeyPath
from pipeline.geometry.curves import Path, bounds
from pipeline.geometry.regions import Region

Array = NDArray[np.float64]


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
    lean
        ``(3,)`` imagined direction in which the surface runs on behind its free edges; it is cut square, and told how
        far that leans. Nothing where its edges show no surface.
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
    lean: Array | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """A hole or notch an element asks of a host: a closed path in host coordinates, counter-clockwise.

    ``against``, where given, names the part that stands at each of the path's curves; elsewhere it is ``name``.
    ``length`` is that of the passage or niche behind it, ``reveal`` the thickness of wall seen in it, imagined mm.
    ``made_as`` tells what that is made of, once the room knows what bends; ``barrel`` is the sheet bent over its head,
    or nothing where it is the wall's. ``stiff`` names the material whose sheet does not bend, where that decides.
    """

    host: str
    name: str
    curve: Path
    beyond: str
    path: KeyPath
    against: tuple[str, ...] = ()
    length: float = 0.0
    reveal: float = 0.0
    made_as: Literal["sheet", "print"] | None = None
    barrel: SurfaceSheet | None = None
    stiff: str = ""

    @property
    def head(self) -> Path:
        """The bent curves over the hole, from right to left; none over a flat head."""
        return tuple(curve for curve in self.curve if not curve.straight)

    @property
    def springing(self) -> float:
        """Height over the floor at which the head begins, imagined mm; that of the lintel of a flat one."""
        return float(self.head[0].start[1] if self.head else bounds(self.curve)[1, 1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sweep:
    """How the edges of a face that lie against certain things are cut: along one imagined direction, bent ones too.

    Attributes
    ----------
    hosts, against
        Part ids of the faces, and what lies against those edges of theirs.
    way
        ``(3,)`` imagined direction of the cut.
    across
        ``(2, 3)`` imagined directions, level and upright, in which the cut goes on to an edge beside it that is
        mitred farther back.
    """

    hosts: frozenset[str]
    against: frozenset[str]
    way: Array
    across: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """Where something stands on a host: a closed path in host coordinates.

    ``hidden`` tells that it stands on the sheet's hidden face; the path is then seen through the sheet, square to it.
    ``loose`` tells that it stands on what the face wears, so that raised units are not left out beneath it.
    ``light`` tells that it is the border of light or shadow, and what is written at it; ``label`` is what is written at
    any other.
    """

    host: str
    name: str
    curve: Path
    hidden: bool = False
    loose: bool = False
    light: str = ""
    label: str = ""
