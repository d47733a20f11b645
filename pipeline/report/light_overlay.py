"""Light and shadow laid over the faces in pictures, a hair before them in either room."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.geometry.clip import clip_lines
from pipeline.geometry.curves import Path
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Region, loop_of
from pipeline.parts.bodies import triangulate
from pipeline.parts.lighting.model import Cast, Patch
from pipeline.parts.model import Panel
from pipeline.relief.collineation import Relief
from pipeline.sight.scenery import Surface

Tone = tuple[float, float, float]

LIFT = 0.05
"""mm by which each patch lies before its face, imagined, and before the patch laid there before it."""
FLATTENING = 0.02
"""mm."""
LIT, DARK = (1.42, 1.36, 1.16), (0.62, 0.64, 0.72)
"""What light and shadow make of a tone: warmer and lighter, cooler and darker."""


def light_surfaces(
    panels: Sequence[Panel], casts: Sequence[Cast], relief: Relief, tone_of: Callable[[Panel], Tone]
) -> list[Surface]:
    """Return every patch of light and shadow on a panel as a surface with the panel's own lines on it."""
    known = {panel.id: panel for panel in panels}
    laid: dict[str, int] = {}
    out = []
    for patch, share in _patches(casts):
        panel = known.get(patch.part)
        if panel is not None:
            laid[panel.id] = laid.get(panel.id, 0) + 1
            red, green, blue = (min(1.0, tone * part) for tone, part in zip(tone_of(panel), share, strict=True))
            out.append(_laid(panel, patch.loops, relief, laid[panel.id] * LIFT, tone=(red, green, blue)))
    return out


def _patches(casts: Sequence[Cast]) -> Iterator[tuple[Patch, Tone]]:
    return chain(
        ((patch, LIT) for cast in casts for patch in cast.patches),
        ((patch, DARK) for cast in casts for patch in cast.dark),
    )


def _laid(panel: Panel, loops: tuple[Path, ...], relief: Relief, lift: float, *, tone: Tone) -> Surface:
    face = panel.face
    rings = [curves.flatten_path(loop, FLATTENING) for loop in loops]
    host = np.vstack(rings)
    imagined = frames.apply(face.imagined_from_host, host) + lift * face.inward
    triangles = _facing(face, triangulate(rings))
    lines, _ = clip_lines(panel.guides_host, Region(loop_of(loops[0]), tuple(loop_of(loop) for loop in loops[1:])))
    lines_imagined = frames.apply(face.imagined_from_host, lines.reshape(-1, 2)) + lift * face.inward
    return Surface(
        part=panel.id,
        tone=tone,
        built=Mesh(vertices=relief.build_points(imagined), triangles=triangles),
        imagined=Mesh(vertices=imagined, triangles=triangles),
        lines_built=relief.build_points(lines_imagined).reshape(-1, 2, 3),
        lines_imagined=lines_imagined.reshape(-1, 2, 3),
    )


def _facing(face: Face, triangles: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return triangles of host coordinates so that their normals point into the room."""
    across = np.cross(face.imagined_from_host[:3, 0], face.imagined_from_host[:3, 1])
    return triangles if across @ face.inward > 0 else triangles[:, ::-1].copy()
