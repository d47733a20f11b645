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

TOUCHING = "touch only along an edge or at a corner"

ROUNDED = 1e-12
"""Over the diagonal; bodies this near have a place in common, but for rounding."""

NEAR = 0.02
"""Over the diagonal; of bodies nearer than this only the facets that face one another are looked at."""

SOON = 1_000_000
"""Pairs of facets; so many are looked at in a tenth of a second, however far apart two bodies are."""

FILLED = ("closed hollow filled", "closed hollows filled")
TURNED = ("shell turned that was inside out", "shells turned that were inside out")


def unite(mesh: Mesh, diagonal: float, mm: float | None = None) -> tuple[manifold3d.Manifold, list[str]]:
    """Return one body of all the closed shells of a mesh, and what was done to them.

    ``mm`` is what 1 in the mesh stands for, to tell how far bodies are apart.

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
    parts = body.decompose()
    left = [piece for piece in parts if piece.volume() > least]
    done += [FILLED for piece in parts if piece.volume() < -least]  # hollows that shells enclose between them
    repairs = [several(done.count(kind), *kind) for kind in dict.fromkeys(done)]
    if len(outward) > 1:
        repairs.append(f"{len(outward)} shells united")
    if len(left) != 1:
        raise MendError(_several_bodies(left, diagonal, mm))
    return body if len(parts) == 1 else left[0], repairs


def _several_bodies(bodies: list[manifold3d.Manifold], diagonal: float, mm: float | None) -> str:
    """Return the words on several bodies: where the first three are, and how far from the nearest other one."""
    told = range(min(3, len(bodies)))
    boxes = np.array([bodies[number].bounding_box() for number in told]).reshape(-1, 2, 3)
    spots = [spot(middle) for middle in np.round(boxes.mean(axis=1) / (TOLD * diagonal)) * TOLD * diagonal]
    rest = [manifold3d.Manifold.compose(bodies[:number] + bodies[number + 1 :]) for number in told]
    gaps = [gap(bodies[number], others, diagonal) for number, others in zip(told, rest, strict=True)]
    count = f"it is {len(bodies):,} bodies"
    if len(bodies) == 2:
        how = f"do not touch, {_length(*gaps[0], mm)} apart" if gaps[0][0] > 0 else TOUCHING
        return f"{count} that {how}, about {'; '.join(spots)}"
    if max(apart for apart, _ in gaps) == 0:
        return f"{count} that {TOUCHING}, about {'; '.join(spots)}"
    ways = [f"{_length(*one, mm)} from the nearest" if one[0] > 0 else "at the edge of another" for one in gaps]
    return f"{count} that do not touch, about {'; '.join(map(', '.join, zip(spots, ways, strict=True)))}"


def _length(apart: float, exact: bool, mm: float | None) -> str:
    scaled = "" if mm is None else f" ({apart * mm:.3g} mm at the opening's scale)"
    return f"{'' if exact else 'more than '}{apart:.3g}{scaled}"


def gap(one: manifold3d.Manifold, other: manifold3d.Manifold, diagonal: float) -> tuple[float, bool]:
    """Return how far two bodies are apart, and whether that is all: they may be farther where it would take long.

    Within rounding of the diagonal of both it is zero. Every pair of facets within a distance is looked at, so it is
    sought from near to far.
    """
    mine, others = (np.array(body.bounding_box()).reshape(2, 3) for body in (one, other))
    least = float(np.linalg.norm(np.maximum(np.maximum(mine[0] - others[1], others[0] - mine[1]), 0.0)))
    many = one.num_tri() * other.num_tri() > SOON
    more = ROUNDED * diagonal
    while not many or least + more < NEAR * diagonal:
        found = one.min_gap(other, least + more)
        if found < least + more:
            return (found if found > ROUNDED * diagonal else 0.0), True
        more *= 4
    return max(least, more / 4), False


def _one(bodies: list[manifold3d.Manifold]) -> manifold3d.Manifold:
    return bodies[0] if len(bodies) == 1 else manifold3d.Manifold.batch_boolean(bodies, manifold3d.OpType.Add)


def _turned(body: manifold3d.Manifold) -> manifold3d.Manifold:
    raw = body.to_mesh64()
    rows = np.asarray(raw.tri_verts)[:, ::-1]
    return manifold3d.Manifold(
        manifold3d.Mesh64(np.array(raw.vert_properties[:, :3], order="C"), np.array(rows, dtype=np.uint64, order="C"))
    )
