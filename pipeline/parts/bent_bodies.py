"""A web as a closed body: as thick as its sheet, and within the planes its neighbours end on.

Terms
-----
row
    One ruling with its four corners: near and far on the visible face, near and far on the hidden face.
room
    How deep the sheet may be behind a ruling before the planes at its ends meet, or a plane beside it is passed. In
    the corners between two cells there is less room than a sheet is thick; there its hidden side is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import curves, frames
from pipeline.geometry.meshes import Mesh, signed_volume, weld
from pipeline.parts.bodies import ARC_STEPS
from pipeline.parts.webs import BuiltWeb, Piece

Array = NDArray[np.float64]

ROUNDING = 1e-12
"""mm; a plane passed by less is not passed."""
TIP_WALLS = 1.4
"""Times the printer's least wall that a web is wide and thick where its tip is left out: the corners of what then is
its end are acute, and thinner."""
GRID_DECIMALS = 9
"""mm; corners that agree to a nanometre and less are one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WebBody:
    """Closed body, its cut edges alone, the visible face (built), the same triangles (imagined); mm."""

    body: Mesh
    cut_edges: Mesh
    visible: Mesh
    visible_imagined: Mesh


def web_body(built: BuiltWeb, thickness: float, least: float = 0.0) -> WebBody:
    """Return a web's body.

    Parameters
    ----------
    built
        The web.
    thickness
        Of its sheet, or of the print, mm.
    least
        Of a print: how thick and how wide it must be, mm. Edges that would run out to feathers behind ribs are blunted,
        and tips narrower and thinner than this that a springer block hides are left out.
    """
    rows = np.concatenate([_rows(built, number, thickness, blunted=least > 0) for number in range(len(built.pieces))])
    if least > 0:
        rows = rows[_worth_printing(built, rows, least)]
    near, far, near_hidden, far_hidden = (np.round(rows[:, k], GRID_DECIMALS) for k in range(4))
    seen = _band(near, far)
    ends = [_quad(near[k], far[k], far_hidden[k], near_hidden[k]) for k in (0, -1)]
    rim = np.concatenate([_band(near_hidden, near), _band(far, far_hidden), ends[0][:, ::-1], ends[1]])
    closed = weld(_solid(np.concatenate([seen, _band(far_hidden, near_hidden), rim])))
    if signed_volume(closed) < 0:
        closed = Mesh(vertices=closed.vertices, triangles=closed.triangles[:, ::-1].copy())
        seen, rim = seen[:, ::-1], rim[:, ::-1]
    visible = weld(_solid(seen))
    back = np.linalg.inv(built.built_from_imagined)
    homogeneous = visible.vertices @ back[:, :3].T + back[:, 3]
    return WebBody(
        body=closed,
        cut_edges=weld(_solid(rim)),
        visible=visible,
        visible_imagined=Mesh(vertices=homogeneous[:, :3] / homogeneous[:, 3:], triangles=visible.triangles),
    )


def _worth_printing(built: BuiltWeb, rows: Array, least: float) -> slice:
    """Return the rows without those at both ends that are hidden and too narrow or too thin to print.

    At the back wall the webs across the hall keep theirs: past the half ribs an eye sees them there. The last web along
    the hall ends edge on, behind the springer.
    """
    t = np.linspace(0.0, 1.0, ARC_STEPS + 1)
    heights = np.concatenate([curves.evaluate(curve, t)[:, 1] for curve in built.web.section])
    wide = np.linalg.norm(rows[:, 1] - rows[:, 0], axis=1)
    behind = np.linalg.norm(rows[:, 3] - rows[:, 2], axis=1)
    across = np.cross(rows[:, 1] - rows[:, 0], rows[:, 2] - rows[:, 0])
    deep = np.linalg.norm(across, axis=1) / np.maximum(wide, ROUNDING)
    seen = (built.web.generator[0] != 0.0) & _uncovered(built, rows)
    stout = np.minimum((wide + behind) / 2, deep) >= TIP_WALLS * least
    sound = seen | stout | (heights >= (built.web.hidden_below or -np.inf))
    kept = np.flatnonzero(sound)
    return slice(int(kept[0]), int(kept[-1]) + 1) if len(kept) > 1 else slice(None)


