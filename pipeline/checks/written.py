"""Written files read back, without a line of the code that wrote them.

The DXF reader knows group codes only, the STL reader bytes only; both follow the published formats.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

STL_HEAD, STL_TRIANGLE = 84, 50


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrittenPolyline:
    """An LWPOLYLINE, or a POLYLINE of R12: ``(n, 3)`` x, y, bulge of each vertex."""

    points: Array
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrittenSpline:
    """A SPLINE: degree, flags of group 70, knots ``(n + degree + 1,)``, weights ``(n,)``, control ``(n, 2)``."""

    degree: int
    flags: int
    knots: Array
    weights: Array
    control: Array

    @property
    def closed(self) -> bool:
        """Whether the file says that it is closed."""
        return bool(self.flags & 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrittenText:
    """A TEXT: place, letter height and words."""

    at: tuple[float, float]
    height: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrittenLayer:
    """What stands on one layer; ``lines`` ``(n, 2, 2)``, ``true_colour`` 0xrrggbb or none."""

    polylines: tuple[WrittenPolyline, ...] = ()
    splines: tuple[WrittenSpline, ...] = ()
    lines: Array = field(default_factory=lambda: np.zeros((0, 2, 2)))
    texts: tuple[WrittenText, ...] = ()
    true_colour: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrittenDrawing:
    """A DXF file: its layers (every one defined or used) and the two header variables of units."""

    layers: dict[str, WrittenLayer]
    insunits: int | None
    measurement: int | None


@dataclass(frozen=True, slots=True, eq=False)
class _Tags:
    """A run of tags: group codes ``(n,)`` and where each value's text starts and ends in the file."""

    data: bytes
    codes: Indices
    begins: Indices
    ends: Indices

    def part(self, first: int, last: int) -> _Tags:
        """Return the tags from ``first`` up to ``last``."""
        return _Tags(self.data, self.codes[first:last], self.begins[first:last], self.ends[first:last])

    def raw(self, where: Indices) -> list[bytes]:
        """Return the values at the places."""
        data = self.data
        return [data[a:b] for a, b in zip(self.begins[where].tolist(), self.ends[where].tolist(), strict=True)]

    def of(self, code: int) -> list[bytes]:
        """Return every value of a group code."""
        return self.raw(np.flatnonzero(self.codes == code))

    def numbers(self, code: int) -> Array:
        """Return every value of a group code as numbers."""
        return np.array([float(value) for value in self.of(code)])

    def one(self, code: int, otherwise: bytes | None = None) -> bytes:
        """Return the first value of a group code."""
        values = self.of(code)
        if values:
            return values[0].strip()
        if otherwise is None:
            raise ValueError(f"a record without group {code}")
        return otherwise

    def records(self) -> list[tuple[bytes, _Tags]]:
        """Return (kind, tags) of everything a group 0 begins."""
        starts = np.flatnonzero(self.codes == 0)
        kinds = [kind.strip() for kind in self.raw(starts)]
        bounds = [*starts.tolist(), len(self.codes)]
        return [(kind, self.part(a, b)) for kind, a, b in zip(kinds, bounds[:-1], bounds[1:], strict=True)]


def read_dxf(data: bytes) -> WrittenDrawing:
    """Return what a DXF file says in its ENTITIES section and of its layers and units.

    Raises
    ------
    ValueError
        If the bytes are not group codes and values, or an entity is of another kind or incomplete.
    """
    tags = _split(data)
    sections = _sections(tags)
    header = sections.get(b"HEADER", tags.part(0, 0))
    layers = _layer_colours(sections.get(b"TABLES", tags.part(0, 0)))
    parts = _entities(sections.get(b"ENTITIES", tags.part(0, 0)))
    return WrittenDrawing(
        layers={
            name: WrittenLayer(
                polylines=tuple(thing for at, thing in parts.polylines if at == name),
                splines=tuple(thing for at, thing in parts.splines if at == name),
                texts=tuple(thing for at, thing in parts.texts if at == name),
                lines=parts.lines.get(name, np.zeros((0, 2, 2))),
                true_colour=layers.get(name),
            )
            for name in dict.fromkeys([*layers, *parts.names])
        },
        insunits=_variable(header, b"$INSUNITS"),
        measurement=_variable(header, b"$MEASUREMENT"),
    )


