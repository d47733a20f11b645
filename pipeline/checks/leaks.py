"""Where the bare box is seen: rays from a grid of eyes that end on no part.

Terms
-----
leak
    A ray through the opening that ends on no part, and goes through no hole that is meant to be open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Evidence
from pipeline.checks.slits import Slit, slits_of
from pipeline.elements.hall_shape import HOSTS, Hall
from pipeline.elements.passage import OUTWARD
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves, frames
from pipeline.geometry.clip import contains
from pipeline.geometry.meshes import join
from pipeline.geometry.regions import Region, loop_of
from pipeline.parts.wires import WIRE
from pipeline.relief.collineation import Relief
from pipeline.sight.eye_box import eyes_along, pitch_of, targets_along
from pipeline.sight.rays import Target

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.int64]
Sizes = tuple[float, float]

HAIR = 0.01
"""mm on the opening; what is narrower both ways is no hole but rounding, where two arrises meet in one line."""

OPEN = ("bare", "light", WIRE)
"""What may lie beyond a hole that is meant to be open; one for wires they fill themselves."""

STEPPED = "floor"
"""What lies beyond a cut that steps make: the hall goes on there, and no length of anything closes it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leaks:
    """Rays that end on the bare box.

    Attributes
    ----------
    rays, eyes, pitch
        How many were cast, from how many eyes, and how far apart they pass the opening, mm.
    targets
        ``(n, 2)`` x and z of each leak on the opening, built mm.
    eye
        ``(n,)`` number of its eye; 0 is the eye itself.
    host
        ``(n,)`` index into HOSTS of the hall's surface where it leaves the hall.
    cut
        ``(n,)`` number of the cut it leaves through, -1 beside all cuts.
    slit
        ``(n,)`` number of the slit it passes, -1 for none; what a cut needs is told of the others alone.
    slits
        The gaps that joints are told to have.
    needed
        By number of a cut: how long what is behind it would have to be for these rays to end on it, imagined mm.
    """

    rays: int
    eyes: int
    pitch: float
    targets: Array
    eye: Indices
    host: Indices
    cut: Indices
    slit: Indices
    slits: tuple[Slit, ...]
    needed: dict[int, float]


def find_leaks(evidence: Evidence) -> Leaks:
    """Return every leak of a built scene."""
    room, cuts = evidence.room, evidence.imagined.cuts
    bodies = [part.body for part in evidence.parts]
    finishes = [panel.visible for panel in evidence.panels if panel.finish]  # each stands before its sheet
    told = (cuts, slits_of(evidence.panels, evidence.bents))

    def look() -> Leaks:
        solid = Target.on(join([*bodies, *finishes])) if finishes else evidence.whole
        return cast_leaks(solid, told, room.hall.shape, room.relief, evidence.scene.eye.box)

    asked = (told, room.hall.shape, room.relief, evidence.scene.eye.box)
    return evidence.kept.given((cast_leaks, *bodies, *finishes, *asked), look)


def cast_leaks(
    solid: Target, told: tuple[tuple[Cut, ...], tuple[Slit, ...]], hall: Hall, relief: Relief, eye_box: Sizes
) -> Leaks:
    """Return every ray that ends on nothing solid, built mm, and goes through no open cut.

    ``told`` are the cuts, and the gaps that joints are told to have.
    """
    cuts, slits = told
    eyes, targets = eye_grid(relief.eye, eye_box), _grid(hall)
    owner = np.repeat(np.arange(len(slits)), [len(slit.corners) for slit in slits])
    gaps = Target.of(np.concatenate([slit.corners for slit in slits])) if slits else None
    found: list[tuple[Array, Indices, Indices, Indices, Indices]] = []
    needed: dict[int, float] = {}
    for number, eye in enumerate(eyes):
        ways = targets - eye
        lost = np.flatnonzero(solid.hit(np.broadcast_to(eye, ways.shape), ways) < 0)
        lost = lost[_wide(eye, ways[lost], solid)] if len(lost) else lost
        if len(lost) == 0:
            continue
        starts, headings = imagined_rays(targets[lost], ways[lost], hall, relief)
        hosts, points_host = hall_hits(hall, starts, headings)
        through = _through(cuts, hosts, points_host)
        kept = np.array([index < 0 or cuts[index].beyond not in OPEN for index in through], dtype=bool)
        passed = np.full(len(lost), -1, dtype=np.int64)
        if gaps is not None:
            hit = gaps.hit(np.broadcast_to(eye, (len(lost), 3)), ways[lost])
            passed = np.where(hit < 0, -1, owner[hit])
        for index in np.unique(through[kept & (through >= 0) & (passed < 0)]):
            rows = (through == index) & (passed < 0)
            reach = _reach(cuts[index], hall, points_host[rows], headings[rows])
            needed[int(index)] = max(needed.get(int(index), 0.0), reach)
        found.append((targets[lost][kept][:, [0, 2]], np.full(int(kept.sum()), number), hosts[kept], through[kept],
                      passed[kept]))  # fmt: skip
    none = (np.zeros((0, 2)), *(np.zeros(0, dtype=np.int64),) * 4)
    parts = [np.concatenate(column) for column in zip(none, *found, strict=True)]
    return Leaks(
        rays=len(eyes) * len(targets), eyes=len(eyes), pitch=pitch_of((hall.width, hall.height)),
        targets=parts[0], eye=parts[1], host=parts[2], cut=parts[3],
        slit=parts[4], slits=slits, needed=needed,
    )  # fmt: skip


