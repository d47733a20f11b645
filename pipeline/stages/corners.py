"""Corners held together: who runs on beneath whom, what stays in one piece, then flaps, tabs and slots."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.elements.hall import SURFACES
from pipeline.elements.model import Fact, Imagined
from pipeline.elements.problems import Problem, SceneError
from pipeline.elements.surfaces import Face
from pipeline.geometry import curves
from pipeline.geometry.cutting import CutError
from pipeline.parts.additions import strips_of, with_additions
from pipeline.parts.brick_relief import is_raised
from pipeline.parts.corners import Corners, Kind, rank
from pipeline.parts.flaps import make_flap
from pipeline.parts.joints import RIGHT
from pipeline.parts.model import Addition, JointEdge, Panel
from pipeline.parts.nets import Net, make_net
from pipeline.parts.outlines import Making, flat_loops
from pipeline.parts.panels import cut_region
from pipeline.parts.seams import Seam, find_seams, glueable, outline_polygon
from pipeline.parts.tabs import EdgesAt, TabSize, make_tabs
from pipeline.parts.unfolding import Unfolded, unfold
from pipeline.scene.model import Scene
from pipeline.stages.ground import Ground

WHOLE = 1e-5
"""mm; a seam shorter than its edge by less is all of it."""

NET = "net"
"""Subject of what is said of a card that makes no net."""

APART = ("supports", "front")
"""Tables whose parts are glued on as they are."""


def plan_corners(scene: Scene, said: Imagined, making: Making) -> tuple[Making, Imagined, dict[str, Unfolded]]:
    """Return what panels need to know, what was said with what cannot be held so, and the net of each card.

    Raises
    ------
    SceneError
        If a net is asked for and no card has flaps.
    """
    kinds, facts = _kinds(scene, said, making)
    unfolded: dict[str, Unfolded] = {}
    apart = _lined(said)
    if scene.make.net:
        unfolded, more = _nets(scene, said, replace(making, corners=Corners(kinds=kinds, apart=apart)))
        facts += more
    folded = frozenset(hinge.parts for one in unfolded.values() for hinge in one.hinges)
    corners = Corners(kinds=kinds, folded=folded, apart=apart)
    laid = {part for one in unfolded.values() for part in one.net_from_flat}
    corners = replace(corners, under=_under(said, replace(making, corners=corners), laid))
    return replace(making, corners=corners), replace(said, facts=(*said.facts, *facts)), unfolded


def _kinds(scene: Scene, said: Imagined, making: Making) -> tuple[dict[str, Kind], list[Fact]]:
    """Return what holds each face's corners where it is not plain, and what is said of those it cannot hold."""
    kinds: dict[str, Kind] = {}
    under: list[str] = []
    for face in said.faces:
        own = scene.materials[face.sheet.material].corners
        kind: Kind = scene.make.corners if own is None else own
        raised = is_raised(scene.covers.get(face.cover or ""), making.lies[face.id])
        if kind == "plain" or face.path[0] in APART or raised:
            continue
        if glueable(face):
            kinds[face.id] = kind
        elif face.sheet.finish > 0:
            under.append(face.id)
    if not under:
        return kinds, []
    text = f"No tabs or flaps on {', '.join(under)}: the sheet ends behind the finish, and its corners would show."
    return kinds, [Fact(subject="corners", text=text)]


def _lined(said: Imagined) -> frozenset[frozenset[str]]:
    """Return the walls with a printed lining behind a hole, each with every floor: its tongue fits their mitre."""
    linings = {block.path for block in said.blocks}
    walls = {cut.host for cut in said.cuts if cut.path in linings}
    return frozenset(frozenset((wall, face.id)) for wall in walls for face in said.faces if face.level)


def _under(said: Imagined, making: Making, laid: set[str]) -> frozenset[tuple[str, str]]:
    """Return which part runs on beneath which along all of their seam.

    Only the hall's own surfaces do, between straight edges, where no doorway parts the seam and nothing else has been
    fitted to their mitre, and on no net, where there is no room beside a fold. Sheets with tabs that are cut square do
    so up to 90 degrees, since above an edge on the visible line would reach into them, or where they are to be butted.
    """
    corners, out = making.corners, []
    faces = [face for face in said.faces if face.id in corners.kinds and face.id not in laid]
    faces = [face for face in faces if face.path[0] in SURFACES and _straight(face)]
    try:
        regions = {face.id: cut_region(face, said.cuts) for face in faces}
    except CutError:
        return frozenset()  # the panels' own stage says what is wrong
    met: dict[tuple[str, str], float] = {}
    for seam in find_seams(regions, making):
        for side, other in ((seam.first, seam.second), (seam.second, seam.first)):
            role = corners.role(side.part, other.part, seam.angle_rad)
            if role == "runs on" and _has_room_beneath(side.part, other.part, seam.angle_rad, making):
                met[side.part, other.part] = met.get((side.part, other.part), 0.0) + seam.length
    for (part, against), length in sorted(met.items()):
        loops = flat_loops(regions[part], making.lies[part])
        edges = [edge.curve for flat in loops for edge in flat.loop if edge.against == against]
        straight = all(curve.straight for curve in edges)
        if straight and abs(sum(curves.length(curve) for curve in edges) - length) < WHOLE:
            out.append((part, against))
    return frozenset(out)


