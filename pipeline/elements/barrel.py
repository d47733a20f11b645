"""What is bent over a curved head: the barrel of a passage or niche, the soffit of a reveal.

Terms
-----
section
    ``(a, z)`` on the wall: a from the middle of the hole, z above the floor.
ruling
    A straight line square to the wall. It runs from the plane that the web begins on to the nearest of those that it
    ends on: with the plane (n, c), F the matrix from (a, z, u, 1) to the imagined room, F_u its column of the rulings,

        u = -(n, c) . F (a, z, 0, 1) / (n . F_u),

    linear in a and z, so the web's borders are conics at the section's own parameters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.model import Web, WebEnd
from pipeline.elements.passage import OUTWARD, names
from pipeline.elements.surfaces import Cut, Sweep
from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.sections import halves, split_along

Array = NDArray[np.float64]

SHARPEST_RAD = math.pi / 2
"""Turn at the crown over which no sheet is folded: the two sides are then panels of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bending:
    """How a hole's head is bent over: its sheet and cover, and what begins and ends it.

    Attributes
    ----------
    near
        Imagined plane the rulings begin on, the web on its positive side, and what stands there.
    far
        Those they end on, the nearest at every ruling.
    offer
        What to write in the scene for a print in its place.
    """

    sheet: SurfaceSheet
    cover: str | None
    near: WebEnd
    far: tuple[WebEnd, ...]
    offer: str


def barrel_ids(cut: Cut) -> tuple[str, str]:
    """Return the part ids over the right and over the left half of a head: one part, or two where it is too sharp."""
    whole = names(cut)["ceiling"]
    return (f"{whole}-right", f"{whole}-left") if _turn(cut) > SHARPEST_RAD else (whole, whole)


def _turn(cut: Cut) -> float:
    """Return by how much a head turns at its crown, radians."""
    section = halves(_section(cut))
    before = next(curve for curve in reversed(section) if _middle(curve) > 0)
    after = next(curve for curve in section if _middle(curve) < 0)
    one, other = curves.tangent(before, 1.0), curves.tangent(after, 0.0)
    return math.acos(float(np.clip(one @ other / np.linalg.norm(one) / np.linalg.norm(other), -1.0, 1.0)))


def bend_over(cut: Cut, hall: Hall, bending: Bending) -> tuple[Web, ...]:
    """Return the webs over a hole's curved head, the right one first where there are two."""
    ids, sides = barrel_ids(cut), names(cut)
    right = WebEnd(plane=_springing_plane(cut, hall), against=sides["right"])
    left = WebEnd(plane=right.plane, against=sides["left"])
    if ids[0] == ids[1]:
        return (_web(ids[0], cut, hall, bending, (right, left)),)
    frame = imagined_from_section(cut, hall)
    x, y, z = (float(value) for value in frame[:3, 0])
    middle = float(frame[:3, 0] @ frame[:3, 3])
    beside_left = WebEnd(plane=(x, y, z, -middle), against=ids[1])
    beside_right = WebEnd(plane=(-x, -y, -z, middle), against=ids[0])
    both = (
        _web(ids[0], cut, hall, bending, (right, beside_left)),
        _web(ids[1], cut, hall, bending, (beside_right, left)),
    )
    return tuple(_half(web, 1.0 if web.id == ids[0] else -1.0) for web in both)


def _half(web: Web, side: float) -> Web:
    """Return what of a web lies on one side of its crown, +1 right."""
    kept = [k for k, curve in enumerate(web.section) if side * _middle(curve) > 0]

    def those(path: Path) -> Path:
        return tuple(path[k] for k in kept)

    return replace(
        web,
        near=those(web.near),
        far=those(web.far),
        section=those(web.section),
        near_ends=tuple(web.near_ends[k] for k in kept),
        far_ends=tuple(web.far_ends[k] for k in kept),
    )


def sweep_over(cut: Cut, hall: Hall, hosts: frozenset[str], against: frozenset[str]) -> Sweep:
    """Return how edges are cut that lie along the rulings over a hole."""
    host = hall.imagined_from_host(cut.host)
    return Sweep(hosts=hosts, against=against, way=np.array(OUTWARD[cut.host]), across=host[:3, :2].T.copy())


def imagined_from_section(cut: Cut, hall: Hall) -> Array:
    """Return the ``(4, 4)`` matrix from (a, z, u, 1), u outward from the wall's visible face."""
    host = hall.imagined_from_host(cut.host)
    out = np.zeros((4, 4))
    out[:3, 0], out[:3, 1], out[:3, 2] = host[:3, 0], host[:3, 1], np.array(OUTWARD[cut.host])
    out[:3, 3] = host[:3, 2] + _centre(cut) * host[:3, 0]
    out[3, 3] = 1.0
    return out


def _centre(cut: Cut) -> float:
    return float((cut.head[0].start[0] + cut.head[-1].end[0]) / 2)


def _section(cut: Cut) -> Path:
    shift = np.array([[1.0, 0.0, -_centre(cut)], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    return curves.transform_path(cut.head, shift)


def _middle(curve: Curve) -> float:
    return float(curves.evaluate(curve, 0.5)[0, 0])


def _springing_plane(cut: Cut, hall: Hall) -> tuple[float, float, float, float]:
    return (0.0, 0.0, 1.0, -(hall.imagined_from_host(cut.host)[2, 2] + cut.springing))


def _web(part: str, cut: Cut, hall: Hall, bending: Bending, ends: tuple[WebEnd, WebEnd]) -> Web:
    frame, whole = imagined_from_section(cut, hall), halves(_section(cut))
    begins = _reach(bending.near.plane, frame)
    stops = [_reach(end.plane, frame) for end in bending.far]
    pieces = split_along(whole, [one - other for one, other in combinations(stops, 2)])
    nearest = [int(np.argmin([stop @ _place(curve) for stop in stops])) for curve in pieces]
    return Web(
        id=part,
        near=tuple(curves.transform(curve, _lift(frame, begins)) for curve in pieces),
        far=tuple(curves.transform(c, _lift(frame, stops[k])) for c, k in zip(pieces, nearest, strict=True)),
        section=pieces,
        barrel=whole,
        imagined_from_section=frame,
        near_ends=(bending.near,) * len(pieces),
        far_ends=tuple(bending.far[k] for k in nearest),
        ends=ends,
        sheet=bending.sheet,
        printed=False,
        cover=bending.cover,
        extent=max(float(stop @ _place(curve, t)) for stop in stops for curve in pieces for t in (0.0, 1.0)),
        hidden_below=None,
        path=cut.path,
        offer=bending.offer,
    )


def _reach(plane: tuple[float, float, float, float], frame: Array) -> Array:
    """Return ``(3,)`` u on (a, z, 1)."""
    values = np.array(plane) @ frame
    out: Array = -values[[0, 1, 3]] / values[2]
    return out


def _lift(frame: Array, reach: Array) -> Array:
    """Return the ``(4, 3)`` matrix from (a, z, 1) to the imagined points the rulings reach."""
    out: Array = frame[:, [0, 1, 3]] + np.outer(frame[:, 2], reach)
    return out


def _place(curve: Curve, t: float = 0.5) -> Array:
    return np.array([*curves.evaluate(curve, t)[0], 1.0])
