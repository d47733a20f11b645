"""The bodies that a vault's ribs are cut from.

Terms
-----
drop
    How far below the vault a curve lies: its conic has half span and rise reduced by it. A rib's soffit has the drop
    ``depth`` in the middle and, chamfered or rolled, less toward its flanks.
track
    The upright plane through the middle of a rib: where its middle lies, which way it runs, and its half span.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.vault.shape import VaultShape
from pipeline.elements.vault.table import VaultTable
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import body_of
from pipeline.geometry.curves import Path
from pipeline.geometry.sweeping import loft, prism

Array = NDArray[np.float64]
PLAY_ACROSS, PLAY_ALONG = 0.3, 0.8
"""Imagined mm that ribs stay below the webs, where these turn across and up, and where they turn along the hall.
Reliefs shrink the first to a half or so and the second to a fifth, which leaves about the play that prints need."""
MOST_PLAY = 1 / 6
"""Share of the ribs' depth that the play may take."""
REMEMBERED = 64
"""Whole ribs kept, since springers, arms and arches are cut from the same ones."""
FEWEST_FACETS = 6
"""Facets of a roll."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ribs:
    """What all ribs of a vault share, imagined mm.

    Attributes
    ----------
    shape
        The vault.
    half
        Half their width.
    depth
        How far they hang below the vault.
    flanks
        ``(m, 2)`` distance from the middle and drop of the soffit there, from one flank to the other.
    unit
        ``(n, 2)`` facets of the profile over the half span 1, rise 1, from -1 to 1.
    """

    shape: VaultShape
    half: float
    depth: float
    flanks: Array
    unit: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """The plan of one rib: its middle, the unit way it runs, its half span, and its play to the webs, imagined mm."""

    middle: tuple[float, float]
    way: tuple[float, float]
    half_span: float
    play: float = PLAY_ACROSS


def ribs_of(table: VaultTable, hall: Hall, shape: VaultShape) -> Ribs:
    """Return what the ribs of a vault share."""
    half, depth = hall.millimetres(table.rib_width) / 2, hall.millimetres(table.rib_depth)
    stretched = max(1.0, math.hypot(shape.width, shape.length) / shape.width)
    facets = _facets(shape.barrel, hall.facet / stretched)[::-1]
    unit = (facets - [0.0, shape.springing]) / [shape.width / 2, shape.rise]
    unit[[0, -1]] = [[-1.0, 0.0], [1.0, 0.0]]
    return Ribs(shape=shape, half=half, depth=depth, flanks=_flanks(table.section, half, depth, hall.facet), unit=unit)


def _facets(path: Path, tolerance: float) -> Array:
    """Return as few points on a path, even in its curves' parameters, as keep its chords within a tolerance.

    Chord errors fall with the square of the facets' number; `flatten` only doubles it.
    """
    parts = []
    for curve in path:
        count = 2
        while True:
            points = curves.evaluate(curve, np.linspace(0, 1, 2 * count + 1))
            ends, middles = points[::2], points[1::2]
            ways = np.diff(ends, axis=0)
            away = middles - ends[:-1]
            off = np.abs(ways[:, 0] * away[:, 1] - ways[:, 1] * away[:, 0]) / np.linalg.norm(ways, axis=1)
            if off.max() <= tolerance:
                break
            count = max(count + 1, math.ceil(0.9 * count * math.sqrt(off.max() / tolerance)))
        parts.append(ends[:-1])
    return np.vstack([*parts, path[-1].end[None]])


def _flanks(section: str, half: float, depth: float, facet: float) -> Array:
    """Return distances from the middle and drops: 45 degrees over a fifth of the depth, or a roll over a seventh.

    Reliefs leave ribs at the back hardly as thick as prints must be; deeper cuts would leave flanks that break.
    """
    if section == "square":
        return np.array([[-half, depth], [half, depth]])
    if section == "chamfered":
        cut = min(half, depth) / 5
        return np.array([[-half, depth - cut], [cut - half, depth], [half - cut, depth], [half, depth - cut]])
    round_ = min(half, depth / 7)
    count = max(FEWEST_FACETS, math.ceil(math.pi / (2 * math.acos(1 - min(1.0, facet / half)))))
    turn = np.linspace(-math.pi / 2, math.pi / 2, count + 1)
    return np.column_stack([half * np.sin(turn), depth - round_ + round_ * np.cos(turn)])


def transverse(shape: VaultShape, line: float) -> Track:
    """Return the track along a bay line."""
    return Track(middle=(0.0, line), way=(1.0, 0.0), half_span=shape.width / 2)


def diagonal(shape: VaultShape, bay: tuple[float, float], side: int) -> Track:
    """Return the track from a bay's near corner on the side ``-side`` to its far corner on ``side``."""
    half_span = math.hypot(shape.width, shape.length) / 2
    way = (side * shape.width / 2 / half_span, shape.length / 2 / half_span)
    return Track(middle=(0.0, sum(bay) / 2), way=way, half_span=half_span, play=PLAY_ALONG)


