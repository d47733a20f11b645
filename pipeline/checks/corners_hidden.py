"""Is everything that holds the corners together hidden from all eyes in the eye box?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.leaks import eye_grid
from pipeline.checks.model import Finding
from pipeline.geometry import frames
from pipeline.parts.model import Addition, Panel
from pipeline.sight.rays import Target

Array = NDArray[np.float64]

ID = "corners-hidden"

INSET = np.array([[0.6, 0.2, 0.2], [0.2, 0.6, 0.2], [0.2, 0.2, 0.6], [1 / 3, 1 / 3, 1 / 3]])
"""Where a facet is looked at: its middle, and on the way from there to its corners."""

BEFORE_MM = 0.05
"""mm by which a part must stand before a point to hide it; what is glued to it does not."""

ROUNDING_MM = 1e-6
"""As far as a point of a plane may lie off it."""


def run(evidence: Evidence) -> list[Finding]:
    """Look from every eye of the grid at flaps, tabs and lugs; something must stand before them."""
    held = [(panel, one) for panel in evidence.panels for one in panel.additions if len(one.body.triangles)]
    if not held:
        return []
    eyes = eye_grid(evidence.room.relief.eye, evidence.scene.eye.box)
    by_id = {panel.id: panel for panel in evidence.panels}
    looked = [(panel, one, _places(one, by_id.get(one.against))) for panel, one in held]
    seen = [(panel, one, sum(_open(points, eye, evidence.whole) for eye in eyes)) for panel, one, points in looked]
    return [_finding(panel, one, count) for panel, one, count in seen if count] or [_hidden(len(held), len(eyes))]


def _hidden(count: int, eyes: int) -> Finding:
    message = f"none of {count} flaps, tabs and lugs is seen from {eyes} eyes in the eye box"
    return Finding(id=ID, part="", status="pass", value=0.0, limit=0.0, unit="rays", message=message)


def _finding(panel: Panel, one: Addition, count: int) -> Finding:
    rays = "1 ray from the eye box ends" if count == 1 else f"{count} rays from the eye box end"
    message = f"{rays} on its {one.kind} for the {one.against}; trim it there, or paint it"
    return Finding(
        id=ID, part=panel.id, status="warn", value=float(count), limit=0.0, unit="rays", message=message
    )  # fmt: skip


def _places(one: Addition, other: Panel | None) -> Array:
    """Return points ``(n, 3)`` of an addition, built mm.

    What of a tab stands before the sheet that it goes through is its own sheet's visible face, up to its edge.
    """
    points: Array = np.einsum("kc,mcd->mkd", INSET, one.body.corners).reshape(-1, 3)
    if one.kind != "tab" or other is None:
        return points
    planes = [frames.invert_rigid(leaf.built_from_flat)[2] for leaf in other.leaves]
    behind = np.min([points @ plane[:3] + plane[3] for plane in planes], axis=0) < -ROUNDING_MM
    points = points[behind]
    return points


def _open(points: Array, eye: Array, target: Target) -> int:
    """Return how many points an eye sees."""
    ways = points - eye
    _, reach = target.cast(np.broadcast_to(eye, ways.shape), ways)
    return int((reach > np.linalg.norm(ways, axis=1) - BEFORE_MM).sum())


CHECK = Check(
    id=ID,
    title="Is everything that holds the corners together hidden from all eyes in the eye box?",
    rationale="A flap or a tab that shows tells that the walls are card.",
    run=run,
)
