"""The relief: the central collineation from the imagined room to the built one.

Terms and formulas as in C. T. Anger, *Analytische Darstellung der Basrelief-Perspective* (1834), and L. Burmester,
*Grundzuege der Reliefperspective* (1883): every ray through the eye stays, the fixed plane (the apron's end) stays
point by point. With u = y - apron, D the eye's distance to the fixed plane, L and d the apparent and built depth
behind it:

    a = (L - d) / (L (D + d)),   b = d (L + D) / (L (D + d)),   w = 1 + a u
    x' = ex + (x - ex) / w,      z' = ez + (z - ez) / w,        y' = apron + b u / w
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.geometry import frames

Array = NDArray[np.float64]

SHORT_OF_INFINITY = 0.9
"""Share of the way from the back wall to the vanishing depth up to which things are carried back as they are."""


@dataclass(frozen=True, kw_only=True)
class Relief:
    """The relief of one box, one eye and one apparent depth; all mm.

    Attributes
    ----------
    eye
        (x, y, z) of the eye, built frame, y below zero.
    apron
        Depth of the strip built true.
    apparent_depth, built_depth
        From the opening to the visible back wall, imagined and built.
    """

    eye: tuple[float, float, float]
    apron: float
    apparent_depth: float
    built_depth: float

    def __post_init__(self) -> None:
        if not self.eye[1] < 0:
            raise ValueError("the eye must stand before the opening")
        if not 0 <= self.apron < self.built_depth <= self.apparent_depth:
            raise ValueError("0 <= apron < built depth <= apparent depth does not hold")

    @property
    def distance(self) -> float:
        """D, from the eye to the fixed plane."""
        return self.apron - self.eye[1]

    @property
    def a(self) -> float:
        """Coefficient of w = 1 + a u, 1/mm."""
        apparent, built = self.apparent_depth - self.apron, self.built_depth - self.apron
        return (apparent - built) / (apparent * (self.distance + built))

    @property
    def b(self) -> float:
        """Depth scale at the fixed plane; the determinant of the matrix with w = 1 there."""
        apparent, built = self.apparent_depth - self.apron, self.built_depth - self.apron
        return built * (apparent + self.distance) / (apparent * (self.distance + built))

    @property
    def back_scale(self) -> float:
        """Size of the built back wall over its imagined size."""
        apparent, built = self.apparent_depth - self.apron, self.built_depth - self.apron
        return (self.distance + built) / (self.distance + apparent)

    @property
    def vanishing_depth(self) -> float | None:
        """Depth from the opening where lines square to it meet; none for the identity."""
        return None if self.a == 0 else self.apron + self.b / self.a

    @cached_property
    def built_from_imagined(self) -> Array:
        """The ``(4, 4)`` matrix, for y >= apron."""
        ex, _, ez = self.eye
        a, b, apron = self.a, self.b, self.apron
        w0 = 1 - a * apron
        matrix = np.array(
            [
                [1, a * ex, 0, ex * (w0 - 1)],
                [0, b + a * apron, 0, apron * (w0 - b)],
                [0, a * ez, 1, ez * (w0 - 1)],
                [0, a, 0, w0],
            ]
        )
        matrix.setflags(write=False)
        return matrix

    @cached_property
    def imagined_from_built(self) -> Array:
        """The ``(4, 4)`` inverse, for y >= apron."""
        matrix = frames.inverse(self.built_from_imagined)
        matrix.setflags(write=False)
        return matrix

    def build_points(self, points_imagined: ArrayLike) -> Array:
        """Return ``(n, 3)`` built points of ``(n, 3)`` imagined ones, the apron left as it is."""
        points = np.atleast_2d(np.asarray(points_imagined, dtype=np.float64))
        behind = points[:, 1] >= self.apron
        if behind.all():
            return frames.apply(self.built_from_imagined, points)
        out = points.copy()
        out[behind] = frames.apply(self.built_from_imagined, points[behind])
        return out

    def imagine_points(self, points_built: ArrayLike) -> Array:
        """Return ``(n, 3)`` imagined points of ``(n, 3)`` built ones."""
        points = np.atleast_2d(np.asarray(points_built, dtype=np.float64))
        behind = points[:, 1] >= self.apron
        if behind.all():
            return frames.apply(self.imagined_from_built, points)
        out = points.copy()
        out[behind] = frames.apply(self.imagined_from_built, points[behind])
        return out

    @property
    def last_carried(self) -> float:
        """The built y up to which points are carried back as they are, mm; infinite where nothing vanishes."""
        vanishing = self.vanishing_depth
        return math.inf if vanishing is None else self.built_depth + SHORT_OF_INFINITY * (vanishing - self.built_depth)

    def carry_back(self, points_built: ArrayLike) -> Array:
        """Return ``(n, 3)`` imagined points of built ones that nobody imagined, such as the hidden faces of sheets.

        In a very deep room the vanishing depth is nearer than a sheet is thick. What lies there or behind it is first
        drawn toward the eye, along its ray, so that it looks the same.
        """
        points = np.atleast_2d(np.array(points_built, dtype=np.float64))
        last = self.last_carried
        eye, past = np.array(self.eye), points[:, 1] > last
        points[past] = eye + (points[past] - eye) * ((last - eye[1]) / (points[past, 1:2] - eye[1]))
        return self.imagine_points(points)

    def imagined_depth(self, built_y: float) -> float:
        """Return the imagined y of a plane y = const of the built room."""
        return float(self.imagine_points([[0.0, built_y, 0.0]])[0, 1])

    def built_y(self, imagined_depth: float) -> float:
        """Return the built y of a plane y = const of the imagined room."""
        return float(self.build_points([[0.0, imagined_depth, 0.0]])[0, 1])

    def build_plane(self, plane_imagined: ArrayLike) -> Array:
        """Return the built plane ``(4,)`` (n, c), n . x + c = 0 with |n| = 1, of an imagined one behind the apron.

        Planes go by the inverse transpose: ``plane' = M^-T plane``.
        """
        plane = self.imagined_from_built.T @ np.asarray(plane_imagined, dtype=np.float64)
        out: Array = plane / np.linalg.norm(plane[:3])
        return out
