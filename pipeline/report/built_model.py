"""The built scene as one file to be looked at from all sides, in any program that opens GLB."""

from __future__ import annotations

from pipeline.checks.evidence import Evidence
from pipeline.exports.glb import Shown, write_glb
from pipeline.report.pictures import made_surfaces

FILE = "built.glb"


def built_model(evidence: Evidence, title: str) -> dict[str, bytes]:
    """Return the file by its path: every part where it stands in the box, with the lines drawn on it."""
    panels = evidence.cut_parts
    surfaces = made_surfaces(evidence.room.relief, panels, evidence.prints)
    bodies = {part.id: part.body for part in evidence.parts}
    shown = [
        Shown(name=surface.part, tone=surface.tone, body=bodies[surface.part], lines=surface.lines_built)
        for surface in surfaces
    ]
    return {FILE: write_glb(title, shown)}
