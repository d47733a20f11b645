"""Closed shells made one body: turned outward, cavities filled, overlaps united."""

from __future__ import annotations

import manifold3d
import numpy as np

from pipeline.geometry.mending.model import MendError, several, spot
from pipeline.geometry.meshes import Mesh

LEAST = 1e-12
"""Volume over the cube of the diagonal; less is a sheet without thickness, told from a body only by rounding."""

TOLD = 1e-6
"""Over the diagonal: to this the middle of a body is told, since files of single numbers are rounded so far."""

FILLED = ("closed hollow filled", "closed hollows filled")
TURNED = ("shell turned that was inside out", "shells turned that were inside out")


def unite(mesh: Mesh, diagonal: float) -> tuple[manifold3d.Manifold, list[str]]:
    """Return one body of all the closed shells of a mesh, and what was done to them.

    Raises
    ------
    MendError
        If an edge has facets that bound no body, nothing is enclosed, or what is left is in several pieces.
    """
    whole = manifold3d.Manifold(
        manifold3d.Mesh64(
            np.array(mesh.vertices, dtype=np.float64, order="C"), np.array(mesh.triangles, dtype=np.uint64, order="C")
        )
    )
    if whole.status() != manifold3d.Error.NoError:
        raise MendError("its facets meet at edges in a way that bounds no body: more than two at one, or disagreeing")
    pieces = whole.decompose()
    least = LEAST * diagonal**3
    outward = [piece for piece in pieces if piece.volume() > least]
    inward = [_turned(piece) for piece in pieces if piece.volume() < -least]
    body, done = _one(outward), []
    for piece in inward:
        # What faces inward within a body is a hollow, and prints are solid; anywhere else it is inside out.
        if outward and (piece - body).volume() <= least:
            done.append(FILLED)
        else:
            outward.append(piece)
            done.append(TURNED)
            body = _one(outward)
    if not outward or not body.volume() > least:
        raise MendError("it encloses no volume")
    repairs = [several(done.count(kind), *kind) for kind in dict.fromkeys(done)]
    if len(outward) > 1:
        repairs.append(f"{len(outward)} shells united")
    left = [piece for piece in body.decompose() if piece.volume() > least]
    if len(left) != 1:
        boxes = np.array([piece.bounding_box() for piece in left[:3]]).reshape(-1, 2, 3)
        middles = np.round(boxes.mean(axis=1) / (TOLD * diagonal)) * TOLD * diagonal
        raise MendError(f"it is {len(left)} bodies that do not touch, about {'; '.join(map(spot, middles))}")
    return body, repairs


def _one(bodies: list[manifold3d.Manifold]) -> manifold3d.Manifold:
    return bodies[0] if len(bodies) == 1 else manifold3d.Manifold.batch_boolean(bodies, manifold3d.OpType.Add)


def _turned(body: manifold3d.Manifold) -> manifold3d.Manifold:
    raw = body.to_mesh64()
    rows = np.asarray(raw.tri_verts)[:, ::-1]
    return manifold3d.Manifold(
        manifold3d.Mesh64(np.array(raw.vert_properties[:, :3], order="C"), np.array(rows, dtype=np.uint64, order="C"))
    )
