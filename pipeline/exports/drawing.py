"""The neutral drawing every flat format is written from."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.arcs import Bulges, fit_path
from pipeline.geometry.curves import Path

Array = NDArray[np.float64]


class Layer(StrEnum):
    """Layers of a drawing; the values are DXF layer names and SVG group ids."""

    OUTLINE = "OUTLINE"
    HOLES = "HOLES"
    FOLD = "FOLD"
    GUIDE = "GUIDE"
    PLACE = "PLACE"
    BEVEL = "BEVEL"
    NOTES = "NOTES"


CUTTING_ORDER = (Layer.FOLD, Layer.GUIDE, Layer.PLACE, Layer.BEVEL, Layer.HOLES, Layer.OUTLINE, Layer.NOTES)
"""Inside before outside: a part that is already loose must not be cut again. Notes are cut by nobody."""

COLOURS: dict[Layer, str] = {
    Layer.OUTLINE: "#009E73",
    Layer.HOLES: "#CC79A7",
    Layer.FOLD: "#E69F00",
    Layer.GUIDE: "#56B4E9",
    Layer.PLACE: "#D55E00",
    Layer.BEVEL: "#0072B2",
    Layer.NOTES: "#808080",
}
"""Okabe and Ito, *Color Universal Design* (2008), and a grey."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A path on a layer, flat mm, curves exact.

    Attributes
    ----------
    closed
        Whether the path ends where it starts.
    fit
        The path in lines and arcs, where that is known already.
    """

    layer: Layer
    path: Path
    closed: bool = True
    fit: Bulges | None = None

    def fitted(self, tolerance: float) -> Bulges:
        """Return the path in lines and arcs.

        Raises
        ------
        ValueError
            If a number is not finite, or the path is not closed and should be.
        """
        bulges = self.fit or fit_path(self.path, tolerance)
        if self.closed and not bulges.closed:
            raise ValueError(f"a shape on {self.layer} is not closed")
        return bulges


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Text:
    """A note: its lower left corner, flat mm, and letter height."""

    at: tuple[float, float]
    height: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """One flat drawing in mm, x right, y up.

    Attributes
    ----------
    title
        What it shows.
    shapes
        Paths, closed but for runs of marks and outlines held by bridges.
    lines
        ``(n, 2, 2)`` straight lines of each layer.
    texts
        Notes, all on NOTES.
    colours
        ``#rrggbb`` of each layer.
    """

    title: str
    shapes: tuple[Shape, ...]
    lines: dict[Layer, Array] = field(default_factory=dict)
    texts: tuple[Text, ...] = ()
    colours: dict[Layer, str] = field(default_factory=lambda: dict(COLOURS))


class WriteDrawing(Protocol):
    """What writes a drawing in one format: a pure function, and the same drawing gives the same bytes.

    Parameters
    ----------
    drawing
        Flat mm.
    curve_tolerance
        Greatest distance of the arcs from the exact curves, mm.

    Raises
    ------
    ValueError
        If a number is not finite or a shape is not closed.
    """

    def __call__(self, drawing: Drawing, curve_tolerance: float) -> bytes:
        """Return the bytes of a file."""
