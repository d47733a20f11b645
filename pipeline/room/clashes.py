"""Things of the imagined room that get in one another's way: overlapping holes, columns standing in holes."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem
from pipeline.elements.surfaces import Cut, Face, Mark
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.geometry.regions import path_of

Array = NDArray[np.float64]

OVERLAP = 1e-4
"""mm^2 of common area that counts as none: two things that touch."""

FLATTENING = 0.005
"""mm; the shapes compared here are only looked at, never made."""


def find_clashes(said: Imagined) -> list[Problem]:
    """Return the problems between elements that each fit by themselves."""
    hosts = {face.id for face in said.faces}
    return [
        *_same_ids(said),
        *(_unbuilt(cut) for cut in said.cuts if cut.host not in hosts),
        *(problem for cut in said.cuts for problem in _through_vault(cut, said.faces)),
        *(
            _overlapping(a, b)
            for a, b in combinations(said.cuts, 2)
            if a.host == b.host and _common(a.curve, b.curve) > OVERLAP
        ),
        *(
            _standing_in(mark, cut)
            for cut in said.cuts
            for mark in said.marks
            if cut.host == mark.host and _common(cut.curve, mark.curve) > OVERLAP
        ),
    ]


def _through_vault(cut: Cut, faces: tuple[Face, ...]) -> list[Problem]:
    """Return the problem of a hole that runs up through the curve a vault ends its wall with."""
    for face in faces:
        if face.id != cut.host or cut.beyond == "floor" or all(edge.curve.straight for edge in face.region.outline):
            continue
        outside = _shape(cut.curve).difference(_shape(path_of(face.region.outline)).buffer(FLATTENING))
        if outside.area > OVERLAP:
            return [
                Problem(
                    path=(*cut.path, "height"),
                    found=f"{cut.name!r} runs through the vault over the {face.id}",
                    allowed="openings below the vault",
                    remedy="make it lower, or move it under the middle of a bay",
                )
            ]
    return []


def _same_ids(said: Imagined) -> list[Problem]:
    """Return the solids whose part id another part has: ids are file names, and one file holds one part."""
    taken = {face.id for face in said.faces}
    problems = []
    parts: tuple[Solid | Block, ...] = (*said.solids, *said.blocks)
    for solid in parts:
        if solid.id in taken:
            problems.append(
                Problem(
                    path=(*solid.path[:2], "name"),
                    found=f"its part would be called {solid.id!r}, as another part is",
                    allowed="names that give every part a name of its own",
                    remedy="rename one of them",
                )
            )
        taken.add(solid.id)
    return problems


def _unbuilt(cut: Cut) -> Problem:
    return Problem(
        path=(*cut.path, "wall"),
        found=f"the {cut.host} is not built",
        allowed="a wall that is built",
        remedy="take the opening out, or build the wall",
    )


@lru_cache(maxsize=4096)
def _bounds(path: Path) -> Array:
    return curves.bounds(path)


@lru_cache(maxsize=4096)
def _shape(path: Path) -> shapely.Polygon:
    return shapely.Polygon(curves.flatten_path(path, FLATTENING))


def _common(a: Path, b: Path) -> float:
    """Return the area that two closed paths share; most pairs of hundreds are not even near one another."""
    one, other = _bounds(a), _bounds(b)
    if (one[0] >= other[1]).any() or (other[0] >= one[1]).any():
        return 0.0
    return float(_shape(a).intersection(_shape(b)).area)


def _overlapping(a: Cut, b: Cut) -> Problem:
    if "floor" in (a.beyond, b.beyond):
        return _under_floor(*((b, a) if a.beyond == "floor" else (a, b)))
    left, right = curves.bounds(a.curve)[:, 0], curves.bounds(b.curve)[:, 0]
    common = min(left[1], right[1]) - max(left[0], right[0])
    return Problem(
        path=(*b.path, "at"),
        found=f"{b.name!r} overlaps {a.name!r} on the {b.host} by {common:.3g} mm at the opening's scale",
        allowed="openings that keep clear of one another",
        remedy="move one along the wall, or make it narrower",
    )


def _under_floor(hole: Cut, floor: Cut) -> Problem:
    return Problem(
        path=(*hole.path, "sill"),
        found=f"{hole.name!r} begins under the floor, which lies higher there because of the steps {floor.name!r}",
        allowed="a sill on that floor or above it, measured from the front floor",
        remedy="raise the sill, or move the opening or the steps",
    )


def _standing_in(mark: Mark, cut: Cut) -> Problem:
    if cut.beyond == "floor":
        return Problem(
            path=(*cut.path, "at"),
            found=f"{mark.name!r} stands on the steps {cut.name!r} or across an end of them",
            allowed="things that stand on one floor",
            remedy="move the steps, or what stands there",
        )
    return Problem(
        path=(*cut.path, "at"),
        found=f"{mark.name!r} stands in the opening {cut.name!r} of the {cut.host}",
        allowed="openings clear of what stands against the wall",
        remedy="move the opening or what stands in it",
    )
