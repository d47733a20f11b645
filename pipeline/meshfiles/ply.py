"""PLY, text and binary of either byte order.

G. Turk, *The PLY Polygon File Format* (1994): a header names elements and their properties, then the values follow.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.polygons import cut_faces
from pipeline.meshfiles.model import MOST_TRIANGLES, MeshFile, MeshFileError, checked_mesh, refuse_too_many

Indices = NDArray[np.int64]

TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"), **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"), **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"), **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"), **dict.fromkeys(("double", "float64"), "f8"),
}  # fmt: skip
LETTERS = {"i1": "b", "u1": "B", "i2": "h", "u2": "H", "i4": "i", "u4": "I", "f4": "f", "f8": "d"}
LONGEST_HEADER = 65536
ORDERS = {"binary_little_endian": "<", "binary_big_endian": ">", "ascii": ""}
MOST_CORNERS = 100_000
"""Of one face; beyond it a file is broken."""
MOST_ROWS = 3 * MOST_TRIANGLES
"""Of an element read row by row; as many points as separate facets have."""


@dataclass(frozen=True, slots=True)
class Property:
    """A value of an element: its name and type, and of a list the type of its length."""

    name: str
    kind: str
    length: str = ""


@dataclass(frozen=True, slots=True)
class Element:
    """Rows of the file."""

    name: str
    count: int
    properties: tuple[Property, ...]

    def place(self, *names: str) -> int:
        """Return the index of the first property of one of these names.

        Raises
        ------
        MeshFileError
            If it has none.
        """
        found = [n for n, p in enumerate(self.properties) if p.name in names]
        if not found:
            raise MeshFileError(f"its element {self.name} has no {' or '.join(names)}")
        return found[0]


Row = list[float | list[float]]


def read_ply(data: bytes) -> MeshFile:
    """Return the faces of a PLY file, cut into triangles.

    Raises
    ------
    MeshFileError
        If the header is broken, the file cut off, or there is no face.
    """
    order, elements, start = _header(data)
    points, faces = np.zeros((0, 3)), None
    for element in elements:
        if element.name == "vertex":
            columns = [element.place(axis) for axis in "xyz"]
            if any(element.properties[column].length for column in columns):
                raise MeshFileError("a coordinate of its vertices is a list")
        if element.name == "vertex" and order and not any(p.length for p in element.properties):
            table, start = _table(data, start, element, order)
            points = np.column_stack([table[f"{column}"].astype(np.float64) for column in columns])
        elif element.name == "vertex":
            rows, start = _rows(data, start, element, order)
            points = np.array([[row[column] for column in columns] for row in rows], dtype=np.float64).reshape(-1, 3)
        elif element.name == "face":
            refuse_too_many(element.count)
            faces, start = _faces(data, start, element, order)
        else:
            _, start = _rows(data, start, element, order)
    if faces is None or len(faces[1]) == 0:
        raise MeshFileError("it holds no faces (points and strips alone are not read)")
    corners, counts = faces
    if counts.min() < 3:
        raise MeshFileError(f"face {int(np.argmin(counts)) + 1} has {counts.min()} corners; it needs three or more")
    refuse_too_many(int(counts.sum() - 2 * len(counts)))
    if corners.min() < 0 or corners.max() >= len(points):
        raise MeshFileError(f"a face names a vertex that is not there; it has {len(points):,}")
    return MeshFile(mesh=checked_mesh(points, cut_faces(points, corners, counts)), up="z")


def _header(data: bytes) -> tuple[str, list[Element], int]:
    """Return the byte order (empty for text), the elements, and where the values begin."""
    end = data.find(b"end_header", 0, LONGEST_HEADER)
    newline = data.find(b"\n", end)
    if end < 0 or newline < 0:
        raise MeshFileError("its header has no end: it is cut off, or no PLY")
    order, elements = None, []
    for line in data[:end].decode("ascii", "replace").splitlines()[1:]:
        words = line.split()
        if words[:1] == ["format"] and len(words) == 3:
            order = ORDERS.get(words[1])
        elif words[:1] == ["element"] and len(words) == 3 and words[2].isascii() and words[2].isdigit():
            elements.append(Element(words[1], int(words[2][:18]), ()))
        elif words[:1] == ["property"] and elements:
            last = elements.pop()
            elements.append(Element(last.name, last.count, (*last.properties, _property(words, line))))
        elif words and words[0] not in ("comment", "obj_info"):
            raise MeshFileError(f"its header has a line that is none of PLY: {line[:60]!r}")
    if order is None:
        raise MeshFileError("its header names no format that is read: ascii or binary, 1.0")
    if any(not element.properties for element in elements if element.count):
        raise MeshFileError("its header names an element without properties")
    return order, elements, newline + 1


def _property(words: list[str], line: str) -> Property:
    kinds = words[2:4] if words[1:2] == ["list"] else words[1:2]
    if (
        not kinds
        or any(kind not in TYPES for kind in kinds)
        or len(words) != len(kinds) + (3 if len(kinds) == 2 else 2)
    ):
        raise MeshFileError(f"its header has a property that is none of PLY: {line[:60]!r}")
    return Property(words[-1], TYPES[kinds[-1]], TYPES[kinds[0]] if len(kinds) == 2 else "")


def _cut_off(element: Element) -> MeshFileError:
    return MeshFileError(f"it ends before its {element.count:,} rows of {element.name} do: it is cut off")


def _table(data: bytes, start: int, element: Element, order: str) -> tuple[NDArray[np.void], int]:
    """Return a binary element without lists; its columns are named by number."""
    dtype = np.dtype([(f"{n}", order + p.kind) for n, p in enumerate(element.properties)])
    end = start + dtype.itemsize * element.count
    if end > len(data):
        raise _cut_off(element)
    return np.frombuffer(data, dtype=dtype, count=element.count, offset=start), end


def _faces(data: bytes, start: int, element: Element, order: str) -> tuple[tuple[Indices, Indices], int]:
    """Return (all corners, how many of each face), and where the next element begins."""
    column = element.place("vertex_indices", "vertex_index")
    if not element.properties[column].length:
        raise MeshFileError("the vertex indices of its faces are no list")
    quick = _all_triangles(data, start, element, order) if order else None
    if quick is not None:
        return quick
    rows, start = _rows(data, start, element, order)
    lists = [one for row in rows if isinstance(one := row[column], list)]
    counts = np.array([len(one) for one in lists], dtype=np.int64)
    given = np.array([index for one in lists for index in one], dtype=np.float64)
    if not (np.abs(given) < 2**31).all() or (given % 1).any():
        raise MeshFileError("a face names a vertex by what is no whole number")
    return (given.astype(np.int64), counts), start


def _all_triangles(data: bytes, start: int, element: Element, order: str) -> tuple[tuple[Indices, Indices], int] | None:
    """Return the faces at once where the list of corners is the only one, and every one is of three."""
    if sum(bool(p.length) for p in element.properties) != 1:
        return None
    fields: list[tuple[str, str] | tuple[str, str, int]] = []
    for n, p in enumerate(element.properties):
        fields += (
            [("length", order + p.length), ("list", order + p.kind, 3)] if p.length else [(f"{n}", order + p.kind)]
        )
    dtype = np.dtype(fields)
    end = start + dtype.itemsize * element.count
    if end > len(data):
        return None
    table = np.frombuffer(data, dtype=dtype, count=element.count, offset=start)
    if not (table["length"] == 3).all():
        return None
    return (table["list"].astype(np.int64).ravel(), np.full(element.count, 3, dtype=np.int64)), end


def _rows(data: bytes, start: int, element: Element, order: str) -> tuple[list[Row], int]:
    """Return the rows of any element one by one, and where the next begins."""
    if element.count > MOST_ROWS:
        raise MeshFileError(f"it has {element.count:,} rows of {element.name}, more than {MOST_ROWS:,}")
    read = _binary_row(data, element, order) if order else _text_row(data, element)
    rows: list[Row] = []
    for _ in range(element.count):
        try:
            row, start = read(start)
        except (struct.error, IndexError):
            raise _cut_off(element) from None
        except ValueError:
            raise MeshFileError(f"row {len(rows) + 1} of its {element.name} has a value that is none") from None
        rows.append(row)
    return rows, start


def _text_row(data: bytes, element: Element) -> Callable[[int], tuple[Row, int]]:
    def read(start: int) -> tuple[Row, int]:
        if start >= len(data):
            raise IndexError
        end = data.find(b"\n", start)
        end = len(data) if end < 0 else end
        words, at = data[start:end].split(), 0
        row: Row = []
        for p in element.properties:
            if p.length:
                count = _length(float(words[at]))
                if at + count >= len(words):
                    raise IndexError
                row.append([float(word) for word in words[at + 1 : at + 1 + count]])
                at += 1 + count
            else:
                row.append(float(words[at]))
                at += 1
        return row, end + 1

    return read


def _binary_row(data: bytes, element: Element, order: str) -> Callable[[int], tuple[Row, int]]:
    def read(start: int) -> tuple[Row, int]:
        row: Row = []
        for p in element.properties:
            if p.length:
                count = _length(struct.unpack_from(order + LETTERS[p.length], data, start)[0])
                start += struct.calcsize(LETTERS[p.length])
                row.append(list(struct.unpack_from(f"{order}{count}{LETTERS[p.kind]}", data, start)))
                start += count * struct.calcsize(LETTERS[p.kind])
            else:
                row.append(struct.unpack_from(order + LETTERS[p.kind], data, start)[0])
                start += struct.calcsize(LETTERS[p.kind])
        return row, start

    return read


def _length(value: float) -> int:
    if not 0 <= value <= MOST_CORNERS or value != int(value):
        raise ValueError
    return int(value)
