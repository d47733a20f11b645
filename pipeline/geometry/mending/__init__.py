"""Meshes of any origin made closed bodies, or refused with the reason and the place.

Terms
-----
shell
    A surface joined across its edges.
"""

from __future__ import annotations

from pipeline.geometry.booleans import mesh_of
from pipeline.geometry.mending.crossings import find_crossing
from pipeline.geometry.mending.edges import Edges, find_edges, shells
from pipeline.geometry.mending.holes import MOST_RIMS, fill_small, find_rims, open_error
from pipeline.geometry.mending.model import Mended, MendError, extent, several, spot
from pipeline.geometry.mending.turning import turn_to_agree
from pipeline.geometry.mending.uniting import unite
from pipeline.geometry.mending.welding import NEAR, drop_empty, sew, weld_equal
from pipeline.geometry.meshes import Mesh

__all__ = ["MendError", "Mended", "mend", "refuse_crossing"]


def mend(mesh: Mesh, mm: float | None = None) -> Mended:
    """Return a mesh as one closed outward body, mended where that takes no guessing.

    Corners are welded, copies and empty facets left out, facets turned to agree, small holes filled, shells turned
    outward and united. A sound mesh of one shell keeps its vertices to the last bit.

    Parameters
    ----------
    mesh
        In any unit.
    mm
        What one of that unit is at the opening's scale; only told where a length is.

    Raises
    ------
    MendError
        If it is open, crosses itself, has one side only, encloses nothing, or is several bodies.
    """
    diagonal = extent(mesh)
    if not diagonal > 0:
        raise MendError("all its corners are one point")
    mesh, edges, repairs = _closed(mesh, diagonal)
    _refuse_crossing(mesh, edges, diagonal)
    body, united = unite(mesh, diagonal, mm)
    return Mended(mesh=mesh_of(body), volume=float(body.volume()), repairs=(*repairs, *united))


def refuse_crossing(mesh: Mesh, made: str) -> None:
    """Refuse a closed mesh that crosses itself; ``made`` tells how it came to be as it is.

    Raises
    ------
    MendError
        If it does.
    """
    _refuse_crossing(mesh, find_edges(mesh.triangles), extent(mesh), made)


def _refuse_crossing(mesh: Mesh, edges: Edges, diagonal: float, made: str = "") -> None:
    crossing = find_crossing(mesh, shells(edges.neighbours), diagonal)
    if crossing is not None:
        raise MendError(f"{made}its surface crosses itself, as at {spot(crossing)}")


def _closed(mesh: Mesh, diagonal: float) -> tuple[Mesh, Edges, list[str]]:
    """Return the mesh with every edge between two facets that agree, or an even number of them."""
    mesh, empty, copies = drop_empty(weld_equal(mesh))
    edges = _edges(mesh)
    repairs = []
    if len(edges.open):
        sewn, more_empty, more_copies = drop_empty(sew(mesh, edges.open, NEAR * diagonal))
        before = len(edges.open)
        mesh, edges = sewn, _edges(sewn)
        if len(edges.open) < before:
            repairs.append(f"{several(before - len(edges.open), 'open edge')} sewn")
        empty, copies = empty + more_empty, copies + more_copies
    if empty:
        repairs.append(f"{several(empty, 'facet')} of no area left out")
    if copies:
        repairs.append(f"{several(copies, 'facet')} left out that doubled others")
    mesh, turned = turn_to_agree(mesh, edges)
    if turned:
        repairs.append(f"{several(turned, 'facet')} turned that faced the other way")
    return _filled(mesh, find_edges(mesh.triangles), diagonal, repairs)


def _edges(mesh: Mesh) -> Edges:
    if len(mesh.triangles) == 0:
        raise MendError("it encloses no volume: its facets are lines, or lie back to back")
    return find_edges(mesh.triangles)


def _filled(mesh: Mesh, edges: Edges, diagonal: float, repairs: list[str]) -> tuple[Mesh, Edges, list[str]]:
    if len(edges.open) > MOST_RIMS:
        raise MendError(f"it is open at {len(edges.open):,} edges: its facets do not meet")
    if len(edges.open):
        mesh, filled = fill_small(mesh, find_rims(edges.open), diagonal)
        edges = find_edges(mesh.triangles)
        if len(edges.open):
            raise open_error(mesh, find_rims(edges.open), diagonal)
        repairs = [*repairs, f"{several(filled, 'small hole')} filled"]
    if len(edges.odd):
        facet, side = divmod(int(edges.odd[0]), 3)
        ends = mesh.vertices[mesh.triangles[facet, [side, (side + 1) % 3]]]
        raise MendError(
            f"three facets meet at an edge, as at {spot(ends.mean(axis=0))}: a wall inside, or a fin outside"
        )
    return mesh, edges, repairs
