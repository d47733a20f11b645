"""The lines and units of covers on faces and webs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.covers import MOST_GUIDES, CoverTable, count_guides, lay_cover, lay_units
from pipeline.elements.covers.below import carry_below, carry_units_below
from pipeline.elements.model import Web
from pipeline.elements.problems import Problem, SceneError
from pipeline.elements.surfaces import Face, Family
from pipeline.geometry.curves import bounds
from pipeline.parts.bent_guides import barrel_length
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

DEEPEST = 100.0
"""Depth over width past which a depth is a slip of its unit sooner than a wish."""


def refuse_crowds(scene: Scene, faces: tuple[Face, ...], webs: tuple[Web, ...]) -> None:
    """Refuse covers that need more guides than a scene may have in all; they are counted, not laid.

    Raises
    ------
    SceneError
        If they do.
    """
    hosts = [(face.cover, face.extent, face.level) for face in faces]
    hosts += [(web.cover, (web.extent, barrel_length(web.barrel)), False) for web in webs]
    counts: dict[str, int] = {}
    for cover, extent, level in hosts:
        if cover is not None and cover in scene.covers:
            count = count_guides(scene.covers[cover], scene.space.scale, *extent, level=level)
            counts[cover] = counts.get(cover, 0) + count
    count = sum(counts.values())
    if count > MOST_GUIDES:
        crowd = _too_many(max(counts, key=lambda name: counts[name]), count)
        raise SceneError([_too_deep(scene, count) or crowd])


def _too_deep(scene: Scene, count: int) -> Problem | None:
    """Return what is wrong with a depth that is no room's, such as one in millimetres; the covers are not at fault."""
    depth, width = scene.space.depth, scene.box.width * scene.space.scale / 1000
    if depth is None or depth < DEEPEST * width:
        return None
    times = f"{depth / width:,.0f} times as deep as the box is wide at 1:{scene.space.scale:g}"
    return Problem(
        path=("space", "depth"),
        found=f"a room of {depth:,.6g} m, {times}: its covers would need about {count:.3g} guides",
        allowed=f"at most {MOST_GUIDES:,} in a scene",
        remedy="check the depth: a bare number is metres",
    )


def _too_many(cover: str, count: int) -> Problem:
    return Problem(
        path=("covers", cover),
        found=f"with it the covers would need about {count:.3g} guides",
        allowed=f"at most {MOST_GUIDES:,} in a scene",
        remedy="give larger units, a shallower room (space.depth, m) or a smaller space.scale",
    )


def lay_web(web: Web, cover: CoverTable | None, scale: float) -> list[Family]:
    """Return the lines of a web's cover on one of its halves; ``scale`` is n of 1:n at the opening.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    if web.cover is None or cover is None:
        return []
    return lay(cover, scale, web.cover, (web.extent, barrel_length(web.barrel)), level=False)


def lay_face(face: Face, cover: CoverTable | None, scale: float, hall_foot: float) -> list[Family]:
    """Return the lines of a face's cover; ``hall_foot`` is how low walls begin, imagined mm.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    if face.cover is None or cover is None:
        return list(face.lines)
    families = lay(cover, scale, face.cover, face.extent, level=face.level)
    return [*carry_below(families, _foot(face, hall_foot)), *face.lines]


def lay_face_units(face: Face, cover: CoverTable, scale: float, hall_foot: float) -> Array:
    """Return the units of a face's cover, ``(n, 4, 2)`` host coordinates; the arguments are those of `lay_face`.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    families = lay(cover, scale, face.cover or "", face.extent, level=face.level)
    units = lay_units(cover, scale, *face.extent, level=face.level)
    return carry_units_below(units, families, _foot(face, hall_foot))


def _foot(face: Face, hall_foot: float) -> float:
    """Return how low a face begins, host v, imagined mm."""
    return hall_foot if face.through else float(bounds(face.region.curves)[0, 1])


def lay(table: CoverTable, scale: float, cover: str, extent: tuple[float, float], *, level: bool) -> list[Family]:
    """Return the lines of a cover, named as the scene names it, on a part's extent.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    count = count_guides(table, scale, *extent, level=level)
    if count > MOST_GUIDES:
        raise SceneError([_too_many(cover, count)])
    return lay_cover(table, scale, *extent, level=level)
