"""Where a real LED must sit so that its light falls exactly as imagined.

The relief is a collineation: it keeps lines and incidences, so rays from a point become rays from that point's image,
and a lamp in the image of the imagined lamp throws exactly the warped shadows. Parallel light of direction (dx, dy, dz)
goes through an ideal point, whose image lies on the vanishing plane. With a, b, u and w as in
``pipeline.relief.collineation``, M (dx, dy, dz, 0) has the weight a dy, and

    M (d, 0) = eye's axis + (k dx / dy, V, k dz / dy),     k = 1 / a = V + D,     V = b / a behind the fixed plane.

Light that travels toward the viewer (dy < 0) leaves that point; light that travels inward (dy > 0) runs together in
it, and light along the opening (dy = 0) stays parallel, as all light does where nothing is squeezed (a = 0).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.light import LightTable
from pipeline.relief.collineation import Relief
from pipeline.room.inside import Inside

Array = NDArray[np.float64]

Nature = Literal["lamp", "leaving", "converging", "parallel"]
"""What the built light is like: of a lamp; leaving a point; running together in one; parallel."""

ALONG = 1e-9
"""Of a unit vector's y: light this near to the opening's plane travels along it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LightPlace:
    """The point that a light's rays go through in the built room.

    Attributes
    ----------
    nature
        Whether they leave it, run together in it, or stay parallel.
    point
        Built mm; nothing where they stay parallel.
    way
        Built direction of parallel light, of length 1; of other light nothing.
    inside_box
        Whether the point lies within the box.
    """

    nature: Nature
    point: tuple[float, float, float] | None
    way: tuple[float, float, float] | None
    inside_box: bool


def place_light(table: LightTable, hall: Hall, relief: Relief, inside: Inside) -> LightPlace:
    """Return the point that a light's rays go through in the built room behind the apron's end."""
    if table.kind == "lamp":
        point = carried(relief, np.append(table.spot(hall), 1.0))
        return _at("lamp", point, inside)
    way = table.way()
    if relief.a == 0 or abs(way[1]) < ALONG:
        # The relief shrinks x and z alike where dy = 0, and is the identity where nothing is squeezed.
        built = way if relief.a == 0 else np.array([way[0], 0.0, way[2]])
        x, y, z = built / np.linalg.norm(built)
        return LightPlace(nature="parallel", point=None, way=(float(x), float(y), float(z)), inside_box=False)
    point = carried(relief, np.append(way, 0.0))
    return _at("leaving" if way[1] < 0 else "converging", point, inside)


def carried(relief: Relief, homogeneous: Array) -> Array:
    """Return the built point ``(3,)`` of an imagined one ``(4,)``, by the matrix alone, on the apron too."""
    moved = relief.built_from_imagined @ homogeneous
    out: Array = moved[:3] / moved[3]
    return out


def within(point: Array, inside: Inside) -> bool:
    """Return whether a built point lies in the box."""
    return bool(point[1] >= 0 and all(plane[:3] @ point + plane[3] >= 0 for plane in inside.planes.values()))


def _at(nature: Nature, point: Array, inside: Inside) -> LightPlace:
    x, y, z = (float(value) for value in point)
    return LightPlace(nature=nature, point=(x, y, z), way=None, inside_box=within(point, inside))
