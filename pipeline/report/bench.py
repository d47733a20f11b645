"""Sheets and ruler measures as the page shows them."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Evidence
from pipeline.geometry.curves import flatten_path, transform_path
from pipeline.geometry.regions import path_of
from pipeline.parts.model import Panel
from pipeline.sheets.measures import Measure, corners_of, decimals_of, error_minutes, measure_panel, rounded
from pipeline.sheets.setting_out import letters
from pipeline.sheets.stock import Filled

Array = NDArray[np.float64]

FINE = 0.3
"""mm; a drawing of a sheet is smaller than the sheet."""
WIDE = 300.0
"""Width of a panel's sketch in its own coordinates."""
MOST_CORNERS = 40
"""Numbers of more corners would cover one another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """A filled sheet.

    Attributes
    ----------
    name, size
        The material and which sheet; mm.
    files
        Relative paths.
    parts
        Part ids, numbered from 1 in the drawing.
    used, density
        Area of the parts, cm^2, and share of the sheet, %.
    drawing
        An SVG of our own making.
    """

    name: str
    size: tuple[float, float]
    files: tuple[str, ...]
    parts: tuple[str, ...]
    used: float
    density: float
    drawing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunGroup:
    """Marks on the ruler: for guides each along its first and second edge, for places from their two corners."""

    edges: str
    marks: tuple[str, ...]
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureTable:
    """A panel for a ruler: a sketch with its corners numbered, lengths, places, and marks for the guides.

    ``lengths`` hold what, mm, mm on the ruler, and the error of rounding for the eye in arc minutes.
    """

    part: str
    sketch: str
    lengths: tuple[tuple[str, str, str, str], ...]
    places: RunGroup | None
    runs: tuple[RunGroup, ...]


def sheet_rows(sheets: tuple[Filled, ...]) -> tuple[SheetRow, ...]:
    """Return the sheets in their order."""
    return tuple(
        SheetRow(
            name=f"{sheet.stock.name} {sheet.number}",
            size=sheet.size,
            files=(f"{sheet.file}.dxf", f"{sheet.file}.svg"),
            parts=tuple(name for name, _ in sheet.placed),
            used=sheet.used / 100,
            density=100 * sheet.density,
            drawing=sheet_drawing(sheet),
        )
        for sheet in sheets
    )


def sheet_drawing(sheet: Filled) -> str:
    """Return a sheet with its parts, holes open and numbers on them, as an SVG element without ids or styles."""
    width, height = sheet.size
    flip = np.array([[1.0, 0, 0], [0, -1, height], [0, 0, 1]])
    shapes, numbers = [], []
    for number, ((_, matrix), piece, footprint) in enumerate(
        zip(sheet.placed, sheet.pieces, sheet.footprints, strict=True), start=1
    ):
        loops = [transform_path(path_of(loop), flip @ matrix) for loop in piece.cut.loops]
        shapes.append("".join(_run(flatten_path(loop, FINE)) for loop in loops))
        spot = footprint.representative_point()
        tall = max(3.0, min(9.0, 0.3 * footprint.area**0.5))
        numbers.append(
            f'<text x="{spot.x:.1f}" y="{height - spot.y + 0.35 * tall:.1f}" font-size="{tall:.1f}" '
            f'text-anchor="middle" fill="#221a10">{number}</text>'
        )
    return (
        f'<svg viewBox="-1 -1 {width + 2:g} {height + 2:g}" role="img" '
        f'aria-label="{escape(sheet.stock.name)} sheet {sheet.number} with {len(shapes)} parts">'
        f'<rect width="{width:g}" height="{height:g}" fill="#fffdf8" stroke="#8a7a60" stroke-width="0.6"/>'
        f'<path fill="#efe3cb" fill-rule="evenodd" stroke="#3b2f20" stroke-width="0.5" d="{"".join(shapes)}"/>'
        f"{''.join(numbers)}</svg>"
    )


def measure_tables(evidence: Evidence) -> tuple[MeasureTable, ...]:
    """Return the measures of every flat panel, in the order of the panels."""
    step, eye_distance = evidence.scene.make.ruler, -evidence.room.relief.eye[1]
    return tuple(_table(panel, step, eye_distance) for panel in evidence.panels)


def _table(panel: Panel, step: float, eye_distance: float) -> MeasureTable:
    decimals = decimals_of(step)
    measures = measure_panel(panel)
    lengths = tuple(
        (one.what, f"{one.value:.2f}", f"{rounded(one.value, step):.{decimals}f}",
         f"{error_minutes(one, step, eye_distance):.1f}")
        for one in measures if not one.edges
    )  # fmt: skip
    groups: dict[str, list[Measure]] = {}
    for one in measures:
        if one.what == "run":
            groups.setdefault(one.edges, []).append(one)
    runs = tuple(
        RunGroup(
            edges=edges,
            marks=tuple(
                f"{rounded(one.value, step):.{decimals}f} \N{RIGHTWARDS ARROW} "
                f"{rounded(one.other or 0.0, step):.{decimals}f}"
                for one in group
            ),
            error=max(error_minutes(one, step, eye_distance) for one in group),
        )
        for edges, group in groups.items()
    )
    found = [one for one in measures if one.edges and one.what != "run"]
    return MeasureTable(
        part=panel.id,
        sketch=_sketch(panel),
        lengths=lengths,
        places=RunGroup(
            edges=found[0].edges,
            marks=tuple(
                f"{one.what}: {rounded(one.value, step):.{decimals}f}, {rounded(one.other or 0.0, step):.{decimals}f}"
                for one in found
            ),
            error=max(error_minutes(one, step, eye_distance) for one in found),
        )
        if found
        else None,
        runs=runs,
    )


def _sketch(panel: Panel) -> str:
    """Return a panel's outline and holes with its corners numbered, as an SVG element."""
    loops = [flatten_path(path_of(loop), FINE / 3) for loop in panel.cut.loops]
    low, high = loops[0].min(axis=0), loops[0].max(axis=0)
    scale = min(WIDE / (high[0] - low[0]), 0.7 * WIDE / (high[1] - low[1]))
    size = (high - low) * scale
    edge = 16.0

    def place(points: Array) -> Array:
        out: Array = (points - [low[0], high[1]]) * [scale, -scale] + edge
        return out

    corners = place(corners_of(panel.cut.outline))
    texts = []
    for name, loop in (("", panel.cut.outline), *((letters(i), hole) for i, hole in enumerate(panel.cut.holes))):
        own = place(corners_of(loop))
        middle = own.mean(axis=0)
        for number, corner in enumerate(own if len(own) <= MOST_CORNERS else [], start=1):
            way = (corner - middle) / max(float(np.linalg.norm(corner - middle)), 1e-9)
            x, y = corner + 8.0 * way
            texts.append(f'<text x="{x:.1f}" y="{y + 3:.1f}">{name}{number}</text>')
    return (
        f'<svg viewBox="0 0 {size[0] + 2 * edge:.0f} {size[1] + 2 * edge:.0f}" width="{size[0] + 2 * edge:.0f}" '
        f'role="img" aria-label="{panel.id} with {len(corners)} numbered corners">'
        f'<path fill="#efe3cb" fill-rule="evenodd" stroke="#3b2f20" stroke-width="1" '
        f'd="{"".join(_run(place(loop)) for loop in loops)}"/>'
        f'<g font-size="9" text-anchor="middle" fill="#7a2e00">{"".join(texts)}</g></svg>'
    )


def _run(points: Array) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points.tolist()) + "Z"
