"""Faces made into panels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Cut, Face, Family, Mark
from pipeline.geometry import frames
from pipeline.geometry.clip import clip_lines
from pipeline.geometry.cutting import subtract
from pipeline.geometry.regions import Region
from pipeline.parts.blanks import Blank
from pipeline.parts.guides import carry, clip_families, split_families, thin
from pipeline.parts.leaves import Lie
from pipeline.parts.model import Panel
from pipeline.parts.outlines import flat_path
from pipeline.relief.collineation import Relief

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


def make_panel(
    face: Face, blank: Blank, families: list[Family], marks: tuple[Mark, ...], *, relief: Relief, min_guide: float
) -> Panel:
    """Return the panel of a face: its blank with all that is drawn on it.

    Parameters
    ----------
    face, blank
        The face and its sheet as it is cut.
    families
        Lines of its cover, host coordinates.
    marks
        Of all hosts; only this face's are taken.
    relief
        The collineation.
    min_guide
        Guides nearer than this, built mm, are thinned.
    """
    lie, sheet = blank.lie, face.sheet
    own = [mark for mark in marks if mark.host == face.id]
    guides, guides_host, thinned = _guides(face, blank.region, families, lie, (relief, min_guide))
    if any(edge.back > 0 for edge in blank.edges):
        guides, guides_host = _within(guides, guides_host, blank.cut, lie)
    body = blank.body
    return Panel(
        face=face,
        region=blank.region,
        leaves=lie.leaves,
        thickness=sheet.thickness,
        finish=sheet.finish,
        cut=blank.cut,
        hidden=blank.hidden,
        edges=blank.edges,
        guides=guides,
        guides_host=guides_host,
        folds=blank.folds,
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
    face: Face, region: Region, families: list[Family], lie: Lie, built: tuple[Relief, float]
) -> tuple[Array, Array, tuple[int, float] | None]:
    """Return flat guides, the host lines they show one for one, and what was thinned."""
    clipped, (relief, min_guide) = clip_families(families, region), built
    if not clipped:
        return np.zeros((0, 2, 2)), np.zeros((0, 2, 2)), None
    if lie.fold is not None:
        clipped = split_families(clipped, face.imagined_from_host, relief.apron)

    def build(points_host: Array) -> Array:
        return relief.build_points(frames.apply(face.imagined_from_host, points_host))

    kept, thinning = thin(clipped, build, min_guide)
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