def _uncovered(built: BuiltWeb, rows: Array) -> NDArray[np.bool_]:
    """Return which rows end where ribs are too slight to hide anything."""
    middles = (rows[:, 0] + rows[:, 1]) / 2
    out: NDArray[np.bool_] = (
        frames.apply(frames.inverse(built.built_from_imagined), middles)[:, 1] > built.web.bare_from
    )
    return out


def _blunted(built: BuiltWeb, rows: Array, rulings: Array) -> Array:
    """Return rows whose visible ends are drawn back to where the hidden ones are, as far as ribs cover them.

    Ribs cover a strip beside a groin, and where they cross the point; elsewhere every end is seen and stays.
    """
    out, bare = rows.copy(), _uncovered(built, rows)
    for end, hidden, planes, sign in ((0, 2, built.near_covers, 1.0), (1, 3, built.far_covers, -1.0)):
        wanted = np.maximum(0.0, sign * np.einsum("ij,ij->i", rows[:, hidden] - rows[:, end], rulings))
        covered = np.zeros(len(rows))
        for plane in planes:
            covered = np.maximum(covered, sign * _slide(rows[:, end], rulings, plane))
        back = np.where(bare, 0.0, np.minimum(wanted, covered))
        if built.cap is not None and len(planes):  # the point at the crown, where two groins meet
            back = np.maximum(back, sign * _slide(rows[:, end], rulings, built.cap))
        room = np.linalg.norm(rows[:, 1] - rows[:, 0], axis=1) / 2
        back = np.minimum(back, room)[:, None] * rulings
        out[:, end] += sign * back
        short = sign * np.einsum("ij,ij->i", out[:, end] - out[:, hidden], rulings) > 0
        short &= (out[:, end] != rows[:, end]).any(axis=1) | ~bare
        out[short, hidden] += (
            np.einsum("ij,ij->i", out[short, end] - out[short, hidden], rulings[short])[:, None] * rulings[short]
        )
    return out


def _rows(built: BuiltWeb, number: int, thickness: float, *, blunted: bool) -> Array:
    """Return ``(n, 4, 3)`` rows of one piece."""
    piece = built.pieces[number]
    t = np.linspace(0.0, 1.0, ARC_STEPS + 1) if piece.rows is None else piece.rows
    near, far = curves.evaluate(piece.near, t), curves.evaluate(piece.far, t)
    rulings, normals = _directions(piece, t)
    near_back, far_back = piece.backs(t)
    near, far = near + near_back[:, None] * rulings, far - far_back[:, None] * rulings
    squared = tuple(ends[number].against in built.squared for ends in (built.web.near_ends, built.web.far_ends))
    lifts = _lifts(built, near, rulings, normals, thickness)
    lifted = np.linalg.norm(lifts, axis=1) > 0
    depth = _room(built, (near, far), squared, (rulings, normals), thickness, lifted=lifted)
    hidden = near - depth[:, None] * normals + lifts
    low, high = _span(built, hidden, rulings)
    wide = np.einsum("ij,ij->i", far - near, rulings)
    low = np.zeros(len(t)) if squared[0] else np.where(near_back > 0, np.maximum(low, 0.0), low)
    high = wide if squared[1] else np.where(far_back > 0, np.minimum(high, wide), high)
    near_hidden = hidden + low[:, None] * rulings + np.minimum(built.web.eased, depth)[:, None] * normals
    far_hidden = hidden + np.maximum(low, high)[:, None] * rulings
    rows = np.stack([near, far, near_hidden, far_hidden], axis=1)
    return _blunted(built, rows, rulings) if blunted else rows


def _directions(piece: Piece, t: Array) -> tuple[Array, Array]:
    """Return the unit rulings and normals at parameters ``(n,)``, even ones to the last bit as they were unrolled."""
    one = piece.unrolled
    if piece.rows is None:
        at = np.searchsorted(one.t, t - 1e-12)
        return one.rulings[at], one.normals[at]
    rulings, normals = (
        np.column_stack([np.interp(t, one.t, column) for column in values.T]) for values in (one.rulings, one.normals)
    )
    rulings, normals = (v / np.linalg.norm(v, axis=1, keepdims=True) for v in (rulings, normals))
    return rulings, normals


