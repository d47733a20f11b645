"""Exact curves found again along the rings of polygons that were flattened from them and cut.

Terms
-----
sample
    A point that a curve was flattened to; cutting polygons keeps it to the last bit.
run
    Neighbouring corners of a ring that are neighbouring samples of one curve.

A run is drawn as the piece of its curve between its ends. Where a ring leaves a chord of a curve in a new corner, what
is left of that chord stays straight: it lies as near to the curve as the flattening does.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.vectors import norm

Array = NDArray[np.float64]
Samples = dict[tuple[float, float], list[tuple[int, int]]]

FEWEST = 3
"""Samples of a run worth a curve; two are a chord."""
STRAIGHT = 1e-9
"""Sine of the angle under which neighbouring sides are one."""
SAME = 7
"""Decimals, mm, to which samples are known again: the end of one curve and the start of the next differ by rounding."""


def recover_paths(shape: shapely.Geometry, known: Iterable[Curve], tolerance: float) -> tuple[Path, ...]:
    """Return the rings of a region as closed paths, outlines counter-clockwise, holes clockwise.

    Parameters
    ----------
    shape
        Polygons.
    known
        Bent curves that rings may follow.
    tolerance
        mm, with which these were flattened.
    """
    rings: list[Array] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon" and not part.is_empty:
            turned = shapely.geometry.polygon.orient(part)
            rings += [np.asarray(ring.coords)[:-1] for ring in (turned.exterior, *turned.interiors)]
    bent = list(known)
    flat = [curves.flatten(curve, tolerance) for curve in bent]
    samples = _samples(flat, rings)
    counts = [len(points) for points in flat]
    return tuple(_path(ring, bent, samples, counts) for ring in rings)


def _samples(flat: list[Array], rings: list[Array]) -> Samples:
    """Return which curves' samples lie on corners of the rings: few of them, where a region follows a part of each."""
    samples: Samples = {}
    if not flat or not rings:
        return samples
    points, corners = (np.round(np.concatenate(some), SAME) + 0.0 for some in (flat, rings))
    met = np.isin(points @ (1, 1j), corners @ (1, 1j)).nonzero()[0]
    starts = np.cumsum([0, *(len(some) for some in flat[:-1])])
    numbers = np.searchsorted(starts, met, side="right") - 1
    for key, number, k in zip(
        map(tuple, points[met].tolist()), numbers.tolist(), (met - starts[numbers]).tolist(), strict=True
    ):
        samples.setdefault(key, []).append((number, k))
    return samples


def _path(corners: Array, bent: list[Curve], samples: Samples, counts: list[int]) -> Path:
    """Return one ring as a closed path."""
    count = len(corners)
    at = [samples.get(key, []) for key in _keys(corners)]
    steps = [_step(at[k], at[(k + 1) % count]) for k in range(count)]
    start = next((k for k in range(count) if steps[k - 1] is None or not _goes_on(steps[k - 1], steps[k])), 0)
    out: list[Curve] = []
    k = 0
    while k < count:
        here = (start + k) % count
        step = steps[here]
        length = 1
        if step is not None:
            while k + length < count and _goes_on(steps[(here + length - 1) % count], steps[(here + length) % count]):
                length += 1
        if step is None or length + 1 < FEWEST:
            length = 1
            out.append(curves.line(corners[here], corners[(here + 1) % count]))
        else:
            number, first, way = step
            last = first + way * length
            whole = counts[number] - 1
            out.append(curves.piece(bent[number], first / whole, last / whole))
        k += length
    return _closed(out)


def _keys(points: Array) -> list[tuple[float, float]]:
    return [(x, y) for x, y in (np.round(points, SAME) + 0.0).tolist()]


def _step(here: list[tuple[int, int]], there: list[tuple[int, int]]) -> tuple[int, int, int] | None:
    """Return curve, sample and way of a side that is a chord of a curve."""
    for number, k in here:
        for other, following in there:
            if number == other and abs(following - k) == 1:
                return number, k, following - k
    return None


def _goes_on(one: tuple[int, int, int] | None, following: tuple[int, int, int] | None) -> bool:
    return (
        one is not None
        and following is not None
        and one[0] == following[0]
        and one[2] == following[2]
        and one[1] + one[2] == following[1]
    )


def _closed(path: list[Curve]) -> Path:
    """Return the path with straight neighbours on one line joined."""
    out: list[Curve] = []
    for curve in path:
        if out and _on_one_line(out[-1], curve):
            out[-1] = curves.line(out[-1].start, curve.end)
        else:
            out.append(curve)
    if len(out) > 3 and _on_one_line(out[-1], out[0]):
        out[0] = curves.line(out.pop().start, out[0].end)
    return tuple(out)


def _on_one_line(one: Curve, following: Curve) -> bool:
    if not (one.straight and following.straight):
        return False
    a, b = one.end - one.start, following.end - following.start
    across = abs(float(a[0] * b[1] - a[1] * b[0]))
    return across <= STRAIGHT * norm(a) * norm(b) and float(a @ b) > 0
