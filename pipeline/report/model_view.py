"""The built box in three dimensions, as the page holds it: every part a mesh on a fine grid, its guides as lines.

The shapes are little-endian bytes: four counts (vertices, ends of lines, indices, whether those are wide) as uint32,
the triangles' indices (uint16, or uint32 where there are more vertices than that counts), the vertices and the ends of
the lines, three uint16 each. A point is ``low + step * grid``, mm built.
"""

from __future__ import annotations

import base64
import json
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh, normals
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel, Print
from pipeline.relief.collineation import Relief
from pipeline.report.pictures import made_surfaces

Array = NDArray[np.float64]

STEPS = 65535
"""Of the grid, each way: a box of 300 mm to 5 micrometres."""
MOST_BYTES = 5_000_000
"""Of shapes in a page; with more of them the lines are left out, and then the whole view."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelView:
    """The view's data as the page takes them.

    Attributes
    ----------
    told
        JSON: ``parts`` in the order of work (id, tone, ranges ``[first, number]`` of its indices in ``skin`` and of its
        ends in ``lines``; of a sheet ``face``, the way its visible face looks, and a point ``at`` it), ``low`` and
        ``step`` of the grid, ``eye`` and ``box``, mm built.
    shapes
        Base64.
    count
        Parts.
    lines
        Whether the guides are in it.
    """

    told: str
    shapes: str
    count: int
    lines: bool


def model_view(
    relief: Relief,
    box: tuple[float, float, float],
    panels: tuple[Panel | BentPanel, ...],
    prints: tuple[Print, ...],
    order: tuple[str, ...],
) -> ModelView | None:
    """Return the built parts for the view, or nothing where a page cannot hold them.

    Parameters
    ----------
    relief
        For the eye and the guides.
    box
        Inside of the box, mm.
    panels, prints
        The parts.
    order
        Their ids, in the order of work.
    """
    bodies = {part.id: part.body for part in (*panels, *prints)}
    surfaces = {surface.part: surface for surface in made_surfaces(relief, panels, prints)}
    meshes, drawn = [bodies[name] for name in order], [surfaces[name].lines_built.reshape(-1, 3) for name in order]
    points = np.concatenate([np.zeros((1, 3)), *(mesh.vertices for mesh in meshes), *drawn])
    low = points.min(axis=0)
    step = float((points.max(axis=0) - low).max()) / STEPS or 1.0
    sizes = [len(mesh.vertices) for mesh in meshes]
    firsts = np.concatenate([[0], np.cumsum(sizes)])
    index = "<u2" if firsts[-1] <= STEPS else "<u4"
    triangles = [mesh.triangles + first for mesh, first in zip(meshes, firsts[:-1], strict=True)]
    whole = 6 * int(firsts[-1]) + np.dtype(index).itemsize * 3 * sum(map(len, triangles))
    if whole > MOST_BYTES:
        return None
    lines = whole + 6 * sum(map(len, drawn)) <= MOST_BYTES
    if not lines:
        drawn = [np.zeros((0, 3)) for _ in order]
    grid = [np.rint((some - low) / step).astype("<u2") for some in (*(mesh.vertices for mesh in meshes), *drawn)]
    faces = {panel.id: _faces(panel.visible) for panel in panels}
    parts, corner, end = [], 0, 0
    for name, mesh, ends in zip(order, meshes, drawn, strict=True):
        part: dict[str, object] = {
            "id": name,
            "tone": [round(value, 3) for value in surfaces[name].tone],
            "skin": [corner, 3 * len(mesh.triangles)],
            "lines": [end, len(ends)],
        }
        if name in faces:
            part["face"], part["at"] = faces[name]
        parts.append(part)
        corner, end = corner + 3 * len(mesh.triangles), end + len(ends)
    told = {"parts": parts, "low": _short(low), "step": step, "eye": _short(np.array(relief.eye)), "box": list(box)}
    head = np.array([firsts[-1], end, corner, index == "<u4"], dtype="<u4")
    inside = b"".join(np.ascontiguousarray(some).tobytes() for some in (head, *_indices(triangles, index), *grid))
    return ModelView(
        told=json.dumps(told, separators=(",", ":")), shapes=base64.b64encode(inside).decode(), count=len(parts),
        lines=lines,
    )  # fmt: skip


def _indices(triangles: list[NDArray[np.int64]], index: str) -> list[NDArray[np.uint32]]:
    return [some.astype(index) for some in triangles]


def _faces(visible: Mesh) -> tuple[list[float], list[float]]:
    """Return the mean normal of a visible face, and its middle."""
    mean = normals(visible).sum(axis=0)
    return _short(mean / np.hypot(np.hypot(mean[0], mean[1]), mean[2])), _short(visible.corners.mean(axis=(0, 1)))


def _short(values: Array) -> list[float]:
    return [round(value, 4) + 0.0 for value in values.tolist()]
