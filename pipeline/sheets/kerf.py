"""The cut's own width taken into account: every contour is moved by half of it, away from the part.

Outer contours grow and holes shrink, so that what is left after the cut is the nominal part. Lines and arcs stay lines
and arcs, corners stay sharp: neighbouring pieces are drawn out or cut back to where they meet.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry import curves
from pipeline.geometry.arcs import fit_path
from pipeline.geometry.curves import Path

JOINED = 1e-6
"""mm; nearer ends are one point."""

CUSP = 0.05
"""Sine; pieces that run back so nearly turn by the side their middles lay on: fitted arcs cross by a micron there."""
SMOOTH = 1e-6
"""Sine; pieces that run on turn no less."""


class KerfError(ValueError):
    """A feature is narrower than the cut."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A line, or an arc about ``centre`` (``turn`` +1 counter-clockwise, -1 clockwise, 0 for a line)."""

    start: complex
    end: complex
    turn: int = 0
    centre: complex = 0j
    radius: float = 0.0


def widen(path: Path, by: float, tolerance: float) -> Path:
    """Return a closed path moved to its right: outward of a counter-clockwise outline, inward of a clockwise hole.

    Parameters
    ----------
    path
        Closed, the part on its left, mm.
    by
        Half the kerf, mm; 0 returns the path as it is.
    tolerance
        Of the arcs fitted to conics, mm.

    Raises
    ------
    KerfError
        If a curve, an edge, a slot or a neck is smaller than the cut.
    """
    if by == 0.0:
        return path
    try:
        out = _moved(path, by, tolerance)
    except KerfError as error:
        raise _told(path, by, tolerance, str(error)) from None
    outline = shapely.Polygon(curves.flatten_path(out, tolerance))
    turned = curves.signed_area(out) * curves.signed_area(path) <= 0
    if turned or not outline.is_valid:
        raise _told(path, by, tolerance, f"a slot or a neck is narrower than the cut of {2 * by:.3g} mm")
    return out


def _moved(path: Path, by: float, tolerance: float) -> Path:
    pieces, corners = _joined([_shift(piece, by) for piece in _pieces(path, tolerance)], by)
    out: list[curves.Curve] = []
    for piece, (_, start), (end, following) in zip(pieces, corners[-1:] + corners[:-1], corners, strict=True):
        out += _curves(piece, start, end)
        if abs(end - following) > JOINED:
            out.append(curves.line(_xy(end), _xy(following)))
    return tuple(out)


def _told(path: Path, by: float, tolerance: float, otherwise: str) -> KerfError:
    """Return what is too narrow for a cut, and where: of all that is to be cut away the largest part it cannot reach.

    A round cut reaches what is left of it moved in by half its width and out again.
    """
    inside = shapely.Polygon(curves.flatten_path(path, tolerance)).buffer(0)
    hole = curves.signed_area(path) < 0
    waste = inside if hole else shapely.box(*inside.buffer(4 * by, join_style="mitre").bounds) - inside
    reached = waste.buffer(-by)
    missed = [part for part in shapely.get_parts(waste - reached.buffer(by + tolerance)) if part.area > 0]
    if not missed:
        return KerfError(otherwise)
    narrow = f"narrower than the cut of {2 * by:.3g} mm"
    if hole and reached.is_empty:
        corners = np.asarray(shapely.minimum_rotated_rectangle(inside).exterior.coords)[:3]
        width, length = sorted(np.linalg.norm(np.diff(corners, axis=0), axis=1).tolist())
        return KerfError(f"the hole of {width:.2g} x {length:.1f} mm at {_place(inside.centroid)} is {narrow}")
    spot = shapely.maximum_inscribed_circle(max(missed, key=shapely.area), tolerance=by / 50)
    return KerfError(f"a gap of {2 * spot.length:.2g} mm at {_place(shapely.get_point(spot, 0))} is {narrow}")


