"""Bodies given by their facets, made solid, or hollow where that is asked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Hall
from pipeline.geometry import frames
from pipeline.geometry.booleans import BodyError, body_of, mesh_of, trim
from pipeline.geometry.contacts import fill_contacts
from pipeline.geometry.crumbs import without_crumbs
from pipeline.geometry.meshes import Mesh, signed_volume
from pipeline.keeping.kept import around
from pipeline.parts.bed import lay_on_bed
from pipeline.parts.hollows import hollow_in
from pipeline.parts.model import Print
from pipeline.parts.shells import SPARE, parted
from pipeline.parts.solids import host_planes, placed_planes
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

SIMPLE = 1e-4
"""mm; facets less high are taken out: files hold single-precision numbers, and would tear there."""


def block_print(
    block: Block,
    relief: Relief,
    hall: Hall,
    *,
    fit: float,
    min_wall: float,
    min_cavity: float,
    bulkheads: tuple[tuple[Array, float], ...] = (),
) -> Print:
    """Return a block as a print, hollow if it is asked to be and there is room for a hollow.

    Parameters
    ----------
    block
        Imagined; wholly before or wholly behind the apron's end.
    fit
        Play to the panels and prints it touches, built mm.
    min_wall
        No wall round a hollow is thinner, built mm, but where the body itself is.
    min_cavity
        Hollows narrower than this are filled, built mm.
    bulkheads
        Planes ``(4,)`` (n, c), built mm, and how far on either side of each a hollow is filled.

    Raises
    ------
    BodyError
        If what is left in the hall, but for crumbs, is not one closed body.
    """
    behind = bool(block.mesh.vertices[:, 1].max() > relief.apron)
    matrix = relief.built_from_imagined if behind else np.eye(4)
    carried = Mesh(vertices=frames.apply(matrix, block.mesh.vertices), triangles=block.mesh.triangles)
    body, skin = body_of(carried), around().of(body_of, block.mesh)
    built_planes, imagined_planes = placed_planes(hall, matrix), host_planes(hall)
    for host in block.contacts:
        body = trim(body, built_planes[host], 0.0 if host == "opening" else fit)
        skin = trim(skin, imagined_planes[host])
    for seam in block.seams:
        stood_off = _stood_off(seam, matrix, fit)
        body, skin = trim(body, stood_off), trim(skin, _unit(matrix.T @ stood_off))
    body = without_crumbs(fill_contacts(without_crumbs(body.simplify(SIMPLE))))
    pieces = [piece for piece in body.decompose() if piece.volume() > 0]
    if len(pieces) != 1:
        raise BodyError(f"{block.id} falls into {len(pieces)} pieces")
    hollow = hollow_in(body, min_wall + SPARE, min_cavity) if block.hollow else None
    if hollow is not None and bulkheads:
        hollow = parted(hollow, bulkheads, min_cavity)
    mesh = mesh_of(body if hollow is None else body - hollow)
    return Print(
        solid=block,
        body=mesh,
        skin_imagined=mesh_of(skin),
        built_from_bed=lay_on_bed(mesh),
        hollow=hollow is not None,
        volume=signed_volume(mesh),
        min_wall=0.0 if hollow is None else min_wall,
    )


def _stood_off(plane: Array, built_from_imagined: Array, fit: float) -> Array:
    """Return the built plane ``(4,)`` that lies ``fit`` mm inside an imagined one: plane' = M^-T plane, moved in."""
    built = _unit(np.linalg.inv(built_from_imagined).T @ plane)
    built[3] -= fit
    return built


def _unit(plane: Array) -> Array:
    out: Array = plane / np.linalg.norm(plane[:3])
    return out
