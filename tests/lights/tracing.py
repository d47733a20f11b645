"""Light followed ray by ray through the built room: an opinion of its own on patches and shadows.

Every visible face of the built parts is looked at from points on it toward the real LED: what stands between is the
visible faces of panels, without thickness, and the bodies of prints. Nothing here knows of the imagined room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.evidence import Evidence
from pipeline.parts.model import Panel
from pipeline.sight.rays import Target

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

LIFT = 1e-3
"""mm that a ray starts before its face."""


@dataclass(frozen=True)
class Looked:
    """Points ``(n, 2)`` of a panel, flat, which of them the LED lights, and which the manifest says it does."""

    points: Array
    lit: Flags
    said: Flags
    to_border: Array


def bodies(evidence: Evidence) -> Target:
    """Return the built parts as they are, with the thickness of their sheets."""
    return Target.of(np.concatenate([part.body.corners for part in evidence.parts if part.id != "front-frame"]))


def occluders(evidence: Evidence) -> Target:
    """Return the built room's visible faces and prints, and the hall's mouth, through which nothing imagined shines.

    The front frame is left out, as the box is: neither stands in the way of light that is imagined beside the hall.
    """
    hall = evidence.room.hall
    half, low, high = hall.width / 2, hall.floor, hall.floor + hall.height
    mouth = [[x, hall.front, z] for x, z in ((-half, low), (half, low), (half, high), (-half, high))]
    shut = evidence.room.relief.build_points(mouth)[[[0, 1, 2], [0, 2, 3]]]
    sheets = [part.visible.corners for part in evidence.cut_parts if part.id != "front-frame"]
    prints = [part.body.corners for part in evidence.prints]
    return Target.of(np.concatenate([*sheets, *prints, shut]))


def look(
    evidence: Evidence, panel: Panel, light: dict[str, Any], toward: Any, count: int, *, thick: bool = False
) -> Looked:
    """Return what of a panel is lit.

    Parameters
    ----------
    light
        Its entry in the manifest.
    toward
        Takes built points ``(n, 3)`` to the ways ``(n, 3)`` to the light, ending at the LED where there is one.
    thick
        Whether sheets are as thick as they are.
    """
    leaf = panel.leaves[-1]
    points = scatter(panel, count, 1)
    placed = np.column_stack([points, np.zeros(len(points)), np.ones(len(points))]) @ leaf.built_from_flat.T
    start = placed[:, :3] + LIFT * leaf.built_from_flat[:3, 2]
    ways, ends = toward(start)
    index, distance = (bodies if thick else occluders)(evidence).cast(start, ways)
    reach = np.linalg.norm(ways, axis=1) if ends else np.full(len(ways), np.inf)
    faces_it = ways @ leaf.built_from_flat[:3, 2] > 0
    lit = faces_it & ((index < 0) | (distance >= reach))
    said, border = told(panel.id, light, points)
    return Looked(points, lit, said, border)


def scatter(panel: Panel, count: int, seed: int) -> Array:
    """Return points spread over a panel's visible face, flat: by area, over its triangles."""
    rng = np.random.default_rng(seed)
    back = np.linalg.inv(panel.leaves[-1].built_from_flat)
    behind = panel.visible_imagined.corners[:, :, 1].min(axis=1) >= panel.leaves[-1].near - LIFT
    corners = panel.visible.corners[behind] @ back[:3, :3].T + back[:3, 3]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    which = rng.choice(len(corners), count, p=areas / areas.sum())
    a, b = rng.random((2, count))
    over = a + b > 1
    a[over], b[over] = 1 - a[over], 1 - b[over]
    picked = corners[which]
    out: Array = picked[:, 0] + a[:, None] * (picked[:, 1] - picked[:, 0]) + b[:, None] * (picked[:, 2] - picked[:, 0])
    return out[:, :2]


def told(part: str, light: dict[str, Any], points: Array) -> tuple[Flags, Array]:
    """Return which points the manifest calls lit, and how far each is from the nearest border told, mm."""
    apart = [shape_of(p) for p in light["patches"] if p["part"] == part]
    shades = [shape_of(p) for p in light["shadows"] if p["part"] == part]
    places = shapely.points(points)
    lit, dark = np.zeros(len(points), dtype=bool), np.zeros(len(points), dtype=bool)
    for shape in apart:
        lit |= shapely.contains(shape, places)
    for shape in shades:
        dark |= shapely.contains(shape, places)
    lines = [shape.boundary for shape in (*apart, *shades)]
    border = (
        np.min([shapely.distance(line, places) for line in lines], axis=0) if lines else np.full(len(points), np.inf)
    )
    return lit if apart else ~dark, border


def shape_of(piece: dict[str, Any]) -> shapely.Polygon:
    """Return a piece of a patch or shadow as the manifest tells it."""
    return shapely.Polygon(piece["outline"], piece.get("holes", []))


def from_point(point: Array) -> Any:
    """Return the ways to an LED."""
    return lambda starts: (np.asarray(point) - starts, True)


def from_beyond(point: Array) -> Any:
    """Return the ways back along light that runs together in a point."""
    return lambda starts: (starts - np.asarray(point), False)


def along(way: Array) -> Any:
    """Return the ways back along parallel light."""
    return lambda starts: (np.broadcast_to(-np.asarray(way), starts.shape).copy(), False)
