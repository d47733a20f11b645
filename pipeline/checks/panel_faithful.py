"""Does the eye see every panel's lines where the imagined room has them?

The written DXF is read back and placed by the manifest; each of its points is seen from the eye in some direction.
The imagined lines are taken from the scene's faces, openings and covers in the imagined room and seen from the same
eye by the ray law alone: neither the relief's matrix nor the flat frame nor the exporter takes part. The distance of
both pictures, both ways, is told in arc minutes.
"""

from __future__ import annotations

import math
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.written import WrittenDrawing, WrittenSpline, polyline_points, spline_points
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Loop, path_of
from pipeline.parts.model import Addition, Panel

Array = NDArray[np.float64]

ID = "panel-faithful"
LIMIT_ARCMIN = 0.5
"""Half of what an eye with 20/20 acuity resolves (one arc minute)."""

CHORD_MM = 0.002
"""mm; curves of both sides are compared as chords this near: 0.02 arc minutes at bench distance."""

BEVEL_MM = 1e-6
"""mm; an edge whose two faces differ by less is cut square."""

NEAR_MM = 0.05
"""mm; a written line this near to a bevelled hole is its own."""

MISSING_ARCMIN = 180.0 * 60
"""Told where lines are missing altogether: half a turn."""

SEARCHED = 64
"""Samples searched for at once, the farthest first."""

SPLICED = 1e-4
"""mm; lines this near to an addition's border are its own."""

SHORT_MM = 1e-9
"""mm; a line no longer than this has no direction."""

TIDIED_MM = 0.1
"""mm; steps up to this are smoothed away in drawings, so the ends of edges beside them may lie as far off."""

MIDDLE = np.array([0.25, 0.75])
"""The part of a chord that is looked at where its neighbours stand back."""

SHARES = np.array([0.02, 0.25, 0.5, 0.75, 0.98])
"""Where lines are sampled; a line shifted along another still shows at its quarter points."""


def run(evidence: Evidence) -> list[Finding]:
    """Return, for each panel, the largest distance between what is written and what is imagined."""
    eye = np.array(evidence.room.relief.eye)
    return [
        evidence.kept.given(
            (_panel, panel, evidence.drawings[panel.id], eye),  # its entry tells nothing that it does not
            partial(_panel, panel, evidence.drawings[panel.id], evidence.entries[panel.id], eye),
        )
        for panel in evidence.panels
    ]


def _panel(panel: Panel, drawing: WrittenDrawing, entry: dict[str, Any], eye: Array) -> Finding:
    outline, border, distance = _visible_outline(panel, drawing), _imagined_border(panel, eye), -float(eye[1])
    if panel.finish > 0:
        outline = _beside_bevelled(outline, panel)
    strips = {one.against for one in panel.additions if one.kind == "strip"}
    moved = [edge for edge in entry["edges"] if edge["back"] != 0 and edge["against"] not in strips]
    if moved and len(outline):
        forward = seen(place(_forward(_off_steps(_off_fold(outline, entry), entry), moved), entry), eye)
        carriers = _lengthened(border, 2 * max(abs(edge["back"]) for edge in moved))
        off = _one_way(forward, carriers) * _to_arcmin(distance) if _same_holes(drawing, panel) else MISSING_ARCMIN
    else:
        off = two_way_arcmin(seen(place(outline, entry), eye), border, distance)
    guides = two_way_arcmin(seen(place(_guides(drawing), entry), eye), _imagined_guides(panel, eye), distance)
    worst = max(off, guides)
    what = "outline, holes and guides"
    if panel.finish > 0:
        what = "holes and guides (the outline and bevelled edges lie under the finish)"
    return verdict(ID, panel.id, what, worst)


def _forward(chords: Array, moved: list[dict[str, Any]]) -> Array:
    """Return the middles of written chords, those on edges that stand back moved out to where they are seen to end.

    At its ends a chord gives way to the neighbouring edges, wherever those stand.
    """
    out = chords[:, :1] + MIDDLE[:, None] * (chords[:, 1:] - chords[:, :1])
    for edge in moved:
        start, end = np.array(edge["start"]), np.array(edge["end"])
        along = frames.unit(end - start)
        outward = np.array([along[1], -along[0]])  # the material lies on the left
        on = (np.abs((chords - start) @ outward) < TIDIED_MM).all(axis=1)
        on &= np.abs((chords.mean(axis=1) - (start + end) / 2) @ along) < np.linalg.norm(end - start) / 2
        out[on] += edge["back"] * outward
    return out


