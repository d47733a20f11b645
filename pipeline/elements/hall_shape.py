"""The imagined hall, measured once and first, which every element is placed in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.regions import Loop
from pipeline.keeping.watched import altered

Array = NDArray[np.float64]


ROUNDING = 1e-6
"""mm; imagined things this near to one another are meant to touch."""


BELOW_FLOORS = 1.0
"""mm that walls begin under the lowest floor, so that all of their foot is cut along the floors."""


HOSTS = ("floor", "ceiling", "left-wall", "right-wall", "back-wall", "front-frame")


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
    web_front
        Imagined y where a vault's cells along the hall start: at ``front``, or before it within the frame's hole.
    web_eased
        How much of their hidden side is taken off where they start, to fit into that hole, mm.
    least_ends
        How far what is printed at the opening and at the back wall must reach into the hall to be thick enough.
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
    web_front: float = math.inf
    web_eased: float = 0.0
    least_ends: tuple[float, float] = (0.0, 0.0)
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
    def shape(self) -> Hall:
        """The hall without what its surfaces wear, and without files: all that bodies in it need."""
        return altered(self, materials={}, surfaces={}, files={}, covers={})

    @property
    def below_vault(self) -> Hall:
        """The hall up to a vault's springing, which is the ceiling of what carries it; all of it under a ceiling."""
        return self if self.springing is None else altered(self, height=self.springing - self.floor)

    def over(self, ground: Ground) -> Hall:
        """Return the hall as it is over one of its floors."""
        return altered(self, floor=self.floor + ground.level, height=self.height - ground.level, grounds=())

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
