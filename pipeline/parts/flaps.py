"""Glue flaps for card: folded up along the line where the other sheet's hidden face meets the one that runs on.

In the plane square to the seam, with the room-side angle th, the sheet that runs on goes past the visible line under
the other one's edge, thickness tB, to that one's hidden face:

    e = tB / sin th

There it is folded toward the room by 180 - th, and the flap lies flat on the hidden face, where no eye looks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.meshes import join
from pipeline.geometry.regions import Region, path_of
from pipeline.parts.additions import plate
from pipeline.parts.model import Addition, Panel
from pipeline.parts.seams import Seam

Array = NDArray[np.float64]


class Ground(Protocol):
    """What additions must keep out of: ``box`` are its planes ``(4,)``, inside on the positive side."""

    box: tuple[Array, ...]

    def free(self, addition: Addition, part: str, through: str = "") -> bool:
        """Return whether a part's addition takes room of nothing else but a slot of the part it goes through."""
        ...


CORNERS_KEPT = 2.0
"""Times the thicker sheet, kept free of a flap at the ends of its seam: three sheets meet there."""

LEAST = 3.0
"""mm; neither shorter nor narrower flaps hold."""

TRIES = (1.0, 0.75, 0.5, 0.35)
"""Shares of the wanted width that are tried where the whole does not fit."""

CHORD = 0.01
"""mm; a flap keeps so clear of curved holes at least."""

KEPT = 0.05
"""mm that a flap keeps off the box."""

OVER = 1e-6
"""mm; a flap may touch what bounds it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """Where a flap would be, in a frame of its own.

    u runs back along the seam, v across it away from the sheet that runs on, z the way of that one's visible face.

    Attributes
    ----------
    flat_from_own
        ``(3, 3)`` to the flat frame of the sheet that runs on.
    fold_at
        v of the fold.
    strip_from_own, flap_from_own
        ``(4, 4)`` rigid from (u, v, z) to built, before and behind the fold.
    length
        Of the seam, mm.
    """

    flat_from_own: Array
    fold_at: float
    strip_from_own: Array
    flap_from_own: Array
    length: float


def make_flap(seam: Seam, panels: tuple[Panel, Panel], width: float, ground: Ground, *, under: bool) -> Addition | None:
    """Return the flap of a seam on the sheet that runs on, or nothing where there is room for none.

    Parameters
    ----------
    seam
        Where both meet.
    panels
        The sheet that runs on, and the one whose hidden face is glued to it; both without additions here.
    width
        Wanted, mm.
    ground
        What stands in the way.
    under
        Whether the sheet runs on along all of the seam already; else it does where the flap is.
    """
    carrier, receiver = panels
    at = strip_at(seam, carrier, receiver)
    corner = CORNERS_KEPT * max(carrier.thickness, receiver.thickness)
    hidden = _hidden_ground(at, receiver, seam)
    for share in TRIES:
        shape = _trapezoid(at, width * share, corner)
        if shape is None:
            continue
        shape = shape & hidden & _inside_box(at, ground.box, carrier.thickness, shape)
        ring = _ring(shape, at.fold_at)
        if ring is None:
            continue
        addition = _addition(ring, at, panels, seam.angle_rad, under=under)
        if ground.free(addition, carrier.id):
            return addition
    return None


def strip_at(seam: Seam, carrier: Panel, receiver: Panel) -> Strip:
    """Return the frames of what goes on past a seam."""
    side, _ = seam.sides(carrier.id)
    start, end = side.ends
    along = frames.unit(end - start)
    outward = np.array([along[1], -along[0]])
    flat_from_own = np.eye(3)
    flat_from_own[:2] = np.column_stack([-along, outward, end])
    placed = np.eye(4)
    placed[:2, 0], placed[:2, 1], placed[:2, 3] = -along, outward, end
    own = carrier.leaves[side.leaf].built_from_flat @ placed
    fold_at = receiver.thickness / math.sin(seam.angle_rad)
    turn = math.pi - seam.angle_rad
    folded = np.eye(4)
    folded[1:3, 1:3] = [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
    folded[1:3, 3] = np.array([fold_at, 0.0]) - folded[1:3, 1:3] @ [fold_at, 0.0]
    return Strip(
        flat_from_own=flat_from_own,
        fold_at=fold_at,
        strip_from_own=own,
        flap_from_own=own @ folded,
        length=seam.length,
    )


def _trapezoid(at: Strip, width: float, corner: float) -> shapely.Polygon | None:
    """Return the flap behind its fold with ends mitred at 45 degrees, own frame; nothing where it would be a sliver."""
    low, high = corner, at.length - corner
    wide = min(width, (high - low - LEAST) / 2)
    if wide < min(LEAST, width):
        return None
    v = at.fold_at
    return shapely.Polygon([(low, v), (high, v), (high - wide, v + wide), (low + wide, v + wide)])


def _hidden_ground(at: Strip, receiver: Panel, seam: Seam) -> shapely.Polygon:
    """Return the receiver's hidden face in the flap's own frame."""
    side, _ = seam.sides(receiver.id)
    flat_from_built = frames.invert_rigid(receiver.leaves[side.leaf].built_from_flat)
    own_from_flat = frames.inverse(flat_from_built @ at.flap_from_own)
    depth = -(receiver.finish + receiver.thickness)
    return _moved(receiver.hidden, own_from_flat, depth)


def _moved(region: Region, own_from_flat: Array, depth: float) -> shapely.Polygon:
    loops = []
    for loop in region.loops:
        flat = flatten_path(path_of(loop), CHORD)
        loops.append(frames.apply(own_from_flat, np.column_stack([flat, np.full(len(flat), depth)]))[:, :2])
    return shapely.Polygon(loops[0], loops[1:]).buffer(OVER, join_style="mitre")


def _inside_box(at: Strip, box: tuple[Array, ...], thickness: float, shape: shapely.Polygon) -> shapely.Polygon:
    """Return the part of a flap's bounds that lies inside the box on both faces of the card."""
    low_u, low_v, high_u, high_v = shape.bounds
    left = shapely.box(low_u, low_v, high_u, high_v)
    for plane in box:
        line = plane @ at.flap_from_own  # a u + b v + c z + d
        for z in (0.0, -thickness):
            left = _keep(left, line[0], line[1], line[3] + line[2] * z - KEPT)
    return left


