"""What the eye of a built scene forgives: how far it may move, what two eyes see, what a peephole or a camera needs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Evidence
from pipeline.elements.hall_shape import Hall
from pipeline.relief.collineation import Relief
from pipeline.room.photographing import pupil_of
from pipeline.scene.camera import CameraTable
from pipeline.sight import lens, stereo
from pipeline.sight.first_seen import corner_aims, first_seen
from pipeline.sight.forgiveness import Sights, crease_reach, parallax, reach, sights

Array = NDArray[np.float64]

ARC_MINUTE = math.radians(1 / 60)
ACUITY = ARC_MINUTE
"""What an eye of 20/20 resolves: a crease that stands farther off the straight shows."""
LATTICE = (64, 48)
"""Rays across and up the opening; what they miss between them the corners of the panels tell."""
AROUND = 72
"""Directions looked in around the eye: every five degrees."""
NAMED = {
    "left": (-1.0, 0.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "nearer": (0.0, 1.0, 0.0),
    "farther": (0.0, -1.0, 0.0),
}
LEVELS = (0.5, 1.0, 2.0)
"""Times the limit: the curves of the map."""
ALONG_WALL = 17
"""Lines of depth on each wall and floor that may show a crease."""
HEIGHTS = (-2, -1, 0, 1, 2)
"""Half eye boxes by which viewers are taller or shorter."""
STEREO_ARCSEC = 30.0
"""Disparity that people notice: 10 to 40 seconds of arc are told as thresholds."""
CAMERA_FOCAL = 50.0
"""mm, of a common lens on a picture of 24 by 36 mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """How far the eye may go around, ``(AROUND, 2)`` mm, before the parallax comes to ``level`` times the limit.

    Where nothing ever limits it the place is infinite.
    """

    level: float
    around: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Viewer:
    """An eye at another height, mm above the inside bottom.

    Attributes
    ----------
    parallax_rad
        What it sees of this build, the largest of any point.
    reach
        By name of direction, mm: what a build made for that height would forgive.
    crease
        The same until a crease of that build would show.
    """

    height: float
    parallax_rad: float
    reach: dict[str, float]
    crease: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forgiveness:
    """Everything there is to tell; lengths in mm, infinite where nothing limits.

    Attributes
    ----------
    limit_rad
        Of the parallax; of a crease's offset it is ``ACUITY``.
    eye_box
        Width and height of the region that shows nothing bare, mm.
    reach, crease
        By name of direction, how far the eye may go before the parallax, or a crease's offset, comes to its limit.
    apron
        Depth of the apron, mm; there are no creases where it is 0.
    front, plan
        Curves in the plane of the eye (right, up) and level with it (right, nearer), anticlockwise from the right.
    front_crease, plan_crease
        ``(AROUND, 2)`` the same for creases.
    least
        The smallest reach in the plane of the eye.
    disparity_rad
        Of the middle of the back for two eyes, 0 where it is built true.
    one_enough
        Eye distance from which on two eyes would not notice, box and apparent depth the same, mm.
    cone_rad
        Largest angle between the eye's axis and a ray to the rim of the opening.
    sharp
        Nearest and farthest that a camera must show sharp, mm.
    stop
        f-number for that with a lens of ``CAMERA_FOCAL``; nothing where it cannot focus so near.
    viewers
        From the lowest up; those whose eye would leave the hall are left out.
    camera_rad
        Parallax of what a camera sees from where it is to stand; 0 at the eye point, or where there is none.
    """

    limit_rad: float
    eye_box: tuple[float, float]
    reach: dict[str, float]
    crease: dict[str, float]
    apron: float
    front: tuple[Curve, ...]
    plan: tuple[Curve, ...]
    front_crease: Array
    plan_crease: Array
    least: float
    disparity_rad: float
    one_enough: float
    cone_rad: float
    sharp: tuple[float, float]
    stop: float | None
    viewers: tuple[Viewer, ...]
    camera_rad: float = 0.0

    @property
    def peephole(self) -> float:
        """Diameter of the hole that lets nothing through beyond the limit, mm; infinite where nothing limits."""
        return 2 * self.least

    @property
    def behind(self) -> float:
        """How near behind the peephole the pupil must be to see all of the opening at once, mm."""
        return self.least / math.tan(self.cone_rad)


