"""Do the joints of raised covers stay wide and deep enough for the printer to show?

Terms
-----
width
    Of a joint: the distance of the built images of its two edges, in the built face.
height
    How far the units stand out of the built face, square to it.

Both shrink with depth: along the hall by b / w^2, across it by 1 / w. From where either is less than what the printer
shows, the joints vanish.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.elements.covers import joint_widths
from pipeline.elements.model import Web
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves, frames
from pipeline.parts.model import Raised
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]
Measure = Callable[[Array], Array]

ID = "relief-joints"
ROWS, ACROSS = 129, 5
"""Rows of points from the front of a face to its back, and points of a row."""
HALVINGS = 40
"""Enough to place where joints vanish to a nanometre."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extremes:
    """A measure over a face, mm: the least, the most, and the built depth from which it is under the limit, if any."""

    least: float
    most: float
    vanishes: float | None


def run(evidence: Evidence) -> list[Finding]:
    """Return one finding for each face or web whose cover is to be raised."""
    raised: dict[str, tuple[str, Raised]] = {}
    for part in evidence.prints:
        if isinstance(part.solid, Raised):
            raised.setdefault(part.solid.id, (part.id, part.solid))  # of pieces cut for the bed, the first speaks
    findings = []
    for face in evidence.imagined.faces:
        cover = evidence.scene.covers.get(face.cover or "")
        if cover is None or cover.relief == 0 or cover.relief_as != "print":
            continue
        findings.append(_finding(evidence, *raised[face.id]) if face.id in raised else _folded(face))
    for web in evidence.imagined.webs:
        cover = evidence.scene.covers.get(web.cover or "")
        if cover is not None and cover.relief > 0 and cover.relief_as == "print":
            findings.append(_curved(web))
    return findings


def _folded(face: Face) -> Finding:
    message = (
        f"{face.id} folds at the apron's end, so it is a panel with its joints drawn on; "
        "set space.apron = 0 to have its units raised"
    )
    return Finding(id=ID, part=face.id, status="warn", value=None, limit=None, unit="mm", message=message)


def _curved(web: Web) -> Finding:
    made = "printed smooth" if web.printed else "a bent panel with its joints drawn on"
    message = (
        f"{web.id} is curved, and only units of flat faces are raised: it is {made}; lay its units by hand, and give "
        f'[covers.{web.cover}] relief_as = "guides", or the vault a cover of its own, to say that this is meant'
    )
    return Finding(id=ID, part=web.id, status="warn", value=None, limit=None, unit="mm", message=message)


def _finding(evidence: Evidence, part: str, raised: Raised) -> Finding:
    relief, hall, printer = evidence.room.relief, evidence.room.hall, evidence.scene.make.printer
    face, detail = raised.face, printer.least_detail
    cover = evidence.scene.covers[face.cover or ""]
    widths = joint_widths(cover, hall.scale, *face.extent, level=face.level)
    width = extremes(face, relief, narrowest(raised, widths), detail)
    height = extremes(face, relief, standing(raised, relief), detail)
    least = min(width.least, height.least)
    said = (
        f"{raised.units} units stand out by {height.least:.2f} to {height.most:.2f} mm between joints of "
        f"{width.least:.2f} to {width.most:.2f} mm"
    )
    lost = [
        f"the {what} than {detail:g} mm from {measured.vanishes:.1f} mm deep on"
        for what, measured in (("joints are narrower", width), ("units stand out by less", height))
        if measured.vanishes is not None
    ]
    if lost:
        said += f"; {' and '.join(lost)}: there the {printer.process} print shows none; paint them on"
    status: Status = "pass" if least >= detail else "warn"
    return Finding(id=ID, part=part, status=status, value=least, limit=detail, unit="mm", message=said)


def narrowest(raised: Raised, widths: tuple[tuple[Array, float], ...]) -> Measure:
    """Return the width of the narrowest joint through host points ``(n, 2)``, built mm."""

    def flat(points_host: Array) -> Array:
        return frames.apply(raised.leaf.flat_from_host, points_host)

    def measure(points_host: Array) -> Array:
        out = np.full(len(points_host), np.inf)
        for way, width in widths:
            along = np.array([-way[1], way[0]])
            one, two = points_host - way * width / 2, points_host + way * width / 2
            edge, away = flat(one + along * width / 2) - flat(one - along * width / 2), flat(two) - flat(one)
            apart = np.abs(edge[:, 0] * away[:, 1] - edge[:, 1] * away[:, 0]) / np.linalg.norm(edge, axis=1)
            out = np.minimum(out, apart)
        return out

    return measure


def standing(raised: Raised, relief: Relief) -> Measure:
    """Return how far units at host points ``(n, 2)`` stand out of the built face, built mm."""
    flat_from_built = frames.invert_rigid(raised.leaf.built_from_flat)

    def measure(points_host: Array) -> Array:
        tops = frames.apply(raised.face.imagined_from_host, points_host) + raised.relief * raised.face.inward
        out: Array = frames.apply(flat_from_built, relief.build_points(tops))[:, 2]
        return out

    return measure


def extremes(face: Face, relief: Relief, measure: Measure, limit: float) -> Extremes:
    """Return a measure's extremes over a face, and from which built depth on it is under a limit."""
    low, high = curves.bounds(edge.curve for edge in face.region.outline)
    deep = int(abs(face.imagined_from_host[1, 1]) > abs(face.imagined_from_host[1, 0]))
    across = np.linspace(low[1 - deep], high[1 - deep], ACROSS)

    def row(share: float) -> Array:
        points = np.empty((ACROSS, 2))
        points[:, deep], points[:, 1 - deep] = low[deep] + share * (high[deep] - low[deep]), across
        return points

    shares = np.linspace(0, 1, ROWS)
    values = np.array([measure(row(share)) for share in shares])
    under = np.flatnonzero((values < limit).any(axis=1))
    vanishes = None
    if len(under):
        good, bad = shares[max(0, under[0] - 1)], shares[under[0]]
        for _ in range(HALVINGS):
            middle = (good + bad) / 2
            good, bad = (good, middle) if (measure(row(middle)) < limit).any() else (middle, bad)
        vanishes = float(relief.build_points(frames.apply(face.imagined_from_host, row(bad)))[:, 1].min())
    return Extremes(least=float(values.min()), most=float(values.max()), vanishes=vanishes)


CHECK = Check(
    id=ID,
    title="Do the joints of raised covers stay wide and deep enough for the printer to show?",
    rationale="Joints finer than the printer's detail fill up: from there on a wall of bricks is a bare wall.",
    run=run,
)
