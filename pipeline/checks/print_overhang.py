"""Does any of the skin that will be looked at hang over the bed?

The written STL is read back and placed by the manifest; the pieces a print was cut into stand together.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.parts.overhang import NARROW, SUPPORT_DEG, eyes_before, hanging_area

Array = NDArray[np.float64]

ID = "print-overhang"
SCRATCH_MM2 = 1.0
"""mm^2; less than this is a corner that no support would be set under."""


def check_overhang(
    part: str, corners_built: Array, built_from_bed: Array, eyes: Array, beside: Array | None = None
) -> list[Finding]:
    """Return how much of a print, ``(m, 3, 3)`` built mm, hangs and is seen from ``eyes`` ``(k, 3)``, mm^2.

    ``beside`` ``(n, 3, 3)`` hides some of it, as other pieces of the same print do.
    """
    area = hanging_area(corners_built, eyes, built_from_bed, beside)
    if area < SCRATCH_MM2:
        message = "no supports touch what will be looked at"
        return [Finding(id=ID, part=part, status="pass", value=area, limit=SCRATCH_MM2, unit="mm2", message=message)]
    message = (
        f"{area:.0f} mm2 of the visible skin faces the bed within {SUPPORT_DEG:g} degrees and hangs farther than "
        f"{NARROW:g} mm: supports there leave marks; tilt the print in the slicer, set few light supports, and sand "
        "them off before painting"
    )
    return [Finding(id=ID, part=part, status="warn", value=area, limit=SCRATCH_MM2, unit="mm2", message=message)]


def run(evidence: Evidence) -> list[Finding]:
    """Return the findings of every print's written file."""
    eyes, found = eyes_before(evidence.room.relief.eye), []
    for pieces in evidence.whole_prints:
        for part in pieces:
            others = [evidence.shells_built[other.id] for other in pieces if other is not part]
            found += evidence.kept.of(
                check_overhang,
                part.id,
                evidence.shells_built[part.id],
                np.array(evidence.entries[part.id]["built_from_bed"]),
                eyes,
                np.concatenate(others) if others else None,
            )
    return found


CHECK = Check(
    id=ID,
    title="Does any of the skin that will be looked at hang over the bed?",
    rationale="Supports leave pits and stubs where they break off; on a hidden side nobody minds them.",
    run=run,
)
