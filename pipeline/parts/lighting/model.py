"""What a light does in the imagined room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Path
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]

HALL, OUTSIDE = "", "outside"
"""Cells; any other is the part id of an opening that leads on behind its wall."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """A plane thing that stops light: its loops, outline first, in coordinates of its own, imagined mm.

    ``holds`` is the part id, or the name of a figure; ``cell`` where it stands.
    """

    id: str
    loops: tuple[Path, ...]
    matrix: Array
    cell: str = HALL


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """A thing of facets that stops light, imagined mm; ``closed`` unless it is a curved surface."""

    id: str
    mesh: Mesh
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Target:
    """A face that light may fall on: what is left of it after its cuts, host coordinates, imagined mm."""

    id: str
    loops: tuple[Path, ...]
    matrix: Array
    inward: Array
    cell: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gate:
    """An opening that light can pass.

    Attributes
    ----------
    id
        Part id of its name.
    name
        As the scene names it.
    host
        Wall it is cut into.
    loops
        The hole alone, host coordinates, imagined mm.
    matrix
        ``(4, 3)`` from these.
    outward
        ``(3,)`` unit direction out of the hall.
    reveal
        Thickness of the imagined wall, mm.
    length
        Of the passage or niche behind it, mm; nothing behind others.
    leads
        Whether a passage or niche lies behind it; else it is open to the outside.
    """

    id: str
    name: str
    host: str
    loops: tuple[Path, ...]
    matrix: Array
    outward: Array
    reveal: float
    length: float
    leads: bool

    @property
    def plane(self) -> Array:
        """``(4,)`` the wall's plane, the outside positive."""
        return np.array([*self.outward, -self.outward @ self.matrix[:3, 2]])

    def set_out(self, depth: float) -> Array:
        """Return the matrix ``(4, 3)`` of the hole's outline moved ``depth`` mm out of the hall."""
        moved = self.matrix.copy()
        moved[:3, 2] += depth * self.outward
        return moved


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Setting:
    """The imagined room as light meets it.

    Attributes
    ----------
    sheets, bodies
        What stops light.
    targets
        What it is marked on.
    gates
        What it comes through.
    """

    sheets: tuple[Sheet, ...]
    bodies: tuple[Body, ...]
    targets: tuple[Target, ...]
    gates: tuple[Gate, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """Light on a face: where it came through, and its border, outlines and holes, host coordinates, imagined mm."""

    part: str
    through: tuple[str, ...]
    loops: tuple[Path, ...]
    area: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shadow:
    """What a part, or a figure, keeps dark on a face; host coordinates, imagined mm."""

    part: str
    by: str
    loops: tuple[Path, ...]
    area: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """A way that light takes into the hall: the opening, and what of it light passes, host coordinates."""

    gate: str
    loops: tuple[Path, ...]
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cast:
    """A light of the scene, by its number, and all that it does.

    Attributes
    ----------
    number
        In the scene's order, from 0.
    source
        Homogeneous ``(4,)``, imagined mm.
    cell
        Where a lamp is.
    ways
        Openings that it enters the hall by.
    patches
        What light that came through openings falls on.
    shadows
        Of every thing on every face, whether or not others shade it too.
    dark
        What is dark of each face that the light's own cell has in it, all shadows together.
    """

    number: int
    source: Array
    cell: str
    ways: tuple[Way, ...]
    patches: tuple[Patch, ...]
    shadows: tuple[Shadow, ...]
    dark: tuple[Patch, ...]
