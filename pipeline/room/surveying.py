"""From what was measured of a box to its inside, or to what must be measured again.

A border is five figures: four edges and one diagonal fix it, the second diagonal shows slips. The measures are adjusted
by least squares; what is left over tells that one is wrong, not which, since whichever is left out the other five
agree. So the one is suspected whose closing value makes the box most like the one that ``[box]`` describes.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.problems import KeyPath, Problem, SceneError
from pipeline.geometry.adjusting import Adjusted, Lengths, adjust, closing_values
from pipeline.room.inside import Inside, border_lines, rectangular
from pipeline.scene.box import Box
from pipeline.scene.measured import Border

Array = NDArray[np.float64]

AGREE = 0.5
"""mm; measures that miss one another by more hold a slip, not the width of a rule's line."""

UNLIKE = 0.05
"""Share by which a real edge may differ from the box's figure: more is another unit or another box."""
UNLIKE_MM = 3.0
"""mm; of small boxes, by which it always may."""

AS_LIKELY = 1.5
"""Times the unlikeness of the first suspect, within which the next is named beside it."""

MEASURES = ("bottom", "right", "top", "left", "rising", "falling")
BETWEEN = np.array([(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (3, 1)])
"""Corners that each is measured between."""

TRIANGLES = (
    ("bottom", "right", "rising"),
    ("top", "left", "rising"),
    ("bottom", "left", "falling"),
    ("top", "right", "falling"),
)
CORNERS = ("lower left", "lower right", "upper right", "upper left")
DEGENERATE = 1e-9
"""mm; a corner this near to the line through its neighbours turns the border inside out."""


def survey(box: Box) -> Inside:
    """Return the inside of the box, as measured where it was.

    Raises
    ------
    SceneError
        Where measures cannot close, miss one another, are unlike the box, or do not suffice.
    """
    if box.measured is None:
        return rectangular(box.width, box.height, box.inside_depth)
    borders, problems = [], []
    for name in ("opening", "back"):
        path: KeyPath = ("box", "measured", name)
        border: Border = getattr(box.measured, name)
        found = _border_problems(border, box, path)
        problems += found
        if not found:
            borders.append(_border(border, box, path, problems))
    problems += _depth_problems(box)
    if problems:
        raise SceneError(problems)
    opening, back = borders
    return Inside(opening=_placed(opening, 0.0, 0.0, 0.0), back=_stood(back, opening, box), measured=True)


def adjustments(box: Box) -> dict[str, dict[str, float]]:
    """Return what every measure of each border is over the adjusted one, mm; empty where nothing was measured."""
    if box.measured is None:
        return {}
    out = {}
    for name in ("opening", "back"):
        measures = _lengths(getattr(box.measured, name))
        adjusted = _adjusted(measures, box)
        over = np.zeros(6) if adjusted is None else adjusted.over
        known = ~np.isnan(measures)
        out[name] = {key: float(over[index]) for index, key in enumerate(MEASURES) if known[index]}
    return out


def _lengths(border: Border) -> Array:
    """Return the six measures, nan for a diagonal that is missing."""
    given = [getattr(border, key) for key in MEASURES]
    return np.array([math.nan if value is None else value for value in given])


def _expected(box: Box) -> Array:
    diagonal = math.hypot(box.width, box.height)
    return np.array([box.width, box.height, box.width, box.height, diagonal, diagonal])


def _corners(figures: Array) -> Array:
    """Return the corners ``(4, 2)`` of a border of five figures, its lower edge along x from the origin."""
    x1, x2, z2, x3, z3 = figures
    return np.array([[0.0, 0.0], [x1, 0.0], [x2, z2], [x3, z3]])


def _six(figures: Array) -> Array:
    corners = _corners(figures)
    out: Array = np.linalg.norm(corners[BETWEEN[:, 1]] - corners[BETWEEN[:, 0]], axis=1)
    return out


def _start(box: Box) -> Array:
    return np.array([box.width, box.width, box.height, 0.0, box.height])


def _adjusted(measures: Array, box: Box) -> Adjusted | None:
    return adjust(_six, _start(box), measures)


def _border_problems(border: Border, box: Box, path: KeyPath) -> list[Problem]:
    """Return what can be told before the measures are adjusted."""
    problems = []
    measures = dict(zip(MEASURES, _lengths(border), strict=True))
    where = path[-1]
    if border.rising is None and border.falling is None:
        found = f"no diagonal of the {where} is given, and four edges alone may lean any way"
        remedy = "measure one from corner to corner and write it beside the edges, as in rising = 235.6"
        problems.append(Problem(path=path, found=found, allowed="rising, falling, or both", remedy=remedy))
    for three in TRIANGLES:
        sizes = [measures[key] for key in three]
        longest = int(np.argmax(sizes))
        rest = sum(sizes) - sizes[longest]
        if sizes[longest] >= rest:  # never true of nan
            others = " and ".join(key for index, key in enumerate(three) if index != longest)
            found = f"{sizes[longest]:g} mm cannot close a triangle with {others}, which come to {rest:g} mm"
            remedy = "measure the three again"
            problems.append(
                Problem(path=(*path, three[longest]), found=found, allowed=f"less than {rest:g} mm", remedy=remedy)
            )
    if problems:
        return problems
    for key, size, expected in zip(MEASURES, measures.values(), _expected(box), strict=True):
        figure = {"bottom": "box.width", "top": "box.width", "left": "box.height", "right": "box.height"}.get(
            key, "the diagonal of box.width and box.height"
        )
        problems += _unlike((*path, key), size, expected, figure)
    return problems


def _unlike(path: KeyPath, size: float, expected: float, figure: str) -> list[Problem]:
    most = max(UNLIKE_MM, UNLIKE * expected)
    if not abs(size - expected) > most:
        return []
    found = f"{size:g} mm is far from {figure}, {expected:.5g} mm"
    allowed = f"within {most:.3g} mm of it"
    return [Problem(path=path, found=found, allowed=allowed, remedy=f"measure again, or set {figure} right")]


def _border(border: Border, box: Box, path: KeyPath, problems: list[Problem]) -> Array:
    """Return a border's adjusted corners ``(4, 2)``; what is wrong with it is added to the problems."""
    measures = _lengths(border)
    adjusted = _adjusted(measures, box)
    if adjusted is None:
        found = f"the measures of the {path[-1]} close to no quadrilateral"
        problems.append(Problem(path=path, found=found, allowed="a box's edges and diagonals", remedy="measure again"))
        return np.zeros((4, 2))
    if adjusted.misclosure > AGREE:
        keys = [(*path, key) for key in MEASURES]
        values = closing_values(_six, _start(box), measures)
        what = f"the six measures of the {path[-1]}"
        problems.append(_slip(what, keys, measures, values, missing=adjusted.misclosure, like=_expected(box)))
    corners = _corners(adjusted.figures)
    turns = [line @ [*corner, 1.0] for line, corner in zip(border_lines(corners), corners[[2, 3, 0, 1]], strict=True)]
    if min(turns) <= DEGENERATE:
        found = f"the measures of the {path[-1]} turn it inside out at a corner"
        problems.append(Problem(path=path, found=found, allowed="a box's edges and diagonals", remedy="measure again"))
    return corners


def _slip(what: str, keys: list[KeyPath], measures: Array, closing: Array, *, missing: float, like: Array) -> Problem:
    """Return the problem of measures that miss one another, at the key that is suspected most.

    ``missing`` is by how much, ``like`` what the measures would be of a box as it is described, mm.
    """
    unlikeness = np.full(len(keys), np.inf)
    for index in np.flatnonzero(~np.isnan(closing)):
        mended = measures.copy()
        mended[index] = closing[index]
        unlikeness[index] = np.linalg.norm(mended - like)
    order = np.argsort(unlikeness, kind="stable")
    first = int(order[0])
    found = f"{what} miss one another by {missing:.2f} mm, and {measures[first]:g} mm here is the likeliest slip"
    others = [int(i) for i in order[1:] if unlikeness[i] <= AS_LIKELY * unlikeness[first]]
    remedy = f"measure it again: {closing[first]:.1f} mm would close"
    if others:
        also = ", ".join(f"{_word(keys[i])} {closing[i]:.1f} mm" for i in others)
        remedy += f"; as likely instead: {also}"
    return Problem(path=keys[first], found=found, allowed=f"within {AGREE:g} mm of one another", remedy=remedy)


def _word(key: KeyPath) -> str:
    last = key[-1]
    return CORNERS[last] if isinstance(last, int) else last


def _depth_problems(box: Box) -> list[Problem]:
    if box.measured is None or box.measured.depths is None:
        return []
    path: KeyPath = ("box", "measured", "depths")
    problems = []
    for index, size in enumerate(box.measured.depths):
        problems += _unlike((*path, index), size, box.inside_depth, "box.depth")
    return problems


def _placed(corners: Array, y: float, yaw: float, pitch: float) -> Array:
    """Return a border ``(4, 3)``, built: the middle of its lower edge at (0, y, 0), turned about it and leaned back."""
    across = np.array([math.cos(yaw), math.sin(yaw), 0.0])
    inward = np.array([-math.sin(yaw), math.cos(yaw), 0.0])
    up = math.cos(pitch) * np.array([0.0, 0.0, 1.0]) + math.sin(pitch) * inward
    local = corners - (corners[0] + corners[1]) / 2
    out: Array = np.array([0.0, y, 0.0]) + local[:, :1] * across + local[:, 1:] * up
    return out


def _stood(back: Array, opening: Array, box: Box) -> Array:
    """Return the back's border ``(4, 3)``, built: where the depths put it, upright without them.

    Raises
    ------
    SceneError
        If four depths do not lead to one flat back.
    """
    measured = box.measured
    if measured is None or measured.depths is None:
        return _placed(back, box.inside_depth, 0.0, 0.0)
    front = _placed(opening, 0.0, 0.0, 0.0)
    lengths = _arrises(back, front)
    start, wanted = np.array([box.inside_depth, 0.0, 0.0]), np.array(measured.depths)
    adjusted = adjust(lengths, start, wanted)
    keys: list[KeyPath] = [("box", "measured", "depths", index) for index in range(4)]
    if adjusted is None:
        found = "the four depths lead to no flat back"
        raise SceneError([Problem(path=keys[0][:3], found=found, allowed="a box's depths", remedy="measure again")])
    if adjusted.misclosure > AGREE:
        values = closing_values(lengths, start, wanted)
        what = "the four depths, to a flat back,"
        like = np.full(4, box.inside_depth)
        raise SceneError([_slip(what, keys, wanted, values, missing=adjusted.misclosure, like=like)])
    return _placed(back, *adjusted.figures)


def _arrises(back: Array, front: Array) -> Callable[[Array], Array]:
    def lengths(figures: Array) -> Array:
        out: Array = np.linalg.norm(_placed(back, *figures) - front, axis=1)
        return out

    found: Lengths = lengths
    return found
