"""Plane regions bounded by exact curves.

Terms
-----
edge
    A curve of a region's border with the name of what lies beyond it ("" for nothing).
loop
    A closed tuple of edges. The outline runs counter-clockwise, holes run clockwise.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.geometry.curves import Curve, Path


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """One curve of a border and what lies beyond it."""

    curve: Curve
    against: str = ""


Loop = tuple[Edge, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """A flat region: one outline, counter-clockwise, and its holes, clockwise."""

    outline: Loop
    holes: tuple[Loop, ...] = ()

    @property
    def loops(self) -> tuple[Loop, ...]:
        """The outline and the holes."""
        return (self.outline, *self.holes)

    @property
    def curves(self) -> Path:
        """Every curve of the border."""
        return tuple(edge.curve for loop in self.loops for edge in loop)


def loop_of(path: Path, against: str = "") -> Loop:
    """Return a path as a loop whose edges all lie against one thing."""
    return tuple(Edge(curve, against) for curve in path)


def path_of(loop: Loop) -> Path:
    """Return the bare curves of a loop."""
    return tuple(edge.curve for edge in loop)
