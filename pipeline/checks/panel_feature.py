"""Is anything cut narrower than the sheet is thick?"""

from __future__ import annotations

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


def run(evidence: Evidence) -> list[Finding]:
    """Return the narrowest bridge, tongue or hole of each panel."""
    findings = []
    wires = {cut.name for cut in evidence.imagined.cuts if cut.beyond == WIRE}
    for panel in evidence.panels:
        if panel.face.path == FILLETS:
            continue  # narrow everywhere, and glued all along
        width = narrowest(_undrilled(panel.cut, wires), panel.thickness)
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

    A width is narrow when an inset by half of it parts the region, swallows a hole into the outside or closes a hole.
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
    return all(not hole.buffer(-width / 2).is_empty for hole in holes)


CHECK = Check(
    id=ID,
    title="Is anything cut narrower than the sheet is thick?",
    rationale="Bridges and tongues narrower than the sheet is thick break, and a knife cannot turn in a narrower hole.",
    run=run,
)
