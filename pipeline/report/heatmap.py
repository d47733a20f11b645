"""How thick the walls of a print are, as a picture: seen from two corners of the bed, thin walls dark.

A ray of each pixel finds the skin; from there a second one goes square to it through the material. Where it soon
leaves by a facet that is no other side of a wall (more than ``OPPOSED_DEG`` from parallel), there is an edge and not a
wall, and the pixel stays grey.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from pipeline.exports.png import write_png
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.vectors import cross
from pipeline.parts.thickness import OPPOSED_DEG
from pipeline.sight.rays import EMBREE, along, caster, plane_of

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

WIDTH, HEIGHT, FOOT = 360, 270, 44
"""Of a picture, and of the strip at its foot that holds the legend, pixels."""
COARSE = 1 if EMBREE else 3
"""Pixels one ray stands for, each way: without Embree a ray takes some thirty times as long."""
MARGIN = 8 // COARSE
"""Rays left free round the print."""
VIEWS = ((-0.55, -0.72, 0.42), (0.55, 0.72, -0.42))
"""Directions toward the viewer, in the bed's frame: from the front, left and above, and from right opposite."""
INSIDE = 1e-3
"""mm under the skin where a ray through the wall starts."""
THICK, NEAR = 2.0, 0.01
"""In least walls: from where on a wall is simply thick; and how little below 1 is still 1, for behind the facets of a
curved wall the ray finds a hair less than there is."""
GRAZING = 1e-6
"""Cosine under which a ray runs along a facet rather than through it."""
EDGE = (150, 150, 150)
"""Grey of the places that are no wall."""
PAPER, INK = (251, 250, 246), (31, 33, 35)
CREASE = 0.94
"""Cosine between neighbouring pixels' normals under which a line is drawn between them, darkened by ``DARKEN``."""
DARKEN = 0.72
RAMP = (
    (0.0, (38, 6, 40)),
    (1.0, (96, 16, 74)),
    (1.0, (35, 84, 140)),
    (1.5, (86, 160, 168)),
    (2.0, (240, 233, 200)),
)
"""Colour by thickness over the least wall: plum below it, then blue to straw, each lighter than the one before, so that
it reads in grey too. The step at 1 is meant: on one side of it a wall can be printed."""