def _place(point: shapely.Point) -> str:
    return f"({round(point.x, 1) + 0.0:.1f}, {round(point.y, 1) + 0.0:.1f}) on its drawing"


def _joined(pieces: list[_Piece], by: float) -> tuple[list[_Piece], list[tuple[complex, complex]]]:
    """Return the moved pieces that are left, and the corner after each.

    In a notch that narrows to nothing, as between two vault cells, the moved sides meet before its last pieces begin;
    these are used up, since the cut cannot go where it has no room, and the sides before them meet instead. Sides that
    never meet are those of a slot, which is refused.

    Raises
    ------
    KerfError
        If a slot is narrower than the cut, or nothing is left.
    """
    corners = [_corner(a, b, by) for a, b in zip(pieces, pieces[1:] + pieces[:1], strict=True)]
    used_up: _Piece | None = None
    while True:
        spans = zip(pieces, corners[-1:] + corners[:-1], corners, strict=True)
        gone = next((i for i, (one, (_, start), (end, _)) in enumerate(spans) if _turned_back(one, start, end)), None)
        if gone is None:
            return pieces, corners
        used_up = used_up or pieces[gone]
        left = [*pieces[:gone], *pieces[gone + 1 :]]
        if len(left) < 3:
            break
        before, after = left[gone - 1], left[gone % len(left)]
        met = _crossing(before, after)
        if met is None:
            break
        corners = [*corners[:gone], *corners[gone + 1 :]]
        corners[gone - 1] = (met, met)
        pieces = left
    size = abs(used_up.end - used_up.start)
    raise KerfError(f"an edge of {size:.3g} mm is shorter than the cut of {2 * by:.3g} mm leaves room for")


def _turned_back(piece: _Piece, start: complex, end: complex) -> bool:
    """Return whether a piece between new ends would run against its own way."""
    if abs(end - start) <= JOINED:
        return False
    if piece.turn == 0:
        return ((end - start) * (piece.end - piece.start).conjugate()).real < 0
    own = cmath.phase((piece.end - piece.centre) / (piece.start - piece.centre)) * piece.turn % (2 * math.pi)
    swept = cmath.phase((end - piece.centre) / (start - piece.centre)) * piece.turn
    # Of all angles that lead from start to end, the one nearest to the piece's own.
    return own + (swept - own + math.pi) % (2 * math.pi) - math.pi < 0


def _pieces(path: Path, tolerance: float) -> list[_Piece]:
    rows = fit_path(path, tolerance).points.tolist()
    pieces = []
    for (x, y, bulge), (u, v, _) in zip(rows, rows[1:] + rows[:1], strict=True):
        start, end = complex(x, y), complex(u, v)
        if bulge == 0:
            pieces.append(_Piece(start, end))
            continue
        half = 2 * math.atan(bulge)
        centre = (start + end) / 2 + (end - start) * 0.5j / math.tan(half)
        pieces.append(_Piece(start, end, 1 if bulge > 0 else -1, centre, abs(start - centre)))
    return pieces


def _shift(piece: _Piece, by: float) -> _Piece:
    if piece.turn == 0:
        right = -1j * (piece.end - piece.start) / abs(piece.end - piece.start)
        return _Piece(piece.start + by * right, piece.end + by * right)
    radius = piece.radius + piece.turn * by
    if radius <= JOINED:
        raise KerfError(f"a curve of radius {piece.radius:.3g} mm is narrower than the cut of {2 * by:.3g} mm")
    grown = radius / piece.radius
    start, end = (piece.centre + (z - piece.centre) * grown for z in (piece.start, piece.end))
    return _Piece(start, end, piece.turn, piece.centre, radius)