def _wide(eye: Array, ways: Array, solid: Target) -> Flags:
    """Return which of some lost rays pass through more than the line that two sheets meet in, ``(n,)``."""
    beside = HAIR * np.array([(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)])
    lost = [solid.hit(np.broadcast_to(eye, ways.shape), ways + step) < 0 for step in beside]
    out: Flags = np.sum(lost, axis=0) >= 2
    return out


def eye_grid(eye: tuple[float, float, float], size: tuple[float, float]) -> Array:
    """Return the eye and a grid over the eye box round it, edges and corners among it, ``(n, 3)`` built mm."""
    x, y, z = eye
    right, up = (np.linspace(-1, 1, eyes_along(s)) * s / 2 for s in size)
    away = [(i, k) for k in up for i in right if (i, k) != (0.0, 0.0)]
    return np.array([[x, y, z], *([x + i, y, z + k] for i, k in away)])


def _grid(hall: Hall) -> Array:
    """Return points of the opening inside the hall's outline, half a pitch off its edges, (n, 3) built."""
    counts = targets_along((hall.width, hall.height))
    x = (np.arange(counts[0]) + 0.5) / counts[0] * hall.width - hall.width / 2
    z = (np.arange(counts[1]) + 0.5) / counts[1] * hall.height + hall.floor
    gx, gz = np.meshgrid(x, z)
    return np.column_stack([gx.ravel(), np.zeros(gx.size), gz.ravel()])


def imagined_rays(starts: Array, ways: Array, hall: Hall, relief: Relief) -> tuple[Array, Array]:
    """Return built rays from the opening as imagined ones: points ``(n, 3)`` and directions ``(n, 3)``.

    A ray that reaches the apron's end inside the hall goes on from there through the relief; lines go to lines.
    """
    to_end = starts + (relief.apron / ways[:, 1])[:, None] * ways
    half = hall.width / 2
    inside = (np.abs(to_end[:, 0]) < half) & (to_end[:, 2] > hall.floor) & (to_end[:, 2] < hall.floor + hall.height)
    beyond = to_end + (0.5 * (relief.built_depth - relief.apron) / ways[:, 1])[:, None] * ways
    near = frames.apply(relief.imagined_from_built, to_end)
    far = frames.apply(relief.imagined_from_built, beyond)
    return np.where(inside[:, None], near, starts), np.where(inside[:, None], far - near, ways)


def hall_hits(hall: Hall, starts: Array, ways: Array) -> tuple[Indices, Array]:
    """Return where imagined rays from inside the hall leave it: index into HOSTS and host coordinates ``(n, 2)``."""
    half = hall.width / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.column_stack(
            [
                (hall.floor - starts[:, 2]) / ways[:, 2],
                (hall.floor + hall.height - starts[:, 2]) / ways[:, 2],
                (-half - starts[:, 0]) / ways[:, 0],
                (half - starts[:, 0]) / ways[:, 0],
                (hall.depth - starts[:, 1]) / ways[:, 1],
            ]
        )
    reach = np.where(np.isfinite(reach) & (reach > 0), reach, np.inf)
    which = reach.argmin(axis=1)
    points = starts + reach[np.arange(len(ways)), which][:, None] * ways
    out = np.empty((len(ways), 2))
    for index in range(5):
        rows = which == index
        inverse = np.linalg.pinv(hall.imagined_from_host(HOSTS[index])[:3, :2])
        offset = hall.imagined_from_host(HOSTS[index])[:3, 2]
        out[rows] = (points[rows] - offset) @ inverse.T
    return which.astype(np.int64), out


def _through(cuts: tuple[Cut, ...], hosts: Indices, points_host: Array) -> Indices:
    """Return the number of the hole each ray leaves through, -1 where there is none, ``(n,)``."""
    out = np.full(len(hosts), -1, dtype=np.int64)
    for number, cut in enumerate(cuts):
        if cut.beyond == STEPPED or cut.host not in HOSTS:
            continue
        rows = np.flatnonzero(hosts == HOSTS.index(cut.host))
        if len(rows):
            out[rows[contains(Region(loop_of(cut.curve)), points_host[rows])]] = number
    return out


def _reach(cut: Cut, hall: Hall, points_host: Array, ways: Array) -> float:
    """Return how far out the farthest of the rays through a hole would meet a side of what is behind it, mm.

    The sides stand on the hole's bounds: for a bent head a little farther than they are.
    """
    host = hall.imagined_from_host(cut.host)
    low, high = curves.bounds(cut.curve)
    across = ways @ host[:3, :2]
    outward = ways @ np.array(OUTWARD[cut.host])
    with np.errstate(divide="ignore"):
        steps = np.where(across > 0, (high - points_host) / across, (low - points_host) / across)
    return float((outward * np.nanmin(np.where(across == 0, np.inf, steps), axis=1)).max())
