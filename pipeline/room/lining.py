"""Passages, niches and reveals with a bent head, where no sheet bends: one printed lining behind the wall's sheet.

A flat sheet cannot follow the head, and where a mitred jamb runs into it no straight cut closes the corner. So the hole
keeps its square edge, and behind the sheet a tube goes on from it, as thick as can be printed. All is cut in the built
room, where sheets are flat and thick, and carried back: the block that comes out is the imagined one.
"""

from __future__ import annotations

import manifold3d
import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.opening import LEADS
from pipeline.elements.passage import OUTWARD
from pipeline.elements.problems import Problem, SceneError
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import body_of, mesh_of, trim
from pipeline.geometry.meshes import Mesh
from pipeline.room.behind import LINING_WALLS
from pipeline.room.site import Site
from pipeline.units import part_id

Array = NDArray[np.float64]

SLIVER = 2e-3
"""mm, built; slivers where cuts run along one another are smoothed away: rounded figures would tear there."""

SUNK = 0.9
"""Share of the lining's floor that its tongue takes: no two of their faces then lie in one plane before the hole."""

KNIFE = 3**0.5
"""Wall over floor thickness above which their mitre is sharper than 30 degrees: no tongue prints so sharp to fit it."""

BEYOND = 1.0
"""mm a tube runs on past planes that cut it."""


def print_lining(cut: Cut, site: Site, depth: float, word: str, *, closed: bool) -> Block | None:
    """Return the printed lining of a hole, its largest piece where the box cuts it, or nothing where none is left.

    Parameters
    ----------
    depth
        How far it runs outward from the wall's visible face, imagined mm.
    word
        Last word of its part id.
    closed
        Whether it has an end.
    """
    along, up, out = LINING_WALLS * site.min_wall / _scales(cut, site, depth)
    end = out if closed else 0.0
    inner = shapely.Polygon(curves.flatten_path(cut.curve, site.hall.facet))
    outer = _behind_jambs(cut, site, _grown(inner, along, up))
    body = trim(_tube(cut, site, outer, 0.0, depth + end), -site.wall_plane(cut.host), site.total + site.fit)
    floor_total = 0.0 if site.floor is None else site.floor.thickness + site.floor.finish
    prints = site.total <= KNIFE * floor_total if site.bevelled else floor_total > 0
    if prints and not body.is_empty():
        body += _tongue(cut, site, SUNK * up, along, floor_total)
    body -= _tube(cut, site, inner, -BEYOND, depth if closed else depth + BEYOND)
    for plane in site.box_planes:
        body = trim(body, plane)
    pieces = [piece for piece in body.decompose() if piece.volume() > 0]
    if not pieces:
        return None
    mesh = mesh_of(max(pieces, key=lambda piece: piece.volume()).simplify(SLIVER))
    back = frames.apply(frames.inverse(site.built_from_imagined), mesh.vertices)
    return Block(
        id=f"{part_id(cut.name)}-{word}",
        mesh=Mesh(vertices=back, triangles=mesh.triangles),
        contacts=(),
        joints=np.zeros((0, 2, 3)),
        path=cut.path,
    )


def _grown(section: shapely.Polygon, along: float, up: float) -> shapely.Polygon:
    """Return a section grown by ``along`` sideways and ``up`` upward, imagined mm: the relief flattens one the more."""
    even = shapely.affinity.scale(section, 1 / along, 1 / up, origin=(0, 0))
    return shapely.affinity.scale(even.buffer(1.0, join_style="mitre"), along, up, origin=(0, 0))


def _behind_jambs(cut: Cut, site: Site, outer: shapely.Polygon) -> shapely.Polygon:
    """Return a section moved on sideways by as much as the jambs, cut square to the wall, part from the lining's sides.

    Where the wall leans, its sheet's hidden arris beside the hole would else stand over the lining's edge, and rays
    pass the play between the two.
    """
    host, out = site.hall.imagined_from_host(cut.host), np.array(OUTWARD[cut.host])
    (left, sill), (right, _) = curves.bounds(cut.curve)
    normal = -site.wall_plane(cut.host)[:3]
    sections = [outer]
    for place, side in ((left, -1.0), (right, 1.0)):
        corner = frames.apply(host, [[place, sill]])[0]
        foot, beside, away = frames.apply(site.built_from_imagined, [corner, corner + host[:3, 0], corner + out])
        straight, along = away - foot, beside - foot
        parted = normal - straight / (straight @ normal)
        step = (site.total + site.fit) * float(parted @ along / (along @ along))
        if step * side > 0:
            sections.append(shapely.affinity.translate(outer, step))
    whole = shapely.union_all(sections)
    if not isinstance(whole, shapely.Polygon):
        raise SceneError([_too_far_apart(cut)])
    return whole


