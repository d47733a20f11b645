"""Is anything cut narrower than the sheet is thick?"""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.regions import Region, path_of
from pipeline.parts.wires import WIRE
from pipeline.stages.fillets import PATH as FILLETS

ID = "panel-feature"
FLATTENING = 0.01
"""mm; widths are told to a tenth."""
FOUND_TO = 0.005
"""mm; a bar as wide as the sheet is thick is not narrower."""
SLENDER = 2.0
"""Lengths of a tongue by its width; a stub breaks no sooner than the corner it stands for."""
FILLED = 0.75
"""Of the rectangle over its mouth; between a corner's half and a bar's whole, an end half as wide as its mouth."""
NARROWER = 0.84
"""Of one disc to the next: one is wider than a bar by a fifth at most, which then still fills 0.84 of its mouth."""
TRIED = 20
"""Discs, down to a 27th of the first."""
QUADRANT = 16
"""Chords of a quarter of a disc."""
TOUCHING = 1e-5
"""Of the disc's diameter; far above the rounding of where two lines cross, far below what the disc lacks."""
CHORDS = 2e-3
"""Of a radius; a disc of such chords lacks 1 - cos(pi / 64) of it, 0.0012, once inward and once outward at most."""


def run(evidence: Evidence) -> list[Finding]:
    """Return the narrowest bridge, tongue or hole of each panel."""
    findings = []
    wires = {cut.name for cut in evidence.imagined.cuts if cut.beyond == WIRE}
    for panel in evidence.panels:
        if panel.face.path == FILLETS:
            continue  # narrow everywhere, and glued all along
        width = evidence.kept.of(narrowest, _undrilled(panel.cut, wires), panel.thickness)
        fine = width is None
        limit = panel.thickness
        findings.append(
            Finding(
                id=ID,
                part=panel.id,
                status="pass" if fine else "warn",
                value=limit if width is None else width,
                limit=limit,
                unit="mm",
                message=f"nothing narrower than the sheet's {limit:g} mm"
                if fine
                else f"{width:.2f} mm is narrower than the sheet's {limit:g} mm; it may break; "
                "widen it in the scene, take a thinner sheet, or cut it last and gently",
            )
        )
    return findings


def _undrilled(region: Region, wires: set[str]) -> Region:
    """Return a region without the holes for wires: those are drilled, as round and as small as any."""
    return Region(region.outline, tuple(hole for hole in region.holes if not {edge.against for edge in hole} & wires))


def narrowest(region: Region, limit: float) -> float | None:
    """Return the smallest width of material or hole in mm, or nothing where none is under ``limit``.

    A width is narrow when an inset by half of it parts the region, swallows a hole into the outside, closes a hole or
    takes a tongue away whole (:func:`tongues`).
    """
    loops = [shapely.Polygon(flatten_path(path_of(loop), FLATTENING)) for loop in region.loops]
    sheet = shapely.Polygon(loops[0].exterior, [hole.exterior for hole in loops[1:]])
    if _sound(sheet, loops[1:], limit - FOUND_TO):
        return None
    low, high = 0.0, limit
    while high - low > FOUND_TO:
        middle = (low + high) / 2
        low, high = (middle, high) if _sound(sheet, loops[1:], middle) else (low, middle)
    return low


def _sound(sheet: shapely.Polygon, holes: list[shapely.Polygon], width: float) -> bool:
    left = sheet.buffer(-width / 2, join_style="mitre")
    if left.geom_type != "Polygon" or left.is_empty or len(left.interiors) != len(holes):
        return False
    return all(not hole.buffer(-width / 2).is_empty for hole in holes) and not tongues(sheet, width)


def tongues(sheet: shapely.Polygon, width: float) -> list[shapely.Polygon]:
    """Return the pieces, out of reach of a disc of diameter ``width`` in mm within the sheet, that hold a tongue.

    A disc rolled about within the sheet leaves tongues out, and the point of every corner. Over its mouth, the chord c
    between the disc's last two contacts, with h the way from there to its farthest point, a piece left out has the area

        straight corner         c h / 2      of any angle, since it is a triangle
        tip beside an arc       c h / 3      (parabola) the width falls faster than the way to the tip
        lancet                  < 2 c h / 3  (parabola) the width falls slower
        tongue, end of width e  c h (1 + e / c) / 2

    so it is a tongue where it fills more than 3/4 of c h, which is an end wider than half its mouth, and is longer than
    twice its mouth is wide. A bar between two arches flares into them, and its mouth of ``width`` lies up there: so a
    piece is tried with smaller and smaller discs, of which the first that does not enter the bar finds its mouth. Of a
    corner of angle a whose point is cut off the piece with c = 2 e is most like a tongue, h = e / (2 tan(a / 2)) long;
    so it is one only if tan(a / 2) < 1 / 8, which is a < 14.25 degrees.
    """
    if not sheet.is_valid:
        return []  # it crosses itself, which panel-outline tells
    rolled = _rolled(sheet, width)
    near = rolled.buffer(width * TOUCHING)
    shapely.prepare(near)
    found = []
    for piece in shapely.get_parts(sheet.difference(rolled)):
        if np.count_nonzero(~shapely.intersects_xy(near, shapely.get_coordinates(piece.exterior)[:-1])) < 2:
            continue  # one point beyond the mouth: a straight corner
        around = sheet.intersection(piece.buffer(2 * width))  # all that such discs touch, and less to reckon with
        if any(_holds_tongue(around, piece, width * NARROWER**step) for step in range(TRIED)):
            found.append(piece)
    return found


def _rolled(sheet: shapely.Geometry, width: float) -> shapely.Geometry:
    """Return all that a disc of diameter ``width`` covers within the sheet, and what it lacks for its chords."""
    return sheet.buffer(-width / 2, quad_segs=QUADRANT).buffer(width / 2 * (1 + CHORDS), quad_segs=QUADRANT)


def _holds_tongue(sheet: shapely.Geometry, within: shapely.Polygon, width: float) -> bool:
    rolled = _rolled(sheet, width)
    pieces = shapely.get_parts(sheet.difference(rolled))
    return any(within.intersects(piece.representative_point()) and _is_tongue(piece, rolled, width) for piece in pieces)


def _is_tongue(piece: shapely.Polygon, rolled: shapely.Geometry, width: float) -> bool:
    mouth = shapely.line_merge(piece.exterior.intersection(rolled.buffer(width * TOUCHING)))
    arc = max(shapely.get_parts(mouth), key=lambda part: part.length, default=None)
    if arc is None or arc.geom_type != "LineString" or arc.is_ring:
        return False  # no mouth: rounding between two curves that run together
    chord = shapely.LineString((arc.coords[0], arc.coords[-1]))
    reach = max(chord.distance(shapely.Point(at)) for at in piece.exterior.coords)
    under = shapely.Polygon(arc.coords).area if len(arc.coords) > 2 else 0.0
    return bool(reach > SLENDER * chord.length and piece.area + under > FILLED * chord.length * reach)


CHECK = Check(
    id=ID,
    title="Is anything cut narrower than the sheet is thick?",
    rationale="Bridges and tongues narrower than the sheet is thick break, and a knife cannot turn in a narrower hole.",
    run=run,
)
