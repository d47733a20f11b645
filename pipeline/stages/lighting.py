"""The lights of a scene: what they meet in the imagined room, and what they do there."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Solid
from pipeline.elements.figure import FOOT, SHOULDERS, FigureTable, standing_ground
from pipeline.elements.figure_outline import figure_outline
from pipeline.elements.hall_shape import Hall
from pipeline.elements.light import LightTable
from pipeline.elements.model import Imagined, Web
from pipeline.elements.passage import OUTWARD
from pipeline.elements.problems import KeyPath, SceneError
from pipeline.elements.surfaces import Cut, Face, Mark
from pipeline.geometry import curves
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Region, path_of
from pipeline.keeping.kept import Kept
from pipeline.parts.lighting.falling import cast_light
from pipeline.parts.lighting.misplaced import cell_of, enters_nothing, find_misplaced
from pipeline.parts.lighting.model import HALL, OUTSIDE, Body, Cast, Gate, Setting, Sheet, Target
from pipeline.parts.outlines import Making
from pipeline.parts.solids import imagined_skin, placement
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.units import part_id

Array = NDArray[np.float64]

LEADS = ("passage", "niche")
BEYOND = ("bare", "light", *LEADS)
"""What may lie behind the holes that openings are; steps cut walls too."""
RULINGS = 97
"""Places along each piece of a web's border between which it is taken for flat."""


def cast_lights(scene: Scene, room: Room, said: Imagined, making: Making, kept: Kept) -> tuple[Cast, ...]:
    """Return what every light of a scene does.

    Raises
    ------
    SceneError
        If a lamp is within something, or no light of one enters the hall.
    """
    if not scene.lights:
        return ()
    setting = set_up(scene, room, said, making, kept)
    problems = [
        problem
        for number, light in enumerate(scene.lights)
        for problem in find_misplaced(light, ("lights", number), room.hall, setting)
    ]
    if problems:
        raise SceneError(problems)
    casts = []
    for number, light in enumerate(scene.lights):
        source = source_of(light, room.hall)
        figures = tuple(_figure(one, room.hall, source) for one in scene.figures if one.mesh is None)
        met = replace(setting, sheets=(*setting.sheets, *figures))
        casts.append(kept.of(cast_light, number, source, cell_of(light, room.hall, met), met))
        if casts[-1].cell == OUTSIDE and not casts[-1].ways:
            problems.append(enters_nothing(light, ("lights", number), room, setting))
    if problems:
        raise SceneError(problems)
    return tuple(casts)


def mark_light(scene: Scene, said: Imagined, casts: tuple[Cast, ...]) -> Imagined:
    """Return what was said with the borders of light and shadow marked on the faces they fall on."""
    marks = []
    for cast in casts:
        name = scene.lights[cast.number].name
        for patches, words in ((cast.patches, f"{name}: light"), (cast.dark, f"{name}: shadow")):
            marks += [
                Mark(host=patch.part, name=part_id(name), curve=loop, loose=True, light=words)
                for patch in patches
                for loop in patch.loops
            ]
    return replace(said, marks=(*said.marks, *marks)) if marks else said


def source_of(light: LightTable, hall: Hall) -> Array:
    """Return a light's source, homogeneous ``(4,)``, imagined mm."""
    if light.kind == "lamp":
        return np.append(light.spot(hall), 1.0)
    return np.append(-light.way(), 0.0)


def set_up(scene: Scene, room: Room, said: Imagined, making: Making, kept: Kept) -> Setting:
    """Return the imagined room as light meets it."""
    owners = _owners(said)
    mouths = {f"{part_id(cut.name)}-end" for cut in _holes(said) if cut.beyond == "passage"}  # it leads on past them
    hidden = [face for face in said.planes if face.id in said.unseen and face.id not in mouths]
    return Setting(
        sheets=tuple(_sheet(face, making.regions[face.id], owners) for face in (*_shown(said), *hidden)),
        bodies=(
            *(_solid(solid, scene, room, kept) for solid in said.solids),
            *(Body(id=block.id, mesh=block.mesh, closed=True) for block in said.blocks),
            *(Body(id=web.id, mesh=web_mesh(web), closed=False) for web in (*said.webs, *said.unseen_webs)),
        ),
        targets=targets_of(said, making),
        gates=gates_of(said, room.hall),
    )