def _too_far_apart(cut: Cut) -> Problem:
    key, made = ("reveal", "reveal_as") if cut.beyond not in LEADS else ("length", "barrel_as")
    return Problem(
        path=(*cut.path, key),
        found="the wall leans so much that the hole's jambs part from a printed lining by more than the hole's width",
        allowed="linings of sheet, or walls that lean less",
        remedy=f'write {made} = "sheet" with a sheet that bends, take {key} out, or build the room deeper',
    )


def _scales(cut: Cut, site: Site, depth: float) -> Array:
    """Return built over imagined length at the lining's far end: along the wall, up, and outward."""
    host, out = site.hall.imagined_from_host(cut.host), np.array(OUTWARD[cut.host])
    corner = frames.apply(host, curves.bounds(cut.curve)[1][None])[0] + depth * out
    ends = frames.apply(site.built_from_imagined, [corner, corner + host[:3, 0], corner + host[:3, 1], corner + out])
    lengths: Array = np.linalg.norm(ends[1:] - ends[0], axis=1)
    return lengths


def _tube(cut: Cut, site: Site, section: shapely.Polygon, start: float, end: float) -> manifold3d.Manifold:
    """Return a prism over a section of the wall, from ``start`` to ``end`` imagined mm outward, built."""
    host, out = site.hall.imagined_from_host(cut.host), np.array(OUTWARD[cut.host])
    points = np.asarray(shapely.geometry.polygon.orient(section).exterior.coords)[:-1]
    prism = mesh_of(manifold3d.Manifold.extrude(manifold3d.CrossSection([points]), end - start))
    axes = np.column_stack([host[:3, 0], host[:3, 1], out])
    imagined = host[:3, 2] + (prism.vertices + np.array([0.0, 0.0, start])) @ axes.T
    triangles = prism.triangles if np.linalg.det(axes) > 0 else prism.triangles[:, ::-1]
    return body_of(Mesh(vertices=frames.apply(site.built_from_imagined, imagined), triangles=triangles))


def _tongue(cut: Cut, site: Site, thick: float, lap: float, floor_total: float) -> manifold3d.Manifold:
    """Return what carries the floor on through the wall's sheet, between the jambs, up to the hall floor's edge.

    The lining's sides go straight out, the jambs square to the wall: where it leans away from one, the floor between
    the two is wider than the lining. Of square edges it goes on ``lap`` beneath the wall's, in the wedge they leave:
    rays pass its play there, and run along the wedge.
    """
    (left, sill), (right, _) = curves.bounds(cut.curve)
    wall, floor, deep = site.wall_plane(cut.host), site.sill_plane(cut), 3 * (site.total + thick)
    sole = shapely.box(left, sill - thick, right, sill + thick)
    wings = shapely.box(left - deep, sill - thick, right + deep, sill)
    body = _tube(cut, site, sole, -BEYOND / 2, deep) + _tube(cut, site, wings, -BEYOND / 2, deep)
    matrix = site.built_from_imagined @ site.hall.imagined_from_host(cut.host)
    ends = frames.apply(matrix, [[left, sill], [right, sill], [left, sill + 1.0]])
    along = frames.unit(np.cross(wall[:3], ends[2] - ends[0]))  # the jambs are cut square to the wall
    along *= np.sign(along @ (ends[1] - ends[0]))
    body = trim(body, np.array([*along, -along @ ends[0]]), site.fit)
    body = trim(body, np.array([*-along, along @ ends[1]]), site.fit)
    if not site.bevelled and cut.host != "back-wall":  # on the side walls rays run toward the far jamb
        sole = shapely.box((left + right) / 2, sill - thick, right + lap, sill)
        edge = (wall[:3] @ floor[:3]) * wall - floor
        body += trim(_tube(cut, site, sole, -BEYOND / 2, deep), edge / np.linalg.norm(edge[:3]), site.fit)
    body = trim(body, wall, -(site.total + 2 * site.fit + site.min_wall))
    return trim(body, site.floor_edge(wall, floor, floor_total), site.fit)
