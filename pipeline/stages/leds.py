"""The LEDs of a scene in the built room, and what stands against them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.light import LightTable, imagine
from pipeline.elements.model import Imagined
from pipeline.elements.problems import Problem, SceneError
from pipeline.geometry.booleans import mesh_of
from pipeline.geometry.enclosing import holds
from pipeline.geometry.meshes import join
from pipeline.keeping.kept import Kept
from pipeline.parts.bent import BentPanel
from pipeline.parts.lighting.leds import Bench, Led, Made, off_apron, room_round, way_in
from pipeline.parts.lighting.model import Cast
from pipeline.parts.lighting.unmarked import find_unmarked, is_marked, skin_of
from pipeline.parts.lighting.ways import opened
from pipeline.parts.model import Panel, Print
from pipeline.parts.outlines import Making
from pipeline.parts.wire_search import tube
from pipeline.parts.wires import Wiring
from pipeline.room.light_places import LightPlace, place_light, within
from pipeline.room.measure import Room
from pipeline.room.seeing import eye_corners
from pipeline.scene.model import Scene
from pipeline.sight.rays import Target as Rays
from pipeline.stages.lighting import gates_of, targets_of

Array = NDArray[np.float64]

STEPS = np.arange(1, 61) * 0.05
"""m; how far a lamp that is in the way of a part is moved to find it room."""


def place_leds(
    scene: Scene, room: Room, said: Imagined, making: Making, *,
    parts: Sequence[Panel | BentPanel | Print], casts: tuple[Cast, ...], kept: Kept, wiring: Wiring | None = None,
) -> tuple[Led, ...]:  # fmt: skip
    """Return every light as it is built, among the wires and the battery where those are known.

    Raises
    ------
    SceneError
        If the place of a lamp is within a part.
    """
    if not casts:
        return ()
    bench = Bench(
        relief=room.relief,
        inside=room.inside,
        made=tuple(Made(id=part.id, body=part.body) for part in parts),
        panels={part.id: part for part in parts if isinstance(part, Panel)},
        lies=making.lies,
        gates={gate.id: gate for gate in gates_of(said, room.hall)},
        targets={target.id: target for target in targets_of(said, making)},
        others=_wired(wiring),
    )
    sheets = tuple((panel.hidden, panel.finish + panel.thickness) for panel in bench.panels.values())
    shown = tuple((skin_of(part), is_marked(part)) for part in parts)
    lit = (bench.made, tuple(bench.panels), sheets, shown, bench.lies, bench.gates, bench.targets, bench.others)
    asked = (scene.lights, scene.eye.box, room.hall.shape, bench.relief, bench.inside, casts)
    leds: tuple[Led, ...] = kept.given((place_leds, *lit, *asked), partial(_placed, scene, room, bench, parts, casts))
    return leds


def _placed(
    scene: Scene, room: Room, bench: Bench, parts: Sequence[Panel | BentPanel | Print], casts: tuple[Cast, ...]
) -> tuple[Led, ...]:
    @cache
    def rays() -> Rays:
        return Rays.on(join([part.body for part in parts]))

    eyes = np.vstack([room.relief.eye, eye_corners(room.relief.eye, scene.eye.box)])
    leds, problems = [], []
    unmarked = find_unmarked(parts, casts, bench.gates)
    for number, (light, cast) in enumerate(zip(scene.lights, casts, strict=True)):
        place = place_light(light, room.hall, room.relief, room.inside)
        point = np.zeros(3) if place.point is None else np.array(place.point)
        inside = next((part.id for part in bench.made if place.point and holds(part.body, point)), "")
        if inside and light.kind == "lamp":
            problems.append(_within(light, number, inside, bench, room))
            continue
        led = _led(light, cast, place, bench, rays=rays, eyes=eyes)
        crowded = light.kind == "lamp" and led.room is not None and led.room < 0
        beside = _places_beside(light, bench, room) if crowded else ""
        leds.append(replace(led, unmarked=unmarked[number], beside=beside))
    if problems:
        raise SceneError(problems)
    return tuple(leds)


def _wired(wiring: Wiring | None) -> tuple[Made, ...]:
    """Return the battery and the wires as things in the light's way; an LED's own wires begin at it, behind."""
    if wiring is None:
        return ()
    runs = tuple(
        Made(id=f"wires of {run.led}", body=mesh_of(tube(start, end, wiring.radius)))
        for run in wiring.runs
        for start, end in zip(run.points[:-1], run.points[1:], strict=True)
    )
    return runs if wiring.place is None else (*runs, Made(id="the battery", body=mesh_of(wiring.block)))


def _led(
    light: LightTable, cast: Cast, place: LightPlace, bench: Bench, *, rays: Callable[[], Rays], eyes: Array
) -> Led:
    nearest, room, seen, usable = "", None, False, False
    if place.inside_box and place.point is not None:
        point = np.array(place.point)
        nearest, room = room_round(bench, point, light.size)
        usable = room >= 0 and place.nature in ("lamp", "leaving")
        seen = _seen(point, light.size, rays(), eyes, bench)
    return Led(
        place=place,
        usable=usable,
        nearest=nearest,
        room=room,
        seen=seen,
        ways=tuple(way_in(bench, cast, number, place, light.size, usable=usable) for number in range(len(cast.ways))),
        apron_off=off_apron(bench, cast, place),
    )


def _seen(point: Array, size: float, rays: Rays, eyes: Array, bench: Bench) -> bool:
    """Return whether an eye sees an LED's middle or one of six points of its surface, through the box's opening."""
    aims = point + size / 2 * np.vstack([np.zeros(3), np.eye(3), -np.eye(3)])
    starts = np.repeat(aims, len(eyes), axis=0)
    ways = np.tile(eyes, (len(aims), 1)) - starts
    index, _ = rays.cast(starts, ways)
    front = starts + ways * (starts[:, 1] / -ways[:, 1])[:, None]
    inside = np.all([front @ plane[:3] + plane[3] >= 0 for plane in bench.inside.planes.values()], axis=0)
    return bool(((index < 0) & inside).any())


def _within(light: LightTable, number: int, part: str, bench: Bench, room: Room) -> Problem:
    """Return the problem of a lamp whose LED would sit within a part, with the nearest places beside it."""
    offers = _places_beside(light, bench, room)
    return Problem(
        path=("lights", number, "at"),
        found=f"an LED for {light.name!r} would sit within the part {part}",
        allowed=f"a place free of parts, such as {offers}" if offers else "a place free of parts",
        remedy="move the lamp",
    )


def _places_beside(light: LightTable, bench: Bench, room: Room) -> str:
    """Return the nearest places along each axis at which a lamp's LED finds room, in words; nothing if none is near."""
    offers = []
    at = light.at or (0.0, 0.0, 0.0)
    for axis, name in enumerate(("x", "y", "height")):
        for side in (-1.0, 1.0):
            for step in STEPS:
                moved = [*at]
                moved[axis] = round(moved[axis] + side * step, 2)
                other = light.model_copy(update={"at": tuple(moved)})
                place = place_light(other, room.hall, room.relief, room.inside)
                if place.point is None or not _shines_in(other, bench, room):
                    continue
                point = np.array(place.point)
                if within(point, room.inside) and room_round(bench, point, light.size)[1] >= 0:
                    offers.append((step, f"{name} = {moved[axis]:g}"))
                    break
    nearest = [words for _, words in sorted(offers)[:3]]
    return f"{' or '.join(nearest)} m" if nearest else ""


def _shines_in(light: LightTable, bench: Bench, room: Room) -> bool:
    """Return whether a lamp hangs where one may, in the hall or where an opening lets its light in."""
    hall, spot = room.hall, light.spot(room.hall)
    if imagine(light, hall, ()).problems:
        return False
    if abs(spot[0]) < hall.width / 2 and spot[1] < hall.depth:
        return True
    return any(opened(gate, np.append(spot, 1.0)).share > 0 for gate in bench.gates.values())