def _keep(shape: shapely.Polygon, a: float, b: float, c: float) -> shapely.Polygon:
    """Return the part of a convex polygon where a u + b v + c >= 0."""
    if shape.is_empty:
        return shape
    points = np.asarray(shape.exterior.coords)[:-1]
    value = points @ [a, b] + c
    kept: list[Array] = []
    for i in range(len(points)):
        j = (i + 1) % len(points)
        if value[i] >= 0:
            kept.append(points[i])
        if value[i] * value[j] < 0:
            kept.append(points[i] + value[i] / (value[i] - value[j]) * (points[j] - points[i]))
    return shapely.Polygon(kept) if len(kept) >= 3 else shapely.Polygon()


def _ring(shape: shapely.Geometry, fold_at: float) -> Array | None:
    """Return a flap's corners, its two ends on the fold first, from right to left; nothing where it is too little."""
    if shape.geom_type != "Polygon" or shape.is_empty or shape.interiors:
        return None
    points = np.asarray(shapely.geometry.polygon.orient(shape.simplify(OVER)).exterior.coords)[:-1]
    on_fold = np.abs(points[:, 1] - fold_at) < 2 * OVER
    if on_fold.sum() != 2:
        return None
    both = on_fold & np.roll(on_fold, -1)
    if not both.any():
        return None
    first = int(np.flatnonzero(both)[0])
    ring = np.roll(points, -first, axis=0)
    ring[:2, 1] = fold_at
    wide = ring[1, 0] - ring[0, 0] >= LEAST and ring[:, 1].max() - fold_at >= LEAST - OVER
    return ring if wide and abs(shapely.Polygon(ring).convex_hull.area - shape.area) < OVER * 100 else None


def _addition(ring: Array, at: Strip, panels: tuple[Panel, Panel], angle_rad: float, *, under: bool) -> Addition:
    """Return the flap, with its strip where the sheet has none; ``ring`` begins with its ends on the fold."""
    carrier, receiver = panels
    (left, fold), (right, _) = ring[:2]
    chain = np.array([*ring[1:], ring[0]])  # the outline runs against u
    parts = [plate(ring, at.flap_from_own, carrier.thickness)]
    if not under:
        chain = np.array([(right, 0.0), *chain, (left, 0.0)])
        beneath = np.array([(left, 0.0), (right, 0.0), (right, fold), (left, fold)])
        parts.append(plate(beneath, at.strip_from_own, carrier.thickness))
    body = join(parts)
    return Addition(
        kind="flap",
        against=receiver.id,
        chain=frames.apply(at.flat_from_own, chain),
        fold=frames.apply(at.flat_from_own, [(left, fold), (right, fold)]),
        fold_deg=180 - math.degrees(angle_rad),
        body=body,
    )