def _span(built: BuiltWeb, points: Array, rulings: Array) -> tuple[Array, Array]:
    """Return from where to where rulings through points lie within the planes they end on."""
    low, high = np.full(len(points), -np.inf), np.full(len(points), np.inf)
    for plane in built.near_planes:
        low = np.maximum(low, _slide(points, rulings, plane))
    for plane in built.far_planes:
        high = np.minimum(high, _slide(points, rulings, plane))
    return low, high


def _slide(points: Array, rulings: Array, plane: Array) -> Array:
    """Return how far along the rulings each point lies from a plane."""
    out: Array = -(points @ plane[:3] + plane[3]) / (rulings @ plane[:3])
    return out


def _lifts(built: BuiltWeb, near: Array, rulings: Array, normals: Array, thickness: float) -> Array:
    """Return how far ``(n, 3)`` hidden places move along the web to keep clear of the planes beside it.

    Where a web goes on as the wall beneath it leads, the plane between stands nearly square to both, and a little way
    along the web is enough; taking off the sheet's depth would leave a wedge to be seen through. Farther than half of
    the way to the next ruling nothing moves: there the corner is acute, and depth is what must go.
    """
    ways = np.gradient(near, axis=0)
    ways -= np.einsum("ij,ij->i", ways, rulings)[:, None] * rulings
    pitch = np.linalg.norm(ways, axis=1, keepdims=True)
    ways /= np.maximum(pitch, ROUNDING)
    lifts = np.zeros_like(near)
    for plane in built.end_planes:
        past = (near - thickness * normals) @ plane[:3] + plane[3]
        across = ways @ plane[:3]
        steps = np.divide(-past, across, out=np.full(len(near), np.inf), where=np.abs(across) > 0.5)
        small = (past < -ROUNDING) & (np.abs(steps) < pitch[:, 0] / 2)
        lifts[small] = steps[small, None] * ways[small]
    return lifts


def _room(
    built: BuiltWeb,
    ends: tuple[Array, Array],
    squared: tuple[bool, ...],
    ways: tuple[Array, Array],
    thickness: float,
    *,
    lifted: NDArray[np.bool_],
) -> Array:
    """Return the depth of the sheet behind every ruling, at most its thickness; ``squared`` are its square ends.

    Along a normal everything is linear: the length left between two planes, and the distance to those beside, or from
    a square end to the plane of the other.
    """
    (near, _), (rulings, normals) = ends, ways
    depth = np.full(len(near), thickness)
    behind = near - thickness * normals
    pairs = [
        (_left(near, rulings, one, other), _left(behind, rulings, one, other))
        for one in built.near_planes
        for other in built.far_planes
    ]
    clear = np.where(lifted, np.inf, 0.0)
    pairs += [(near @ plane[:3] + plane[3], behind @ plane[:3] + plane[3] + clear) for plane in built.end_planes]
    for end, square, planes in zip(ends, squared, (built.far_planes, built.near_planes), strict=True):
        hidden = end - thickness * normals
        pairs += [(end @ plane[:3] + plane[3], hidden @ plane[:3] + plane[3]) for plane in planes if square]
    for front, back in pairs:
        short = back < -ROUNDING
        kept = np.maximum(front[short], 0.0)
        depth[short] = np.minimum(depth[short], thickness * kept / (kept - back[short]))
    return depth


def _left(points: Array, rulings: Array, near_plane: Array, far_plane: Array) -> Array:
    """Return the length left of every ruling between two planes; below zero where they have crossed."""
    out: Array = _slide(points, rulings, far_plane) - _slide(points, rulings, near_plane)
    return out


def _band(a: Array, b: Array) -> Array:
    """Return triangles ``(m, 3, 3)`` between two rows of points."""
    halves = np.stack([a[:-1], b[:-1], b[1:]], axis=1), np.stack([a[:-1], b[1:], a[1:]], axis=1)
    out: Array = np.concatenate(halves)
    return out


def _quad(a: Array, b: Array, c: Array, d: Array) -> Array:
    return np.array([[a, b, c], [a, c, d]])


def _solid(corners: Array) -> Array:
    """Return the triangles whose three corners differ."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    same = (a == b).all(axis=1) | (b == c).all(axis=1) | (c == a).all(axis=1)
    out: Array = corners[~same]
    return out
