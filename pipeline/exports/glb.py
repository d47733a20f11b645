"""GLB, the one-file form of glTF 2.0: parts by name, each a closed body with the lines drawn on it.

Khronos Group, *glTF 2.0 Specification*: metres, +y up, the front toward +z, so a root node turns and scales what is
given in mm with z up and y away from the viewer. Without normals a reader shades facets flat, as sheets are.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]

FLOATS, INDICES = 5126, 5125
"""Component types: float and unsigned int."""
POINT_TARGET, INDEX_TARGET = 34962, 34963
LINES, TRIANGLES = 1, 4
GLTF_FROM_BUILT = (0.001, 0.0, 0.0, 0.0, 0.0, 0.0, -0.001, 0.0, 0.0, 0.001, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0)
"""Column by column: x stays, z becomes y, y becomes -z; mm become m."""
INK = (0.16, 0.14, 0.12)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """A part to be written.

    Attributes
    ----------
    name
        Part id.
    tone
        Red, green and blue from 0 to 1, sRGB.
    body
        Closed, built mm.
    lines
        ``(n, 2, 3)`` drawn on it, built mm.
    """

    name: str
    tone: tuple[float, float, float]
    body: Mesh
    lines: Array


def write_glb(title: str, parts: Sequence[Shown]) -> bytes:
    """Return one GLB file of the parts, each a node under one root, in the order given.

    Raises
    ------
    ValueError
        If there are none: glTF has no empty lists.
    """
    if not parts:
        raise ValueError("a GLB file of no parts")
    data = _Data()
    tones = list(dict.fromkeys([INK, *(part.tone for part in parts)]))
    meshes = [
        {"name": part.name, "primitives": list(_primitives(part, data, tones.index(part.tone)))} for part in parts
    ]
    root = {"name": title, "matrix": GLTF_FROM_BUILT, "children": list(range(1, len(parts) + 1))}
    content = {
        "asset": {"version": "2.0", "generator": "foreshorten"},
        "scene": 0,
        "scenes": [{"name": title, "nodes": [0]}],
        "nodes": [root, *({"name": part.name, "mesh": number} for number, part in enumerate(parts))],
        "meshes": meshes,
        "materials": [_material(tone) for tone in tones],
        "accessors": data.accessors,
        "bufferViews": data.views,
        "buffers": [{"byteLength": data.length}],
    }
    text = json.dumps(content, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    binary = b"".join(data.pieces)
    chunks = b"".join(
        struct.pack("<I4s", len(chunk), kind) + chunk for kind, chunk in ((b"JSON", text), (b"BIN\0", binary))
    )
    return struct.pack("<4s2I", b"glTF", 2, 12 + len(chunks)) + chunks


class _Data:
    """The binary chunk as it grows, and what the JSON says of it."""

    def __init__(self) -> None:
        self.pieces: list[bytes] = []
        self.views: list[dict[str, int]] = []
        self.accessors: list[dict[str, Any]] = []
        self.length = 0

    def points(self, points: Array) -> int:
        """Add ``(n, 3)`` places and return their accessor; bounds are those of the floats written, as asked for."""
        rows = points.astype("<f4")
        bounds = {"min": rows.min(axis=0).tolist(), "max": rows.max(axis=0).tolist()}
        return self._add(rows.tobytes(), POINT_TARGET, {"componentType": FLOATS, "count": len(rows), "type": "VEC3", **bounds})

    def indices(self, numbers: NDArray[np.int64]) -> int:
        """Add whole numbers and return their accessor."""
        data = numbers.reshape(-1).astype("<u4").tobytes()
        return self._add(data, INDEX_TARGET, {"componentType": INDICES, "count": numbers.size, "type": "SCALAR"})

    def _add(self, data: bytes, target: int, accessor: dict[str, Any]) -> int:
        self.pieces.append(data)
        self.accessors.append({"bufferView": len(self.views), **accessor})
        self.views.append({"buffer": 0, "byteOffset": self.length, "byteLength": len(data), "target": target})
        self.length += len(data)
        return len(self.accessors) - 1


def _primitives(part: Shown, data: _Data, tone: int) -> list[dict[str, Any]]:
    places = data.points(part.body.vertices)
    out: list[dict[str, Any]] = [
        {
            "attributes": {"POSITION": places},
            "indices": data.indices(part.body.triangles),
            "material": tone,
            "mode": TRIANGLES,
        }
    ]
    if len(part.lines):
        out.append({"attributes": {"POSITION": data.points(part.lines.reshape(-1, 3))}, "material": 0, "mode": LINES})
    return out


def _material(tone: tuple[float, float, float]) -> dict[str, Any]:
    """Return a dull material; its colour is linear in glTF, by the curve of IEC 61966-2-1."""
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in tone]
    colour = [*(round(value, 6) for value in linear), 1.0]
    return {"pbrMetallicRoughness": {"baseColorFactor": colour, "metallicFactor": 0.0, "roughnessFactor": 0.9}}