def _lengthened(lines: Array, by: float) -> Array:
    """Return seen lines ``(n, 2, 2)`` longer by some mm at either end.

    Beside an inner corner an edge that stands back reaches past where it is seen to end.
    """
    ways = lines[:, 1] - lines[:, 0]
    ways = by * ways / np.maximum(np.linalg.norm(ways, axis=1, keepdims=True), SHORT_MM)
    out: Array = np.stack([lines[:, 0] - ways, lines[:, 1] + ways], axis=1)
    return out


def _off_fold(chords: Array, entry: dict[str, Any]) -> Array:
    """Return the chords that do not run along the fold, where edges of two leaves that end unlike are joined."""
    if "fold" not in entry:
        return chords
    start, end = np.array(entry["fold"]["line"])
    along = frames.unit(end - start)
    away = (chords - start) @ np.array([-along[1], along[0]])
    out: Array = chords[(np.abs(away) > CHORD_MM).any(axis=1)]
    return out


def _off_steps(chords: Array, entry: dict[str, Any]) -> Array:
    """Return the chords but those that join an edge that stands back to a neighbour that does not meet it."""
    edges = entry["edges"]
    out = np.ones(len(chords), dtype=bool)
    for edge, following in zip(edges, [*edges[1:], *edges[:1]], strict=True):
        if edge["back"] == following["back"]:
            continue
        step = np.array([edge["end"], following["start"]])
        if np.linalg.norm(step[1] - step[0]) > TIDIED_MM:
            apart = [np.abs(chords - ends).max(axis=(1, 2)) for ends in (step, step[::-1])]
            out &= np.minimum(*apart) > TIDIED_MM
    kept: Array = chords[out]
    return kept


def _same_holes(drawing: WrittenDrawing, panel: Panel) -> bool:
    layer = drawing.layers.get("HOLES")
    slots = sum(one.slot is not None for one in panel.additions)
    return (0 if layer is None else len(layer.polylines) + len(layer.splines)) == len(panel.region.holes) + slots


def verdict(check: str, part: str, what: str, worst: float) -> Finding:
    """Return what a check says of lines that are seen at most ``worst`` arc minutes off the imagined ones."""
    faithful = worst <= LIMIT_ARCMIN
    return Finding(
        id=check,
        part=part,
        status="pass" if faithful else "fail",
        value=worst,
        limit=LIMIT_ARCMIN,
        unit="arcmin",
        message=f"{what} are seen within {worst:.3f} arc minutes of the imagined lines"
        if faithful
        else f"{what} are seen {worst:.2f} arc minutes off the imagined lines; do not cut this, report the scene",
    )


def place(lines_flat: Array, entry: dict[str, Any]) -> Array:
    """Return flat lines ``(n, 2, 2)`` placed by a manifest entry, ``(n, 2, 3)`` built mm; a fold is bent."""
    points = np.concatenate([lines_flat, np.zeros((*lines_flat.shape[:2], 1))], axis=2)
    placed = frames.apply(np.array(entry["built_from_flat"]), points.reshape(-1, 3)).reshape(points.shape)
    if "fold" in entry and len(points):
        start, end = np.array(entry["fold"]["line"])
        near = frames.apply(np.array(entry["fold"]["near_from_flat"]), points.reshape(-1, 3)).reshape(points.shape)
        # A leaf is told by the opening's side of the fold, where the near leaf has smaller built y.
        before = _side(lines_flat, start, end) == np.sign(_near_side(entry, start, end))
        placed[before] = near[before]
    return placed


def _side(lines_flat: Array, start: Array, end: Array) -> Array:
    middle = lines_flat.mean(axis=1) - start
    way = end - start
    out: Array = np.sign(way[0] * middle[:, 1] - way[1] * middle[:, 0])
    return out


