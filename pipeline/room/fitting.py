"""What lies behind the openings, fitted into the box beside and behind the shrunken hall.

The elements know neither relief nor box. Here the box's side planes are pulled back through the relief into the
imagined room, where they cut the passages to what there is room for: planes go to planes, so the cut is exact. Faces
that no eye in the eye box sees are not made; they stay as planes that their neighbours are cut along.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.barrel import Bending, barrel_ids, bend_over, sweep_over
from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.model import Fact, Imagined, Web, WebEnd, gather
from pipeline.elements.passage import OUTWARD, Dress, close_end, line_hole, names, sides_of
from pipeline.elements.problems import Problem
from pipeline.elements.surfaces import Cut, Face
from pipeline.geometry import curves, frames
from pipeline.geometry.cutting import keep_side
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.room.behind import LINING_WALLS
from pipeline.room.lining import print_lining
from pipeline.room.measure import Room
from pipeline.room.reaches import built_depth, least_depth, longest_closed, no_way, room_behind, too_shallow
from pipeline.room.seeing import seen, web_seen
from pipeline.room.site import Site, site_of
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

LEADS = ("passage", "niche")
TOUCH = 1e-6
"""mm; nearer than this a hole only touches the apron's end."""


def fit(said: Imagined, scene: Scene, room: Room, kept: Kept = NOTHING_KEPT) -> Imagined:
    """Return everything with what lies behind the openings; its ``problems`` say what has nowhere to go."""
    parts, cuts = [], []
    for cut in said.cuts:
        if cut.beyond in LEADS or cut.reveal > 0:
            behind, edged = _behind(cut, said.faces, scene, room, kept)
            parts.append(behind)
            cuts.append(edged)
        else:
            cuts.append(cut)
    return gather([replace(said, cuts=tuple(cuts)), *parts, _same_ids(said, parts)])


def _same_ids(said: Imagined, parts: list[Imagined]) -> Imagined:
    """Return the parts behind openings whose id another part has: ids are file names, and one file holds one part."""
    taken = {face.id for face in said.faces} | {solid.id for solid in said.solids} | {block.id for block in said.blocks}
    made: list[Face | Block | Web] = []
    for behind in parts:
        made += [*behind.faces]
        made += [*behind.blocks]
        made += [*behind.webs]
    problems = []
    for part in made:
        if part.id in taken:
            found = f"a part behind it would be called {part.id!r}, as another part is"
            allowed = "names that give every part a name of its own"
            remedy = "rename one of the two"
            problems.append(Problem(path=(*part.path[:2], "name"), found=found, allowed=allowed, remedy=remedy))
        taken.add(part.id)
    return Imagined(problems=tuple(problems))


def _behind(cut: Cut, faces: tuple[Face, ...], scene: Scene, room: Room, kept: Kept) -> tuple[Imagined, Cut]:
    deep = curves.bounds(cut.curve)[:, 0] if cut.host != "back-wall" else np.full(2, room.hall.depth)
    if deep[0] < room.relief.apron - TOUCH and deep[1] > room.relief.apron + TOUCH:
        return Imagined(problems=(_across_apron(cut, room),)), cut
    site = site_of(cut, faces, scene, room, near=bool(deep[1] <= room.relief.apron + TOUCH))
    covers = room.sheets.covers
    sheet = room.hall.surfaces[cut.host]
    dress = Dress(sheet=sheet, floor_sheet=site.floor or sheet, walls=covers.get(cut.host), floor=covers.get("floor"))
    return kept.of(line, cut, site, dress)


def line(cut: Cut, site: Site, dress: Dress) -> tuple[Imagined, Cut]:
    """Return what lies behind a hole, and the hole with its edges cut for that."""
    if cut.beyond in LEADS:
        problem = no_way(cut, site)
        if problem is not None:
            return Imagined(problems=(problem,)), cut
        return _lead(cut, site, dress)
    return _reveal(cut, site, dress)


def settle(said: Imagined, scene: Scene, room: Room) -> Imagined:
    """Return what was said with every lining's make told: of sheet, but a print where nothing bends over its head."""
    cuts = []
    for cut in said.cuts:
        told = cut.made_as is not None or not (cut.beyond in LEADS or cut.reveal > 0)
        if told or cut.host not in room.hall.surfaces:
            cuts.append(cut)
            continue
        name = _barrel_sheet(cut, room.hall).material
        stiff = bool(cut.head) and scene.materials[name].min_bend == 0
        cuts.append(replace(cut, made_as="print" if stiff else "sheet", stiff=name if stiff else ""))
    return replace(said, cuts=tuple(cuts))


