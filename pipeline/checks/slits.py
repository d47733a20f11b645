"""The gaps that square edges are known to leave, as surfaces that a ray can be caught by.

Terms
-----
slit
    The strip by which a sheet stands back from the line where two visible faces meet, in its own visible face. Whoever
    sees into the gap of that joint looks through it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import JointEdge, Leaf, Panel
from pipeline.parts.outlines import FRAME

Array = NDArray[np.float64]

TOGETHER = 1e-6
"""mm, imagined; an edge on the apron's end belongs to the leaf it is given as."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slit:
    """A gap told of a joint.

    Attributes
    ----------
    parts
        The panel that stands back, and the one it meets.
    gap
        mm.
    corners
        ``(n, 3, 3)`` triangles, built mm.
    """

    parts: tuple[str, str]
    gap: float
    corners: Array


def slits_of(panels: tuple[Panel, ...], bents: tuple[BentPanel, ...]) -> tuple[Slit, ...]:
    """Return the slits of all joints that are told to gape."""
    thick = {panel.id: panel.thickness + panel.finish for panel in panels}
    out = []
    for panel in panels:
        for number, edge in enumerate(panel.edges):
            back = _stands_back(edge, thick)
            leaf = _leaf(panel, edge)
            if back > 0 and edge.gap[1] > 0 and leaf is not None:
                beside = (panel.edges[number - 1], panel.edges[(number + 1) % len(panel.edges)])
                beyond = max(0.0, *(one.back for one in beside)) if edge.against == FRAME else back
                corners = _strip(edge, leaf, back, beyond)
                out.append(Slit(parts=(panel.id, edge.against), gap=edge.gap[1], corners=corners))
            if leaf is not None:
                out += _notches(panel, edge, leaf)
    for bent in bents:
        gaps = {edge.against: edge.gap[1] for edge in bent.edges}
        out += [
            Slit(parts=(bent.id, bare.against), gap=gaps.get(bare.against, 0.0), corners=bare.corners)
            for bare in bent.bare
        ]
    return tuple(out)


def _notches(panel: Panel, edge: JointEdge, leaf: Leaf) -> list[Slit]:
    """Return the notches beside the tabs of an edge; between a notch's end and the lug in it is the tabs' play."""
    return [
        Slit(parts=(panel.id, edge.against), gap=one.gap, corners=_built(one.chain, leaf))
        for one in panel.additions
        if one.kind == "notch" and one.against == edge.against
    ]


def _stands_back(edge: JointEdge, thick: dict[str, float]) -> float:
    """Return how far an edge is from where its face is seen to end: behind the front frame, by that sheet."""
    if edge.against != FRAME or edge.angle_deg is None:
        return edge.back
    return thick[FRAME] / abs(math.sin(math.radians(edge.angle_deg[0])))


def _leaf(panel: Panel, edge: JointEdge) -> Leaf | None:
    """Return the leaf that an edge lies on."""
    if len(panel.leaves) == 1:
        return panel.leaves[0]
    middle = (np.array(edge.start) + np.array(edge.end)) / 2
    for leaf in panel.leaves:
        host = frames.apply(frames.inverse(leaf.flat_from_host), middle[None])
        y = float(frames.apply(panel.face.imagined_from_host, host)[0, 1])
        if leaf.near - TOGETHER <= y <= leaf.far + TOGETHER:
            return leaf
    return None


def _strip(edge: JointEdge, leaf: Leaf, back: float, beyond: float) -> Array:
    """Return the strip beside an edge, longer at its ends: there the neighbours' corners may be cut aslant.

    Behind a frame it is no longer than its neighbours stand back: what is seen past its ends are the corners' wedges,
    which strips of sheet fill.
    """
    start, end = np.array(edge.start), np.array(edge.end)
    along = frames.unit(end - start)
    outward = np.array([along[1], -along[0]])  # the material lies on the left
    near = np.array([start - beyond * along, end + beyond * along])
    flat = np.vstack([near, near[::-1] + back * outward])
    return _built(flat, leaf)


def _built(flat: Array, leaf: Leaf) -> Array:
    """Return four corners on a leaf as two triangles, built mm."""
    corners = frames.apply(leaf.built_from_flat, np.column_stack([flat, np.zeros(4)]))
    return corners[[[0, 1, 2], [0, 2, 3]]]
