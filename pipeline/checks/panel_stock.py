"""Does every panel fit a sheet of its material?"""

from __future__ import annotations

import math

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

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
        size = tuple(evidence.entries[panel.id]["size"])
        stock = [table.sheet, *((width, height) for width, height, _ in table.offcuts)]
        ways = [size] if table.grain else [size, size[::-1]]
        fits = [
            (max(way[0] - width + 2 * table.margin, way[1] - height + 2 * table.margin), (width, height), way)
            for width, height in stock
            for way in ways
        ]
        over, best, way = min(fits, key=lambda fit: fit[0])
        room = (best[0] - 2 * table.margin, best[1] - 2 * table.margin)
        said = f"{way[0]:.1f} x {way[1]:.1f} mm on {panel.material} {room[0]:g} x {room[1]:g} mm within its margin"
        fine = over <= ROUNDING
        findings.append(
            Finding(
                id=ID,
                part=panel.id,
                status="pass" if fine else "fail",
                value=max(way),
                limit=max(room),
                unit="mm",
                message=said
                if fine
                else f"{said}: {over:.1f} mm too large; use a larger sheet, a smaller box, or "
                f"{split_words(size, way, room)}",
            )
        )
    return findings


def split_words(size: tuple[float, float], way: tuple[float, float], room: tuple[float, float]) -> str:
    """Return where a panel that is too large could be parted into equal pieces that fit."""
    said = []
    for axis, (word, side) in enumerate((("left", "width"), ("lower", "height"))):
        here = axis if way == size else 1 - axis
        pieces = math.ceil(size[axis] / room[here] - 1e-9)
        if pieces > 1:
            lines = " and ".join(f"{size[axis] * k / pieces:.1f}" for k in range(1, pieces))
            said.append(f"across its {side} at {lines} mm from its {word} end")
    return f"part it {', and '.join(said)}, where a joint of the cover, a pier or a rib hides the seam"


CHECK = Check(
    id=ID,
    title="Does every panel fit a sheet of its material?",
    rationale="A panel is cut in one piece; one that is larger than the stock has a seam where nobody planned it.",
    run=run,
)
