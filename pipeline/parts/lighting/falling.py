"""What a light falls on in the imagined room, as plane geometry: every face with what is thrown on it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.casting import FLATTENING, NOTHING, Receiver, Thrown, polygon, throw_body, throw_figure
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.recovering import recover_paths
from pipeline.keeping.kept import around
from pipeline.parts.lighting.model import HALL, OUTSIDE, Cast, Patch, Setting, Shadow, Target, Way
from pipeline.parts.lighting.ways import opened, ways_between

Array = NDArray[np.float64]

BOUNDS = frozenset(("ceiling", "left-wall", "right-wall", "back-wall", "front-frame"))
"""What bounds the hall: light passes these at openings alone, and within the hall they stand in nobody's way."""
SLIVER = 0.02
"""mm; strips no wider are rounding, where faces and bodies touch."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Light:
    """A light with what it meets: its cell, and what it passes of openings from the outside."""

    source: Array
    cell: str
    setting: Setting
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class _Found:
    """What is found on one face."""

    patches: list[Patch] = field(default_factory=list)
    shadows: list[Shadow] = field(default_factory=list)
    dark: list[Patch] = field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class _Lit:
    """What of a face light reaches that nothing stands in the way of, and the openings it came through."""

    through: tuple[str, ...]
    thrown: Thrown


def cast_light(number: int, source: Array, cell: str, setting: Setting) -> Cast:
    """Return all that a light does; ``source`` is homogeneous ``(4,)``, ``cell`` where it is."""
    ways = tuple(opened(gate, source) for gate in setting.gates) if cell == OUTSIDE else ()
    light = _Light(source=source, cell=cell, setting=setting, ways=tuple(way for way in ways if way.share > 0))
    found = _Found()
    for target in setting.targets:
        plane = np.array([*target.inward, -target.inward @ target.matrix[:3, 2]])
        receiver = Receiver(source=source, matrix=target.matrix, plane=plane)
        if receiver.height > 0:
            _fall(light, target, receiver, found)
    return Cast(
        number=number,
        source=source,
        cell=cell,
        ways=light.ways,
        patches=tuple(found.patches),
        shadows=tuple(found.shadows),
        dark=tuple(found.dark),
    )


def _fall(light: _Light, target: Target, receiver: Receiver, found: _Found) -> None:
    """Add to what is found what a light does on one face."""
    lit = list(_reached(light, target, receiver))
    if not lit:
        return
    region = shapely.union_all([one.thrown.shape for one in lit])
    lights = tuple(curve for one in lit for curve in one.thrown.curves)
    dark: list[Thrown] = []
    for blocker, thrown in _blockers(light, target, receiver, lit):
        taken = _whole(region.intersection(thrown.shape))
        if not taken.is_empty:
            dark.append(thrown)
            loops = recover_paths(taken, (*lights, *thrown.curves), FLATTENING)
            found.shadows.append(Shadow(part=target.id, by=blocker, loops=loops, area=float(taken.area)))
    night = shapely.union_all([thrown.shape for thrown in dark])
    shades = tuple(curve for thrown in dark for curve in thrown.curves)
    for one in lit:
        shape = one.thrown.shape
        left = _whole(shape.difference(night) if one.through else shape.intersection(night))
        if not left.is_empty:
            loops = recover_paths(left, (*one.thrown.curves, *shades), FLATTENING)
            patch = Patch(part=target.id, through=one.through, loops=loops, area=float(left.area))
            (found.patches if one.through else found.dark).append(patch)


def _reached(light: _Light, target: Target, receiver: Receiver) -> Iterator[_Lit]:
    """Yield what of a face each way from the light's cell to its own lets light reach."""
    gates = {gate.id: gate for gate in light.setting.gates}
    holes: dict[str, tuple[Path, ...]] = {way.gate: way.loops for way in light.ways}
    face = polygon(target.loops)
    for steps in ways_between(light.cell, target.cell, light.setting.gates):
        shape, known = face, [*_bent(target.loops)]
        for step in steps:
            gate = gates[step.gate]
            loops = holes.get(step.gate, ()) if step.outside else gate.loops
            before = step.depth > 0 and gate.plane @ receiver.source <= step.depth
            thrown = throw_figure(loops, gate.set_out(step.depth), receiver) if loops and not before else NOTHING
            shape = shape.intersection(thrown.shape)
            known += thrown.curves
        shape = _whole(shape)
        if not shape.is_empty:
            yield _Lit(tuple(step.gate for step in steps), Thrown(shape, tuple(known)))


def _blockers(light: _Light, target: Target, receiver: Receiver, lit: Sequence[_Lit]) -> Iterator[tuple[str, Thrown]]:
    """Yield what stands in the light's way to what is lit of a face, and what it throws there."""
    cells = {HALL, light.cell, target.cell, *(gate for one in lit for gate in one.through)}
    bounds = shapely.total_bounds([one.thrown.shape for one in lit])
    # What a thing throws knows no eye, and most things stay as they are while it moves.
    for sheet in light.setting.sheets:
        inside = light.cell == OUTSIDE or sheet.cell in cells
        if sheet.id != target.id and sheet.id not in BOUNDS and inside:
            thrown = around().of(throw_figure, sheet.loops, sheet.matrix, receiver)
            if not thrown.shape.is_empty:
                yield sheet.id, thrown
    for body in light.setting.bodies:
        if not _far(body.mesh.vertices, receiver, bounds):
            thrown = around().of(throw_body, body.mesh, receiver, closed=body.closed)
            if not thrown.shape.is_empty:
                yield body.id, thrown


def _far(vertices: Array, receiver: Receiver, bounds: Array) -> bool:
    """Return whether a body throws nothing into bounds, told by the corners of the box round it."""
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    ends = list(zip(low, high, strict=True))
    corners = np.array([[x, y, z, 1.0] for x in ends[0] for y in ends[1] for z in ends[2]])
    heights = np.array([corners @ limit for limit in receiver.limits])
    if (heights.max(axis=1) <= 0).any():
        return True
    if heights.min() < 0:
        return False
    rows = corners @ receiver.thrown.T
    places = rows[:, :2] / rows[:, 2:]
    (u0, v0), (u1, v1) = places.min(axis=0), places.max(axis=0)
    return bool(u1 < bounds[0] or v1 < bounds[1] or u0 > bounds[2] or v0 > bounds[3])


def _whole(shape: shapely.Geometry) -> shapely.Geometry:
    """Return the polygons of a region that are more than slivers, without holes that are no more."""
    parts = [
        shapely.Polygon(part.exterior, [ring for ring in part.interiors if _wide(shapely.Polygon(ring))])
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon" and _wide(part)
    ]
    return shapely.multipolygons(parts) if parts else shapely.Polygon()


def _wide(part: shapely.Polygon) -> bool:
    return bool(part.area > SLIVER**2 and not part.buffer(-SLIVER / 2).is_empty)


def _bent(loops: Sequence[Path]) -> tuple[Curve, ...]:
    return tuple(curve for loop in loops for curve in loop if not curve.straight)
