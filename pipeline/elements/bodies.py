"""Imagined bodies: swept through sections, or given by their facets.

Terms
-----
section
    A closed plane path that a solid is swept from.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.problems import KeyPath
from pipeline.geometry.curves import Path
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]


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
    """A closed imagined body given by its facets, printed solid unless it is asked to be hollowed.

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
    hollow
        Whether its print is to be hollowed.
    """

    id: str
    mesh: Mesh
    contacts: tuple[str, ...]
    joints: Array
    path: KeyPath = ()
    seams: tuple[Array, ...] = ()
    hollow: bool = False
