"""A panel's border edge by edge, for the cut list: lengths, angles, bevels, gaps and what stands against each."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.curves import Curve
from pipeline.geometry.regions import Region
from pipeline.parts.leaves import Lie
from pipeline.parts.model import JointEdge, Leaf
from pipeline.parts.outlines import ADDED, FlatLoop, Making, edge_joints
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

LEANS = np.linspace(0.0, 1.0, 9)
"""Of a curve: where its lean is told."""
LEAN_STEP = 0.1
"""Imagined mm that a surface is followed for its direction; lines stay lines, so any length would do."""
END = 1e-6
"""mm along its host; an edge that runs no farther is an upright end."""


def joint_edges(loops: list[FlatLoop], cut: Region, lie: Lie, face: Face, making: Making) -> tuple[JointEdge, ...]:
    """Return the border of the sheet's front, edge by edge, for the cut list."""
    out = []
    for flat, loop in zip(loops, cut.loops, strict=True):
        drawn = [edge for edge in loop if edge.against not in ADDED]
        for edge, joint in zip(drawn, edge_joints(flat, lie, face, making), strict=True):
            made = edge.against not in making.planes or edge.against in making.bents
            angle = None if joint is None or not made or joint.sweep else math.degrees(joint.angle_rad)
            bevels = (0.0, 0.0) if joint is None else joint.bevels_deg(edge.curve)
            gap = 0.0 if joint is None else joint.gap
            wedge = 0.0 if joint is None or not made else math.degrees(joint.wedge_rad)
            if joint is None and face.lean is not None:
                bevels = lean_deg(edge.curve, face, lie.leaves[0], making.relief)
            out.append(
                JointEdge(
                    start=_pair(edge.curve.start),
                    end=_pair(edge.curve.end),
                    length=curves.length(edge.curve),
                    against=edge.against if made else "",
                    angle_deg=None if angle is None else (angle, angle),
                    bevel_deg=bevels,
                    gap=(0.0, gap),
                    back=0.0 if joint is None else joint.back,
                    wedge_deg=(wedge, wedge) if wedge > 0 else None,
                    through=making.which_through(face.id, edge.against)
                    if joint is not None and made and edge.against in making.faces
                    else "",
                )
            )
    return tuple(out)


def lean_deg(edge: Curve, face: Face, leaf: Leaf, relief: Relief) -> tuple[float, float]:
    """Return between which bevels a flat edge would follow the surface that runs on behind it, degrees.

    Upright edges are ends, not surfaces.
    """
    points_flat = curves.evaluate(edge, LEANS)
    host = frames.apply(frames.inverse(leaf.flat_from_host), points_flat)
    if face.lean is None or float(np.ptp(host[:, 0])) < END:
        return 0.0, 0.0
    points = frames.apply(face.imagined_from_host, host)
    away = -face.lean if face.lean @ face.inward > 0 else face.lean
    ways = relief.build_points(points + LEAN_STEP * away) - relief.build_points(points)
    along = curves.tangents(edge, LEANS)
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1, keepdims=True)
    out = np.einsum("ij,ij->i", ways, outward @ leaf.built_from_flat[:3, :2].T)
    bevels = np.degrees(np.arctan(out / -(ways @ leaf.built_from_flat[:3, 2])))
    return float(bevels.min()), float(bevels.max())


def _pair(point: Array) -> tuple[float, float]:
    return float(point[0]), float(point[1])
