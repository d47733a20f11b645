"""Room-side angles where webs meet: along groins from both webs' normals, and at walls told on the walls' edges too.

Along a ruling a web has one normal. Where two webs meet, th = acos(-(n_a . n_b)) at each point of their border; round a
corner, where each goes on behind the other's plane, it is 360 degrees less that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from pipeline.keeping.kept import around
from pipeline.parts.bent import BentPanel, Border
from pipeline.parts.model import JointEdge, Panel

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

NEAR = 0.05
"""mm; borders nearer than this run together, and where one goes on by itself it ends."""

ASKED = 49
"""Points of a border at which the angle is first looked at."""

BEHIND = 1e-6
"""Sine; a web that goes this steeply behind the other's plane meets it round a corner."""

Range = tuple[float, float]
Part = TypeVar("Part", Panel, BentPanel)


def tell_web_angles(
    panels: tuple[Panel, ...], bents: tuple[BentPanel, ...]
) -> tuple[tuple[Panel, ...], tuple[BentPanel, ...]]:
    """Return panels and webs with the angles at which they meet, degrees, as ranges along their curved edges."""
    kept, by_id = around(), {bent.id: bent for bent in bents}  # of many, one is made anew
    told = []
    for bent in bents:
        met = {
            against: kept.of(angle_between, (bent.id, bent.borders), (against, by_id[against].borders))
            for against in sorted({edge.against for edge in bent.edges} & set(by_id))
        }
        told.append(kept.here(fill_in, bent, met))
    walls = []
    for panel in panels:
        known = {bent.id: edge.angle_deg for bent in bents for edge in bent.edges if edge.against == panel.id}
        walls.append(kept.here(fill_in, panel, known) if known else panel)
    return tuple(walls), tuple(told)


def fill_in(part: Part, angles_deg: Mapping[str, Range | None]) -> Part:
    """Return a part with the angles at which it meets others, by their ids, degrees."""
    return replace(part, edges=_filled(part.edges, angles_deg))


def _filled(edges: tuple[JointEdge, ...], angles_deg: Mapping[str, Range | None]) -> tuple[JointEdge, ...]:
    return tuple(
        _told(edge, angles_deg[edge.against]) if edge.angle_deg is None and edge.against in angles_deg else edge
        for edge in edges
    )


def _told(edge: JointEdge, angle_deg: Range | None) -> JointEdge:
    """Return an edge with its angle, and with the wedge open behind it where that is wide and both edges are square."""
    if angle_deg is None or edge.bevel_deg != (0.0, 0.0) or not 90 < angle_deg[1] <= 180:
        return replace(edge, angle_deg=angle_deg)
    low, high = angle_deg
    return replace(edge, angle_deg=angle_deg, wedge_deg=(180 - high, 180 - max(low, 90.0)))


Bordered = tuple[str, tuple[Border, ...]]
"""A web's id and its borders."""


def angle_between(web: Bordered, other: Bordered) -> Range | None:
    """Return the least and greatest angle along the borders that two webs share, degrees, if they do."""
    angles = [
        _angles(mine, theirs)
        for mine in web[1]
        for theirs in other[1]
        if mine.against == other[0] and theirs.against == web[0]
    ]
    every = np.concatenate(angles) if angles else np.zeros(0)
    return (float(every.min()), float(every.max())) if len(every) else None


def _angles(mine: Border, theirs: Border) -> Array:
    """Return the angle at points of a border that the other runs along, degrees; the extreme ones are among them."""
    every = len(mine.points)
    asked: Indices = np.unique(np.linspace(0, every - 1, ASKED).round().astype(np.int64))
    angles, kept = _angles_at(mine, theirs, asked)
    # It changes smoothly: the extremes lie beside the coarse ones, or where the borders part.
    close = np.flatnonzero(np.diff(kept.astype(np.int8)))
    if kept.any():
        close = np.append(close, [np.where(kept, angles, np.inf).argmin(), np.where(kept, angles, -np.inf).argmax()])
    coarse = asked.tolist()
    finer = [np.arange(coarse[max(k - 1, 0)], coarse[min(k + 1, len(coarse) - 1)] + 1) for k in close.tolist()]
    fine, fine_kept = _angles_at(mine, theirs, np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *finer])))
    return np.concatenate([angles[kept], fine[fine_kept]])


def _angles_at(mine: Border, theirs: Border, asked: Indices) -> tuple[Array, NDArray[np.bool_]]:
    """Return the angle at some points of a border, degrees, and at which of them the other runs along."""
    points = mine.points[asked]
    # The stretch that is nearest begins or ends at the point that is.
    apart = (theirs.points**2).sum(axis=1) - 2 * points @ theirs.points.T
    beside = apart.argmin(axis=1)[:, None] + [-1, 0]
    beside = beside.clip(0, len(theirs.points) - 2)
    starts, ways = theirs.points[:-1][beside], np.diff(theirs.points, axis=0)[beside]
    away = points[:, None] - starts
    lengths = np.maximum(np.einsum("ijk,ijk->ij", ways, ways), 1e-300)
    share = np.clip(np.einsum("ijk,ijk->ij", away, ways) / lengths, 0.0, 1.0)
    apart = np.linalg.norm(away - share[..., None] * ways, axis=2)
    nearer = apart.argmin(axis=1)
    rows = np.arange(len(nearer))
    kept, part, nearest = apart[rows, nearer] < NEAR, share[rows, nearer][:, None], beside[rows, nearer]
    normals = (1 - part) * theirs.normals[:-1][nearest] + part * theirs.normals[1:][nearest]
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    cosine = -np.einsum("ij,ij->i", mine.normals[asked], normals)
    angles = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    around = np.einsum("ij,ij->i", mine.inward[asked], normals) < -BEHIND
    return np.where(around, 2 * math.degrees(math.pi) - angles, angles), kept
