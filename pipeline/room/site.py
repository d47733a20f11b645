"""Where a hole is: what carries it into the built room, and what bounds what lies behind it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.model import Cut, Hall
from pipeline.elements.passage import OUTWARD
from pipeline.geometry import frames
from pipeline.room.measure import Room
from pipeline.room.seeing import eye_corners
from pipeline.scene.model import Scene

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """The surroundings of a hole.

    Attributes
    ----------
    hall
        Imagined mm.
    built_from_imagined
        ``(4, 4)``, the identity before the apron's end.
    limit
        ``(4,)`` built plane (n, c) with |n| = 1 of the box's side or back less the clearance; the room is where
        n . x + c >= 0.
    box_planes
        All such planes of the box.
    total
        Thickness of the hole's wall with its finish, mm.
    floor_total
        The same of the floor; 0 where none is built.
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
    floor_total: float
    bevelled: bool
    min_wall: float
    fit: float
    eyes: Array

    def host_plane(self, host: str) -> Array:
        """Return the built plane ``(4,)`` of a host's visible face, its unit normal into the hall: p' = M^-T p."""
        inward = np.array([0.0, 0.0, 1.0]) if host == "floor" else -np.array(OUTWARD[host])
        origin = self.hall.imagined_from_host(host)[:3, 2]
        plane = frames.inverse(self.built_from_imagined).T @ np.array([*inward, -inward @ origin])
        out: Array = plane / np.linalg.norm(plane[:3])
        return out

    def floor_edge(self, wall: Array, floor: Array) -> Array:
        """Return the built plane ``(4,)`` of the floor's cut edge under a wall, its normal away from the floor.

        Mitred, it holds the points as many thicknesses behind one face as behind the other; square, it stands on the
        floor in the line where the faces meet.
        """
        if self.floor_total == 0:
            return -wall
        mitred = floor / self.floor_total - wall / self.total
        plane = mitred if self.bevelled else (wall[:3] @ floor[:3]) * floor - wall
        out: Array = plane / np.linalg.norm(plane[:3])
        return out


def site_of(cut: Cut, scene: Scene, room: Room, *, near: bool) -> Site:
    """Return the surroundings of a hole; ``near`` tells that it lies before the apron's end."""
    planes = box_planes(scene, room)
    surfaces = room.hall.surfaces
    sheet, floor = surfaces[cut.host], surfaces.get("floor")
    return Site(
        hall=room.hall,
        built_from_imagined=np.eye(4) if near else room.relief.built_from_imagined,
        limit=planes[cut.host],
        box_planes=tuple(planes.values()),
        total=sheet.thickness + sheet.finish,
        floor_total=0.0 if floor is None else floor.thickness + floor.finish,
        bevelled=scene.make.edges == "bevel",
        min_wall=scene.make.printer.min_wall,
        fit=scene.make.fit,
        eyes=eye_corners(room.relief.eye, scene.eye.box),
    )


def box_planes(scene: Scene, room: Room) -> dict[str, Array]:
    """Return the planes ``(4,)`` (n, c) of the box less its clearance, normals inward, by the host before each."""
    width, height, depth = room.box
    clearance = scene.box.clearance
    rows = {
        "left-wall": (1.0, 0.0, 0.0, width / 2 - clearance),
        "right-wall": (-1.0, 0.0, 0.0, width / 2 - clearance),
        "back-wall": (0.0, -1.0, 0.0, depth - scene.box.back_gap - clearance),
        "floor": (0.0, 0.0, 1.0, 0.0),
        "ceiling": (0.0, 0.0, -1.0, height - clearance),
    }
    return {host: np.array(row) for host, row in rows.items()}
