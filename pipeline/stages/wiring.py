"""The lights wired: ways found, holes cut in the panels they go through, a place found for the battery."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem, SceneError
from pipeline.elements.surfaces import Cut
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import Mesh, join
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.battery_room import largest, largest_alike
from pipeline.parts.bent import BentPanel
from pipeline.parts.lighting.leds import Led
from pipeline.parts.lighting.shading import Pane, cone_boxes
from pipeline.parts.model import Panel, Print
from pipeline.parts.outlines import Making, uncovered
from pipeline.parts.space import space_of
from pipeline.parts.wire_exits import Sheet, Sight, passages
from pipeline.parts.wire_plan import Ground, Holes, Outlook, Spot, battery_place, lead, total_cost, without
from pipeline.parts.wire_search import Search, tube
from pipeline.parts.wires import WIRE, Run, Wiring
from pipeline.relief.collineation import Relief
from pipeline.room.batteries import Battery, as_strong, battery_of, bundle
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.scene.wiring import WiringTable
from pipeline.sight.rays import Target
from pipeline.stages.covering import lay_face
from pipeline.stages.panels import cut_face, panel_of

Array = NDArray[np.float64]
Parts = tuple[Panel | BentPanel | Print, ...]

USELESS = 0.5
"""Share of a patch's border that an LED misses from where it is no stand-in worth its wires."""
POOR = "an LED where there is room lights too little of what it should, so it is not wired; paint its patches instead"
OUTSIDE = "its LED sits outside the box, and so do its wires"
PARALLEL = "parallel light has no one LED to wire"


def spots_of(scene: Scene, leds: Sequence[Led]) -> tuple[Spot, ...]:
    """Return where the LEDs of a scene sit: in their exact places, or where others stand in at the openings."""
    out: list[Spot] = []
    for light, led in zip(scene.lights, leds, strict=True):
        place = led.place
        there_are = [(way, way.stand_in) for way in led.ways if way.stand_in is not None and not led.usable]
        stand_ins = [(way, one.place) for way, one in there_are if one.missed < USELESS]
        if stand_ins:
            out += [
                Spot(
                    light=light.name, led=f"{light.name} at {way.name}", place=there, size=light.size,
                    panes=() if way.pane is None else (way.pane,),
                )
                for way, there in stand_ins
            ]  # fmt: skip
        elif place.inside_box and place.point is not None and place.nature in ("lamp", "leaving"):
            panes = tuple(way.pane for way in led.ways if way.pane is not None)
            out.append(Spot(light=light.name, led=light.name, place=place.point, size=light.size, panes=panes))
        else:
            why = POOR if there_are else PARALLEL if place.point is None else OUTSIDE
            out.append(Spot(light=light.name, led=light.name, place=None, size=light.size, why=why))
    return tuple(out)


def run_wires(
    scene: Scene,
    room: Room,
    said: Imagined,
    making: Making,
    parts: Parts,
    *,
    leds: Sequence[Led],
    kept: Kept = NOTHING_KEPT,
) -> tuple[tuple[Panel, ...], Imagined, Wiring | None]:
    """Return the panels with holes for the wires, what was said with those, and the wires; nothing of them unasked.

    Raises
    ------
    SceneError
        If the battery fits nowhere.
    """
    panels = tuple(part for part in parts if isinstance(part, Panel))
    if scene.wiring is None:
        return panels, said, None
    shapes = tuple((part.id, part.body, isinstance(part, Panel) and part.cut) for part in parts)
    spots = spots_of(scene, leds)
    asked = (scene.wiring, spots, scene.eye, scene.box)
    wiring = kept.given(
        (plan_wires, asked, room.hall.shape, room.relief, shapes), partial(plan_wires, scene, room, parts, spots)
    )
    cuts = tuple(_cut(wiring, number, panels) for number in range(len(wiring.holes)))
    said = replace(said, cuts=(*said.cuts, *cuts))
    drilled = {cut.host for cut in cuts}
    again = {panel.id: _drilled(panel, said, making, (scene, room), kept) for panel in panels if panel.id in drilled}
    return tuple(again.get(panel.id, panel) for panel in panels), said, wiring


