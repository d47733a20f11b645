"""Strips that fill the wedges behind joints of square edges.

Two sheets cut square meet on the line of their visible faces, and behind an angle th their edges part by a wedge of
180 - th, or of a right angle where th is below 90. A machine that cuts square can cut no wedge; what fits is a flat
strip, glued flat on the edge of one of the two sheets, its host, and touched by the other. Measured from the visible
line, ``off`` the host's edge and ``deep`` behind its face, the other's edge runs along

    off = k sin th,   deep = k |cos th|,   0 <= k <= T_other,

so a strip of thickness s reaches from deep = s |cot th| (from T_other |cos th| where it is the thicker) to the host's
hidden face. Of both hosts and both sheets the strip that fills most is taken.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.geometry import frames
from pipeline.parts.joints import STRAIGHT_DEG
from pipeline.parts.model import JointEdge, Leaf, Panel

Array = NDArray[np.float64]

SHARPEST_DEG = 45.0
"""Room-side angle; below it the other sheet leans over the strip and leaves little to touch."""

NARROWEST = 1.0
"""mm; a narrower strip breaks in the hand, and glue fills what it would."""

SHORTEST = 8.0
"""mm; a shorter one is not worth the glue."""

ON_LINE = 1e-5
"""mm; edges of two panels that lie on one line."""

Section = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wedge:
    """A stretch of a joint with a wedge behind it.

    Attributes
    ----------
    parts
        The two panels; the first is the strip's host.
    angle_rad
        Room-side angle.
    line
        ``(2, 3)`` ends of the visible line, built mm.
    out
        ``(3,)`` unit vector off the host's edge, in its face.
    normal
        ``(3,)`` of the host's visible face.
    sheet
        What the strip is cut from; nothing where none fits.
    section
        (off, from how deep, to how deep), mm.
    """

    parts: tuple[str, str]
    angle_rad: float
    line: Array
    out: Array
    normal: Array
    sheet: SurfaceSheet | None
    section: Section

    def strip(self, start: float, end: float) -> Array:
        """Return the corners ``(4, 3)`` of the strip's face on its host's edge, between two places along the line."""
        along = frames.unit(self.line[1] - self.line[0])
        _, high, low = self.section
        ends = [self.line[0] + place * along for place in (start, end)]
        corners = [ends[0] - low * self.normal, ends[1] - low * self.normal]
        corners += [ends[1] - high * self.normal, ends[0] - high * self.normal]
        turned = np.cross(corners[1] - corners[0], corners[3] - corners[0]) @ self.out > 0
        return np.array([corners[k] for k in ((1, 0, 3, 2) if turned else (0, 1, 2, 3))])


def wedges(panels: tuple[Panel, ...], box: tuple[Array, ...]) -> list[Wedge]:
    """Return every wedge between two panels, each once; ``box`` are its inside planes ``(4,)``, normals inward."""
    by_id = {panel.id: panel for panel in panels}
    found = []
    for number, panel in enumerate(panels):
        for edge in panel.edges:
            other = by_id.get(edge.against)
            if other is None or panels.index(other) < number or not _parts(edge):
                continue
            found += [wedge for answer in other.edges if answer.against == panel.id
                      for wedge in _wedge(panel, edge, other, answer, box)]  # fmt: skip
    return found


def _parts(edge: JointEdge) -> bool:
    return edge.angle_deg is not None and SHARPEST_DEG < edge.angle_deg[0] < 180 - STRAIGHT_DEG and edge.back == 0


def _wedge(panel: Panel, edge: JointEdge, other: Panel, answer: JointEdge, box: tuple[Array, ...]) -> list[Wedge]:
    """Return the wedge of two edges, if they lie on one line and side by side."""
    if edge.angle_deg is None:
        return []
    for leaf in panel.leaves:
        for their_leaf in other.leaves:
            line = _common(_placed(edge, leaf), _placed(answer, their_leaf))
            if line is not None:
                joint = _Joint((panel, other), (leaf, their_leaf), math.radians(edge.angle_deg[0]), line)
                return [_fitted(joint, box)]
    return []


def _common(mine: Array, theirs: Array) -> Array | None:
    """Return the stretch ``(2, 3)`` that two edges have in common, if that is worth a strip."""
    along = frames.unit(mine[1] - mine[0])
    away = theirs - mine[0]
    if np.abs(away - np.outer(away @ along, along)).max() > ON_LINE:
        return None
    low, high = max(0.0, float((away @ along).min())), float((away @ along).max())
    high = min(high, float((mine[1] - mine[0]) @ along))
    return None if high - low < SHORTEST else mine[0] + np.outer([low, high], along)


def _placed(edge: JointEdge, leaf: Leaf) -> Array:
    return frames.apply(leaf.built_from_flat, [[*edge.start, 0.0], [*edge.end, 0.0]])


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """Two panels, the leaves they meet with, the room-side angle, and the visible line ``(2, 3)`` they share."""

    pair: tuple[Panel, Panel]
    leaves: tuple[Leaf, Leaf]
    angle_rad: float
    line: Array


def _fitted(joint: _Joint, box: tuple[Array, ...]) -> Wedge:
    """Return a wedge with the strip that fills most of it and lies in the box; with none if there is none."""
    found = [_open(joint, host) for host in (0, 1)]
    best, most = found[0], 0.0
    for host, empty in enumerate(found):
        mine, theirs = joint.pair[host].face.sheet, joint.pair[1 - host].face.sheet
        for source in joint.pair:
            section = section_of(joint.angle_rad, mine, theirs, source.thickness)
            sheet = SurfaceSheet(material=source.material, thickness=source.thickness, finish=0.0)
            wedge = replace(empty, sheet=sheet, section=section)
            filled = section[0] * (section[2] - section[1])
            if section[2] - section[1] >= NARROWEST and filled > most and _inside(wedge, box):
                best, most = wedge, filled
    return best


def _open(joint: _Joint, host: int) -> Wedge:
    """Return the wedge beside one of the two sheets, with no strip yet."""
    normal = joint.leaves[host].built_from_flat[:3, 2]
    out = frames.unit(np.cross(joint.line[1] - joint.line[0], normal))
    if out @ joint.leaves[1 - host].built_from_flat[:3, 2] > 0:  # off the edge is away from where the other face looks
        out = -out
    return Wedge(
        parts=(joint.pair[host].id, joint.pair[1 - host].id), angle_rad=joint.angle_rad, line=joint.line, out=out,
        normal=normal, sheet=None, section=(0.0, 0.0, 0.0),
    )  # fmt: skip


def _inside(wedge: Wedge, box: tuple[Array, ...]) -> bool:
    corners = wedge.strip(0.0, float(np.linalg.norm(wedge.line[1] - wedge.line[0])))
    points = np.vstack([corners, corners + wedge.section[0] * wedge.out])
    return all(bool((points @ plane[:3] + plane[3] > -ON_LINE).all()) for plane in box)


def section_of(angle_rad: float, host: SurfaceSheet, other: SurfaceSheet, thickness: float) -> Section:
    """Return the section of a strip: how far it stands off the host's edge, and from and to how deep it reaches, mm.

    A strip thicker than the other sheet would stand out behind it: it gets no width.
    """
    total, theirs = host.thickness + host.finish, other.thickness + other.finish
    sin, over = math.sin(angle_rad), max(0.0, -math.cos(angle_rad))
    if thickness > theirs:
        return thickness, total, total
    high = thickness * over / sin if thickness <= theirs * sin else theirs * over
    return thickness, high, total
