"""What a mesh file holds, and how one is refused."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]

MOST_BYTES = 256 * 1024 * 1024
"""Of any file; as many facets as are allowed need less in every format read here."""
MOST_TRIANGLES = 200_000
"""Of one mesh; at a print's size facets are then below any printer's step; laying and checking it takes a minute."""
FARTHEST = 1e9
"""In the file's own unit; coordinates beyond it are slips, and their products would lose all digits."""


class MeshFileError(ValueError):
    """A file that cannot be read as the mesh it should be; the text says where and why."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeshFile:
    """The triangles of a file.

    Attributes
    ----------
    mesh
        In the file's own unit and axes; nothing is welded yet.
    up
        The axis that is up by the format's own rule, ``"y"`` or ``"z"``.
    notes
        What was passed over while reading, for the report.
    """

    mesh: Mesh
    up: str
    notes: tuple[str, ...] = ()


def checked_mesh(vertices: Array, triangles: NDArray[np.int64]) -> Mesh:
    """Return the mesh of points ``(n, 3)`` and triangles ``(m, 3)``, if all points that these name are believable.

    That they are there the reader has seen.

    Raises
    ------
    MeshFileError
        If not, naming the first facet at fault, counted from 1.
    """
    if len(triangles) == 0:
        raise MeshFileError("it holds no facets")
    refuse_too_many(len(triangles))
    with np.errstate(invalid="ignore"):
        bad: NDArray[np.bool_] = np.logical_not((np.abs(vertices) <= FARTHEST).all(axis=1))
    if bad[triangles].any():
        facet = int(np.flatnonzero(bad[triangles].any(axis=1))[0])
        raise MeshFileError(f"facet {facet + 1} has a corner that is no number, or farther out than {FARTHEST:g}")
    # Points no facet uses may be anything; -0.0 is made 0.0, so that equal points are equal bytes.
    clean = np.where(bad[:, None], 0.0, vertices) + 0.0
    return Mesh(vertices=clean, triangles=triangles)


def refuse_too_many(count: int) -> None:
    """Refuse a mesh of too many facets before any memory is given to it.

    Raises
    ------
    MeshFileError
        If there are more than ``MOST_TRIANGLES``.
    """
    if count > MOST_TRIANGLES:
        raise MeshFileError(f"it has {count:,} facets, more than {MOST_TRIANGLES:,}; let a mesh editor decimate it")