def forgive(evidence: Evidence) -> Forgiveness:
    """Return what the eye of a built scene forgives."""
    room, scene = evidence.room, evidence.scene
    relief, hall = room.relief, room.hall
    limit = scene.eye.parallax * ARC_MINUTE
    points = _points(evidence)
    seen = sights(relief.eye, points, relief.carry_back(points))
    bends = _bends(relief, hall)
    named = _named(reach(seen, list(NAMED.values()), limit)[0])
    front = _around(1.0, up=(0.0, 0.0, 1.0))
    plan = _around(_slimness(named), up=(0.0, 1.0, 0.0))
    near, far = -relief.eye[1], -relief.eye[1] + float(points[:, 1].max(initial=relief.built_depth))
    apparent, built = relief.apparent_depth - relief.apron, relief.built_depth - relief.apron
    return Forgiveness(
        limit_rad=limit,
        eye_box=scene.eye.box,
        reach=named,
        crease=_named(crease_reach(relief.eye, bends, list(NAMED.values()), ACUITY)),
        apron=relief.apron,
        front=_curves(seen, front, limit),
        plan=_curves(seen, plan, limit),
        front_crease=_places(front, crease_reach(relief.eye, bends, front, ACUITY)),
        plan_crease=_places(plan, crease_reach(relief.eye, bends, plan, ACUITY)),
        least=float(reach(seen, front, limit).min()),
        disparity_rad=stereo.disparity(relief.distance + built, relief.distance + apparent),
        one_enough=max(0.0, stereo.unseen_beyond(apparent, built, math.radians(STEREO_ARCSEC / 3600)) - relief.apron),
        cone_rad=_cone(relief, hall),
        sharp=(near, far),
        stop=_stop(near, far),
        viewers=tuple(_viewers(evidence, seen, points, limit)),
        camera_rad=_camera(seen, scene.camera, relief),
    )


def _camera(seen: Sights, camera: CameraTable | None, relief: Relief) -> float:
    """Return the parallax of what the scene's camera sees, rad."""
    if camera is None:
        return 0.0
    return float(parallax(seen, [np.subtract(pupil_of(camera, relief), relief.eye)])[0])


def _around(slimness: float, up: tuple[float, float, float]) -> Array:
    """Return unit directions round the eye from the right on, ``(AROUND, 3)``; the slimmer, the closer about ``up``."""
    turns = np.arange(AROUND) * 2 * np.pi / AROUND
    ways = np.cos(turns)[:, None] * np.array([1.0, 0.0, 0.0]) + slimness * np.sin(turns)[:, None] * np.array(up)
    out: Array = ways / np.linalg.norm(ways, axis=1)[:, None]
    return out


def _slimness(named: dict[str, float]) -> float:
    """Return how many times farther the eye may go toward the box than across, at least 1."""
    along, across = min(named["nearer"], named["farther"]), min(named["left"], named["right"])
    return max(1.0, along / across) if math.isfinite(along) else 1.0


def _curves(seen: Sights, ways: Array, limit: float) -> tuple[Curve, ...]:
    reaches = reach(seen, ways, [level * limit for level in LEVELS])
    return tuple(Curve(level=level, around=_places(ways, row)) for level, row in zip(LEVELS, reaches, strict=True))


def _places(ways: Array, reaches: Array) -> Array:
    """Return where the reaches end, (right, the other axis), ``(AROUND, 2)``."""
    other = ways[:, 1] + ways[:, 2]  # one of them is zero
    flat = np.column_stack([ways[:, 0], other])
    out: Array = np.full(flat.shape, np.inf)
    ends = np.isfinite(reaches)
    out[ends] = flat[ends] * reaches[ends, None]
    return out


def _points(evidence: Evidence) -> Array:
    """Return the built points the eye sees of what was imagined, ``(n, 3)``."""
    hall = evidence.room.hall
    sheets, prints = evidence.cut_parts, evidence.prints
    shown = [panel.visible for panel in sheets]
    half = hall.width / 2
    across = np.linspace(-half, half, LATTICE[0] + 2)[1:-1]
    up = np.linspace(hall.floor, hall.floor + hall.height, LATTICE[1] + 2)[1:-1]
    x, z = (axis.ravel() for axis in np.meshgrid(across, up))
    lattice = np.column_stack([x, np.zeros(len(x)), z])
    aims = np.concatenate([lattice, corner_aims(shown)])
    return first_seen(
        [*shown, *(part.body for part in prints)],
        [panel.cut_edges for panel in sheets],
        np.array(evidence.room.relief.eye),
        aims,
    )


