"""Stencils for the airbrush: a sheet laid on a panel, with the patch or the shadow cut out of it.

Terms
-----
frame
    The rectangle a stencil is, some way wider than its hole on every side; it may reach past the panel's edge.
island
    What is left standing within the hole; bridges hold it.
register
    What brings the stencil to its place: the panel's edges drawn on it, to be laid on the real ones, and two pin holes
    over marks on the panel.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.ops import nearest_points

from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.geometry.recovering import recover_paths
from pipeline.geometry.regions import Region, loop_of, path_of
from pipeline.parts.leaves import Lie
from pipeline.parts.lighting.flat_patches import flat_shape
from pipeline.parts.model import Panel
from pipeline.parts.outlines import flat_path

Array = NDArray[np.float64]

MARGIN = 14.0
"""mm of frame round the hole: overspray of a small airbrush stays on it."""
PIN = 0.5
"""mm, radius of a pin hole."""
BRIDGE = 1.5
"""mm, width of what holds an island; painted over by hand afterwards."""
LEAST = 2.0
"""mm^2; nobody sprays a smaller spot."""
FINE = 2e-3
"""mm; how far the polygons that are united stray from their curves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stencil:
    """A stencil in the flat frame of its panel.

    Attributes
    ----------
    id
        Its own id: that of the panel, the light, and what it is for.
    panel, light, kind
        What it is laid on, the light's name, and whether light or shadow is sprayed.
    material
        Sheet it is cut from; nothing for paper alone.
    cut
        Frame and holes, pin holes last.
    register
        ``(n, 2, 2)`` the panel's edges within the frame.
    pins
        ``(k, 2)`` middles of the pin holes.
    islands
        How many bridges hold islands.
    number
        That its pins bear on a panel of several stencils; else 0.
    """

    id: str
    panel: str
    light: str
    kind: str
    material: str
    cut: Region
    register: Array
    pins: Array
    islands: int
    number: int = 0

    @property
    def hidden(self) -> Region:
        """Its back: cut square."""
        return self.cut

    @property
    def pin_paths(self) -> tuple[Path, ...]:
        """The pin holes as circles, clockwise as holes run."""
        return tuple(_circle(pin) for pin in self.pins)


def make_stencil(
    panel: Panel, lie: Lie, loops: Iterable[Sequence[Path]], *, name: str, light: str, kind: str, material: str
) -> Stencil | None:
    """Return the stencil of all patches, or shadows, of one light on a panel; nothing where none is worth spraying.

    Parameters
    ----------
    panel, lie
        What it is laid on, and how that lies.
    loops
        Of each patch, host coordinates.
    name
        Its id.
    light, kind, material
        As told by `Stencil`.
    """
    patches = list(loops)
    known = [c for patch in patches for loop in patch for c in flat_path(loop, lie) if not c.straight]
    shape = shapely.union_all([flat_shape(patch, lie, FINE) for patch in patches])
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area >= LEAST]
    if not parts:
        return None
    held = [_held(part) for part in parts]
    islands = sum(len(part.interiors) for part in parts)
    hole = shapely.union_all(held)
    x0, y0, x1, y1 = hole.bounds
    frame = (x0 - MARGIN, y0 - MARGIN, x1 + MARGIN, y1 + MARGIN)
    holes = [curves.reverse_path(path) for path in recover_paths(hole, known, FINE)]
    sheet = _polygon(panel)
    pins = _pins(frame, sheet)
    corners = [(frame[0], frame[1]), (frame[2], frame[1]), (frame[2], frame[3]), (frame[0], frame[3])]
    rings = (*(loop_of(path) for path in holes), *(loop_of(_circle(pin)) for pin in pins))
    return Stencil(
        id=name,
        panel=panel.id,
        light=light,
        kind=kind,
        material=material,
        cut=Region(loop_of(curves.polygon(corners)), rings),
        register=_edges_within(sheet, frame, hole),
        pins=pins,
        islands=islands,
    )


def _held(part: shapely.Polygon) -> shapely.Geometry:
    """Return a hole less the bridges that hold its islands."""
    held = part
    for ring in part.interiors:
        island = shapely.Polygon(ring)
        here, there = nearest_points(island, part.exterior)
        way = np.array([there.x - here.x, there.y - here.y])
        size = float(np.linalg.norm(way))
        way = np.array([1.0, 0.0]) if size == 0 else way / size
        line = shapely.LineString([(here.x - way[0], here.y - way[1]), (there.x + way[0], there.y + way[1])])
        held = held.difference(line.buffer(BRIDGE / 2, cap_style="flat"))
    return held


def _pins(frame: tuple[float, float, float, float], sheet: shapely.Polygon) -> Array:
    """Return two places for pins, far from one another, in the frame's border and over the panel, or none."""
    x0, y0, x1, y1 = frame
    away = MARGIN / 2
    spots = np.array(
        [
            (x, y)
            for x in np.linspace(x0 + away, x1 - away, 9)
            for y in (y0 + away, y1 - away)
        ]
        + [(x, y) for y in np.linspace(y0 + away, y1 - away, 9) for x in (x0 + away, x1 - away)]
    )  # fmt: skip
    room = sheet.buffer(-3 * PIN)
    free = spots[shapely.contains(room, shapely.points(spots))]
    if len(free) < 2:
        return np.zeros((0, 2))
    apart = np.linalg.norm(free[:, None] - free[None], axis=2)
    one, other = np.unravel_index(int(apart.argmax()), apart.shape)
    return free[[one, other]] if apart.max() > MARGIN else np.zeros((0, 2))


def _edges_within(sheet: shapely.Polygon, frame: tuple[float, float, float, float], hole: shapely.Geometry) -> Array:
    """Return the panel's border where the stencil covers it, as straight pieces ``(n, 2, 2)``."""
    seen = sheet.boundary.intersection(shapely.box(*frame).buffer(-0.5)).difference(hole.buffer(0.5))
    pieces = []
    for part in shapely.get_parts(shapely.line_merge(seen)):
        points = np.asarray(part.coords)
        pieces += [points[k : k + 2] for k in range(len(points) - 1)]
    return np.array(pieces).reshape(-1, 2, 2)


def _polygon(panel: Panel) -> shapely.Polygon:
    rings = [curves.flatten_path(path_of(loop), 0.01) for loop in panel.cut.loops]
    whole = shapely.Polygon(rings[0], rings[1:])
    return whole if whole.is_valid else whole.buffer(0)


def _circle(middle: Array) -> Path:
    return curves.reverse_path(curves.arc(middle, PIN, 0.0, 2 * np.pi))
