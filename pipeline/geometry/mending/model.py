"""What mending gives back, and how it refuses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]


class MendError(ValueError):
    """A mesh that is no closed body and cannot be made one; the text says what is wrong and where."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mended:
    """A closed outward mesh, and what was done to make it one.

    Attributes
    ----------
    mesh
        In the unit it came in.
    volume
        In that unit cubed, above zero.
    repairs
        One clause for each kind of repair; none for a mesh that was sound.
    """

    mesh: Mesh
    volume: float
    repairs: tuple[str, ...]


def extent(mesh: Mesh) -> float:
    """Return the diagonal of the box around all triangles, to measure tolerances by."""
    corners = mesh.corners
    return float(np.linalg.norm(corners.max(axis=(0, 1)) - corners.min(axis=(0, 1)))) if len(corners) else 0.0


def spot(point: Array) -> str:
    """Return a point ``(3,)`` as a message shows it, in the file's own coordinates."""
    return "(" + ", ".join(f"{value + 0.0:.4g}" for value in point) + ")"


def several(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"
