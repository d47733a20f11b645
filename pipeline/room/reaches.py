"""How far what lies behind an opening may reach: the box ends it, and the wall's own sheet takes its beginning."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pipeline.elements.passage import OUTWARD
from pipeline.elements.problems import Problem
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves, frames
from pipeline.geometry.vectors import cross
from pipeline.room.site import Site

LEADS = ("passage", "niche")
TOUCH = 1e-6
"""mm; lengths that differ by less are one."""
LEAST_STRIP = 0.2
"""mm; a strip whose hidden face is narrower than this is a knife's edge."""
HALVINGS = 60
"""Of the length that is sought: more than the digits of a number."""


def built_depth(cut: Cut, site: Site, length: float) -> float:
    """Return the least built depth of ``length`` imagined mm behind a hole, mm square to the wall's visible face."""
    host = site.hall.imagined_from_host(cut.host)
    points = np.array([curve.start for curve in cut.curve])
    inner = frames.apply(host, points)
    outer = inner + length * np.array(OUTWARD[cut.host])
    a, b, c = frames.apply(site.built_from_imagined @ host, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    normal = frames.unit(cross(b - a, c - a))
    return float(np.abs((frames.apply(site.built_from_imagined, outer) - a) @ normal).min())


def room_behind(cut: Cut, site: Site) -> tuple[float, float]:
    """Return how far out the box lets a passage run, imagined mm, at its near and at its far edge."""
    low, high = curves.bounds(cut.curve)
    points = frames.apply(site.hall.imagined_from_host(cut.host), [[low[0], low[1]], [high[0], low[1]]])
    plane = site.limit @ site.built_from_imagined  # (n, c) of the box's side, in the imagined room
    reach = -(points @ plane[:3] + plane[3]) / (plane[:3] @ np.array(OUTWARD[cut.host]))
    return float(reach[0]), float(reach[1])


def no_way(cut: Cut, site: Site) -> Problem | None:
    """Return the problem of a passage, or of the end of a niche, that the box has no room for."""
    longest = longest_closed(cut, site, site.total)
    if cut.beyond == "niche" or cut.host == "back-wall":
        if cut.length <= longest + TOUCH:
            return None
        asked = f"a {cut.beyond} {site.hall.metres(cut.length):.3g} m long ends outside the box"
        if longest <= 0:
            return _no_room(cut, site)
        remedy = "make it shorter, or the hall narrower" if cut.host != "back-wall" else "make it shorter"
        allowed = f"at most {site.hall.metres(longest):.3g} m here"
        return Problem(path=(*cut.path, "length"), found=asked, allowed=allowed, remedy=remedy)
    reach = min(room_behind(cut, site))
    return None if reach > 0 and built_depth(cut, site, reach) >= least_depth(cut, site) else _no_room(cut, site)


def _no_room(cut: Cut, site: Site) -> Problem:
    near, far = (max(site.hall.metres(reach), 0.0) for reach in room_behind(cut, site))
    room = (
        f"{near:.3g} m" if cut.host == "back-wall" else f"{near:.3g} m at its near edge and {far:.3g} m at its far one"
    )
    return Problem(
        path=(*cut.path, "beyond"),
        found=f"a {cut.beyond} has nowhere to go here: the box leaves {room}, the wall's own sheet takes "
        f"{site.hall.metres(_sheet_reach(cut, site)):.3g} m",
        allowed="more room than the sheet takes",
        remedy="move the opening farther back, where the walls stand farther in, or make the hall narrower",
    )


def _sheet_reach(cut: Cut, site: Site) -> float:
    """Return how much of a passage the wall's own sheet takes at its near edge, imagined mm outward."""
    low = curves.bounds(cut.curve)[0]
    matrix, out = site.hall.imagined_from_host(cut.host), np.array(OUTWARD[cut.host])
    start = frames.apply(matrix, low[None])
    ends = frames.apply(site.built_from_imagined, np.vstack([start, start + out]))
    a, b, c = frames.apply(site.built_from_imagined @ matrix, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    normal = frames.unit(cross(b - a, c - a))
    return site.total / abs(float((ends[1] - ends[0]) @ normal))


def longest_closed(cut: Cut, site: Site, thickness: float) -> float:
    """Return the greatest length at which an end of some thickness, mm, lies in the box, imagined mm; 0 for none."""
    fits = _end_fits(cut, site, thickness)
    low, high = 0.0, max(*room_behind(cut, site), 0.0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def _end_fits(cut: Cut, site: Site, thickness: float) -> Callable[[float], bool]:
    """Return what tells whether the hidden corners of an end at a length lie, on its neighbours' planes, in the box."""
    low, high = curves.bounds(cut.curve)
    out = np.array(OUTWARD[cut.host])
    flat = np.array([[*low, 1.0], [high[0], low[1], 1.0], [0.0, 0.0, 1.0], [10.0, 0.0, 1.0], [0.0, 10.0, 1.0]])
    start = flat @ (site.built_from_imagined @ site.hall.imagined_from_host(cut.host)).T
    onward = site.built_from_imagined[:, :3] @ out

    def fits(length: float) -> bool:
        rows = start + length * onward
        points = rows[:, :3] / rows[:, 3:]
        a, b, c = points[2:]
        along = thickness / abs(float(frames.unit(cross(b - a, c - a)) @ out))
        hidden = points[:2] + along * out
        return bool((hidden @ site.limit[:3] + site.limit[3] >= 0).all())

    return fits


def least_depth(cut: Cut, site: Site) -> float:
    """Return how deep what is behind a hole must be as built, mm square to the wall, where it is open behind.

    A strip of sheet t_s that makes the angle th with the wall, of sheet t, is mitred to it round the corner: its hidden
    face begins t + t_s cos th behind the wall's visible one. A bent sheet, like a print, begins behind the wall's.
    """
    if cut.made_as == "print":
        return site.total + site.fit + (0.0 if cut.beyond in LEADS else site.min_wall)
    host, carry = site.hall.imagined_from_host(cut.host), frames.inverse(site.built_from_imagined).T
    wall, floor = site.wall_plane(cut.host), site.floor
    least, (low, high) = 0.0, curves.bounds(cut.curve)
    for axis, place, side in ((0, low, 1.0), (0, high, -1.0), (1, low, 1.0), (1, high, -1.0)):
        normal, point = side * host[:3, axis], frames.apply(host, place[None])[0]
        plane = carry @ np.array([*normal, -normal @ point])
        sill = axis == 1 and side > 0 and floor is not None
        sheet = floor.thickness + floor.finish if sill and floor is not None else site.total
        least = max(least, -sheet * float(wall[:3] @ plane[:3]) / float(np.linalg.norm(plane[:3])))
    bent = 0.0 if not cut.head else site.total if cut.barrel is None else cut.barrel.thickness
    return site.total + max(least + LEAST_STRIP, bent)


def too_shallow(cut: Cut, site: Site) -> Problem | None:
    """Return the problem of a passage or niche that would end within the wall's sheet, or within a strip's mitre.

    A niche under a flat head may: its end is mitred to its sides, so their hidden faces are as deep as the visible.
    Where joints are cut square its sides begin behind the wall's sheet instead, and something must be left of them.
    """
    closed = cut.beyond == "niche" or cut.host == "back-wall"
    if closed and not cut.head and site.bevelled:
        return None
    least, built = least_depth(cut, site), built_depth(cut, site, cut.length)
    if built >= least:
        return None
    low, high = cut.length, cut.length * least / built * 4
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if built_depth(cut, site, middle) >= least else (middle, high)
    return Problem(
        path=(*cut.path, "length"),
        found=f"a {cut.beyond} {site.hall.metres(cut.length):.3g} m deep is {built:.2f} mm as built, and {least:.3g} mm"
        f" are taken by the wall's sheet of {site.total:g} mm and the joint with it",
        allowed=f"at least {site.hall.metres(high):.3g} m",
        remedy="make it deeper, or take a thinner sheet",
    )