def _printed(cut: Cut, site: Site, depth: float, word: str, *, closed: bool) -> Imagined:
    """Return what is behind a hole as one print, and why it is one if nobody asked for it."""
    block = print_lining(cut, site, depth, word, closed=closed)
    if block is None:
        return Imagined()
    text = f"{cut.stiff} does not bend (min_bend = 0), so {block.id} is printed; barrel_material naming a sheet that"
    facts = (Fact(subject=cut.name, text=f"{text} bends makes panels of it"),) if cut.stiff else ()
    return Imagined(blocks=(block,), facts=facts)


def _barrel_sheet(cut: Cut, hall: Hall) -> SurfaceSheet:
    return cut.barrel or replace(hall.surfaces[cut.host], finish=0.0)


def _lead(cut: Cut, site: Site, dress: Dress) -> tuple[Imagined, Cut]:
    """Return a passage or niche: of panels, under a curved head with a bent one, or as one print."""
    problem = too_shallow(cut, site)
    if problem is not None:
        return Imagined(problems=(problem,)), cut
    depth, closed, mouth = _ending(cut, site, dress)
    more = Imagined(facts=_length_fact(cut, site, depth, closed=closed))
    if cut.made_as == "print":
        return gather([_printed(cut, site, depth, "lining", closed=closed), more]), cut
    behind, edged = _lined(cut, site, dress, depth, closed=closed)
    if mouth is not None:
        more = replace(more, planes=(mouth,), unseen=(mouth.id,))
    return gather([behind, more]), edged


def _ending(cut: Cut, site: Site, dress: Dress) -> tuple[float, bool, Face | None]:
    """Return how long a passage or niche is, imagined mm, whether it is closed, and the end that no eye sees.

    A passage in a side wall runs on as far as the box lets it. Where an eye sees out of its end, it is closed by a
    panel, as far back as that has room; where the wall's own sheet takes all of the room, it stays open.
    """
    if cut.beyond == "niche" or cut.host == "back-wall":
        return cut.length, True, None
    mouth = close_end(cut, site.hall, min(cut.length, *room_behind(cut, site)), dress)
    if not seen(mouth, cut, site.hall, site.built_from_imagined, site.eyes):
        return cut.length, False, mouth
    thick = LINING_WALLS * site.min_wall if cut.made_as == "print" else site.total
    depth = min(cut.length, longest_closed(cut, site, thick))
    closed = built_depth(cut, site, depth) >= least_depth(cut, site)
    return depth if closed else cut.length, closed, None


def _lined(cut: Cut, site: Site, dress: Dress, depth: float, *, closed: bool) -> tuple[Imagined, Cut]:
    """Return the panels behind a hole, ``depth`` imagined mm out, and the hole with its edges cut for them."""
    over = barrel_ids(cut) if cut.head else ("", "")
    faces = line_hole(cut, site.hall, depth, dress, closed=closed, over=over)
    fitted = {side: _clipped(face, site) for side, face in faces.items()}
    planes: list[Face] = []
    if cut.head:
        level = fitted.pop("ceiling")
        planes += [replace(level, id=part) for part in dict.fromkeys(over)]
        if cut.springing <= curves.bounds(cut.curve)[0, 1] + TOUCH:
            planes += [fitted.pop("right"), fitted.pop("left")]
    visible = {side for side, face in fitted.items() if seen(face, cut, site.hall, site.built_from_imagined, site.eyes)}
    made = tuple(face for side, face in fitted.items() if side in visible)
    hidden = [face for side, face in fitted.items() if side not in visible]
    end: Face | None = next((face for side, face in fitted.items() if side == "end" and side in visible), None)
    webs = bend_over(cut, site.hall, _bending(cut, site, dress, depth, end)) if cut.head else ()
    shown = tuple(web for web in webs if web_seen(web, cut, site.hall, site.built_from_imagined, site.eyes))
    unseen_webs = tuple(web for web in webs if web not in shown)
    unseen = (*(face.id for face in hidden), *(web.id for web in unseen_webs))
    hosts = frozenset({cut.host} if end is None else {cut.host, end.id})
    behind = Imagined(
        faces=made,
        planes=(*planes, *hidden),
        unseen=unseen,
        webs=shown,
        unseen_webs=unseen_webs,
        sweeps=(sweep_over(cut, site.hall, hosts, frozenset(over)),) if cut.head else (),
        facts=_unseen_fact(cut, unseen),
    )
    return behind, replace(cut, against=sides_of(cut, over))


