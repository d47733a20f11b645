"""Where a hole is: what carries it into the built room, and what bounds what lies behind it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.passage import OUTWARD
from pipeline.elements.surfaces import Cut, Face
from pipeline.geometry import curves, frames
from pipeline.keeping.watched import altered
from pipeline.room.measure import Room
from pipeline.room.seeing import eye_corners
from pipeline.scene.model import Scene

Array = NDArray[np.float64]


TOUCH = 1e-6
"""mm; a hole no farther from a floor's plane or edge stands on it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """The surroundings of a hole.

    Attributes
    ----------
    hall
        Imagined mm; whatever its surfaces wear.
    built_from_imagined
        ``(4, 4)``, the identity before the apron's end.
    limit
        ``(4,)`` built plane (n, c) with |n| = 1 of the box's side or back less the clearance; the room is where
        n . x + c >= 0.
    box_planes
        All such planes of the box.
    total
        Thickness of the hole's wall with its finish, mm.
    floor
        Sheet of the floor that the hole stands on; nothing where it has a sill, or no floor is built.
    bevelled
        Whether panels are mitred.
    min_wall, fit
        Of prints: the least wall, and the play to panels, mm.
    eyes
        ``(4, 3)`` corners of the eye box, built mm.
    """

    hall: Hall
    built_from_imagined: Array
    limit: Array
    box_planes: tuple[Array, ...]
    total: float
    floor: SurfaceSheet | None
    bevelled: bool
    min_wall: float
    fit: float
    eyes: Array

    def wall_plane(self, host: str) -> Array:
        """Return the built plane ``(4,)`` of a wall's visible face, its unit normal into the hall."""
        return self._carried(-np.array(OUTWARD[host]), self.hall.imagined_from_host(host)[:3, 2])

    def sill_plane(self, cut: Cut) -> Array:
        """Return the built plane ``(4,)`` level with a hole's sill, its unit normal upward."""
        origin = frames.apply(self.hall.imagined_from_host(cut.host), curves.bounds(cut.curve)[:1])[0]
        return self._carried(np.array([0.0, 0.0, 1.0]), origin)

    def _carried(self, inward: Array, origin: Array) -> Array:
        """Return an imagined plane in the built room: p' = M^-T p."""
        plane = frames.inverse(self.built_from_imagined).T @ np.array([*inward, -inward @ origin])
        out: Array = plane / np.linalg.norm(plane[:3])
        return out

    def floor_edge(self, wall: Array, floor: Array, floor_total: float) -> Array:
        """Return the built plane ``(4,)`` of the floor's cut edge under a wall, its normal away from the floor.

        Mitred, it holds the points as many thicknesses behind one face as behind the other; square, it stands on the
        floor in the line where the faces meet.
        """
        mitred = floor / floor_total - wall / self.total
        plane = mitred if self.bevelled else (wall[:3] @ floor[:3]) * floor - wall
        out: Array = plane / np.linalg.norm(plane[:3])
        return out


def site_of(cut: Cut, faces: tuple[Face, ...], scene: Scene, room: Room, *, near: bool) -> Site:
    """Return the surroundings of a hole among the hall's faces; ``near`` tells that it lies before the apron's end."""
    planes = box_planes(scene, room)
    sheet = room.hall.surfaces[cut.host]
    floor = next((face.sheet for face in faces if _stands_on(cut, face, room.hall)), None)
    return Site(
        hall=altered(room.hall, covers={}),
        built_from_imagined=np.eye(4) if near else room.relief.built_from_imagined,
        limit=planes[cut.host],
        box_planes=tuple(planes.values()),
        total=sheet.thickness + sheet.finish,
        floor=floor,
        bevelled=scene.make.edges == "bevel",
        min_wall=scene.make.printer.min_wall,
        fit=scene.make.fit,
        eyes=eye_corners(room.relief.eye, scene.eye.box),
    )


def _stands_on(cut: Cut, face: Face, hall: Hall) -> bool:
    """Return whether the middle of a hole's lower edge lies on a level face that is walked on."""
    if not face.level or face.inward[2] < 1 - TOUCH:
        return False
    (left, sill), (right, _) = curves.bounds(cut.curve)
    middle = frames.apply(hall.imagined_from_host(cut.host), [[(left + right) / 2, sill]])[0]
    corners = np.array([edge.curve.start for edge in face.region.outline])
    reach = frames.apply(face.imagined_from_host, corners)
    return bool((reach.min(axis=0) - TOUCH <= middle).all() and (middle <= reach.max(axis=0) + TOUCH).all())


def box_planes(scene: Scene, room: Room) -> dict[str, Array]:
    """Return the planes ``(4,)`` (n, c) of the box less its clearance, normals inward, by the host before each."""
    clearance = scene.box.clearance
    kept = {"left-wall": (clearance,), "right-wall": (clearance,), "ceiling": (clearance,), "floor": ()}
    kept["back-wall"] = (scene.box.back_gap, clearance)
    planes = {}
    for host in ("left-wall", "right-wall", "back-wall", "floor", "ceiling"):
        planes[host] = room.inside.planes[host].copy()
        for back in kept[host]:
            planes[host][3] -= back
    return planes