def wall_picture(lying: Mesh, min_wall: float) -> bytes:
    """Return a PNG of a print's walls by their thickness.

    Parameters
    ----------
    lying
        Closed, outward, in its bed frame, mm.
    min_wall
        The printer's least wall, mm.
    """
    picture = _paper(HEIGHT, WIDTH)
    body, room = _Body(lying), HEIGHT - FOOT
    # Beside or above each other, whichever shows the print larger.
    beside, above = (WIDTH // 2, room), (WIDTH, room // 2)
    wide, high = min(beside, above, key=lambda size: body.pixel(np.array(VIEWS[0]), *size))
    for number, toward in enumerate(VIEWS):
        index, thickness = body.seen(np.array(toward), wide // COARSE, high // COARSE, THICK * min_wall, min_wall)
        ratios = thickness / min_wall
        painted = _painted(body, index, np.where((ratios < 1) & (ratios >= 1 - NEAR), 1.0, ratios))
        down, right = (0, number * wide) if (wide, high) == beside else (number * high, 0)
        if COARSE > 1:
            painted = painted.repeat(COARSE, axis=0).repeat(COARSE, axis=1)
        picture[down : down + len(painted), right : right + painted.shape[1]] = painted
    picture[room:] = _legend(round(min_wall, 3))
    return write_png(picture)


def colours(ratios: Array) -> Pixels:
    """Return the colour ``(..., 3)`` of walls by thickness over the least wall; grey where it is not a number."""
    places = np.array([place for place, _ in RAMP])
    # A step needs two places: the lower belongs to what is thinner.
    places[1] = np.nextafter(places[1], 0.0)
    channels = [np.interp(ratios, places, [colour[k] for _, colour in RAMP]) for k in range(3)]
    out = np.stack(channels, axis=-1)
    out[np.isnan(ratios)] = EDGE
    return np.asarray(np.round(out), dtype=np.uint8)


class _Body:
    """A print ready for rays."""

    def __init__(self, lying: Mesh) -> None:
        middle = (lying.vertices.min(axis=0) + lying.vertices.max(axis=0)) / 2
        self.mesh = Mesh(vertices=lying.vertices - middle, triangles=lying.triangles)
        self.planes = plane_of(self.mesh.corners)
        sizes = np.maximum(np.linalg.norm(self.planes[:, :3], axis=1), 1e-300)
        self.planes = self.planes / sizes[:, None]
        self.first = caster(self.mesh)

    def pixel(self, toward: Array, wide: int, high: int) -> float:
        """Return the size of a pixel, mm, at which a view just fits."""
        extent = np.ptp(self.mesh.vertices @ _across(toward), axis=0)
        return float((extent / [wide - 2 * MARGIN, high - 2 * MARGIN]).max())

    def seen(
        self, toward: Array, wide: int, high: int, thick: float, suspect: float
    ) -> tuple[NDArray[np.int64], Array]:
        """Return what facet each pixel ``(high, wide)`` shows, or -1, and how thick the wall is there, mm.

        The view is parallel, as large as fits; thickness is not a number at an edge, see `through`.
        """
        toward = toward / np.linalg.norm(toward)
        across, pixel = _across(toward), self.pixel(toward, wide, high)
        flat = self.mesh.vertices @ across
        middle, away = (flat.min(axis=0) + flat.max(axis=0)) / 2, float((self.mesh.vertices @ toward).max()) + 1.0
        half = np.ptp(flat, axis=0) / 2 + pixel
        x = middle[0] + pixel * (np.arange(wide) - (wide - 1) / 2)
        y = middle[1] - pixel * (np.arange(high) - (high - 1) / 2)
        # The view fits its room one way only; the other way there are rays beside the print, which all miss.
        columns, rows = (np.flatnonzero(np.abs(at - middle[k]) <= half[k]) for k, at in enumerate((x, y)))
        grid = np.empty((len(rows), len(columns), 3))
        for k in range(3):
            grid[..., k] = x[columns] * across[k, 0] + (y[rows] * across[k, 1])[:, None] + away * toward[k]
        starts = grid.reshape(-1, 3)
        hit = self.first(starts, np.broadcast_to(-toward, starts.shape))
        met = np.flatnonzero(hit >= 0)
        facets = hit[met].astype(np.int64)
        reach = along(self.planes[facets], starts[met], np.broadcast_to(-toward, (len(met), 3)))
        index, thickness = np.full(high * wide, -1), np.full(high * wide, np.nan)
        places = (rows[:, None] * wide + columns).ravel()[met]
        index[places] = facets
        thickness[places] = self.through(facets, starts[met] - reach[:, None] * toward, thick, suspect)
        return index.reshape(high, wide), thickness.reshape(high, wide)

    def through(self, index: NDArray[np.int64], points: Array, thick: float, suspect: float) -> Array:
        """Return the wall ``(n,)``, mm, behind points on facets, not a number at an edge.

        Of two sides at the angle a it is t cos(a) / cos(a / 2), t the way through; where the way ends on no opposed
        side, it is an edge, unless the way is as long as a wall is ``thick``. What comes out under ``suspect`` is
        measured once more, the way square to the other side: behind a sharp curve no wedge is the wall.
        """
        inward = -self.planes[index, :3]
        starts = points + INSIDE * inward
        other = self.first(starts, inward).astype(np.int64)
        cosine = np.einsum("ij,ij->i", inward, self.planes[other, :3])
        met = np.flatnonzero((other >= 0) & (cosine > GRAZING))
        chord = along(self.planes[other[met]], starts[met], inward[met]) + INSIDE
        walls = chord * cosine[met] / np.sqrt((1 + cosine[met]) / 2)
        opposed = cosine[met] >= np.cos(np.radians(OPPOSED_DEG))
        out = np.full(len(points), np.nan)
        again = np.flatnonzero(opposed & (walls < suspect))
        walls[again] = np.minimum(chord[again], self.square_to(other[met[again]], starts[met[again]]))
        out[met] = np.where(opposed, walls, np.where(chord >= thick, chord, np.nan))
        return out

    def square_to(self, other: NDArray[np.int64], starts: Array) -> Array:
        """Return how far it is ``(n,)`` from points in the material to the skin, square to the facets ``other``."""
        ways = self.planes[other, :3]
        hit = self.first(starts, ways).astype(np.int64)
        cosine = np.einsum("ij,ij->i", ways, self.planes[hit, :3])
        good = (hit >= 0) & (cosine > GRAZING)
        out = np.full(len(starts), np.inf)
        out[good] = along(self.planes[hit[good]], starts[good], ways[good]) + INSIDE
        return out


def _across(toward: Array) -> Array:
    """Return the directions ``(3, 2)`` right and up of a view, unit length."""
    right = cross(np.array([0.0, 0.0, 1.0]), toward)
    right /= np.linalg.norm(right)
    up = cross(toward, right)
    return np.stack([right, up / np.linalg.norm(up)], axis=1)


def _painted(body: _Body, index: NDArray[np.int64], ratios: Array) -> Pixels:
    """Return a view's pixels: colours, with lines where the skin bends or ends."""
    out, width = _paper(*index.shape), index.shape[1]
    facets, pixels = index.ravel(), out.reshape(-1, 3)
    there = np.flatnonzero(facets >= 0)
    pixels[there] = colours(ratios.ravel()[there])
    normals, line = body.planes[:, :3], np.zeros(index.size, dtype=bool)
    for step, some in ((1, there[there % width > 0]), (width, there[there >= width])):
        border = some[facets[some] != facets[some - step]]
        one, two = facets[border], facets[border - step]
        line[border] |= (two < 0) | (np.einsum("ij,ij->i", normals[one], normals[two]) < CREASE)
    pixels[line] = np.round(pixels[line] * DARKEN)
    return out


def _paper(high: int, wide: int) -> Pixels:
    """Return an empty picture ``(high, wide, 3)``."""
    return np.tile(np.array(PAPER, dtype=np.uint8), (high, wide, 1))


@cache
def _legend(min_wall: float) -> Pixels:
    """Return the strip ``(FOOT, WIDTH, 3)``: the scale from 0 to twice the least wall, mm, and the grey of edges."""
    left, right, top, bottom = 14, 270, 8, 20
    strip = _paper(FOOT, WIDTH)
    strip[top:bottom, left:right] = colours(np.linspace(0.0, 2.0, right - left))
    strip[top:bottom, 300:312] = EDGE
    image = Image.fromarray(strip)
    draw, font = ImageDraw.Draw(image), ImageFont.load_default(size=11)
    for share in (0.0, 0.5, 1.0):
        place = left + share * (right - left - 1)
        draw.line([(place, bottom), (place, bottom + 3)], fill=INK)
        words = f"{2 * share * min_wall:g}" + (" mm or more" if share == 1.0 else "")
        draw.text((place, bottom + 4), words, fill=INK, font=font, anchor="mt" if share < 1.0 else "rt")
    draw.text((316, top), "edge", fill=INK, font=font)
    return np.asarray(image)
