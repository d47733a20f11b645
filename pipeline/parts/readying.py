"""Prints made ready for the printer: cut to its bed, laid so that supports stay off what is seen, and drained."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.problems import Problem, SceneError
from pipeline.parts.bed import ALIKE_MM2, Size, fits, lay_on_bed
from pipeline.parts.drains import drained, has_closed_hollow
from pipeline.parts.model import Print
from pipeline.parts.overhang import eyes_before, hanging_area, seen_facets
from pipeline.parts.shells import SPARE
from pipeline.parts.splitting import bulkhead_depth, cutting_planes, split
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]
Bulkheads = tuple[tuple[Array, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Readying:
    """What a print is made ready for.

    Attributes
    ----------
    relief
        Where the eye is, and where the imagined room lies.
    bed
        The printer's width, depth and height, mm.
    fit
        Play round pegs, mm.
    wall
        Least wall, mm.
    drain, drains
        Diameter, mm, and number of the holes of every closed hollow.
    """

    relief: Relief
    bed: Size
    fit: float
    wall: float
    drain: float
    drains: int


def named_apart(pieces: tuple[Print, ...]) -> tuple[Print, ...]:
    """Return all prints and pieces, each of another name.

    Raises
    ------
    SceneError
        If a piece would be named like another part.
    """
    names = Counter(piece.id for piece in pieces)
    for piece in pieces:
        if names[piece.id] > 1:
            problem = Problem(
                path=("make", "printer", "bed"),
                found=f"{piece.solid.id} is cut for the printer's bed, and two parts would be called {piece.id!r}",
                allowed="names that give every part a name of its own",
                remedy="rename one of them, or print on a larger bed",
            )
            raise SceneError([problem])
    return pieces


def ready(part: Print, readying: Readying, remake: Callable[[Print, Bulkheads], Print]) -> tuple[Print, ...]:
    """Return a print, or the pieces it is cut into, as the printer is to take it.

    Parameters
    ----------
    part
        As made, lying on its largest side.
    readying
        What for.
    remake
        Makes a hollow print again with its hollow filled on either side of planes.

    Raises
    ------
    SceneError
        If the bed is so small that the pieces would be too many.
    """
    eyes, wall = eyes_before(readying.relief.eye), readying.wall + SPARE
    part = _laid(part, eyes, readying.bed)
    pieces: tuple[Print, ...] = (part,)
    planes = cutting_planes(part, readying.bed)
    if planes:
        if part.hollow:
            part = remake(part, tuple((plane, bulkhead_depth(readying.fit, wall)) for plane in planes))
        pieces = split(part, planes, readying.relief, fit=readying.fit, wall=wall, bed=readying.bed, eyes=eyes)
    if not readying.drains:
        return pieces
    out = []
    for piece in pieces:
        beside = [other.body.corners for other in pieces if other is not piece]
        out.append(_drained(piece, readying, eyes, np.concatenate(beside) if beside else None))
    return tuple(out)


def _drained(part: Print, readying: Readying, eyes: Array, beside: Array | None) -> Print:
    """Return a print on a side that may have holes, with holes in it, if it has a closed hollow."""
    if not has_closed_hollow(part):
        return part
    laid = lay_on_bed(part.body, eyes, readying.bed, beside, drained=True)
    if fits(part.body, laid, readying.bed):
        part = replace(part, built_from_bed=laid)
    return drained(part, seen_facets(part.body.corners, eyes, beside), readying.drain, readying.drains)


def _laid(part: Print, eyes: Array, bed: Size) -> Print:
    """Return a print on another side than its largest, if that does not fit the bed or leaves what is seen hanging."""
    largest = part.built_from_bed
    if fits(part.body, largest, bed) and hanging_area(part.body.corners, eyes, largest) < ALIKE_MM2 / 2:
        return part
    return replace(part, built_from_bed=lay_on_bed(part.body, eyes, bed))
