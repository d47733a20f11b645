"""All panels of a scene as paper templates."""

from __future__ import annotations

import numpy as np

from pipeline.exports.drawing import Drawing, Layer
from pipeline.exports.pdf import EdgeNote, Template, write_templates
from pipeline.geometry.curves import bounds
from pipeline.parts.model import JointEdge
from pipeline.sheets.paper import PAPERS, lay_pages

BEVELLED = 0.05
"""Degrees; a smaller bevel is a square edge."""


def templates_pdf(title: str, parts: list[tuple[Drawing, tuple[JointEdge, ...]]], paper: str) -> bytes:
    """Return the PDF with every part as seen on its visible face, and then mirrored.

    Parameters
    ----------
    title
        Of the scene.
    parts
        Each panel's drawing and its edges.
    paper
        A key of ``PAPERS``.
    """
    names = {drawing.title for drawing, _ in parts} | {""}
    templates = [
        Template(drawing=drawing, notes=tuple(edge_note(edge) for edge in edges if edge.against in names))
        for drawing, edges in parts
    ]
    boxes = [_box(drawing) for drawing, _ in parts]
    size = PAPERS[paper]
    pages = lay_pages(boxes, size, mirrored=False) + lay_pages(boxes, size, mirrored=True)
    return write_templates(title, templates, pages, size)


def edge_note(edge: JointEdge) -> EdgeNote:
    """Return what is written along an edge: its length, its bevel and what stands against it."""
    words = [f"{edge.length:.1f} mm"]
    bevel = edge.bevel_deg[0]
    if abs(bevel) > BEVELLED:
        words.append(f"bevel {abs(bevel):.0f} deg {'outward' if bevel > 0 else 'under'}")
    if edge.against:
        words.append(f"to {edge.against}")
    return EdgeNote(start=edge.start, end=edge.end, text="  ".join(words))


def _box(drawing: Drawing) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    cut = [shape.path for shape in drawing.shapes if shape.layer in (Layer.OUTLINE, Layer.BEVEL)]
    return bounds([curve for path in cut for curve in path])
