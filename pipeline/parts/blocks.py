"""Bodies given by their facets, made solid."""

from __future__ import annotations

import numpy as np

from pipeline.elements.model import Block, Hall
from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh, signed_volume
from pipeline.parts.bed import lay_on_bed
from pipeline.parts.booleans import BodyError, body_of, mesh_of, trim
from pipeline.parts.model import Print
from pipeline.parts.solids import host_planes, placed_planes
from pipeline.relief.collineation import Relief


def solid_print(block: Block, relief: Relief, hall: Hall, fit: float) -> Print:
    """Return a block as a solid print.

    Parameters
    ----------
    block
        Imagined; wholly before or wholly behind the apron's end.
    fit
        Play to the panels it touches, built mm.

    Raises
    ------
    BodyError
        If what is left in the hall is not one closed body.
    """
    behind = bool(block.mesh.vertices[:, 1].max() > relief.apron)
    matrix = relief.built_from_imagined if behind else np.eye(4)
    carried = Mesh(vertices=frames.apply(matrix, block.mesh.vertices), triangles=block.mesh.triangles)
    body, skin = body_of(carried), body_of(block.mesh)
    built_planes, imagined_planes = placed_planes(hall, matrix), host_planes(hall)
    for host in block.contacts:
        body = trim(body, built_planes[host], 0.0 if host == "opening" else fit)
        skin = trim(skin, imagined_planes[host])
    pieces = [piece for piece in body.decompose() if piece.volume() > 0]
    if len(pieces) != 1:
        raise BodyError(f"{block.id} falls into {len(pieces)} pieces")
    mesh = mesh_of(body)
    return Print(
        solid=block,
        body=mesh,
        skin_imagined=mesh_of(skin),
        built_from_bed=lay_on_bed(mesh),
        hollow=False,
        volume=signed_volume(mesh),
        min_wall=0.0,
    )
