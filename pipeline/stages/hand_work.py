"""What is laid, scored or sculpted by hand on each panel: coats, and units one by one.

Terms
-----
layer
    What is laid on a sheet: a coat over all of it, or units with joints between. A finish on a face without a cover is
    a coat; on one with a cover the units are made of it, and the joints are bare. Units of a cover with a relief that
    are not printed stand on top of that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.covers import lay_units
from pipeline.elements.covers.table import CoverTable, imagine_cover
from pipeline.elements.model import Web
from pipeline.elements.surfaces import Face
from pipeline.geometry import frames
from pipeline.geometry.regions import Region
from pipeline.keeping.kept import Kept, around
from pipeline.parts.bent import BentPanel
from pipeline.parts.bent_guides import SIDES, barrel_length, half_region, placing
from pipeline.parts.hand_units import CutUnits, area, cut_units, pieces_over, volume
from pipeline.parts.model import Leaf, Panel
from pipeline.parts.webs import seen_web
from pipeline.relief.collineation import Relief
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.stages.covering import lay_face_units

Array = NDArray[np.float64]

FAR = 1e7
"""mm; beyond every face."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandWork:
    """What a panel takes by hand.

    Attributes
    ----------
    part, material, cover
        Part id, its sheet and the key of ``[covers]``, or nothing.
    whole, cut
        How many whole and cut units its cover has.
    units_area
        Of all of them as built, mm^2.
    finish, relief
        Thickness of the finish, mm, and how far units are laid up on top, imagined mm.
    coat
        Volume of the finish where it covers all of the face, mm^3.
    units
        Volume of the units laid by hand: in the finish, and on top of it, mm^3.
    """

    part: str
    material: str
    cover: str | None
    whole: int = 0
    cut: int = 0
    units_area: float = 0.0
    finish: float = 0.0
    relief: float = 0.0
    coat: float = 0.0
    units: float = 0.0


def hand_work(
    scene: Scene, room: Room, panels: tuple[Panel, ...], bents: tuple[BentPanel, ...], kept: Kept
) -> tuple[HandWork, ...]:
    """Return what every panel takes by hand; those that take nothing are left out."""
    out = []
    for panel in panels:
        cover = scene.covers.get(panel.face.cover or "")
        if cover is not None or panel.finish > 0:
            out.append(kept.of(on_panel, panel, cover, room.relief, room.hall.scale, room.hall.foot))
    for bent in bents:
        cover = scene.covers.get(bent.web.cover or "")
        if cover is not None:
            out.append(kept.of(on_web, bent, cover, room.relief, room.hall.scale))
    return tuple(out)


def sizes_of(cover: CoverTable, scale: float) -> tuple[tuple[float, float], ...]:
    """Return every size that a whole unit of a cover has, imagined mm."""
    one = imagine_cover(cover, scale, level=False)
    if cover.pattern in ("flags", "planks", "herringbone"):
        return ((one.length, one.width),)
    stretcher, header = (one.length, one.height), (one.width, one.height)
    return {"header": (header,), "english": (stretcher, header), "flemish": (stretcher, header)}.get(
        cover.pattern, (stretcher,)
    )


def on_panel(panel: Panel, cover: CoverTable | None, relief: Relief, scale: float, foot: float) -> HandWork:
    """Return what a flat panel takes by hand."""
    bare = HandWork(
        part=panel.id, material=panel.material, cover=panel.face.cover, finish=panel.finish,
        coat=float(panel.area) * panel.finish if cover is None or cover.relief > 0 else 0.0,
    )  # fmt: skip
    if cover is None:
        return bare
    # How units are cut asks nothing of the eye; only how large they are built does.
    units = around().of(units_on_face, panel.face, cover, scale, foot, panel.region)
    height = cover.relief * 1000 / scale
    built, raised = 0.0, 0.0
    for leaf in panel.leaves:
        own = _on_leaf(units, panel, leaf)
        built += area(own, partial(_lying, leaf))
        if height > 0:
            raised += volume(own, partial(_standing, panel, relief, 0.0), partial(_standing, panel, relief, height))
    in_finish = built * panel.finish if cover.relief == 0 else 0.0
    return HandWork(
        part=panel.id, material=panel.material, cover=panel.face.cover, whole=len(units.whole), cut=units.pieces,
        units_area=built, finish=panel.finish, relief=height, coat=bare.coat, units=in_finish + raised,
    )  # fmt: skip


def on_web(bent: BentPanel, cover: CoverTable, relief: Relief, scale: float) -> HandWork:
    """Return what a bent panel takes by hand; each half of its barrel is counted up to the crown."""
    web, matrix = seen_web(bent.web, relief)
    height = cover.relief * 1000 / scale
    whole, cut, built, raised = 0, 0, 0.0, 0.0
    for side in SIDES:
        units = around().of(units_on_half, web, side, cover, scale)
        if units is None:
            continue
        place = placing(web, side)
        foot = _built(matrix, place, 0.0)
        whole, cut, built = whole + len(units.whole), cut + units.pieces, built + area(units, foot)
        if height > 0:
            raised += volume(units, foot, _built(matrix, place, height))
    return HandWork(
        part=bent.id, material=bent.material, cover=bent.web.cover, whole=whole, cut=cut, units_area=built,
        relief=height, units=raised,
    )  # fmt: skip


def units_on_face(face: Face, cover: CoverTable, scale: float, foot: float, region: Region) -> CutUnits:
    """Return the units of a face as what is left of it cuts them; the arguments are those of `lay_face`."""
    return cut_units(lay_face_units(face, cover, scale, foot), sizes_of(cover, scale), region)


def units_on_half(web: Web, side: float, cover: CoverTable, scale: float) -> CutUnits | None:
    """Return the units on one side of a web's crown, up to it; nothing where there is none of the web."""
    region = half_region(web, side)
    if region is None:
        return None
    laid = lay_units(cover, scale, web.extent, barrel_length(web.barrel))
    return cut_units(laid, sizes_of(cover, scale), region)


def _built(matrix: Array, place: Callable[[Array, float], Array], height: float) -> Callable[[Array], Array]:
    return lambda points: frames.apply(matrix, place(points, height))


def _lying(leaf: Leaf, points_host: Array) -> Array:
    """Return host points as they lie on a leaf, with z = 0."""
    flat = frames.apply(leaf.flat_from_host, points_host)
    return np.column_stack([flat, np.zeros(len(flat))])


def _standing(panel: Panel, relief: Relief, height: float, points_host: Array) -> Array:
    """Return built points ``height`` imagined mm over host points of a panel's visible face."""
    feet = frames.apply(panel.face.imagined_from_host, points_host)
    return relief.build_points(feet + height * panel.face.inward)


def _on_leaf(units: CutUnits, panel: Panel, leaf: Leaf) -> CutUnits:
    """Return the units of one leaf of a panel that the apron's end folds; all of them where there is one leaf."""
    if len(panel.leaves) == 1:
        return units
    u, v, off = panel.face.imagined_from_host[1]
    low, high = (depth - off for depth in (leaf.near, leaf.far))
    strip = shapely.box(-FAR, low / v, FAR, high / v) if abs(u) < abs(v) else shapely.box(low / u, -FAR, high / u, FAR)
    both = np.concatenate([shapely.polygons(units.whole), shapely.get_parts(units.cut)])
    pieces = shapely.get_parts(shapely.intersection(both, strip))
    return CutUnits(whole=np.zeros((0, 4, 2)), cut=pieces_over(pieces, 0.0))
