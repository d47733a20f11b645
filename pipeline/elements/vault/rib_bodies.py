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

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from pipeline.elements.model import Hall
from pipeline.elements.vault.shape import VaultShape
from pipeline.elements.vault.table import VaultTable
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import body_of
from pipeline.geometry.sweeping import loft, prism

Array = NDArray[np.float64]
PLAY_ACROSS, PLAY_ALONG = 0.3, 0.8
"""Imagined mm that ribs stay below the webs, across and up, and along the hall. Reliefs shrink the first to a half or
so and the second to a fifth, which leaves about the play that prints need."""
BEYOND = 1.0
"""mm bodies run on past what they are cut by, so that cutting meets no coinciding planes."""
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
    """The plan of one rib: its middle, the unit way it runs, and its half span, imagined mm."""

    middle: tuple[float, float]
    way: tuple[float, float]
    half_span: float


def ribs_of(table: VaultTable, hall: Hall, shape: VaultShape) -> Ribs:
    """Return what the ribs of a vault share."""
    half, depth = hall.millimetres(table.rib_width) / 2, hall.millimetres(table.rib_depth)
    stretched = max(1.0, math.hypot(shape.width, shape.length) / shape.width)
    facets = curves.flatten_path(shape.barrel, hall.facet / stretched)[::-1]
    unit = (facets - [0.0, shape.springing]) / [shape.width / 2, shape.rise]
    unit[[0, -1]] = [[-1.0, 0.0], [1.0, 0.0]]
    return Ribs(shape=shape, half=half, depth=depth, flanks=_flanks(table.section, half, depth, hall.facet), unit=unit)


def _flanks(section: str, half: float, depth: float, facet: float) -> Array:
    """Return distances from the middle and drops: a chamfer of 45 degrees, or a half round over half the depth."""
    if section == "square":
        return np.array([[-half, depth], [half, depth]])
    if section == "chamfered":
        cut = min(half, depth) / 2
        return np.array([[-half, depth - cut], [cut - half, depth], [half - cut, depth], [half, depth - cut]])
    round_ = min(half, depth / 2)
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
    return Track(middle=(0.0, sum(bay) / 2), way=way, half_span=half_span)


def wall(shape: VaultShape, bay: tuple[float, float], side: int) -> Track:
    """Return the track along a side wall over one bay; what lies outside the hall is no part of the rib."""
    return Track(middle=(side * shape.width / 2, sum(bay) / 2), way=(0.0, 1.0), half_span=shape.length / 2)


def upright(track: Track) -> Array:
    """Return the ``(4, 4)`` rigid frame of a track: along it, up, and to its right side."""
    (x, y), (along_x, along_y) = track.middle, track.way
    return frames.rigid((along_x, along_y, 0), (0, 0, 1), (along_y, -along_x, 0), (x, y, 0))


def arched(ribs: Ribs, track: Track) -> Manifold:
    """Return all that lies over a rib's soffit between its flanks, from the springing to above the crown."""
    springing, over = ribs.shape.springing, ribs.shape.crown + BEYOND
    far = track.half_span + ribs.half + BEYOND
    sections = []
    for drop in ribs.flanks[:, 1]:
        soffit = ribs.unit * [track.half_span - drop, ribs.shape.rise - drop] + [0.0, springing]
        sections.append(np.vstack([[-far, springing], soffit, [far, springing], [far, over], [-far, over]]))
    return body_of(loft(np.array(sections), ribs.flanks[:, 0], upright(track)))


def level(ribs: Ribs, track: Track, near: float, far: float) -> Manifold:
    """Return all that lies over the level soffit of a ridge rib, between two places along its track."""
    crown = ribs.shape.crown
    sections = [[[near, crown - d], [far, crown - d], [far, crown + BEYOND], [near, crown + BEYOND]]
                for d in ribs.flanks[:, 1]]  # fmt: skip
    return body_of(loft(np.array(sections), ribs.flanks[:, 0], upright(track)))


def post(ribs: Ribs, middle: tuple[float, float], radius: float, hang: float, facet: float) -> Manifold:
    """Return an upright round post at a crown that hangs ``hang`` mm below the ribs."""
    count = 4 * max(4, math.ceil(math.pi / (4 * math.acos(1 - min(1.0, facet / radius)))))
    turn = np.arange(count) * 2 * math.pi / count
    ring = np.column_stack([middle[0] + radius * np.cos(turn), middle[1] + radius * np.sin(turn)])
    crown = ribs.shape.crown
    return body_of(prism(ring, crown - ribs.depth - hang, crown + BEYOND, np.eye(4)))


def under_vault(ribs: Ribs, depth: float) -> Manifold:
    """Return all that lies between the springing and the vault, less the play to its webs; ``depth`` of the hall."""
    shape = ribs.shape
    raised = [0.0, shape.springing]
    barrel = ribs.unit[::-1] * [shape.width / 2 - PLAY_ACROSS, shape.rise - PLAY_ACROSS] + raised
    inward = np.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]], dtype=np.float64)
    bodies = [body_of(prism(barrel, -depth, 0.0, inward))]
    if shape.form == "groin":
        cross = ribs.unit[::-1] * [shape.length / 2 - PLAY_ALONG, shape.rise - PLAY_ACROSS]
        across = np.array([[0, 0, 1, 0], [1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 0, 1]], dtype=np.float64)
        half = shape.width / 2
        bodies += [body_of(prism(cross + raised + [sum(bay) / 2, 0.0], -half, half, across)) for bay in shape.bays]
    return Manifold.batch_boolean(bodies, OpType.Add)