def _corner(a: _Piece, b: _Piece, by: float) -> tuple[complex, complex]:
    """Return where a piece ends and the next starts: where they meet, or their own ends where they do not.

    Round a left turn the moved pieces part and are drawn out, round a right turn they cross and are cut back.
    """
    if abs(a.end - b.start) <= JOINED:
        return a.end, b.start
    way = _way(a, a.end)
    onward = way.conjugate() * _way(b, b.start)
    turn = onward.imag
    if abs(turn) < (CUSP if onward.real < 0 else SMOOTH):
        turn = (way.conjugate() * (_middle_before(b, by) - _middle_before(a, by))).imag
    sign = 1 if turn > 0 else -1
    near = (a.end + b.start) / 2
    met = [z for z in _meetings(a, b) if sign * ((z - a.end) * way.conjugate()).real > -JOINED]
    if not met:
        return a.end, b.start
    best = min(met, key=lambda z: abs(z - near))
    return best, best


def _crossing(a: _Piece, b: _Piece) -> complex | None:
    """Return where two pieces cross, before the end of the first and after the start of the second, or nothing."""
    back, on = _way(a, a.end).conjugate(), _way(b, b.start).conjugate()
    met = [z for z in _meetings(a, b) if ((z - a.end) * back).real < JOINED and ((z - b.start) * on).real > -JOINED]
    return min(met, key=lambda z: abs(z - (a.end + b.start) / 2), default=None)


def _way(piece: _Piece, at: complex) -> complex:
    """Return the unit direction of travel at a point of a piece."""
    along = piece.end - piece.start if piece.turn == 0 else 1j * piece.turn * (at - piece.centre)
    return along / abs(along)


def _middle(piece: _Piece) -> complex:
    if piece.turn == 0:
        return (piece.start + piece.end) / 2
    swept = cmath.phase((piece.end - piece.centre) / (piece.start - piece.centre))
    return piece.centre + (piece.start - piece.centre) * cmath.exp(0.5j * swept)


def _middle_before(piece: _Piece, by: float) -> complex:
    """Return where the middle of a piece was before it was moved to its right."""
    middle = _middle(piece)
    return middle + 1j * by * _way(piece, middle)


def _meetings(a: _Piece, b: _Piece) -> list[complex]:
    if a.turn == 0 and b.turn == 0:
        way, other = a.end - a.start, b.end - b.start
        across = (way.conjugate() * other).imag
        if abs(across) < 1e-12 * abs(way) * abs(other):
            return []
        t = ((b.start - a.start).conjugate() * other).imag / across
        return [a.start + t * way]
    if a.turn == 0:
        return _line_circle(a, b)
    if b.turn == 0:
        return _line_circle(b, a)
    apart = b.centre - a.centre
    distance = abs(apart)
    if distance < JOINED:
        return []
    along = (distance**2 + a.radius**2 - b.radius**2) / (2 * distance)
    under = a.radius**2 - along**2
    if under < 0:
        return []
    unit = apart / distance
    return [a.centre + unit * complex(along, side * math.sqrt(under)) for side in (1, -1)]


def _line_circle(line: _Piece, arc: _Piece) -> list[complex]:
    unit = (line.end - line.start) / abs(line.end - line.start)
    foot = ((arc.centre - line.start) * unit.conjugate()).real
    away = ((arc.centre - line.start) * unit.conjugate()).imag
    under = arc.radius**2 - away**2
    if under < 0:
        return []
    return [line.start + unit * (foot + side * math.sqrt(under)) for side in (1, -1)]


def _curves(piece: _Piece, start: complex, end: complex) -> list[curves.Curve]:
    """Return a moved piece between its new ends."""
    if abs(end - start) <= JOINED:
        return []
    if piece.turn == 0:
        return [curves.line(_xy(start), _xy(end))]
    first = cmath.phase(start - piece.centre)
    swept = (cmath.phase((end - piece.centre) / (start - piece.centre)) * piece.turn) % (2 * math.pi)
    return list(curves.arc(_xy(piece.centre), piece.radius, first, first + piece.turn * swept))


def _xy(z: complex) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.array([z.real, z.imag])
