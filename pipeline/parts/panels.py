"""Faces made into panels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Cut, Face, Family, Mark
from pipeline.geometry import curves, frames
from pipeline.geometry.clip import clip_lines
from pipeline.geometry.cutting import subtract
from pipeline.geometry.regions import Region
from pipeline.parts.cut_edges import joint_edges
from pipeline.parts.guides import carry, clip_families, split_families, thin
from pipeline.parts.leaves import Lie
from pipeline.parts.model import Panel
from pipeline.parts.outlines import Making, flat_loops, flat_path, sheet_region
from pipeline.parts.panel_bodies import panel_body

Array = NDArray[np.float64]

SHORTEST = 0.1
"""mm; shorter guides are left out: a cutter only stutters on them."""

SAME_END = 1e-6
"""mm; ends that clipping moves by less are where they were: it is far below what any machine can place."""


def cut_region(face: Face, cuts: tuple[Cut, ...]) -> Region:
    """Return the face's region without its openings.

    Raises
    ------
    pipeline.geometry.cutting.CutError
        If an opening leaves nothing of the face or cuts it in two.
    """
    region = face.region
    for cut in cuts:
        if cut.host == face.id:
            region = subtract(region, cut.curve, cut.against or cut.name)
    return region


def make_panel(face: Face, region: Region, families: list[Family], marks: tuple[Mark, ...], making: Making) -> Panel:
    """Return the panel of a face.

    Parameters
    ----------
    face, region
        The face and what is left of it after its cuts, host coordinates.
    families
        Lines of its cover, host coordinates.
    marks
        Of all hosts; only this face's are taken.
    making
        What the panels share.
    """
    lie, sheet = making.lies[face.id], face.sheet
    own = [mark for mark in marks if mark.host == face.id]
    loops = flat_loops(region, lie)
    cut = sheet_region(loops, lie, face, making, sheet.finish)
    edges = joint_edges(loops, cut, lie, face, making)
    guides, guides_host, thinned = _guides(face, region, families, lie, making)
    if any(edge.back > 0 for edge in edges):
        guides, guides_host = _within(guides, guides_host, cut, lie)
    body = panel_body(face, region, loops, lie, making)
    return Panel(
        face=face,
        region=region,
        leaves=lie.leaves,
        thickness=sheet.thickness,
        finish=sheet.finish,
        cut=cut,
        hidden=sheet_region(loops, lie, face, making, sheet.finish + sheet.thickness),
        edges=edges,
        guides=guides,
        guides_host=guides_host,
        folds=_fold_lines(region, lie),
        places=tuple(flat_path(mark.curve, lie) for mark in own if not (mark.hidden or mark.light)),
        hidden_places=tuple((mark.name, flat_path(mark.curve, lie)) for mark in own if mark.hidden),
        body=body.body,
        cut_edges=body.cut_edges,
        visible=body.visible,
        visible_imagined=body.visible_imagined,
        area=body.area,
        thinned=thinned,
        light_places=tuple((mark.light, flat_path(mark.curve, lie)) for mark in own if mark.light),
        labels=tuple((mark.label, flat_path(mark.curve, lie)) for mark in own if mark.label),
    )


def _guides(
    face: Face, region: Region, families: list[Family], lie: Lie, making: Making
) -> tuple[Array, Array, tuple[int, float] | None]:
    """Return flat guides, the host lines they show one for one, and what was thinned."""
    clipped = clip_families(families, region)
    if not clipped:
        return np.zeros((0, 2, 2)), np.zeros((0, 2, 2)), None
    if lie.fold is not None:
        clipped = split_families(clipped, face.imagined_from_host, making.relief.apron)

    def build(points_host: Array) -> Array:
        return making.relief.build_points(frames.apply(face.imagined_from_host, points_host))

    kept, thinning = thin(clipped, build, making.min_guide)
    flat, host = carry(kept, face.imagined_from_host, lie.leaves)
    long = np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1) >= SHORTEST
    touched = thinning.dropped + thinning.shortened
    return flat[long], host[long], None if thinning.begins is None else (touched, thinning.begins)


def _within(guides: Array, guides_host: Array, cut: Region, lie: Lie) -> tuple[Array, Array]:
    """Return flat guides as far as the sheet goes where its edges stand back, and the host lines they show.

    Lines that end on the sheet's border as they are come back bit for bit.
    """
    clipped, source = clip_lines(guides, cut)
    flat, host = guides[source], guides_host[source]
    moved = np.linalg.norm(clipped - flat, axis=2) > SAME_END
    owner = lie.leaf_of(host.mean(axis=1))
    flat[moved] = clipped[moved]
    for number, leaf in enumerate(lie.leaves):
        mine = moved & (owner == number)[:, None]
        host[mine] = frames.apply(frames.inverse(leaf.flat_from_host), clipped[mine])
    long = np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1) >= SHORTEST
    return flat[long], host[long]


def _fold_lines(region: Region, lie: Lie) -> Array:
    """Return the fold inside the outline, ``(k, 2, 2)`` flat."""
    if lie.fold is None:
        return np.zeros((0, 2, 2))
    size = 4 * float(np.abs(curves.bounds(region.curves)).max()) + 10
    normal = lie.fold.host[:2]
    base = normal * lie.fold.host[2] / (normal @ normal)
    way = np.array([-normal[1], normal[0]]) / np.linalg.norm(normal)
    lines, _ = clip_lines(np.array([[base - size * way, base + size * way]]), region)
    return frames.apply(lie.leaves[-1].flat_from_host, lines.reshape(-1, 2)).reshape(-1, 2, 2)
