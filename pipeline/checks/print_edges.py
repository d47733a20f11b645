"""Has any print an edge as sharp as a knife?"""

from __future__ import annotations

import numpy as np

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.written import read_stl
from pipeline.geometry.meshes import weld
from pipeline.parts.thickness import KNIFE_DEG, knife_edges

ID = "print-edges"


def check_edges(part: str, stl: bytes) -> list[Finding]:
    """Return the sharpest convex edge of a written STL under the angle that prints clean, degrees."""
    mesh = weld(read_stl(stl))
    try:
        edges, angles = knife_edges(mesh)
    except ValueError:  # facets lack neighbours; print-closed counts them
        message = "the surface is torn: its edges cannot be measured"
        return [Finding(id=ID, part=part, status="fail", value=None, limit=KNIFE_DEG, unit="deg", message=message)]
    if len(angles) == 0:
        message = f"no edge is sharper than {KNIFE_DEG:g} degrees"
        return [Finding(id=ID, part=part, status="pass", value=None, limit=KNIFE_DEG, unit="deg", message=message)]
    sharpest = float(angles.min())
    total = float(np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1).sum())
    message = (
        f"{total:.1f} mm of edge sharper than {KNIFE_DEG:g} degrees, down to {sharpest:.0f}: "
        "it prints ragged there; break the edge with a file"
    )
    return [Finding(id=ID, part=part, status="warn", value=sharpest, limit=KNIFE_DEG, unit="deg", message=message)]


def run(evidence: Evidence) -> list[Finding]:
    """Return the findings of every print's written file."""
    found = []
    for part in evidence.prints:
        found += evidence.kept.of(check_edges, part.id, evidence.files[evidence.entries[part.id]["files"]["stl"]])
    return found


CHECK = Check(
    id=ID,
    title="Has any print an edge as sharp as a knife?",
    rationale="Material runs out toward a sharp edge; a printer rounds it off or leaves it ragged, and gaps show.",
    run=run,
)