def _split(data: bytes) -> _Tags:
    """Return the tags of a file: lines in pairs, the first of each a whole number of up to four digits."""
    data = data.replace(b"\r\n", b"\n")
    if not data.endswith(b"\n"):
        data += b"\n"
    text = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(text == 10)
    if len(ends) % 2:
        raise ValueError("a group code without a value")
    begins = np.concatenate([[0], ends[:-1] + 1])
    codes = np.zeros(len(ends) // 2, dtype=np.int64)
    for place in range(4):
        at = ends[0::2] - 1 - place
        inside = at >= begins[0::2]
        letter = text[np.maximum(at, 0)]
        digit = inside & (letter >= 48) & (letter <= 57)
        if (inside & ~digit & (letter != 32)).any() or (place == 0 and not digit.all()):
            raise ValueError("a group code that is not a number")
        codes += np.where(digit, letter.astype(np.int64) - 48, 0) * 10**place
    return _Tags(data, codes, begins[1::2], ends[1::2])


def _sections(tags: _Tags) -> dict[bytes, _Tags]:
    """Return the content of every section by name."""
    zeros = np.flatnonzero(tags.codes == 0)
    kinds = tags.raw(zeros)
    if not kinds or kinds[-1].strip() != b"EOF":
        raise ValueError("a DXF file that does not end in EOF")
    out: dict[bytes, _Tags] = {}
    opened: tuple[bytes, int] | None = None
    for at, kind in zip(zeros.tolist(), kinds, strict=True):
        if kind == b"SECTION":
            opened = (tags.part(at, at + 2).one(2), at + 2)
        elif kind == b"ENDSEC" and opened is not None:
            out[opened[0]] = tags.part(opened[1], at)
            opened = None
    return out


def _variable(header: _Tags, name: bytes) -> int | None:
    names = np.flatnonzero(header.codes == 9)
    for at, found in zip(names.tolist(), header.raw(names), strict=True):
        if found.strip() == name:
            return int(header.raw(np.array([at + 1]))[0])
    return None


def _layer_colours(tables: _Tags) -> dict[str, int | None]:
    """Return the layers the file defines, and their true colours."""
    layers = [tags for kind, tags in tables.records() if kind == b"LAYER"]
    return {tags.one(2).decode(): int(tags.one(420)) if (tags.codes == 420).any() else None for tags in layers}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """All entities, each with its layer."""

    polylines: list[tuple[str, WrittenPolyline]]
    splines: list[tuple[str, WrittenSpline]]
    texts: list[tuple[str, WrittenText]]
    lines: dict[str, Array]

    @property
    def names(self) -> list[str]:
        """Layers used, in order."""
        return [name for name, _ in [*self.polylines, *self.splines, *self.texts]] + list(self.lines)


def _entities(tags: _Tags) -> _Parts:
    starts = np.flatnonzero(tags.codes == 0)
    kinds = np.array(tags.raw(starts), dtype=np.bytes_)
    bounds = np.append(starts, len(tags.codes))
    parts = _Parts(polylines=[], splines=[], texts=[], lines=_lines(tags, kinds == b"LINE", bounds))
    ends = np.flatnonzero(kinds == b"SEQEND")
    for i in np.flatnonzero(~np.isin(kinds, (b"LINE", b"VERTEX", b"SEQEND"))).tolist():
        entity = tags.part(int(bounds[i]), int(bounds[i + 1]))
        layer = entity.one(8).decode()
        if kinds[i] == b"POLYLINE":
            last = int(ends[np.searchsorted(ends, i)]) if len(ends) and ends[-1] > i else -1
            if last < 0 or (kinds[i + 1 : last] != b"VERTEX").any():
                raise ValueError("a POLYLINE that does not end in SEQEND")
            parts.polylines.append((layer, _old_polyline(entity, tags.part(int(bounds[i + 1]), int(bounds[last])))))
        elif kinds[i] == b"LWPOLYLINE":
            parts.polylines.append((layer, _polyline(entity)))
        elif kinds[i] == b"SPLINE":
            parts.splines.append((layer, _spline(entity)))
        elif kinds[i] == b"TEXT":
            parts.texts.append((layer, _text(entity)))
        else:
            raise ValueError(f"an entity this reader does not know: {kinds[i].decode('ascii', 'replace')!r}")
    return parts


def _lines(tags: _Tags, wanted: NDArray[np.bool_], bounds: Indices) -> dict[str, Array]:
    """Return ``(n, 2, 2)`` lines of each layer, all LINE entities at once."""
    count = int(wanted.sum())
    if not count:
        return {}
    inside = np.repeat(wanted, np.diff(bounds))
    columns = []
    for code in (8, 10, 20, 11, 21):
        where = np.flatnonzero(inside & (tags.codes == code))
        if len(where) != count:
            raise ValueError(f"LINE entities with more or less than one group {code}")
        columns.append(tags.raw(where))
    names = np.array(columns[0], dtype=np.bytes_)
    ends = np.array([list(map(float, column)) for column in columns[1:]]).T.reshape(-1, 2, 2)
    found, first = np.unique(names, return_index=True)
    return {name.decode(): ends[names == name] for name in found[np.argsort(first)].tolist()}


def _polyline(entity: _Tags) -> WrittenPolyline:
    points = _vertices(entity)
    if len(points) != int(entity.one(90)):
        raise ValueError("an LWPOLYLINE whose number of vertices is not what it says")
    return WrittenPolyline(points=points, closed=bool(int(entity.one(70, b"0")) & 1))


def _old_polyline(entity: _Tags, vertices: _Tags) -> WrittenPolyline:
    return WrittenPolyline(points=_vertices(vertices), closed=bool(int(entity.one(70, b"0")) & 1))


def _vertices(tags: _Tags) -> Array:
    """Return ``(n, 3)`` x, y, bulge; a bulge belongs to the vertex whose group 10 comes last before it."""
    x, y = tags.numbers(10), tags.numbers(20)
    if len(x) != len(y):
        raise ValueError("a vertex without x or y")
    bulges = np.zeros(len(x))
    bulges[np.cumsum(tags.codes == 10)[tags.codes == 42] - 1] = tags.numbers(42)
    return np.column_stack([x, y, bulges])


def _spline(entity: _Tags) -> WrittenSpline:
    control = np.column_stack([entity.numbers(10), entity.numbers(20)])
    degree, knots, weights = int(entity.one(71)), entity.numbers(40), entity.numbers(41)
    if len(knots) != int(entity.one(72)) or len(control) != int(entity.one(73)):
        raise ValueError("a SPLINE whose number of knots or control points is not what it says")
    if len(knots) != len(control) + degree + 1 or len(weights) not in (0, len(control)):
        raise ValueError("a SPLINE whose knots, weights and control points do not fit each other")
    flags = int(entity.one(70))
    whole = weights if len(weights) else np.ones(len(control))
    return WrittenSpline(degree=degree, flags=flags, knots=knots, weights=whole, control=control)


def _text(entity: _Tags) -> WrittenText:
    at = (float(entity.one(10)), float(entity.one(20)))
    return WrittenText(at=at, height=float(entity.one(40)), text=entity.of(1)[0].decode())


def polyline_points(polyline: WrittenPolyline, tolerance: float) -> Array:
    """Return ``(n, 2)`` points along a polyline whose chords stay within ``tolerance``, the last vertex included.

    A closed one ends where it starts. The arc of bulge b over a chord from 0 to 1 is the circle about
    (1/2, (1 - b^2) / (4 b)), run through the angle 4 atan(b).
    """
    rows = polyline.points
    rows = np.vstack([rows, rows[:1]]) if polyline.closed else rows
    points: list[list[float]] = rows[:1, :2].tolist()
    for (x0, y0, bulge), (x1, y1, _) in zip(rows[:-1].tolist(), rows[1:].tolist(), strict=True):
        if abs(bulge) * math.hypot(x1 - x0, y1 - y0) / 2 <= tolerance:
            points.append([x1, y1])
            continue
        away = np.array([0.5, (1 - bulge**2) / (4 * bulge)])
        along = np.array([[x1 - x0, y1 - y0], [y0 - y1, x1 - x0]])
        turn, size = 4 * math.atan(bulge), math.hypot(*away) * math.hypot(x1 - x0, y1 - y0)
        steps = math.ceil(abs(turn) / (4 * math.asin(math.sqrt(min(1.0, tolerance / (2 * size))))))
        angles = math.atan2(-away[1], -away[0]) + np.linspace(0, turn, steps + 1)[1:]
        round_it = away + math.hypot(*away) * np.column_stack([np.cos(angles), np.sin(angles)])
        points += (np.array([x0, y0]) + round_it @ along).tolist()
        points[-1] = [x1, y1]
    return np.array(points).reshape(-1, 2)


def spline_points(spline: WrittenSpline, parameters: Array) -> Array:
    """Return the points ``(n, 2)`` of a spline at parameters within its knots (de Boor on homogeneous points)."""
    p, knots = spline.degree, spline.knots
    homogeneous = np.column_stack([spline.control * spline.weights[:, None], spline.weights])
    span = np.clip(np.searchsorted(knots, parameters, side="right") - 1, p, len(spline.control) - 1)
    work = [homogeneous[span - p + j] for j in range(p + 1)]
    for level in range(1, p + 1):
        for j in range(p, level - 1, -1):
            low, high = knots[span - p + j], knots[span + 1 + j - level]
            share = ((parameters - low) / (high - low))[:, None]
            work[j] = (1 - share) * work[j - 1] + share * work[j]
    out: Array = work[p][:, :2] / work[p][:, 2:]
    return out


def read_stl(data: bytes) -> Array:
    """Return the corners ``(n, 3, 3)`` of the triangles of a binary STL file, mm.

    Raises
    ------
    ValueError
        If the file is not as long as its count of triangles asks, or begins like a text STL.
    """
    if data[:5].lower() == b"solid":
        raise ValueError("an STL file that begins like the text form")
    count = int.from_bytes(data[80:84], "little") if len(data) >= STL_HEAD else -1
    if len(data) != STL_HEAD + STL_TRIANGLE * count:
        raise ValueError("an STL file that is not 84 + 50 n bytes long")
    rows = np.frombuffer(data, dtype=np.uint8, offset=STL_HEAD).reshape(count, STL_TRIANGLE)
    # Twelve little-endian floats: the normal, then the corners.
    floats = np.ascontiguousarray(rows[:, :48]).view("<f4").astype(np.float64)
    return floats[:, 3:].reshape(count, 3, 3)
