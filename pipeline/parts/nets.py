"""Panels that stay in one piece, as one part to be cut and folded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves, frames
from pipeline.geometry.curves import Path
from pipeline.geometry.cutting import assemble
from pipeline.geometry.regions import Edge, Region
from pipeline.parts.model import Panel
from pipeline.parts.unfolding import Unfolded

Array = NDArray[np.float64]

ON_LINE = 1e-6
"""mm; an edge this near to a hinge lies on it, and what is left of it beside the hinge is an edge if it is longer."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crease:
    """A fold of a net: its ends ``(2, 2)``, how far it is folded toward the visible side, and what it joins."""

    ends: Array
    angle_deg: float
    parts: tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Net:
    """Several panels in one piece.

    Attributes
    ----------
    id
        Part id.
    panels
        What it is folded into.
    net_from_flat
        ``(3, 3)`` rigid of every panel, by id.
    cut
        Its outline and holes, mm, lower left corner at 0.
    creases
        Its folds.
    """

    id: str
    panels: tuple[Panel, ...]
    net_from_flat: Mapping[str, Array]
    cut: Region
    creases: tuple[Crease, ...]

    @property
    def hidden(self) -> Region:
        """Its hidden outline: card is cut square."""
        return self.cut

    @property
    def material(self) -> str:
        """Name of the sheet's material."""
        return self.panels[0].material

    @property
    def thickness(self) -> float:
        """Of the card, mm."""
        return self.panels[0].thickness

    @property
    def area(self) -> float:
        """Of the visible faces, mm^2."""
        return sum(panel.area for panel in self.panels)

    @property
    def guides(self) -> Array:
        """``(n, 2, 2)`` lines of the covers."""
        return np.concatenate([self.placed(panel.id, panel.guides) for panel in self.panels])

    @property
    def folds(self) -> Array:
        """``(k, 2, 2)`` lines it is folded along, and those of its panels' own."""
        own = [self.placed(panel.id, panel.folds) for panel in self.panels]
        return np.concatenate([np.array([crease.ends for crease in self.creases]).reshape(-1, 2, 2), *own])

    def placed(self, part: str, lines: Array) -> Array:
        """Return lines ``(n, 2, 2)`` of a panel's drawing where they lie on the net."""
        return frames.apply(self.net_from_flat[part], lines.reshape(-1, 2)).reshape(-1, 2, 2)

    def placed_path(self, part: str, path: Path) -> Path:
        """Return a path of a panel's drawing where it lies on the net."""
        return curves.transform_path(path, self.net_from_flat[part])


def make_net(part_id: str, unfolded: Unfolded, panels: Sequence[Panel]) -> Net:
    """Return the net of panels as they were unfolded.

    Raises
    ------
    pipeline.geometry.cutting.CutError
        If they do not make one piece.
    """
    matrices = dict(unfolded.net_from_flat)
    borders = {
        panel.id: [Edge(curves.transform(edge.curve, matrices[panel.id]), edge.against)
                   for loop in panel.cut.loops for edge in loop]
        for panel in panels
    }  # fmt: skip
    creases = []
    for hinge in unfolded.hinges:
        for seam in hinge.seams:
            parts = (seam.first.part, seam.second.part)
            ends = _shared(frames.apply(matrices[parts[0]], seam.first.ends), [borders[part] for part in parts])
            fold = 180 - float(np.degrees(seam.angle_rad))
            creases.append(Crease(ends=ends, angle_deg=fold, parts=parts))
    edges: list[Edge] = []
    for panel in panels:
        lines = [crease.ends for crease in creases if panel.id in crease.parts]
        for edge in borders[panel.id]:
            edges += _beside(edge, lines)
    region = assemble(edges)
    corner = curves.bounds(curve for curve in (edge.curve for edge in region.outline))[0]
    shift = np.eye(3)
    shift[:2, 2] = -corner
    return Net(
        id=part_id,
        panels=tuple(panels),
        net_from_flat={part: shift @ matrix for part, matrix in matrices.items()},
        cut=Region(_shifted(region.outline, shift), tuple(_shifted(loop, shift) for loop in region.holes)),
        creases=tuple(
            Crease(ends=frames.apply(shift, crease.ends), angle_deg=crease.angle_deg, parts=crease.parts)
            for crease in creases
        ),
    )


def _shifted(loop: tuple[Edge, ...], matrix: Array) -> tuple[Edge, ...]:
    return tuple(Edge(curves.transform(edge.curve, matrix), edge.against) for edge in loop)


def _shared(ends: Array, borders: Sequence[Sequence[Edge]]) -> Array:
    """Return the ends of a hinge as far as both panels reach along it, ``(2, 2)``.

    A panel whose next edge is butted against a sheet that is no part of the net stops short of it.
    """
    size = float(np.linalg.norm(ends[1] - ends[0]))
    way = (ends[1] - ends[0]) / size
    low, high = 0.0, size
    for border in borders:
        reaches = [reach for edge in border if (reach := _reach(edge, ends[0], way)) is not None]
        reaches = [reach for reach in reaches if reach[0] < size - ON_LINE and reach[1] > ON_LINE]
        if reaches:
            low, high = max(low, min(a for a, _ in reaches)), min(high, max(b for _, b in reaches))
    start = ends[0] if low < ON_LINE else ends[0] + low * way
    end = ends[1] if high > size - ON_LINE else ends[0] + high * way
    return np.array([start, end])


def _reach(edge: Edge, start: Array, way: Array) -> tuple[float, float] | None:
    """Return from where to where an edge lies along a line, mm, or nothing where it does not."""
    if not edge.curve.straight:
        return None
    line = np.array([edge.curve.start, edge.curve.end]) - start
    if np.abs(line @ np.array([-way[1], way[0]])).max() >= ON_LINE:
        return None
    along = line @ way
    return float(along.min()), float(along.max())


def _beside(edge: Edge, lines: Sequence[Array]) -> list[Edge]:
    """Return what is left of an edge where hinges lie on it."""
    if not edge.curve.straight:
        return [edge]
    start, end = edge.curve.start, edge.curve.end
    size = float(np.linalg.norm(end - start))
    way = (end - start) / size
    taken = []
    for line in lines:
        along = (line - start) @ way
        off = np.abs((line - start) @ np.array([-way[1], way[0]])).max()
        low, high = float(along.min()), float(along.max())
        if off < ON_LINE and low < size - ON_LINE and high > ON_LINE:
            taken.append((max(low, 0.0), min(high, size)))
    pieces, at = [], 0.0
    for low, high in [*sorted(taken), (size, size)]:
        if low - at > ON_LINE:
            a = start if at == 0.0 else start + at * way
            b = end if low == size else start + low * way
            pieces.append(Edge(curves.line(a, b), edge.against))
        at = max(at, high)
    return pieces
