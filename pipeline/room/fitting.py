"""What lies behind the openings, fitted into the box beside and behind the shrunken hall.

The elements know neither relief nor box. Here the box's side planes are pulled back through the relief into the
imagined room, where they cut the passages to what there is room for: planes go to planes, so the cut is exact. Faces
that no eye in the eye box sees are not made; they stay as planes that their neighbours are cut along.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block
from pipeline.elements.model import Fact, Imagined, gather
from pipeline.elements.passage import OUTWARD, SIDES, Dress, line_hole
from pipeline.elements.problems import Problem
from pipeline.elements.surfaces import Cut, Face
from pipeline.geometry import curves, frames
from pipeline.geometry.cutting import keep_side
from pipeline.room.lining import print_lining
from pipeline.room.measure import Room
from pipeline.room.seeing import seen
from pipeline.room.site import Site, site_of
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

LEADS = ("passage", "niche")
TOUCH = 1e-6
"""mm; nearer than this a hole only touches the apron's end."""
HALVINGS = 60
"""Of the length that is sought: more than the digits of a number."""


def fit(said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return everything with what lies behind the openings; its ``problems`` say what has nowhere to go."""
    parts, cuts = [], []
    for cut in said.cuts:
        if cut.beyond in LEADS or cut.reveal > 0:
            behind, edged = _behind(cut, said.faces, scene, room)
            parts.append(behind)
            cuts.append(edged)
        else:
            cuts.append(cut)
    return gather([replace(said, cuts=tuple(cuts)), *parts, _same_ids(said, parts)])


def _same_ids(said: Imagined, parts: list[Imagined]) -> Imagined:
    """Return the parts behind openings whose id another part has: ids are file names, and one file holds one part."""
    taken = {face.id for face in said.faces} | {solid.id for solid in said.solids} | {block.id for block in said.blocks}
    made: list[Face | Block] = []
    for behind in parts:
        made += [*behind.faces]
        made += [*behind.blocks]
    problems = []
    for part in made:
        if part.id in taken:
            found = f"a part behind it would be called {part.id!r}, as another part is"
            allowed = "names that give every part a name of its own"
            problems.append(Problem(path=(*part.path[:2], "name"), found=found, allowed=allowed))
        taken.add(part.id)
    return Imagined(problems=tuple(problems))


def _behind(cut: Cut, faces: tuple[Face, ...], scene: Scene, room: Room) -> tuple[Imagined, Cut]:
    deep = curves.bounds(cut.curve)[:, 0] if cut.host != "back-wall" else np.full(2, room.hall.depth)
    if deep[0] < room.relief.apron - TOUCH and deep[1] > room.relief.apron + TOUCH:
        return Imagined(problems=(_across_apron(cut, room),)), cut
    site = site_of(cut, faces, scene, room, near=bool(deep[1] <= room.relief.apron + TOUCH))
    covers = room.sheets.covers
    sheet = room.hall.surfaces[cut.host]
    dress = Dress(sheet=sheet, floor_sheet=site.floor or sheet, walls=covers.get(cut.host), floor=covers.get("floor"))
    if cut.beyond in LEADS:
        problem = _nowhere(cut, site)
        if problem is not None:
            return Imagined(problems=(problem,)), cut
        return _lead(cut, site, dress)
    return _reveal(cut, site, dress)


def _lead(cut: Cut, site: Site, dress: Dress) -> tuple[Imagined, Cut]:
    """Return a passage or niche: of flat faces, or printed where its head is bent."""
    closed = cut.beyond == "niche" or cut.host == "back-wall"
    if not flat(cut):
        problem = _too_shallow(cut, site) if closed else None
        if problem is not None:
            return Imagined(problems=(problem,)), cut
        block = print_lining(cut, site, cut.length, "lining", closed=closed)
        return Imagined(blocks=() if block is None else (block,), facts=_length_fact(cut, site)), cut
    faces = line_hole(cut, site.hall, cut.length, dress, closed=closed)
    fitted = {side: _clipped(face, site) for side, face in faces.items()}
    visible = {side for side, face in fitted.items() if seen(face, cut, site.hall, site.built_from_imagined, site.eyes)}
    made = tuple(face for side, face in fitted.items() if side in visible)
    planes = tuple(face for side, face in fitted.items() if side not in visible)
    unseen = tuple(face.id for face in planes)
    facts = (*_length_fact(cut, site), *_unseen_fact(cut, unseen))
    behind = Imagined(faces=made, planes=planes, unseen=unseen, facts=facts)
    return behind, replace(cut, against=tuple(faces[side].id for side in SIDES))


def flat(cut: Cut) -> bool:
    """Return whether a hole is a rectangle, so that faces can run outward from its edges."""
    return len(cut.curve) == len(SIDES) and all(curve.straight for curve in cut.curve)


def _reveal(cut: Cut, site: Site, dress: Dress) -> tuple[Imagined, Cut]:
    """Return a reveal as strips or as a printed frame; where the sheet is thicker, as planes the hole is cut along."""
    built, least = built_depth(cut, site, cut.reveal), site.total
    if cut.reveal_as == "print":
        least += site.fit + site.min_wall
    if built < least:
        return _thin_reveal(cut, site, dress, built)
    if cut.reveal_as == "print":
        block = print_lining(cut, site, cut.reveal, "reveal", closed=False)
        return Imagined(blocks=() if block is None else (block,)), cut
    if not flat(cut):
        problem = Problem(
            path=(*cut.path, "reveal_as"),
            found="strips of sheet cannot follow a bent head",
            allowed='"print", or a flat head',
            remedy='add reveal_as = "print"',
        )
        return Imagined(problems=(problem,)), cut
    faces = _strips(cut, site, dress)
    visible = {s for s, face in faces.items() if seen(face, cut, site.hall, site.built_from_imagined, site.eyes)}
    planes = tuple(face for side, face in faces.items() if side not in visible)
    made = tuple(face for side, face in faces.items() if side in visible)
    unseen = tuple(face.id for face in planes)
    behind = Imagined(faces=made, planes=planes, unseen=unseen, facts=_unseen_fact(cut, unseen))
    return behind, replace(cut, against=tuple(faces[side].id for side in SIDES))


def _strips(cut: Cut, site: Site, dress: Dress) -> dict[str, Face]:
    faces = line_hole(cut, site.hall, cut.reveal, replace(dress, floor=None, walls=None), closed=False)
    return {side: _clipped(face, site) for side, face in faces.items()}


def _thin_reveal(cut: Cut, site: Site, dress: Dress, built: float) -> tuple[Imagined, Cut]:
    """Return the planes a hole's edges are cut along, and say so; a bent head is cut square."""
    thin = f"the reveal of {site.hall.metres(cut.reveal):.3g} m is {built:.2f} mm as built, thinner than"
    thin += f" the sheet of {site.total:g} mm"
    thin += " and a printed frame behind it" if cut.reveal_as == "print" else ""
    if not flat(cut):
        return Imagined(facts=(Fact(subject=cut.name, text=f"{thin}: the hole's square edge shows it"),)), cut
    faces = _strips(cut, site, dress)
    fact = Fact(subject=cut.name, text=f"{thin}: the hole's edges are cut along it")
    behind = Imagined(planes=tuple(faces.values()), facts=(fact,))
    return behind, replace(cut, against=tuple(faces[side].id for side in SIDES))


def built_depth(cut: Cut, site: Site, length: float) -> float:
    """Return the least built depth of ``length`` imagined mm behind a hole, mm square to the wall's visible face."""
    host = site.hall.imagined_from_host(cut.host)
    points = np.array([curve.start for curve in cut.curve])
    inner = frames.apply(host, points)
    outer = inner + length * np.array(OUTWARD[cut.host])
    a, b, c = frames.apply(site.built_from_imagined @ host, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    normal = frames.unit(np.cross(b - a, c - a))
    return float(np.abs((frames.apply(site.built_from_imagined, outer) - a) @ normal).min())


def _clipped(face: Face, site: Site) -> Face:
    """Return a face cut off at the box."""
    line = site.limit @ site.built_from_imagined @ face.imagined_from_host
    corners = np.array([edge.curve.start for edge in face.region.outline])
    if np.linalg.norm(line[:2]) < 1e-12 or (corners @ line[:2] + line[2] >= 0).all():
        return face
    return replace(face, region=keep_side(face.region, line, ""))


def room_behind(cut: Cut, site: Site) -> tuple[float, float]:
    """Return how far out the box lets a passage run, imagined mm, at its near and at its far edge."""
    low, high = curves.bounds(cut.curve)
    points = frames.apply(site.hall.imagined_from_host(cut.host), [[low[0], low[1]], [high[0], low[1]]])
    plane = site.limit @ site.built_from_imagined  # (n, c) of the box's side, in the imagined room
    reach = -(points @ plane[:3] + plane[3]) / (plane[:3] @ np.array(OUTWARD[cut.host]))
    return float(reach[0]), float(reach[1])


def _nowhere(cut: Cut, site: Site) -> Problem | None:
    """Return the problem of a passage, or of the end of a niche, that the box has no room for."""
    longest = longest_closed(cut, site)
    if cut.beyond == "niche" or cut.host == "back-wall":
        if cut.length <= longest + TOUCH:
            return None
        asked = f"a {cut.beyond} {site.hall.metres(cut.length):.3g} m long ends outside the box"
        if longest <= 0:
            return _no_room(cut, site)
        remedy = "make it shorter, or the hall narrower" if cut.host != "back-wall" else "make it shorter"
        allowed = f"at most {site.hall.metres(longest):.3g} m here"
        return Problem(path=(*cut.path, "length"), found=asked, allowed=allowed, remedy=remedy)
    near, far = room_behind(cut, site)
    return None if min(near, far) > _sheet_reach(cut, site) + TOUCH else _no_room(cut, site)


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
    normal = frames.unit(np.cross(b - a, c - a))
    return site.total / abs(float((ends[1] - ends[0]) @ normal))


def longest_closed(cut: Cut, site: Site) -> float:
    """Return the greatest length at which the end's sheet still lies in the box, imagined mm; 0 where none does."""
    low, high = 0.0, max(*room_behind(cut, site), 0.0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _end_fits(cut, site, middle) else (low, middle)
    return low


def _end_fits(cut: Cut, site: Site, length: float) -> bool:
    """Return whether the end's hidden corners, on the planes of its neighbours, lie within the box."""
    matrix = site.hall.imagined_from_host(cut.host)
    out = np.array(OUTWARD[cut.host])
    matrix[:3, 2] += length * out
    low, high = curves.bounds(cut.curve)
    corners = frames.apply(site.built_from_imagined @ matrix, [low, [high[0], low[1]]])
    a, b, c = frames.apply(site.built_from_imagined @ matrix, [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    normal = frames.unit(np.cross(b - a, c - a))
    along = site.total / abs(float(normal @ out))
    hidden = corners + along * out
    return bool((hidden @ site.limit[:3] + site.limit[3] >= 0).all())


def _too_shallow(cut: Cut, site: Site) -> Problem | None:
    """Return the problem of a printed lining whose end would stand within the wall's sheet."""
    least = site.total + site.fit
    built = built_depth(cut, site, cut.length)
    if built >= least:
        return None
    low, high = cut.length, cut.length * least / built * 4
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if built_depth(cut, site, middle) >= least else (middle, high)
    return Problem(
        path=(*cut.path, "length"),
        found=f"a {cut.beyond} {site.hall.metres(cut.length):.3g} m deep is {built:.2f} mm as built, less than the"
        f" sheet of {site.total:g} mm before it; with a bent head it stands behind that",
        allowed=f"at least {site.hall.metres(high):.3g} m",
        remedy="make it deeper, give it a flat head, or take a thinner sheet",
    )


def _length_fact(cut: Cut, site: Site) -> tuple[Fact, ...]:
    near, far = room_behind(cut, site)
    if cut.host == "back-wall" or cut.length <= min(near, far):
        return ()
    reach = f"{site.hall.metres(near):.2f} m at its near edge, {site.hall.metres(far):.2f} m at its far one"
    return (Fact(subject=cut.name, text=f"the box ends the passage after {reach}"),)


def _unseen_fact(cut: Cut, unseen: tuple[str, ...]) -> tuple[Fact, ...]:
    if not unseen:
        return ()
    return (Fact(subject=cut.name, text=f"left out, as no eye in the eye box sees them: {', '.join(unseen)}"),)


def _across_apron(cut: Cut, room: Room) -> Problem:
    apron = room.hall.metres(room.relief.apron)
    return Problem(
        path=(*cut.path, "at"),
        found=f"the opening lies across the apron's end at {apron:.4g} m, and what is behind it would break there",
        allowed="an opening wholly before or wholly behind it",
        remedy="move it along the wall, or leave it bare",
    )