def _has_room_beneath(part: str, other: str, angle_rad: float, making: Making) -> bool:
    """Return whether an edge cut as the scene asks leaves room beneath it for the sheet it ends on."""
    tabbed = making.corners.kind(part, other, angle_rad) == "tabs"
    return making.bevelled or making.butted or not tabbed or angle_rad <= math.pi / 2 + RIGHT


def _straight(face: Face) -> bool:
    return all(edge.curve.straight for edge in face.region.outline)


def _nets(scene: Scene, said: Imagined, making: Making) -> tuple[dict[str, Unfolded], list[Fact]]:
    """Return the hall's surfaces of each card unfolded, and why others cannot be."""
    faces = [face for face in said.faces if face.path[0] in SURFACES and making.corners.kinds.get(face.id) == "flaps"]
    cards = list(dict.fromkeys(face.sheet.material for face in faces))
    if not cards:
        problem = Problem(
            path=("make", "net"),
            found="no surface of the hall is of card with flaps, so there is nothing to unfold",
            allowed='corners = "flaps" in [make] or in the card\'s table, and surfaces without finish',
            remedy="add it, or take net out",
        )
        raise SceneError([problem])
    out, facts, alone = {}, [], []
    for card in cards:
        own = [face for face in faces if face.sheet.material == card]
        if len(own) == 1:
            text = f"The {card} makes no net: of the hall only the {own[0].id} is of it. Give more surfaces that card."
            alone.append(Fact(subject=NET, text=text))
            continue
        found = _unfolded(own, card, scene, said, making)
        if isinstance(found, Unfolded):
            out[card] = found
        elif found:
            facts.append(Fact(subject=NET, text=f"{found}; its panels are cut one by one, with flaps."))
    return out, [*facts, *([] if out else alone)]


def _unfolded(faces: list[Face], card: str, scene: Scene, said: Imagined, making: Making) -> Unfolded | str:
    """Return the surfaces of one card laid flat, or why they cannot be."""
    try:
        regions = {face.id: cut_region(face, said.cuts) for face in faces}
    except CutError:
        return ""  # the panels' own stage says what is wrong
    parts = sorted(regions, key=lambda part: part != "back-wall")
    shapes = {part: outline_polygon(regions[part], making.lies[part]) for part in parts}
    table = scene.materials[card]
    stock = (table.sheet[0] - 2 * table.margin, table.sheet[1] - 2 * table.margin)
    seams = find_seams(regions, making)
    try:
        best = unfold(parts, seams, shapes, stock)
    except ValueError:
        return f"The {card} makes no net: its panels do not all meet along straight edges"
    if making.butted and (over := _run_on(seams, best, making.corners)):
        return f"The {card} makes no net: butted against one another, {over}, where beside a fold there is no room"
    if best.overlaps:
        pairs = ", ".join(f"{a} and {b} by {area:.0f} mm2" for a, b, area in best.overlaps)
        return f"The {card} makes no net: however it is unfolded panels lie on one another, at best {pairs}"
    if not best.fits(stock):
        size = f"{best.size[0]:.0f} x {best.size[1]:.0f} mm, and a sheet leaves {stock[0]:g} x {stock[1]:g} mm"
        large = " x ".join(f"{math.ceil(side + 2 * table.margin)}" for side in best.size)
        return f"The {card} makes no net: it would be {size} (one of {large} mm holds it)"
    return best


def _run_on(seams: Sequence[Seam], net: Unfolded, corners: Corners) -> str:
    """Return which surfaces would run on beneath which, in words: those that neither a fold nor a flap holds."""
    folded = {hinge.parts for hinge in net.hinges}
    pairs = {
        tuple(sorted((seam.first.part, seam.second.part), key=rank))
        for seam in seams
        if seam.first.part in net.net_from_flat and seam.second.part in net.net_from_flat
        and corners.kind(seam.first.part, seam.second.part, seam.angle_rad) == "plain"
        and frozenset((seam.first.part, seam.second.part)) not in folded
    }  # fmt: skip
    return " and ".join(f"the {a} would run on beneath the {b}" for a, b in sorted(pairs))