def _near_side(entry: dict[str, Any], start: Array, end: Array) -> float:
    way = end - start
    left = np.array([*(-way[1], way[0]), 0.0])
    return -float((np.array(entry["fold"]["near_from_flat"])[:3, :3] @ left)[1])


def flat_outline(drawing: WrittenDrawing, holes_only: bool) -> Array:
    """Return the written outline and holes as chords ``(n, 2, 2)``, flat mm."""
    return chords_of(drawing, ("HOLES",) if holes_only else ("OUTLINE", "HOLES"))


def chords_of(drawing: WrittenDrawing, names: tuple[str, ...]) -> Array:
    """Return everything on some layers as chords ``(n, 2, 2)``, flat mm."""
    parts = [np.zeros((0, 2, 2))]
    for name in names:
        layer = drawing.layers.get(name)
        if layer is None:
            continue
        parts += [_chords(polyline_points(polyline, CHORD_MM)) for polyline in layer.polylines]
        parts += [_chords(spline_points(spline, _spline_parameters(spline))) for spline in layer.splines]
        parts.append(layer.lines)
    return np.concatenate(parts)


def _visible_outline(panel: Panel, drawing: WrittenDrawing) -> Array:
    """Return the written outline and holes without flaps, tabs, lugs and slots: they are no part of the picture."""
    written = flat_outline(drawing, panel.finish > 0)
    if not panel.additions:
        return written
    shapes = [shapely.Polygon(one.chain).buffer(SPLICED, join_style="mitre") for one in panel.additions]
    sheet = shapely.node(shapely.multilinestrings([written])[0])
    outside = shapely.difference(sheet, shapely.union_all(shapes))
    kept = [np.asarray(line.coords) for line in shapely.get_parts(shapely.line_merge(outside))]
    own = [one.chain for one in panel.additions if one.kind in ("strip", "tab", "notch") or _alone(panel, one)]
    bases = [np.array([chain[[0, -1]]]) for chain in own]
    return np.concatenate([*(_chords(line) for line in kept), *(base.reshape(1, 2, 2) for base in bases)])


def _alone(panel: Panel, one: Addition) -> bool:
    """Return whether an addition stands on the visible edge itself, not on a strip that runs on from it."""
    return all(strip.kind != "strip" or strip.against != one.against for strip in panel.additions)


def _chords(points: Array) -> Array:
    out: Array = np.stack([points[:-1], points[1:]], axis=1)
    return out


def _spline_parameters(spline: WrittenSpline) -> Array:
    """Return enough places of a spline for its chords to lie within ``CHORD_MM`` of it."""
    knots = np.unique(spline.knots)
    low, high = spline.control.min(axis=0), spline.control.max(axis=0)
    steps = max(8, int(np.ceil(np.sqrt(float(np.hypot(*(high - low))) / CHORD_MM))))
    return np.unique(np.concatenate([np.linspace(a, b, steps) for a, b in pairwise(knots)]))


def _guides(drawing: WrittenDrawing) -> Array:
    layer = drawing.layers.get("GUIDE")
    return np.zeros((0, 2, 2)) if layer is None else layer.lines


def _bevelled(panel: Panel) -> list[int]:
    """Return the numbers of the holes that are not cut square: under a finish these edges too lie away from the eye."""
    pairs = zip(panel.cut.holes, panel.hidden.holes, strict=True)
    return [number for number, (front, back) in enumerate(pairs) if not _same(front, back)]


def _same(front: Loop, back: Loop) -> bool:
    ends = [np.array([edge.curve.start for edge in loop]) for loop in (front, back)]
    return len(front) == len(back) and bool(np.abs(ends[0] - ends[1]).max() < BEVEL_MM)


def _beside_bevelled(lines_flat: Array, panel: Panel) -> Array:
    """Return the written lines ``(n, 2, 2)`` that belong to no bevelled hole."""
    paths = [curves.flatten_path(path_of(panel.cut.holes[number]), CHORD_MM) for number in _bevelled(panel)]
    if not paths:
        return lines_flat
    borders = shapely.union_all([shapely.LinearRing(path) for path in paths])
    apart: Array = shapely.distance(shapely.points(lines_flat.mean(axis=1)), borders)
    return lines_flat[apart > NEAR_MM]


