"""Holes that let resin out of a closed hollow, and air in.

Terms
-----
hollow
    A surface of a print that nothing joins to its outside.
floor
    The lowest of a hollow above a point of the bed, as the print lies. Holes go straight down from it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.crumbs import together
from pipeline.geometry.meshes import signed_volume
from pipeline.geometry.shadows import shadow
from pipeline.parts.bed import on_bed
from pipeline.parts.model import Print
from pipeline.parts.overhang import Flags
from pipeline.sight.rays import Target

Array = NDArray[np.float64]

SIDES = 32
"""Facets round a hole."""
PAST, OVER = 0.5, 0.05
"""mm a drill runs on below the skin and above the floor, so that it meets no surface it means to pass; above it hardly,
as the hollow's sides may lean over it."""
ASIDE = 0.1
"""mm between a hole and the hollow's sides, at the floor."""
LOW = 0.2
"""mm; floors that differ by less are equally low: what stays behind is a film."""
FINEST, MOST_ACROSS = 0.25, 40
"""Places looked at: every quarter of a hole's radius, mm, but no more than so many across."""
NARROWER = (1.0, 0.8, 0.64, 0.5)
"""Shares of the diameter asked for, tried in turn where a hollow is too narrow for it."""
ROUND = np.array([(np.cos(a), np.sin(a)) for a in np.arange(16) * np.pi / 8])
"""Ways round a hole."""
SPOTS = np.concatenate([np.zeros((1, 2)), ROUND[::2] / 2, ROUND])
"""Where a hole of radius 1 is looked at: its middle, half-way out, and its rim; the floor of a hollow may be uneven."""
CLEAR = 1e-3
"""mm under a floor, where the way down from it starts."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Where a hole could be.

    ``at`` ``(n, 2)`` bed mm; ``floor`` and the ends of the drill, ``top`` and ``bottom``, ``(n,)`` mm; whether the wall
    round it stays ``sound``, and whether it comes out ``unseen``, ``(n,)``.
    """

    at: Array
    floor: Array
    top: Array
    bottom: Array
    sound: Flags
    unseen: Flags


def has_closed_hollow(part: Print) -> bool:
    """Return whether resin would be caught inside a print."""
    return any(piece.volume() < 0 for piece in body_of(part.body).decompose())


def drained(part: Print, seen: Flags, diameter: float, count: int) -> Print:
    """Return a print whose closed hollows each have ``count`` holes at the low points of the way it lies.

    No hole comes out on the skin that is seen. A hollow with no room for holes of half the diameter stays closed.

    Parameters
    ----------
    part
        Any; one without a closed hollow is returned as it is.
    seen
        ``(m,)`` facets of its body that will be looked at.
    diameter
        mm.
    count
        Holes for each hollow.
    """
    lying = on_bed(part.body, part.built_from_bed)
    hollows = [piece for piece in body_of(lying).decompose() if piece.volume() < 0] if count else []
    if not hollows:
        return part
    body, drills, bores = Target.on(lying), [], []
    for hollow in hollows:
        room = Target.on(mesh_of(hollow))
        for share in NARROWER:
            places = _places(room, body, seen, share * diameter / 2, part.min_wall)
            chosen = _chosen(places, share * diameter, count)
            if len(chosen) == count:
                drills += [_drill(places, k, share * diameter / 2) for k in chosen]
                bores += [share * diameter] * count
                break
    if not drills:
        return part
    bed_body = manifold3d.Manifold.batch_boolean([body_of(lying), *drills], manifold3d.OpType.Subtract)
    drilled = mesh_of(without_loose(bed_body))
    opened = replace(drilled, vertices=frames.apply(part.built_from_bed, drilled.vertices))
    return replace(part, body=opened, volume=signed_volume(opened), drains=part.drains + tuple(bores))


def without_loose(body: manifold3d.Manifold) -> manifold3d.Manifold:
    """Return the largest of the bodies that drills leave: what they cut loose from an uneven floor is no part of it."""
    pieces = body.decompose()
    bodies = [piece for piece in pieces if piece.volume() > 0]
    if len(bodies) == 1:
        return body
    largest = max(bodies, key=lambda piece: float(piece.volume()))
    return together([largest, *(piece for piece in pieces if piece.volume() < 0)])


