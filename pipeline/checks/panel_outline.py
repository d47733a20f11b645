"""Are the cut lines of every panel closed, free of crossings and cut only once?"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.panel_faithful import flat_outline
from pipeline.checks.written import WrittenDrawing

Array = NDArray[np.float64]

ID = "panel-outline"
SHORTEST = 0.1
"""mm; a cutter stutters on shorter pieces."""

SAME = 1e-4
"""mm; guides whose ends agree to this are one line drawn twice."""


def run(evidence: Evidence) -> list[Finding]:
    """Return what is wrong with the written cut lines of each panel, and of each net."""
    findings = []
    for part, drawing in (*evidence.drawings.items(), *evidence.net_drawings.items()):
        wrong = evidence.kept.of(faults, drawing)
        findings.append(
            Finding(
                id=ID,
                part=part,
                status="fail" if wrong else "pass",
                value=float(len(wrong)),
                limit=0.0,
                unit="faults",
                message="; ".join(wrong) + "; do not cut this, report the scene"
                if wrong
                else "every outline is closed, none crosses itself, no line is cut twice",
            )
        )
    return findings


def faults(drawing: WrittenDrawing) -> list[str]:
    """Return what is wrong with a drawing's cut lines, in words."""
    wrong = []
    loops = []
    for name in ("OUTLINE", "HOLES"):
        layer = drawing.layers.get(name)
        if layer is None:
            continue
        if len(layer.lines):
            wrong.append(f"{len(layer.lines)} loose lines on {name}")
        for polyline in layer.polylines:
            alone = WrittenDrawing(layers={name: type(layer)(polylines=(polyline,))}, insunits=None, measurement=None)
            loops.append(flat_outline(alone, holes_only=name == "HOLES")[:, 0])
            if not polyline.closed:
                wrong.append(f"an open outline on {name}")
            wrong += _short(polyline.points, name)
        for spline in layer.splines:
            alone = WrittenDrawing(layers={name: type(layer)(splines=(spline,))}, insunits=None, measurement=None)
            loops.append(flat_outline(alone, holes_only=name == "HOLES")[:, 0])
            if not spline.closed or np.abs(spline.control[0] - spline.control[-1]).max() > SAME:
                wrong.append(f"an open spline on {name}")
    wrong += _crossings(loops)
    guides = drawing.layers.get("GUIDE")
    if guides is not None:
        wrong += _doubled(guides.lines)
    return wrong


def _short(points: Array, name: str) -> list[str]:
    chords = np.hypot(*(np.roll(points[:, :2], -1, axis=0) - points[:, :2]).T)
    count = int((chords < SHORTEST).sum())
    return [f"{count} pieces shorter than {SHORTEST:g} mm on {name}"] if count else []


def _crossings(loops: list[Array]) -> list[str]:
    rings = [shapely.LinearRing(loop) for loop in loops]
    wrong = [f"outline {i + 1} crosses itself" for i, ring in enumerate(rings) if not ring.is_simple]
    pairs = sum(ring.intersects(other) for i, ring in enumerate(rings) for other in rings[:i])
    return wrong + ["two outlines touch, cross or run on one another"] * pairs


def _doubled(lines: Array) -> list[str]:
    if len(lines) == 0:
        return []
    whole = np.round(lines / SAME).astype(np.int64)
    swap = (whole[:, 0, 0] > whole[:, 1, 0]) | ((whole[:, 0, 0] == whole[:, 1, 0]) & (whole[:, 0, 1] > whole[:, 1, 1]))
    whole[swap] = whole[swap][:, ::-1]
    repeated = len(whole) - len(np.unique(whole.reshape(-1, 4), axis=0))
    return [f"{repeated} guides are drawn twice"] if repeated else []


CHECK = Check(
    id=ID,
    title="Are the cut lines of every panel closed, free of crossings and cut only once?",
    rationale="A laser burns an open corner or a line cut twice; a knife tears it.",
    run=run,
)