def targets_of(said: Imagined, making: Making) -> tuple[Target, ...]:
    """Return the faces that light may fall on."""
    owners = _owners(said)
    return tuple(_target(face, making.regions[face.id], owners) for face in _shown(said))


def gates_of(said: Imagined, hall: Hall) -> tuple[Gate, ...]:
    """Return the openings that light may pass."""
    return tuple(_gate(cut, hall) for cut in _holes(said))


def _shown(said: Imagined) -> list[Face]:
    return [face for face in said.faces if face.path[:1] != ("supports",)]


def _holes(said: Imagined) -> list[Cut]:
    return [cut for cut in said.cuts if cut.beyond in BEYOND]


def _owners(said: Imagined) -> dict[KeyPath, str]:
    """Return the opening whose table each path leads to."""
    return {cut.path: part_id(cut.name) for cut in _holes(said)}


def _gate(cut: Cut, hall: Hall) -> Gate:
    return Gate(
        id=part_id(cut.name),
        name=cut.name,
        host=cut.host,
        loops=(cut.curve,),
        matrix=hall.imagined_from_host(cut.host),
        outward=np.array(OUTWARD[cut.host]),
        reveal=cut.reveal,
        length=cut.length,
        leads=cut.beyond in LEADS,
    )


def _cell(face: Face, owners: dict[KeyPath, str]) -> str:
    """Return the opening that a face lines or fills, or the hall."""
    return owners.get(face.path) or owners.get(face.path[:-1]) or HALL


def _loops(region: Region) -> tuple[curves.Path, ...]:
    return tuple(path_of(loop) for loop in region.loops)


def _sheet(face: Face, region: Region, owners: dict[KeyPath, str]) -> Sheet:
    return Sheet(id=face.id, loops=_loops(region), matrix=face.imagined_from_host, cell=_cell(face, owners))


def _target(face: Face, region: Region, owners: dict[KeyPath, str]) -> Target:
    return Target(
        id=face.id,
        loops=_loops(region),
        matrix=face.imagined_from_host,
        inward=face.inward,
        cell=_cell(face, owners),
    )


def _solid(solid: Solid, scene: Scene, room: Room, kept: Kept) -> Body:
    hall = room.hall.shape
    matrix, hall = placement(solid, room.relief), hall.below_vault if solid.axis == "z" else hall
    skin = imagined_skin(solid, hall, matrix, scene.make.mesh_tolerance, kept)
    return Body(id=solid.id, mesh=skin, closed=True)


def web_mesh(web: Web) -> Mesh:
    """Return a web as strips between rulings, imagined mm; its rulings are parallel, so a strip is flat."""
    near = np.concatenate([curves.evaluate_evenly(curve, RULINGS) for curve in web.near])
    far = np.concatenate([curves.evaluate_evenly(curve, RULINGS) for curve in web.far])
    count = len(near)
    i = np.arange(count - 1)
    triangles = np.vstack([np.column_stack([i, i + 1, i + count + 1]), np.column_stack([i, i + count + 1, i + count])])
    return Mesh(vertices=np.vstack([near, far]), triangles=triangles)


def _figure(table: FigureTable, hall: Hall, source: Array) -> Sheet:
    """Return a figure as the light sees it: its outline, upright over its feet, as wide as it is turned."""
    ground = standing_ground(table, hall)
    x, y = (hall.millimetres(value) for value in table.at)
    foot = np.array([x, y, hall.floor + (0.0 if ground is None else ground.level)])
    toward = (source[:3] - source[3] * foot)[:2]
    length = float(np.linalg.norm(toward))
    toward = np.array([0.0, -1.0]) if length == 0 else toward / length
    along = np.array([-toward[1], toward[0], 0.0])
    turn = math.radians(table.facing)
    across = abs(along[0] * math.cos(turn) + along[1] * math.sin(turn))
    wide = math.hypot(across, FOOT / SHOULDERS * math.sqrt(max(0.0, 1 - across**2)))
    matrix = np.vstack([np.column_stack([wide * along, (0.0, 0.0, 1.0), foot]), [0.0, 0.0, 1.0]])
    return Sheet(id=part_id(table.name), loops=(figure_outline(hall.millimetres(table.height)),), matrix=matrix)