def _bends(relief: Relief, hall: Hall) -> Array:
    """Return lines of depth of walls and floor from the opening over the apron's end to the back, ``(n, 3, 3)``."""
    if relief.apron == 0:
        return np.zeros((0, 3, 3))
    half, top = hall.width / 2, hall.below_vault.height
    across = np.linspace(-half, half, ALONG_WALL)
    up = np.linspace(hall.floor, hall.floor + top, ALONG_WALL)
    level = [
        (x, z) for z in ([hall.floor] if hall.springing is not None else [hall.floor, hall.floor + top]) for x in across
    ]
    feet = np.array([*level, *((x, z) for x in (-half, half) for z in up)])
    depths = (0.0, relief.apron, hall.depth)
    return np.stack(
        [relief.build_points(np.column_stack([feet[:, 0], np.full(len(feet), y), feet[:, 1]])) for y in depths], axis=1
    )


def _named(values: Array) -> dict[str, float]:
    return {name: float(value) for name, value in zip(NAMED, values, strict=True)}


def _cone(relief: Relief, hall: Hall) -> float:
    x, y, z = relief.eye
    sides = [
        math.hypot(a - x, b - z)
        for a in (-hall.width / 2, hall.width / 2)
        for b in (hall.floor, hall.floor + hall.height)
    ]
    return math.atan(max(sides) / -y)


def _stop(near: float, far: float) -> float | None:
    try:
        return lens.stop(CAMERA_FOCAL, near, far)
    except ValueError:
        return None


def _viewers(evidence: Evidence, seen: Sights, points: Array, limit: float) -> list[Viewer]:
    """Return eyes higher and lower than the scene's, as far as the hall goes."""
    relief, hall = evidence.room.relief, evidence.room.hall
    imagined = relief.carry_back(points)
    x, y, z = relief.eye
    viewers = []
    for count in HEIGHTS:
        height = z + count * evidence.scene.eye.box[1] / 2
        if not hall.floor < height < hall.floor + hall.height:
            continue
        own = Relief(
            eye=(x, y, height), apron=relief.apron, apparent_depth=relief.apparent_depth, built_depth=relief.built_depth
        )
        there = sights(own.eye, own.build_points(imagined), imagined)
        viewers.append(
            Viewer(
                height=height,
                parallax_rad=float(parallax(seen, [[0.0, 0.0, height - z]])[0]),
                reach=_named(reach(there, list(NAMED.values()), limit)[0]),
                crease=_named(crease_reach(own.eye, _bends(own, hall), list(NAMED.values()), ACUITY)),
            )
        )
    return viewers


def forgives_entry(found: Forgiveness) -> dict[str, Any]:
    """Return the manifest's entry; lengths that nothing limits are null."""
    return {
        "parallax_arcmin": _round(found.limit_rad / ARC_MINUTE),
        "reach": _entry(found.reach),
        "least_in_plane": _round(found.least),
        "crease": _entry(found.crease) if found.apron > 0 else None,
        "eye_box": list(map(_round, found.eye_box)),
        "stereo": {
            "pupils": stereo.PUPILS,
            "disparity_arcsec": _round(math.degrees(found.disparity_rad) * 3600),
            "threshold_arcsec": STEREO_ARCSEC,
            "unseen_beyond": _round(found.one_enough),
        },
        "peephole": {"diameter": _round(found.peephole), "pupil_within": _round(found.behind)},
        "camera": {
            "distance": _round(found.sharp[0]),
            "sharp": list(map(_round, found.sharp)),
            "focus": _round(lens.focus(*found.sharp)),
            "focal": CAMERA_FOCAL,
            "stop": None if found.stop is None else _round(found.stop),
        },
        "viewers": [
            {
                "eye_height": _round(viewer.height),
                "parallax_arcmin": _round(viewer.parallax_rad / ARC_MINUTE),
                "reach": _entry(viewer.reach),
                "crease": _entry(viewer.crease) if found.apron > 0 else None,
            }
            for viewer in found.viewers
        ],
    }


def _entry(lengths: dict[str, float]) -> dict[str, float | None]:
    return {name: _round(value) for name, value in lengths.items()}


def _round(value: float) -> float | None:
    return round(value, 4) + 0.0 if math.isfinite(value) else None
