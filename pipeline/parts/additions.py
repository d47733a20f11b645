"""What panels get for gluing beside their visible outline: pieces spliced into the outline, and slots."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import pairwise

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import EMPTY, Mesh, join
from pipeline.geometry.regions import Edge, Loop, Region, loop_of
from pipeline.parts.model import Addition, JointEdge, Panel
from pipeline.parts.seams import Seam

Array = NDArray[np.float64]

FARTHEST = 200.0
"""mm; no sheet is thicker, so no strip is wider."""

ON_LINE = 1e-6
"""mm; a base this near to an edge lies on it."""


def with_additions(panel: Panel, additions: Sequence[Addition]) -> Panel:
    """Return a panel with its outline round its additions, slots among its holes, folds and bodies added."""
    if not additions:
        return panel
    cut, hidden = panel.cut, panel.hidden
    for one in (one for one in additions if one.kind != "strip"):
        cut, hidden = _spliced(cut, one.chain), _spliced(hidden, one.chain)
    slots = tuple(loop_of(curves.polygon(one.slot)) for one in additions if one.slot is not None)
    folds = [one.fold for one in additions if one.fold is not None]
    return replace(
        panel,
        cut=Region(cut.outline, (*cut.holes, *slots)),
        hidden=Region(hidden.outline, (*hidden.holes, *slots)),
        edges=tuple(_notched(edge, additions) for edge in panel.edges),
        folds=np.concatenate([panel.folds, np.array(folds).reshape(-1, 2, 2)]),
        body=join(
            [_slotted(panel.body, [one.hole for one in additions if one.hole is not None])]
            + [one.body for one in additions if len(one.body.triangles)]
        ),
        additions=(*panel.additions, *additions),
    )


def _notched(edge: JointEdge, additions: Sequence[Addition]) -> JointEdge:
    """Return an edge with what its notches show, if it has any."""
    gap = max((one.gap for one in additions if one.kind == "notch" and one.against == edge.against), default=0.0)
    return replace(edge, gap=(edge.gap[0], max(edge.gap[1], gap)))


def _slotted(body: Mesh, holes: list[Mesh]) -> Mesh:
    """Return a panel's body with slots cut through what of it runs on."""
    if not holes:
        return body
    whole = body_of(body)
    for hole in holes:
        whole -= body_of(hole)
    return mesh_of(whole)


def strips_of(panel: Panel, seams: Sequence[Seam], others: Collection[str]) -> list[Addition]:
    """Return what of a panel runs on beneath others along the whole of its straight edges, for those who look for it.

    ``others`` are the parts that it runs on beneath; its outline has the strips already.
    """
    strips = []
    for edge in panel.cut.outline:
        met = [seam for seam in seams if seam.parts == {panel.id, edge.against}]
        if edge.against in others and met:
            way = edge.curve.end - edge.curve.start
            ends = np.stack([seam.sides(panel.id)[0].ends for seam in met])
            middles = ends.mean(axis=1) - edge.curve.start
            # A hole that reaches down to the other part leaves two edges of one line, each with seams of its own.
            beside = (middles @ way > 0) & (middles @ way < way @ way)
            near = beside & (np.abs(middles @ [way[1], -way[0]]) / np.linalg.norm(way) < FARTHEST)
            if near.any():
                ends = ends[near].reshape(-1, 2)
                along = (ends - edge.curve.start) @ way
                first, last = ends[np.argmin(along)], ends[np.argmax(along)]
                chain = np.array([first, edge.curve.start, edge.curve.end, last])
                strips.append(Addition(kind="strip", against=edge.against, chain=chain, body=EMPTY))
    return strips


def _spliced(region: Region, chain: Array) -> Region:
    return Region(_splice(region.outline, chain), tuple(_splice(loop, chain) for loop in region.holes))


def _splice(loop: Loop, chain: Array) -> Loop:
    """Return a loop that goes round a chain where that stands on one of its edges; else the loop as it is."""
    for index, edge in enumerate(loop):
        if edge.curve.straight and _stands_on(edge, chain):
            points = np.vstack([edge.curve.start, chain, edge.curve.end])
            long = np.linalg.norm(np.diff(points, axis=0), axis=1) > ON_LINE
            pieces = [
                Edge(curves.line(a, b), edge.against if step in (0, len(points) - 2) else "")
                for step, (a, b) in enumerate(pairwise(points))
                if long[step]
            ]
            return (*loop[:index], *pieces, *loop[index + 1 :])
    return loop


def _stands_on(edge: Edge, chain: Array) -> bool:
    start, way = edge.curve.start, edge.curve.end - edge.curve.start
    size = float(np.linalg.norm(way))
    way = way / size
    base = chain[[0, -1]] - start
    along = base @ way
    off = np.abs(base @ np.array([-way[1], way[0]])).max()
    return bool(off < ON_LINE and -ON_LINE < along[0] < along[1] < size + ON_LINE)


def plate(points: Array, built_from_plane: Array, thickness: float) -> Mesh:
    """Return a body over a convex polygon ``(n, 2)`` counter-clockwise, in [-thickness, 0] of its plane's z, built."""
    solid = manifold3d.Manifold.extrude(manifold3d.CrossSection([points]), thickness).translate([0, 0, -thickness])
    mesh = mesh_of(solid)
    return Mesh(vertices=frames.apply(built_from_plane, mesh.vertices), triangles=mesh.triangles)
