"""Is every wall of every print at least as thick as the printer needs?"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.checks.written import read_stl
from pipeline.geometry.booleans import BodyError
from pipeline.geometry.meshes import weld
from pipeline.parts.brick_relief import SHAVED, behind_face
from pipeline.parts.model import Raised
from pipeline.parts.thickness import thinnest_wall
from pipeline.sight.rays import Target

Array = NDArray[np.float64]

ID = "print-wall"
ENOUGH = 2.0
"""Walls this many times as thick as the printer needs are not measured to the last hundredth."""
PLATE_ROUNDING = 2e-3
"""mm; the files hold single-precision numbers, and a plate has no thickness to spare."""


def check_wall(part: str, stl: bytes, min_wall: float, target: Target | None = None) -> list[Finding]:
    """Return the thinnest wall of a written STL, at hand as ``target`` or not, against the least, mm."""
    mesh = weld(read_stl(stl))
    try:
        found = thinnest_wall(mesh, ENOUGH * min_wall, min_wall, target)
    except ValueError:  # facets lack neighbours; print-closed counts them
        message = "the surface is torn: its walls cannot be measured"
        return [Finding(id=ID, part=part, status="fail", value=None, limit=min_wall, unit="mm", message=message)]
    if found is None:
        message = "no two sides of it face each other, so nothing is measured; look at it in the slicer"
        return [Finding(id=ID, part=part, status="warn", value=None, limit=min_wall, unit="mm", message=message)]
    thick = found.thickness >= min_wall
    where = ", ".join(f"{value:.1f}" for value in found.enters)
    message = f"walls of {found.thickness:.2f} mm and more"
    if not thick:
        message = (
            f"{found.thickness:.2f} mm thin at ({where}) on the bed, {min_wall:g} mm is needed; "
            "make the imagined piece thicker, or move it forward where the relief leaves it more"
        )
    status: Status = "pass" if thick else "fail"
    return [Finding(id=ID, part=part, status=status, value=found.thickness, limit=min_wall, unit="mm", message=message)]


def check_plate(part: str, raised: Raised, corners_built: Array, min_wall: float) -> list[Finding]:
    """Return the thinnest place of the plate under raised units, mm; the units themselves are detail, not walls."""
    try:
        thinnest = thinnest_wall(behind_face(weld(corners_built), raised))
    except BodyError:
        thinnest = None
    thickness = 0.0 if thinnest is None else thinnest.thickness + SHAVED
    thick = thickness >= min_wall - PLATE_ROUNDING
    message = f"a plate of {thickness:.2f} mm and more under the units"
    if thinnest is None:
        message = "no plate was found under the units; do not print this, report the scene"
    elif not thick:
        message = f"the plate under the units is {thickness:.2f} mm thin, {min_wall:g} mm is needed; use thicker sheet"
    status: Status = "pass" if thick else "fail"
    return [Finding(id=ID, part=part, status=status, value=thickness, limit=min_wall, unit="mm", message=message)]


def run(evidence: Evidence) -> list[Finding]:
    """Return the findings of every print's written file."""
    least = evidence.scene.make.printer.min_wall
    found = []
    for part in evidence.prints:
        if isinstance(part.solid, Raised):
            found += evidence.kept.of(check_plate, part.id, part.solid, evidence.shells_built[part.id], least)
        else:
            stl = evidence.files[evidence.entries[part.id]["files"]["stl"]]
            found += evidence.kept.given(
                (check_wall, part.id, stl, least), partial(_wall, evidence, part.id, stl, least)
            )
    return found


def _wall(evidence: Evidence, part: str, stl: bytes, least: float) -> list[Finding]:
    return check_wall(part, stl, least, evidence.targets[part])


CHECK = Check(
    id=ID,
    title="Is every wall of every print at least as thick as the printer needs?",
    rationale="A thinner wall prints with holes, warps as it cures, or breaks when the supports come off.",
    run=run,
)