def kept_free(wiring: Wiring | None) -> tuple[Mesh, ...]:
    """Return the wires and the battery as bodies, built mm, which nothing may be glued in the way of."""
    if wiring is None:
        return ()
    legs = [
        tube(start, end, wiring.radius)
        for run in wiring.runs
        for start, end in zip(run.points[:-1], run.points[1:], strict=True)
    ]
    out = [mesh_of(leg) for leg in legs]
    if wiring.place is not None:
        out.append(mesh_of(wiring.block))
    return tuple(out)


def _cut(wiring: Wiring, number: int, panels: Sequence[Panel]) -> Cut:
    """Return a hole as a cut of its panel's face: its circle carried back onto the face, where it is a conic."""
    hole = wiring.holes[number]
    panel = next(panel for panel in panels if panel.id == hole.part)
    at = np.array(hole.at)
    path = curves.transform_path(
        curves.arc(at, hole.diameter / 2, 0.0, 2 * np.pi), frames.inverse(Sheet.of(panel).leaf(at).flat_from_host)
    )
    if curves.signed_area(path) < 0:
        path = curves.reverse_path(path)
    return Cut(host=hole.part, name=hole.name, curve=path, beyond=WIRE, path=("wiring",))


def _drilled(panel: Panel, said: Imagined, making: Making, of: tuple[Scene, Room], kept: Kept) -> Panel:
    """Return a panel made again with all cuts of its face; guides stop at these holes as at others."""
    (scene, room), face = of, panel.face
    region = kept.of(cut_face, uncovered(face), tuple(cut for cut in said.cuts if cut.host == face.id))
    families = kept.of(lay_face, face, scene.covers.get(face.cover or ""), room.hall.scale, room.hall.foot)
    marks = tuple(mark for mark in said.marks if mark.host == face.id)
    return panel_of(face, region, families, marks, making=making, kept=kept)


def plan_wires(scene: Scene, room: Room, parts: Parts, spots: Sequence[Spot]) -> Wiring:
    """Return the wires of a scene among its parts.

    Raises
    ------
    SceneError
        If the battery fits nowhere.
    """
    table = scene.wiring or WiringTable()
    ground = _ground(scene, room, parts, wired=len(spots))
    battery = battery_of(table)
    placed = [spot for spot in spots if spot.place is not None]
    outlooks = {spot.led: Outlook.of(np.array(spot.place), ground) for spot in placed}
    goal: Array | float = room.inside.depth
    if battery is not None:
        cost = total_cost([one.ways for one in outlooks.values()], ground.space)
        leds = [np.array(spot.place) + spot.size / 2 * np.array([[-1.0], [1.0]]) for spot in placed]
        lit = [box for spot in placed for pane in spot.panes for box in _cone(spot, pane)]
        found = battery_place(battery.size, ground, cost, [*leds, *lit])
        if found is None:  # in the light rather than nowhere; the check of the lights then says so
            found = battery_place(battery.size, ground, cost, leds)
        if found is None:
            raise SceneError([_no_room(battery, ground, cost, leds, scene)])
        goal = found
    holes = Holes(ground=ground)
    runs = tuple(
        lead(spot, outlooks[spot.led], ground, goal, holes)
        if spot.place is not None
        else Run(light=spot.light, led=spot.led, points=np.zeros((0, 3)), why=spot.why, elsewhere=True)
        for spot in spots
    )
    return Wiring(
        runs=runs,
        holes=tuple(holes.made.values()),
        radius=ground.search.radius,
        battery=battery,
        place=goal if isinstance(goal, np.ndarray) else None,
    )


def _cone(spot: Spot, pane: Pane) -> list[Array]:
    """Return boxes ``(2, 3)`` that hold an LED's light to an opening."""
    return [] if spot.place is None else cone_boxes(spot.place, spot.size, pane)


