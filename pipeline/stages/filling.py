"""The space behind a vault, between its cells, the walls and the box: what filler goes into it.

It reaches from the opening to the visible back wall, and from the springing to the box's top or to a chosen height.
What lies before the vault, inside passages and niches, or behind other openings, is left free.
"""

from __future__ import annotations

from collections.abc import Iterable

import manifold3d
import numpy as np
import shapely

from pipeline.elements.hall_shape import Hall
from pipeline.elements.surfaces import Cut
from pipeline.elements.vault.room_below import room_below
from pipeline.elements.vault.shape import VaultShape
from pipeline.geometry import frames
from pipeline.geometry.booleans import body_of, mesh_of, trim
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.meshes import Mesh
from pipeline.relief.collineation import Relief
from pipeline.room.inside import Inside

INWARD = {"left-wall": (1.0, 0.0, 0.0), "right-wall": (-1.0, 0.0, 0.0)}
"""Ways into the room from the walls that a vault's filler lies behind."""
CHORD = 0.05
"""mm; the outline of an opening, imagined."""
WITHIN = 1e-3
"""mm; what reaches no farther out is within."""
WIDE = 4.0
"""Halls; farther than a box reaches beside one."""


def behind_vault(
    shape: VaultShape,
    hall: Hall,
    relief: Relief,
    inside: Inside,
    *,
    bodies: Iterable[Mesh],
    cuts: Iterable[Cut],
    level: float | None,
) -> float:
    """Return the volume behind a vault, mm^3.

    Parameters
    ----------
    shape, hall
        The vault over the hall, imagined mm.
    relief
        What takes them to the built room.
    inside
        The box.
    bodies
        Every part, built mm: no filler goes where one is.
    cuts
        Openings in the hall's surfaces.
    level
        Height z it is filled to, built mm; nothing for the box's top.
    """
    box = manifold3d.Manifold.hull_points(np.vstack([inside.opening, inside.back]))
    planes = [np.array([0.0, -1.0, 0.0, relief.built_depth])]
    if level is not None:
        planes.append(np.array([0.0, 0.0, -1.0, level]))
    for plane in planes:
        box = trim(box, plane)
    free = [built(room_below(shape, hall.floor, hall.facet / 4), relief), built(_below(shape, hall), relief)]
    free += [body_of(body) for body in bodies if _reaches_out(body, shape, relief)]
    free += [built(_way_out(cut, hall), relief) for cut in cuts if cut.host in INWARD]
    left = manifold3d.Manifold.batch_boolean([box, *free], manifold3d.OpType.Subtract)
    return max(0.0, float(left.volume()))


def built(imagined: Mesh, relief: Relief) -> manifold3d.Manifold:
    """Return a closed imagined body as built; it breaks at the apron's end where it passes that."""
    whole = body_of(imagined)
    if relief.apron <= 0:
        return body_of(_moved(imagined, relief))
    plane = np.array([0.0, 1.0, 0.0, -relief.apron])
    halves = [trim(whole, plane), trim(whole, -plane)]
    moved = [body_of(_moved(mesh_of(half), relief)) for half in halves if not half.is_empty()]
    return manifold3d.Manifold.batch_boolean(moved, manifold3d.OpType.Add)


def _reaches_out(body: Mesh, shape: VaultShape, relief: Relief) -> bool:
    """Return whether a built body reaches out of the room below the vault; ribs and piers, which do not, cost time."""
    x, y, z = relief.imagine_points(body.vertices).T
    half = shape.width / 2
    over = shape.share(np.clip(x / half, -1.0, 1.0))
    if shape.form == "groin":
        middle = (np.floor(y / shape.length) + 0.5) * shape.length
        over = np.maximum(over, shape.share(np.clip(2 * (y - middle) / shape.length, -1.0, 1.0)))
    return bool(((np.abs(x) > half + WITHIN) | (z > shape.springing + shape.rise * over + WITHIN)).any())


def _below(shape: VaultShape, hall: Hall) -> Mesh:
    """Return everything below the springing, far beyond the hall to all sides but its ends."""
    low, high = (
        (-WIDE * hall.width, 0.0, hall.floor - WIDE * hall.height),
        (WIDE * hall.width, hall.depth, shape.springing),
    )
    size = np.subtract(high, low)
    return mesh_of(manifold3d.Manifold.cube(size.tolist()).translate(list(low)))


def _moved(mesh: Mesh, relief: Relief) -> Mesh:
    return Mesh(vertices=relief.build_points(mesh.vertices), triangles=mesh.triangles)


def _way_out(cut: Cut, hall: Hall) -> Mesh:
    """Return what stays free behind an opening of a side wall: its passage or niche, else all the way out."""
    points = flatten_path(cut.curve, CHORD)
    outline = shapely.orient_polygons(shapely.Polygon(points)).exterior
    ring = shapely.get_coordinates(outline)[:-1]
    far = cut.length if cut.length > 0 else 2 * hall.width
    prism = mesh_of(manifold3d.Manifold.extrude(manifold3d.CrossSection([ring]), far))
    inward = np.array(INWARD[cut.host])
    feet = frames.apply(hall.imagined_from_host(cut.host), prism.vertices[:, :2])
    vertices = feet - prism.vertices[:, 2:] * inward
    out = Mesh(vertices=vertices, triangles=prism.triangles)
    handed = np.linalg.det(np.column_stack([hall.imagined_from_host(cut.host)[:3, :2], -inward]))
    return out if handed > 0 else Mesh(vertices=vertices, triangles=prism.triangles[:, ::-1].copy())