def _imagined_border(panel: Panel, eye: Array) -> Array:
    left_out = _bevelled(panel) if panel.finish > 0 else []
    holes = [hole for number, hole in enumerate(panel.region.holes) if number not in left_out]
    loops = panel.region.loops if panel.finish == 0 else holes
    chords = [np.zeros((0, 2, 2))]
    chords += [_chords(curves.flatten(edge.curve, CHORD_MM)) for loop in loops for edge in loop]
    return seen(_imagined(panel, np.concatenate(chords)), eye)


def _imagined_guides(panel: Panel, eye: Array) -> Array:
    return seen(_imagined(panel, panel.guides_host), eye)


def _imagined(panel: Panel, lines_host: Array) -> Array:
    points = frames.apply(panel.face.imagined_from_host, lines_host.reshape(-1, 2))
    return points.reshape(-1, 2, 3)


def seen(points: Array, eye: Array) -> Array:
    """Return where rays from the eye to ``(n, 2, 3)`` points pass the opening, ``(n, 2, 2)`` mm right and up of it."""
    away = points - eye
    out: Array = away[..., [0, 2]] * (-eye[1] / away[..., 1:2])
    return out


def two_way_arcmin(written: Array, imagined: Array, distance: float) -> float:
    """Return the largest distance of either set of lines ``(n, 2, 2)`` from the other as angles at the eye."""
    if len(written) == 0 and len(imagined) == 0:
        return 0.0
    if len(written) == 0 or len(imagined) == 0:
        return MISSING_ARCMIN
    to_arcmin = _to_arcmin(distance)
    if len(written) == len(imagined):
        # Line by line the ends' distance is at least that of the two sets, so if it is small the search is spared.
        apart = float(np.linalg.norm(written - imagined, axis=2).max())
        if apart * to_arcmin <= LIMIT_ARCMIN:
            return apart * to_arcmin
    return max(_one_way(written, imagined), _one_way(imagined, written)) * to_arcmin


def _to_arcmin(distance: float) -> float:
    """Return the arc minutes that a mm on the opening plane is seen under at most."""
    return math.degrees(1 / distance) * 60


def _one_way(lines: Array, others: Array) -> float:
    """Return the largest distance of sample points of lines from the nearest of the others, mm.

    The line nearest to a line's middle, or its neighbour, is nearest to nearly all of its samples. None lies farther
    than that; so only samples farther from these than the largest distance known are searched for.
    """
    samples = lines[:, :1] + SHARES[:, None] * (lines[:, 1:] - lines[:, :1])
    tree = shapely.STRtree(shapely.linestrings(others))
    _, nearest = tree.query_nearest(shapely.points(samples[:, len(SHARES) // 2]), all_matches=False)
    near = np.clip(nearest[:, None] + np.array([-1, 0, 1]), 0, len(others) - 1)
    bounds = _distances(samples, others[near]).min(axis=2).ravel()
    points, order = samples.reshape(-1, 2), np.argsort(-bounds, kind="stable")
    most = 0.0
    for first in range(0, len(order), SEARCHED):
        some = order[first : first + SEARCHED]
        some = some[bounds[some] > most]
        if len(some) == 0:
            break
        _, gaps = tree.query_nearest(shapely.points(points[some]), return_distance=True, all_matches=False)
        most = max(most, float(gaps.max()))
    return most


def _distances(points: Array, lines: Array) -> Array:
    """Return the distances ``(n, j, k)`` of ``(n, j, 2)`` points from ``(n, k, 2, 2)`` lines."""
    starts, ways = lines[:, None, :, 0], (lines[:, :, 1] - lines[:, :, 0])[:, None]
    away = points[:, :, None] - starts
    sizes = np.maximum((ways * ways).sum(axis=3), 1e-300)
    share = np.clip((away * ways).sum(axis=3) / sizes, 0.0, 1.0)
    out: Array = np.linalg.norm(away - share[..., None] * ways, axis=3)
    return out


CHECK = Check(
    id=ID,
    title="Does the eye see every panel's lines where the imagined room has them?",
    rationale="A course that runs a hair off its neighbour round the corner is what gives the trick away.",
    run=run,
)