def wall(shape: VaultShape, bay: tuple[float, float], side: int) -> Track:
    """Return the track along a side wall over one bay; what lies outside the hall is no part of the rib."""
    middle = (side * shape.width / 2, sum(bay) / 2)
    return Track(middle=middle, way=(0.0, 1.0), half_span=shape.length / 2, play=PLAY_ALONG)


def behind_frame(ribs: Ribs, front: float) -> Manifold:
    """Return the room of ribs where the webs start at y = ``front``: before it, only what lies below the barrel.

    There the front frame fills all that stands above the barrel's outline.
    """
    shape = ribs.shape
    start = front + PLAY_ALONG
    drop = min(PLAY_ACROSS, MOST_PLAY * ribs.depth)
    outline = ribs.unit[::-1] * [shape.width / 2 - drop, shape.rise - drop] + [0.0, shape.springing]
    below = body_of(prism(outline, -start, 0.0, frames.rigid((1, 0, 0), (0, 0, 1), (0, -1, 0), (0, 0, 0))))
    size = (2 * shape.width, shape.lines[-1], 2 * shape.rise)
    behind = Manifold.cube(size).translate((-shape.width, start, shape.springing - shape.rise / 2))
    return below + behind


def long_ridge(shape: VaultShape, bay: tuple[float, float]) -> Track:
    """Return the track under the barrel's crown over one bay."""
    return Track(middle=(0.0, sum(bay) / 2), way=(0.0, 1.0), half_span=shape.length / 2)


def cross_ridge(shape: VaultShape, bay: tuple[float, float]) -> Track:
    """Return the track under a cross barrel's crown."""
    return Track(middle=(0.0, sum(bay) / 2), way=(1.0, 0.0), half_span=shape.width / 2)


def upright(track: Track) -> Array:
    """Return the ``(4, 4)`` rigid frame of a track: along it, up, and to its right side."""
    (x, y), (along_x, along_y) = track.middle, track.way
    return frames.rigid((along_x, along_y, 0), (0, 0, 1), (along_y, -along_x, 0), (x, y, 0))


@lru_cache(maxsize=REMEMBERED)
def arched(ribs: Ribs, track: Track) -> Manifold:
    """Return a whole arched rib, from springing to springing.

    Its back is the vault's conic over the track, less the play. Nowhere over the rib's width is the vault lower: over
    bay lines and walls it is the barrel the rib follows, or higher; off a groin it rises to both sides.
    """
    raised = [0.0, ribs.shape.springing]

    def conic(drop: float) -> Array:
        return ribs.unit * [track.half_span - drop, ribs.shape.rise - drop] + raised

    back = conic(min(track.play, MOST_PLAY * ribs.depth))[::-1]
    sections = [np.vstack([conic(drop), back]) for drop in ribs.flanks[:, 1]]
    return body_of(loft(np.array(sections), ribs.flanks[:, 0], upright(track)))


def ridge_top(ribs: Ribs, span: float) -> float:
    """Return how high a ridge rib under a barrel of a span reaches: the web is lowest over its flanks, mm."""
    shape = ribs.shape
    over = float(shape.share(2 * ribs.half / span)) * shape.rise
    return shape.springing + over - min(PLAY_ACROSS, MOST_PLAY * ribs.depth)


def level(ribs: Ribs, track: Track, span: float) -> Manifold:
    """Return a ridge rib, level from end to end of its track, under the crown of a barrel of a span."""
    soffits, top = ribs.shape.crown - ribs.flanks[:, 1], ridge_top(ribs, span)
    end = track.half_span
    sections = [[[-end, z], [end, z], [end, top], [-end, top]] for z in soffits]
    return body_of(loft(np.array(sections), ribs.flanks[:, 0], upright(track)))


def post(ribs: Ribs, middle: tuple[float, float], radius: float, hang: float, facet: float) -> Manifold:
    """Return an upright round post under a crown that hangs ``hang`` mm below the ribs.

    The vault is lowest over its rim where that meets a groin.
    """
    shape = ribs.shape
    count = 4 * max(4, math.ceil(math.pi / (4 * math.acos(1 - min(1.0, facet / radius)))))
    turn = np.arange(count) * 2 * math.pi / count
    ring = np.column_stack([middle[0] + radius * np.cos(turn), middle[1] + radius * np.sin(turn)])
    over = float(shape.share(2 * radius / math.hypot(shape.width, shape.length))) * shape.rise
    top = shape.springing + over - min(PLAY_ACROSS, MOST_PLAY * ribs.depth)
    return body_of(prism(ring, shape.crown - ribs.depth - hang, top, np.eye(4)))