def hold_corners(
    scene: Scene, said: Imagined, making: Making, panels: tuple[Panel, ...], ground: Ground
) -> tuple[tuple[Panel, ...], Imagined]:
    """Return the panels with their flaps, tabs and slots, and what was said with what could not have any."""
    made = {panel.id: panel for panel in panels if panel.id in making.corners.kinds}
    seams = find_seams({part: panel.region for part, panel in made.items()}, making)
    under = making.corners.under
    given = {part: strips_of(one, seams, {b for a, b in under if a == part}) for part, one in made.items()}
    without: list[str] = []
    for seam in seams:
        on, ending = _in_order(seam, made, making.corners)
        role = making.corners.role(on.id, ending.id, seam.angle_rad)
        if not role or ground.is_hinge(seam):
            continue
        whole = (on.id, ending.id) in under
        bevelled = making.bevelled or making.corners.kind(on.id, ending.id, seam.angle_rad) != "tabs"
        edges = EdgesAt(bevelled=bevelled, under=whole)
        lugs, tabs = _held(seam, (on, ending), scene, ground, edges) if role == "runs on" else ([], [])
        given[on.id] += lugs
        given[ending.id] += tabs
        if not lugs:
            without.append(f"{on.id} and {ending.id} ({seam.length:.0f} mm)")
    texts = (f"No room for a flap or tab between {one}: glue the edges." for one in without)
    facts = tuple(Fact(subject="corners", text=text) for text in texts)
    dressed = [with_additions(panel, given.get(panel.id, ())) for panel in panels]
    cards = {part for part, kind in making.corners.kinds.items() if kind == "flaps"}
    dressed = [_cut_square(panel, making) if panel.id in cards else panel for panel in dressed]
    return tuple(dressed), replace(said, facts=(*said.facts, *facts))


def _held(
    seam: Seam, panels: tuple[Panel, Panel], scene: Scene, ground: Ground, edges: EdgesAt
) -> tuple[list[Addition], list[Addition]]:
    """Return what the panel that runs on gets, and what the other does; their room is taken then."""
    on, ending = panels
    make, own = scene.make, scene.materials[on.material].corners
    if (make.corners if own is None else own) == "flaps":
        flap = make_flap(seam, panels, make.flap, ground, under=edges.under)
        lugs, tabs = ([] if flap is None else [flap]), list[Addition]()
    else:
        lugs, tabs = make_tabs(seam, panels, TabSize(length=make.tab, play=make.tab_play), ground, edges)
    for part, ones in ((on.id, lugs), (ending.id, tabs)):
        for one in ones:
            if len(one.body.triangles):
                ground.take(one, part)
    return lugs, tabs


def _in_order(seam: Seam, made: Mapping[str, Panel], corners: Corners) -> tuple[Panel, Panel]:
    """Return the panel that runs on, and the one that ends on it."""
    first, second = made[seam.first.part], made[seam.second.part]
    return (second, first) if corners.role(first.id, second.id, seam.angle_rad) == "ends" else (first, second)


def _cut_square(panel: Panel, making: Making) -> Panel:
    """Return a panel of card cut square if the scene asks for it, or where flaps or folds hold all its edges.

    Knives leave no bevel there.

    An edge that ends on another sheet then stands off it at its visible arris by what its hidden one is too long.
    """
    jointed = [(edge.against, edge.angle_deg[0]) for edge in panel.edges if edge.angle_deg is not None]
    held = all(making.corners.role(panel.id, against, math.radians(angle)) for against, angle in jointed)
    if making.bevelled and not held:
        return panel
    edges = tuple(_square(edge, panel.thickness) for edge in panel.edges)
    return replace(panel, hidden=panel.cut, edges=edges)


def _square(edge: JointEdge, thickness: float) -> JointEdge:
    if edge.angle_deg is None:
        return edge
    undercut = max(0.0, -math.sin(math.radians(edge.bevel_deg[0]))) * thickness
    return replace(edge, bevel_deg=(0.0, 0.0), gap=(edge.gap[0], max(edge.gap[1], undercut)))


def make_nets(unfolded: Mapping[str, Unfolded], panels: tuple[Panel, ...]) -> tuple[Net, ...]:
    """Return the net of each card, named after it where there are several."""
    nets = []
    for card, one in unfolded.items():
        name = "net" if len(unfolded) == 1 else f"net-{card}"
        nets.append(make_net(name, one, [panel for panel in panels if panel.id in one.net_from_flat]))
    return tuple(nets)
