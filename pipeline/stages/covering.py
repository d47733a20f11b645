"""The lines and units of covers on faces and webs."""

from __future__ import annotations

from pipeline.elements.covers import MOST_GUIDES, count_guides, lay_cover
from pipeline.elements.covers.below import carry_below
from pipeline.elements.model import Web
from pipeline.elements.problems import Problem, SceneError
from pipeline.elements.surfaces import Face, Family
from pipeline.geometry.curves import bounds
from pipeline.parts.bent_guides import barrel_length
from pipeline.room.measure import Room
from pipeline.scene.model import Scene


def lay_web(scene: Scene, room: Room, web: Web) -> list[Family]:
    """Return the lines of a web's cover on one of its halves.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    if web.cover is None:
        return []
    return lay(scene, room, web.id, web.cover, (web.extent, barrel_length(web.barrel)), level=False)


def lay_face(scene: Scene, room: Room, face: Face) -> list[Family]:
    """Return the lines of a face's cover.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    if face.cover is None:
        return list(face.lines)
    families = lay(scene, room, face.id, face.cover, face.extent, level=face.level)
    foot = room.hall.foot if face.through else float(bounds(face.region.curves)[0, 1])
    return [*carry_below(families, foot), *face.lines]


def lay(scene: Scene, room: Room, part: str, cover: str, extent: tuple[float, float], *, level: bool) -> list[Family]:
    """Return the lines of a cover on a part's extent.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    table = scene.covers[cover]
    count = count_guides(table, room.hall.scale, *extent, level=level)
    if count > MOST_GUIDES:
        problem = Problem(
            path=("covers", cover),
            found=f"{part} would need about {count:.3g} guides",
            allowed=f"at most {MOST_GUIDES:,} on a face",
            remedy="give larger units or a larger scale number",
        )
        raise SceneError([problem])
    return lay_cover(table, room.hall.scale, *extent, level=level)
