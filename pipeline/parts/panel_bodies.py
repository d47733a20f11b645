"""A panel as a closed body, and its visible face as triangles in both rooms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.cutting import subtract
from pipeline.geometry.meshes import Mesh, join
from pipeline.geometry.regions import Region, path_of
from pipeline.parts.bodies import face_triangles, sheet_body
from pipeline.parts.leaves import Fold, Lie
from pipeline.parts.outlines import FlatLoop, Making, flat_loops, sheet_region

BEYOND = 4.0
"""Half-planes are cut as squares this many times as large as the region."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelBody:
    """Closed body, cut edges and visible face (built), the last again (imagined), its exact area; mm and mm^2."""

    body: Mesh
    cut_edges: Mesh
    visible: Mesh
    visible_imagined: Mesh
    area: float


def panel_body(
    face: Face, region: Region, whole_loops: list[FlatLoop], lie: Lie, making: Making, *, sides: tuple[Region, Region]
) -> PanelBody:
    """Return a panel's body, leaf by leaf; at a fold both leaves end square, as a scored and bent sheet does.

    ``whole_loops`` are the region's border, flat, and ``sides`` that of the sheet's front and back.
    """
    bodies, rims, seen, imagined, area = [], [], [], [], 0.0
    sheet = face.sheet
    for index, leaf in enumerate(lie.leaves):
        own, whole, (front, back) = whole_loops, lie, sides
        if lie.fold is not None:
            loops = flat_loops(leaf_region(region, lie.fold, index), Lie((leaf,), None))
            own = [FlatLoop(flat.loop, (index,) * len(flat.loop)) for flat in loops]
            whole = Lie(lie.leaves, None)
            front = sheet_region(own, whole, face, making, sheet.finish)
            back = sheet_region(own, whole, face, making, sheet.finish + sheet.thickness)
        body, rim = sheet_body(front, back, -sheet.finish, -sheet.finish - sheet.thickness, leaf.built_from_flat)
        bodies.append(body)
        if sheet.finish > 0:  # the finish goes round the edge with the sheet
            top = sheet_region(own, whole, face, making, 0.0)
            _, rim = sheet_body(top, back, 0.0, -sheet.finish - sheet.thickness, leaf.built_from_flat)
        rims.append(rim)
        vertices, triangles = face_triangles(Region(own[0].loop, tuple(flat.loop for flat in own[1:])))
        flat_points = np.column_stack([vertices, np.zeros(len(vertices))])
        host = frames.apply(frames.inverse(leaf.flat_from_host), vertices)
        seen.append(Mesh(vertices=frames.apply(leaf.built_from_flat, flat_points), triangles=triangles))
        imagined.append(Mesh(vertices=frames.apply(face.imagined_from_host, host), triangles=triangles))
        area += sum(curves.signed_area(path_of(flat.loop)) for flat in own)
    return PanelBody(
        body=join(bodies),
        cut_edges=join(rims),
        visible=join(seen),
        visible_imagined=join(imagined),
        area=area,
    )


def leaf_region(region: Region, fold: Fold, index: int) -> Region:
    """Return the part of a region on one side of its fold (0 the near side), host coordinates."""
    size = BEYOND * (float(np.abs(curves.bounds(region.curves)).max()) + 10)
    normal = fold.host[:2] / np.linalg.norm(fold.host[:2])
    base = normal * fold.host[2] / np.linalg.norm(fold.host[:2])
    away = normal if index == 0 else -normal
    along = np.array([away[1], -away[0]]) * size
    square = [base - along, base + along, base + along + size * away, base - along + size * away]
    path = curves.polygon(np.array(square))
    if curves.signed_area(path) < 0:
        path = curves.reverse_path(path)
    return subtract(region, path, "fold-end")
