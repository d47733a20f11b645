"""GLB, the one-file form of glTF 2.0: the triangles of its scene, every node's matrix applied.

Khronos Group, *glTF 2.0 Specification*: metres, +y up, the front toward +z.
"""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.meshfiles.model import MeshFile, MeshFileError, checked_mesh, refuse_too_many

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

COMPONENTS = {5121: "<u1", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
WIDTHS = {"SCALAR": 1, "VEC3": 3}
TRIANGLES, STRIP, FAN = 4, 5, 6
MOST_NODES = 100_000
DEEPEST = 100
"""Levels of nodes under nodes; a deeper tree is a ring."""


def read_glb(data: bytes) -> MeshFile:
    """Return the triangles of a GLB file.

    Raises
    ------
    MeshFileError
        If it is cut off, its parts do not agree, or its data lies in other files or packed in a way not read here.
    """
    content, binary = _chunks(data)
    try:
        _refuse_unread(content)
        pieces, notes = _pieces(content, binary)
    except (KeyError, IndexError, TypeError, AttributeError, ValueError, OverflowError, RecursionError) as error:
        if isinstance(error, MeshFileError):
            raise
        raise MeshFileError(f"its JSON part is not as glTF 2.0 has it ({type(error).__name__}: {error})") from None
    if not pieces:
        raise MeshFileError("its scene holds no triangles")
    offsets = np.cumsum([0] + [len(points) for points, _ in pieces[:-1]])
    points = np.vstack([points for points, _ in pieces])
    triangles = np.vstack([rows + offset for (_, rows), offset in zip(pieces, offsets, strict=True)])
    return MeshFile(mesh=checked_mesh(points, triangles), up="y", notes=notes)


def _chunks(data: bytes) -> tuple[dict[str, Any], bytes]:
    """Return the JSON and the binary chunk."""
    if len(data) < 20 or data[:4] != b"glTF":
        raise MeshFileError("it does not begin as a GLB file does, or is cut off")
    version, length = struct.unpack_from("<2I", data, 4)
    if version != 2:
        raise MeshFileError(f"it is glTF {version}; 2 is read")
    if length > len(data):
        raise MeshFileError(f"its header says {length:,} bytes, it has {len(data):,}: it is cut off")
    at = 12
    found: dict[bytes, bytes] = {}
    while at + 8 <= length:
        size, kind = struct.unpack_from("<I4s", data, at)
        if at + 8 + size > length:
            raise MeshFileError("a chunk runs past its end: it is cut off")
        found.setdefault(kind, data[at + 8 : at + 8 + size])
        at += 8 + size
    try:
        content = json.loads(found.get(b"JSON", b""))
    except (ValueError, RecursionError):
        raise MeshFileError("its JSON part cannot be read") from None
    if not isinstance(content, dict):
        raise MeshFileError("its JSON part is no object")
    return content, found.get(b"BIN\0", b"")


def _refuse_unread(content: dict[str, Any]) -> None:
    needed = content.get("extensionsRequired", [])
    if needed:
        raise MeshFileError(f"it needs {', '.join(map(str, needed))}, which is not read; export it uncompressed")
    for buffer in content.get("buffers", []):
        if "uri" in buffer:
            raise MeshFileError("its data lies in another file; export it as one GLB with everything inside")


def _pieces(content: dict[str, Any], binary: bytes) -> tuple[list[tuple[Array, Indices]], tuple[str, ...]]:
    """Return points and triangles of every mesh of the scene, and what was passed over."""
    placed = _placed_meshes(content)
    meshes = content.get("meshes", [])
    wanted = [(p, matrix) for number, matrix in placed for p in _at(meshes, number)["primitives"]]
    total, pieces, passed = 0, [], 0
    for primitive, matrix in wanted:
        if primitive.get("mode", TRIANGLES) not in (TRIANGLES, STRIP, FAN):
            passed += 1
            continue
        points = _accessor(content, binary, primitive["attributes"]["POSITION"], "VEC3")
        order = np.arange(len(points))
        if "indices" in primitive:
            order = _accessor(content, binary, primitive["indices"], "SCALAR").ravel().astype(np.int64)
        rows = _triangles(order, primitive.get("mode", TRIANGLES))
        total += len(rows)
        refuse_too_many(total)
        if len(rows) and rows.max() >= len(points):
            raise MeshFileError(f"a triangle names a vertex that is not there; there are {len(points):,}")
        # A mirroring matrix turns a triangle's corners the other way round (glTF 2.0, 3.7.4).
        rows = rows[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else rows
        pieces.append((points @ matrix[:3, :3].T + matrix[:3, 3], rows))
    notes = [f"{passed} sets of points or lines were passed over"] if passed else []
    if content.get("skins") or any("targets" in p for p, _ in wanted):
        notes.append("it is taken in its pose of rest, without skins and morphs")
    return [piece for piece in pieces if len(piece[1])], tuple(notes)


def _at(rows: list[Any], number: Any) -> Any:
    if not isinstance(number, int) or isinstance(number, bool) or not 0 <= number < len(rows):
        raise MeshFileError("its JSON part names something that is not there")
    return rows[number]


def _placed_meshes(content: dict[str, Any]) -> list[tuple[int, Array]]:
    """Return the number of each mesh of the scene and its ``(4, 4)`` matrix, node by node from the roots down."""
    nodes, scenes = content.get("nodes", []), content.get("scenes", [])
    if scenes:
        roots = _at(scenes, content.get("scene", 0)).get("nodes", [])
    else:
        below = {child for node in nodes for child in node.get("children", [])}
        roots = [number for number in range(len(nodes)) if number not in below]
    out, visits = [], 0
    waiting = [(number, np.eye(4), 0) for number in reversed(roots)]
    while waiting:
        number, above, level = waiting.pop()
        visits += 1
        if level > DEEPEST or visits > MOST_NODES:
            raise MeshFileError("its nodes lie in one another without end")
        node = _at(nodes, number)
        matrix = above @ _matrix(node)
        if "mesh" in node:
            out.append((node["mesh"], matrix))
        waiting += [(child, matrix, level + 1) for child in reversed(node.get("children", []))]
    return out


def _matrix(node: dict[str, Any]) -> Array:
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
    x, y, z, w = (float(value) for value in node.get("rotation", (0, 0, 0, 1)))
    out = np.eye(4)
    out[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    out[:3, :3] *= np.array(node.get("scale", (1, 1, 1)), dtype=np.float64).reshape(3)
    out[:3, 3] = np.array(node.get("translation", (0, 0, 0)), dtype=np.float64).reshape(3)
    return out


def _accessor(content: dict[str, Any], binary: bytes, number: int, kind: str) -> Array:
    """Return an accessor's values ``(n, width)``."""
    accessor = _at(content["accessors"], number)
    if "sparse" in accessor or "bufferView" not in accessor:
        raise MeshFileError("it holds sparse data, which is not read; export it without")
    if accessor["type"] != kind or (kind == "VEC3") != (accessor["componentType"] == 5126):
        raise MeshFileError(f"a {accessor['type']} of type {accessor['componentType']} stands where a {kind} should")
    dtype, width, count = np.dtype(COMPONENTS[accessor["componentType"]]), WIDTHS[kind], accessor["count"]
    view = _at(content["bufferViews"], accessor["bufferView"])
    first = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
    stride = view.get("byteStride", width * dtype.itemsize)
    whole = all(isinstance(n, int) and 0 <= n < 2**40 for n in (first, stride, count)) and view.get("buffer", 0) == 0
    end = first + stride * (count - 1) + width * dtype.itemsize if whole and count else 0
    if not whole or end > len(binary) or stride < width * dtype.itemsize:
        raise MeshFileError("an accessor reaches past the data: it is cut off")
    rows = np.ndarray((count, width), dtype=dtype, buffer=binary, offset=first, strides=(stride, dtype.itemsize))
    return rows.astype(np.float64)


def _triangles(order: Indices, mode: int) -> Indices:
    """Return ``(m, 3)`` corners of a list, a strip or a fan of triangles (glTF 2.0, 3.7.2.1)."""
    if mode == TRIANGLES:
        return order[: len(order) // 3 * 3].reshape(-1, 3)
    i = np.arange(max(0, len(order) - 2))
    if mode == STRIP:
        return np.column_stack([order[i], order[i + 1 + i % 2], order[i + 2 - i % 2]])
    return np.column_stack([order[i + 1], order[i + 2], np.broadcast_to(order[:1], len(i))])
