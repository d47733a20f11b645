"""What a cut would leave beside its pieces stays on the piece it was part of.

A print's units may reach across a cut by a little: their ends, cut off, would be prints of their own that nobody could
peg, glue or find again. They are left where they are, and the other piece has room for them, since nothing was there.

Terms
-----
grain
    A piece on one side of a cut, smaller in every direction than a peg is long, which joins the rest of the body only
    across the cut.
side
    The part of a body and of its imagined skin on one side of a cut.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.booleans import mesh_of

Array = NDArray[np.float64]
Side = tuple[Manifold, Manifold]

AROUND = 1e-3
"""mm that what is cut round a grain reaches past its hull, so that no face of it lies in one of the body's."""
STAR = np.vstack([np.eye(3), -np.eye(3)])
"""Corners of an octahedron."""
PAST = 1.0
"""mm a half of space reaches past the body it is to cut."""
ROUNDED_MM3 = 1e-9
"""Volume that two bodies may have in common where they only touch."""


def kept_on(
    side: Side, halves: tuple[Manifold, Manifold], *, frame: Array, matrix: Array, small: float
) -> tuple[Side, Side] | None:
    """Return both sides of a cut with the grains of each left on the other; nothing where there are none.

    Parameters
    ----------
    side
        What is cut.
    halves
        Its body under and over the cut, as the plane parts it.
    frame
        ``(4, 4)`` rigid, with the cut as its (x, y), and z into the half over it.
    matrix
        ``(4, 4)`` built_from_imagined.
    small
        Least size of a piece that is none, mm.
    """
    flat_from_built = frames.invert_rigid(frame)[:3]
    hulls: list[list[Array]] = []
    for half in halves:
        pieces = [piece for piece in half.decompose() if piece.volume() > 0]
        grains = [piece for piece in pieces if bool((np.ptp(_bounds(piece, flat_from_built), axis=0) < small).all())]
        larger = [piece for piece in pieces if piece not in grains]
        if not larger:  # all of one side: there the print is not worth cutting, which is not for here to say
            return None
        around = [(mesh_of(grain).vertices[:, None] + AROUND * STAR).reshape(-1, 3) for grain in grains]
        hulls.append([hull for hull in around if _clear(Manifold.hull_points(hull), larger)])
    if not any(hulls):
        return None
    body, skin = side
    (left, front, _), (right, back, high) = _bounds(body, flat_from_built)
    ends = ((left - PAST, right + PAST), (front - PAST, back + PAST), (0.0, max(high, 0.0) + PAST))
    half = frames.apply(frame, np.array(list(product(*ends))))
    cutter = _region(half, *hulls)
    imagined_from_built = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    carried = _region(
        frames.apply(imagined_from_built, half),
        *([frames.apply(imagined_from_built, hull) for hull in some] for some in hulls),
    )
    return (body - cutter, skin - carried), (body ^ cutter, skin ^ carried)


def _bounds(body: Manifold, flat_from_built: Array) -> Array:
    """Return the box ``(2, 3)`` round a body in the frame of the cut."""
    return np.array(body.transform(flat_from_built).bounding_box()).reshape(2, 3)


def _region(half: Array, more: list[Array], less: list[Array]) -> Manifold:
    """Return a half of space by its corners ``(8, 3)``, with what is round some grains and without others."""
    region = Manifold.batch_boolean([Manifold.hull_points(points) for points in (half, *more)], OpType.Add)
    return Manifold.batch_boolean([region, *(Manifold.hull_points(points) for points in less)], OpType.Subtract)


def _clear(hull: Manifold, others: list[Manifold]) -> bool:
    """Return whether what is cut round a grain has nothing of the larger pieces in it."""
    return all((other ^ hull).volume() < ROUNDED_MM3 for other in others)