def _ground(scene: Scene, room: Room, parts: Parts, *, wired: int) -> Ground:
    table = scene.wiring or WiringTable()
    eyes = _eyes(room.relief, scene.eye.box)
    made = [part for part in parts if len(part.body.triangles)]
    space = space_of(
        room.box,
        [part.body for part in made],
        box_planes=tuple(room.inside.planes.values()),
        halls=hall_pieces(room.hall, room.relief),
        eyes=eyes,
    )
    radius = bundle(table, 2) / 2
    hole_of = {2 * n: bundle(table, 2 * n) + table.play for n in range(1, max(1, wired) + 1)}
    sheets = {part.id: Sheet.of(part) for part in made if isinstance(part, Panel)}
    target = Target.on(join([part.body for part in made]))
    names = [part.id for part in made for _ in part.body.triangles]
    width, height, _ = room.box
    bare = Search(space, radius, ())
    return Ground(
        search=Search(space, radius, passages(sheets, bare, max(hole_of.values()) / 2)),
        sheets=sheets,
        sight=Sight(target=target, parts=names, eyes=eyes, opening=(width / 2, height)),
        bodies={part.id: body_of(part.body) for part in made},
        hole_of=hole_of,
    )


def _eyes(relief: Relief, size: tuple[float, float]) -> Array:
    """Return the eye, and the corners and the middles of the edges of the eye box, ``(9, 3)`` built mm."""
    x, y, z = relief.eye
    around = [(i, k) for k in (-1, 0, 1) for i in (-1, 0, 1) if (i, k) != (0, 0)]
    return np.array([[x, y, z], *([x + i * size[0] / 2, y, z + k * size[1] / 2] for i, k in around)])


def hall_pieces(hall: Hall, relief: Relief) -> list[Array]:
    """Return the hall over each of its floors as built planes ``(6 or 7, 4)``, normals inward.

    Before the apron's end they run on straight, and so hold a little more than the hall.
    """
    half, top = hall.width / 2, hall.floor + hall.height
    common = [((1, 0, 0), (-half, 0, 0)), ((-1, 0, 0), (half, 0, 0)), ((0, 0, -1), (0, 0, top))]
    floors = [(ground.level, ground.near, ground.far) for ground in hall.grounds] or [(0.0, 0.0, hall.depth)]
    out = []
    for level, near, far in floors:
        bounds = [*common, ((0, 0, 1), (0, 0, hall.floor + level)), ((0, -1, 0), (0, far, 0))]
        bounds += [((0, 1, 0), (0, near, 0))] if near > relief.apron else []
        out.append(np.array([relief.build_plane(np.array([*n, -np.dot(n, p)])) for n, p in bounds]))
    return out


def _no_room(battery: Battery, ground: Ground, cost: Array, leds: Sequence[Array], scene: Scene) -> Problem:
    """Return the problem of a battery that fits nowhere, with what would."""
    long, wide, high = battery.size
    most, alike = largest(ground.space, cost), largest_alike(without(ground.space, leds), battery.size, cost)
    others = [
        f"{one.cells} \N{MULTIPLICATION SIGN} {name}"
        for name, one in as_strong(battery.volts).items()
        if battery_place(one.size, ground, cost, leds) is not None
    ]
    gap = float(np.ceil(high + 1))
    remedy = f"raise box.back_gap to {gap:g}, " if scene.box.back_gap < gap else "take a larger box, "
    return Problem(
        path=("wiring", "battery"),
        found=f"{battery.cells} \N{MULTIPLICATION SIGN} {battery.name} with a holder, {_sides(long, wide, high)}, find "
        "no room out of sight behind the panels",
        allowed=f"one of that shape within {_sides(*alike)}"
        + (f", or {' or '.join(others)} for the same {battery.volts:g} V" if others else "")
        + f"; the largest free block is {_sides(*most)}",
        remedy=f"{remedy}or take battery out: the wires then leave through the back of the box",
    )


def _sides(*sides: float) -> str:
    return " \N{MULTIPLICATION SIGN} ".join(f"{side:.3g}" for side in sides) + " mm"
