"""How far from the imagined ribs does the eye see slices that are cut square?

A slice's front shows the rib exactly, and is checked as every panel. Behind it the sheet is cut square, while the rib's
soffit leans with the relief; so at each slice's hidden face the edge stands a little off. That is measured here from
the panels as they are placed: their soffits' points, moved back square by the sheet's thickness, against the rays' own
soffit, whose lines across the rib are carried by the ray law alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.panel_faithful import seen, two_way_arcmin
from pipeline.elements.laminations import Lamination
from pipeline.geometry import curves, frames
from pipeline.parts.model import Panel
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

ID = "rib-slices"
LIMIT_ARCMIN = 5.0
"""A rule of thumb: steps of a third of the sheet, 0.2 mm of 0.5 mm card at arm's length, are seen as its layers are."""
ON_SOFFIT = 1e-6
"""mm; a profile's curve that lies so near to the soffit is the soffit."""
SAMPLES = np.linspace(0.0, 1.0, 33)
"""Of each curve of a soffit."""


def run(evidence: Evidence) -> list[Finding]:
    """Return, for each laminated rib, how far its steps are seen off its soffit, and its sheets' width off its own."""
    relief = evidence.room.relief
    findings = []
    for rib in evidence.imagined.laminations:
        slices = [panel for panel in evidence.panels if panel.id.startswith(f"{rib.id}-")]
        if slices:
            findings.append(_rib(rib, slices, relief))
    return findings


def _rib(rib: Lamination, slices: list[Panel], relief: Relief) -> Finding:
    worst = max(_step_arcmin(rib, panel, relief) for panel in slices)
    short, over = _width_off(rib, slices, relief)
    fine = worst <= LIMIT_ARCMIN
    thickness = slices[0].thickness
    message = (
        f"{len(slices)} slices of {thickness:g} mm; their square edges are seen within {worst:.1f} arc minutes of the "
        f"soffit, all of them together are up to {short:.2f} mm narrower and {over:.2f} mm wider than the rib"
    )
    if not fine:
        message += "; bevel the lower edges with a file, or take a thinner sheet"
    return Finding(
        id=ID, part=rib.id, status="pass" if fine else "warn", value=worst, limit=LIMIT_ARCMIN, unit="arcmin",
        message=message,
    )  # fmt: skip


def _step_arcmin(rib: Lamination, panel: Panel, relief: Relief) -> float:
    """Return how far the soffit's edge on a slice's hidden face is seen off the rib's own soffit there."""
    profile = _soffit(rib, panel)
    if len(profile) == 0:
        return 0.0
    placed = panel.leaves[0].built_from_flat
    front = relief.build_points(frames.apply(panel.face.imagined_from_host, profile))
    edge = front - panel.thickness * placed[:3, 2]
    meant = _on_plane(rib, profile, edge[0], placed[:3, 2], relief)
    eye = np.array(relief.eye)
    chords = [seen(np.stack([points[:-1], points[1:]], axis=1), eye) for points in (edge, meant)]
    return two_way_arcmin(chords[0], chords[1], -float(eye[1]))


def _soffit(rib: Lamination, panel: Panel) -> Array:
    """Return points ``(n, 2)`` along the soffit of a slice, (s, z), in order."""
    out = [np.zeros((0, 2))]
    for edge in panel.region.outline:
        points = curves.evaluate(edge.curve, SAMPLES)
        across, up = rib.scaled(rib.depth)[[0, 1], [0, 1]]
        if rib.unit:
            inside = np.abs(points[:, 0]) <= across
            raised = np.array([_arch(rib, abs(float(s)) / across) for s in points[:, 0]]) * up + rib.springing
            on = inside & (np.abs(points[:, 1] - raised) < ON_SOFFIT * max(1.0, up))
        else:
            on = np.abs(points[:, 1] - (rib.springing + up)) < ON_SOFFIT
        if on.all():
            out.append(points)
    return np.concatenate(out)


def _arch(rib: Lamination, share: float) -> float:
    met = [curves.evaluate(c, t)[0, 1] for c in rib.unit for t in curves.crossings(c, np.array([1.0, 0.0, -share]))]
    return max(met, default=0.0)


def _on_plane(rib: Lamination, profile: Array, point: Array, normal: Array, relief: Relief) -> Array:
    """Return where the soffit's lines across the rib, carried by the relief, meet a built plane, ``(n, 3)``."""
    ends = []
    for w in rib.flanks:
        on_track = np.column_stack([profile, np.full(len(profile), w)])
        ends.append(relief.build_points(frames.apply(rib.imagined_from_track, on_track)))
    heights = [(end - point) @ normal for end in ends]
    share = heights[0] / (heights[0] - heights[1])
    out: Array = ends[0] + share[:, None] * (ends[1] - ends[0])
    return out


def _width_off(rib: Lamination, slices: list[Panel], relief: Relief) -> tuple[float, float]:
    """Return how much narrower and how much wider than the rib all slices are at most, where one of them is, mm."""
    first = next(panel for panel in slices if panel.id.endswith("-slice-1"))
    normal = first.leaves[0].built_from_flat[:3, 2]
    spans = [curves.bounds(panel.region.curves)[:, 0] for panel in slices]
    short = over = 0.0
    for panel in (panel for panel in slices if panel.id.endswith("-slice-1")):
        low, high = curves.bounds(panel.region.curves)[:, 0]
        for s in np.linspace(low, high, 65)[16:-16]:  # toward their ends slices stop in steps against other ribs
            flanks = [
                relief.build_points(frames.apply(rib.imagined_from_track, [[s, rib.springing, w]]))[0]
                for w in rib.flanks
            ]
            tall = abs(float((flanks[0] - flanks[1]) @ normal))
            made = sum(low <= s <= high for low, high in spans) * panel.thickness
            short, over = max(short, tall - made), max(over, made - tall)
    return short, over


CHECK = Check(
    id=ID,
    title="How far from the imagined ribs does the eye see slices that are cut square?",
    rationale="Thick sheet makes steps along a leaning soffit; seen from near they give a smooth rib away as layers.",
    run=run,
)