def _places(hollow: Target, body: Target, seen: Flags, radius: float, wall: float) -> _Places:
    """Return all places for a hole of a radius in a hollow of a body, bed mm."""
    footprint = shadow(hollow.corners[_faces_down(hollow.corners)], np.eye(3)[:, :2])
    room = footprint.buffer(-radius - ASIDE)
    at = _grid(room, max(FINEST * radius, 1e-3))
    around = (at[:, None] + radius * (1 - 1e-6) * SPOTS).reshape(-1, 2)
    down = np.broadcast_to([0.0, 0.0, -1.0], (len(around), 3))
    under = float(hollow.corners[:, :, 2].min()) - 1.0
    met, rise = hollow.cast(np.column_stack([around, np.full(len(around), under)]), -down)
    floors = under + np.where(met >= 0, rise, 0.0)
    index, drop = body.cast(np.column_stack([around, floors - CLEAR]), down)
    ends = floors - CLEAR - np.where(index >= 0, drop, 0.0)
    good = ((met >= 0) & (index >= 0)).reshape(-1, len(SPOTS)).all(axis=1)
    floors, ends = floors.reshape(-1, len(SPOTS))[good], ends.reshape(-1, len(SPOTS))[good]
    unseen = np.asarray((~seen[index]).reshape(-1, len(SPOTS))[good].all(axis=1), dtype=bool)
    return _Places(
        at=at[good],
        floor=floors.min(axis=1),
        top=floors.max(axis=1),
        bottom=ends.min(axis=1),
        sound=_sound(body, at[good], floors[:, 0], ends[:, 0], radius + wall + ASIDE),
        unseen=unseen,
    )


def _grid(room: shapely.Geometry, step: float) -> Array:
    """Return places ``(n, 2)`` all over a shape."""
    if room.is_empty:
        return np.zeros((0, 2))
    low, high = np.array(room.bounds[:2]), np.array(room.bounds[2:])
    step = max(step, float((high - low).max()) / MOST_ACROSS)
    x, y = (np.unique([*np.arange(a, b, step), b]) for a, b in zip(low, high, strict=True))
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    inside: Array = grid[shapely.intersects_xy(room, grid[:, 0], grid[:, 1])]
    return inside


def _sound(body: Target, at: Array, floor: Array, end: Array, reach: float) -> Flags:
    """Return whether there is nothing but material within ``reach`` of the axis of a hole, at two heights of it."""
    sideways = np.column_stack([ROUND[::2], np.zeros(len(ROUND) // 2)])
    heights = end[:, None] + np.array([0.05, 0.5]) * (floor - end)[:, None]
    axes = np.concatenate([np.repeat(at[:, None], 2, axis=1), heights[..., None]], axis=2).reshape(-1, 3)
    _, free = body.cast(np.repeat(axes, len(sideways), axis=0), np.tile(sideways, (len(axes), 1)))
    return np.asarray((free.reshape(len(at), 2 * len(sideways)) >= reach).all(axis=1), dtype=bool)


def _faces_down(hollow: Array) -> Flags:
    """Return which facets of a hollow have the material under them: those seen from straight above."""
    one, two = hollow[:, 1, :2] - hollow[:, 0, :2], hollow[:, 2, :2] - hollow[:, 0, :2]
    out: Flags = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] > 1e-9
    return out


def _chosen(places: _Places, diameter: float, count: int) -> list[int]:
    """Return up to ``count`` unseen places: sound before thin, low before high, then far apart."""
    chosen: list[int] = []
    if len(places.at) == 0:
        return chosen
    height = np.floor((places.floor - places.floor.min()) / LOW)
    apart = np.linalg.norm(places.at - places.at.mean(axis=0), axis=1)
    free = places.unseen.copy()
    while len(chosen) < count and free.any():
        order = np.lexsort((np.arange(len(apart)), -np.round(apart, 6), height, ~places.sound, ~free))
        chosen.append(int(order[0]))
        away = np.linalg.norm(places.at - places.at[chosen[-1]], axis=1)
        apart = away if len(chosen) == 1 else np.minimum(apart, away)
        free &= apart >= 2 * diameter
    return chosen


def _drill(places: _Places, k: int, radius: float) -> manifold3d.Manifold:
    bottom, top = places.bottom[k] - PAST, places.top[k] + OVER
    rod = manifold3d.Manifold.cylinder(top - bottom, radius, radius, SIDES)
    return rod.translate((float(places.at[k, 0]), float(places.at[k, 1]), float(bottom)))
