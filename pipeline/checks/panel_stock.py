"""Does every panel fit a sheet of its material?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.scene.materials import Material
from pipeline.sheets.nesting import Size
from pipeline.sheets.parting import MOST, Parting
from pipeline.stages.parting import offer

ID = "panel-stock"
ROUNDING = 1e-6
"""mm; sizes are told to a nanometre."""


def run(evidence: Evidence) -> list[Finding]:
    """Return how much each panel (front and hidden outline together) is larger than the sheet it fits best.

    Offcuts count as sheets. A panel may lie either way round, unless its sheet has a grain.
    """
    findings = []
    for panel in evidence.cut_parts:
        table = evidence.scene.materials[panel.material]
        over, best, way = best_fit(tuple(evidence.entries[panel.id]["size"]), table)
        room = (best[0] - 2 * table.margin, best[1] - 2 * table.margin)
        said = f"{way[0]:.1f} x {way[1]:.1f} mm on {panel.material} {room[0]:g} x {room[1]:g} mm within its margin"
        fine = over <= ROUNDING
        value, limit = tightest(way, room)
        findings.append(
            Finding(
                id=ID,
                part=panel.id,
                status="pass" if fine else "fail",
                value=value,
                limit=limit,
                unit="mm",
                message=said
                if fine
                else f"{said}: {over:.1f} mm too large; use a larger sheet, a smaller box, or "
                f"{in_words(offer(panel, evidence.scene))}",
            )
        )
    return findings


def best_fit(size: Size, table: Material) -> tuple[float, Size, Size]:
    """Return how much a part is larger than the sheet it fits best, mm, that sheet, and the part as it lies on it."""
    ways = [size] if table.grain else [size, size[::-1]]
    fits = [
        (max(way[0] - width + 2 * table.margin, way[1] - height + 2 * table.margin), (width, height), way)
        for width, height in table.sizes
        for way in ways
    ]
    return min(fits, key=lambda fit: fit[0])


def tightest(way: Size, room: Size) -> tuple[float, float]:
    """Return the side of a part that lacks most room on a sheet, or has least to spare, and that room, mm."""
    return max(zip(way, room, strict=True), key=lambda side: side[0] - side[1])


def in_words(parting: Parting | None) -> str:
    """Return how to part a panel: ``cut it in 2 from (140.2, 0.0) to (140.2, 96.5), in a joint of its cover``."""
    if parting is None or not parting.enough:
        return f"other stock: no {MOST} cuts leave pieces that fit"
    cuts = [
        f"from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}){', in a joint of its cover' if guided else ''}"
        for ((x0, y0), (x1, y1)), guided in zip(parting.lines + 0.0, parting.along_guide, strict=True)
    ]
    return f"cut it in {len(cuts) + 1} {', then '.join(cuts)} (mm on its drawing, drawn there as a note)"


CHECK = Check(
    id=ID,
    title="Does every panel fit a sheet of its material?",
    rationale="A panel is cut in one piece; one that is larger than the stock has a seam where nobody planned it.",
    run=run,
)
