"""Faces made into sheets as they are cut, before anything is drawn on them.

Terms
-----
blank
    A panel's sheet with its edges, folds and body. It asks for no cover: another cover leaves it as it was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.clip import clip_lines
from pipeline.geometry.regions import Region
from pipeline.parts.cut_edges import joint_edges
from pipeline.parts.leaves import Lie
from pipeline.parts.model import JointEdge
from pipeline.parts.outlines import Making, flat_loops, sheet_region
from pipeline.parts.panel_bodies import PanelBody, panel_body

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blank:
    """A panel's sheet.

    Attributes
    ----------
    region, lie
        What is left of the face after its cuts, host coordinates, and where it lies.
    cut, hidden
        The border of the sheet's front and of its back, flat mm.
    edges
        Of the front's border.
    folds
        ``(k, 2, 2)`` flat mm.
    body
        Built.
    """

    region: Region
    lie: Lie
    cut: Region
    hidden: Region
    edges: tuple[JointEdge, ...]
    folds: Array
    body: PanelBody


def make_blank(face: Face, region: Region, making: Making) -> Blank:
    """Return the blank of a face.

    Parameters
    ----------
    face, region
        The face and what is left of it after its cuts, host coordinates.
    making
        What the panels share.
    """
    lie, sheet = making.lies[face.id], face.sheet
    loops = flat_loops(region, lie)
    cut = sheet_region(loops, lie, face, making, sheet.finish)
    hidden = sheet_region(loops, lie, face, making, sheet.finish + sheet.thickness)
    return Blank(
        region=region,
        lie=lie,
        cut=cut,
        hidden=hidden,
        edges=joint_edges(loops, cut, lie, face, making),
        folds=_fold_lines(region, lie),
        body=panel_body(face, region, loops, lie, making, sides=(cut, hidden)),
    )


def _fold_lines(region: Region, lie: Lie) -> Array:
    """Return the fold inside the outline, ``(k, 2, 2)`` flat."""
    if lie.fold is None:
        return np.zeros((0, 2, 2))
    size = 4 * float(np.abs(curves.bounds(region.curves)).max()) + 10
    normal = lie.fold.host[:2]
    base = normal * lie.fold.host[2] / (normal @ normal)
    way = np.array([-normal[1], normal[0]]) / np.linalg.norm(normal)
    lines, _ = clip_lines(np.array([[base - size * way, base + size * way]]), region)
    return frames.apply(lie.leaves[-1].flat_from_host, lines.reshape(-1, 2)).reshape(-1, 2, 2)