def _bending(cut: Cut, site: Site, dress: Dress, depth: float, end: Face | None) -> Bending:
    """Return how a head is bent over: from the back of the wall's sheet to that of the end, or as far as there is room.

    The sheet goes round the end's edge, which stands in it as a plug.
    """
    hall, matrix = site.hall, site.built_from_imagined
    out = np.array(OUTWARD[cut.host])
    far = hall.imagined_from_host(cut.host)[:3, 2] + depth * out
    last = np.array([*-out, out @ far])
    if end is not None:
        seen_built = frames.inverse(matrix).T @ last
        seen_built = seen_built / np.linalg.norm(seen_built[:3])
        last = matrix.T @ (seen_built + np.array([0.0, 0.0, 0.0, site.total]))
    begins = -(matrix.T @ (site.wall_plane(cut.host) + np.array([0.0, 0.0, 0.0, site.total])))
    return Bending(
        sheet=_barrel_sheet(cut, hall),
        cover=dress.walls,
        near=_web_end(begins, cut.host),
        far=(_web_end(last, "" if end is None else end.id), _web_end(matrix.T @ site.limit, "")),
        offer=f'{"barrel_as" if cut.beyond in LEADS else "reveal_as"} = "print"',
    )


def _web_end(plane: Array, against: str) -> WebEnd:
    a, b, c, d = (float(value) for value in plane)
    return WebEnd(plane=(a, b, c, d), against=against)


def _reveal(cut: Cut, site: Site, dress: Dress) -> tuple[Imagined, Cut]:
    """Return a reveal as strips or as a printed frame; where the sheet is thicker, as the way the hole is cut."""
    reach, plain = min(cut.reveal, *room_behind(cut, site)), replace(dress, floor=None, walls=None)
    built = built_depth(cut, site, reach) if reach > 0 else 0.0
    if built < least_depth(cut, site):
        return _thin_reveal(cut, site, plain, built)
    if cut.made_as == "print":
        return _printed(cut, site, cut.reveal, "reveal", closed=False), cut
    return _lined(cut, site, plain, cut.reveal, closed=False)


def _thin_reveal(cut: Cut, site: Site, dress: Dress, built: float) -> tuple[Imagined, Cut]:
    """Return how a hole's edges are cut along its reveal: along planes, or swept where its head is bent; and say so."""
    thin = f"the reveal of {site.hall.metres(cut.reveal):.3g} m is {built:.2f} mm as built, thinner than"
    if min(room_behind(cut, site)) < cut.reveal:
        thin = f"the box leaves {built:.2f} mm for the reveal of {site.hall.metres(cut.reveal):.3g} m, less than"
    thin += f" the sheet of {site.total:g} mm"
    if built >= site.total:
        strips = " and the soffit's sheet behind it" if cut.head else " and the mitres of strips"
        thin += " and a printed frame behind it" if cut.made_as == "print" else strips
    fact = Fact(subject=cut.name, text=f"{thin}: the hole's edges are cut along it")
    if cut.head:
        soffit = names(cut)["ceiling"]
        sweep = sweep_over(cut, site.hall, frozenset({cut.host}), frozenset({soffit}))
        return Imagined(sweeps=(sweep,), facts=(fact,)), replace(cut, against=(soffit,) * len(cut.curve))
    faces = line_hole(cut, site.hall, cut.reveal, dress, closed=False)
    behind = Imagined(planes=tuple(_clipped(face, site) for face in faces.values()), facts=(fact,))
    return behind, replace(cut, against=sides_of(cut, ("", "")))


def _clipped(face: Face, site: Site) -> Face:
    """Return a face cut off at the box."""
    line = site.limit @ site.built_from_imagined @ face.imagined_from_host
    corners = np.array([edge.curve.start for edge in face.region.outline])
    if np.linalg.norm(line[:2]) < 1e-12 or (corners @ line[:2] + line[2] >= 0).all():
        return face
    return replace(face, region=keep_side(face.region, line, ""))


def _length_fact(cut: Cut, site: Site, depth: float, *, closed: bool) -> tuple[Fact, ...]:
    if cut.host == "back-wall" or cut.beyond == "niche":
        return ()
    if closed:
        said = f"its end is seen from the eye box, so it is closed, {site.hall.metres(depth):.2f} m behind the wall"
        return (Fact(subject=cut.name, text=said),)
    near, far = room_behind(cut, site)
    if cut.length <= min(near, far):
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
