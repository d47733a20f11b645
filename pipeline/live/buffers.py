"""The imagined room as the graphics card takes it.

A buffer is little-endian: three counts (vertices, triangles, ends of lines) as uint32 and one of nothing, then the
vertices (float32, three each), their colours (uint8, red green blue and 255), the triangles (uint32, three each) and
the ends of the lines (float32, three each, two ends a line). All lengths are multiples of four, so that the browser
can look at each part in place.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.meshes import join
from pipeline.sight.scenery import Surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Buffer:
    """Bytes, and the name they go by: the digest of them, so that what has not changed is not sent again."""

    name: str
    content: bytes


def buffer_of(surfaces: list[Surface]) -> Buffer:
    """Return surfaces as they are imagined, mm, as one buffer."""
    mesh = join([surface.imagined for surface in surfaces])
    counts = [len(surface.imagined.vertices) for surface in surfaces]
    tones = np.array([(*surface.tone, 1.0) for surface in surfaces]).reshape(-1, 4)
    colours = np.repeat(np.rint(tones * 255).astype("u1"), counts, axis=0)
    lines = np.concatenate([np.zeros((0, 2, 3)), *(surface.lines_imagined for surface in surfaces)])
    head = np.array([len(mesh.vertices), len(mesh.triangles), 2 * len(lines), 0], dtype="<u4")
    content = b"".join(
        (
            head.tobytes(),
            mesh.vertices.astype("<f4").tobytes(),
            colours.tobytes(),
            mesh.triangles.astype("<u4").tobytes(),
            lines.astype("<f4").tobytes(),
        )
    )
    return Buffer(name=hashlib.sha256(content).hexdigest(), content=content)
