"""The three pictures of a scene: from the eye, as imagined, and from one step aside."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Literal

from pipeline.exports.png import write_png
from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh
from pipeline.parts.bent import BentPanel
from pipeline.parts.lighting.model import Cast
from pipeline.parts.model import Panel, Print, Raised
from pipeline.relief.collineation import Relief
from pipeline.report.light_overlay import light_surfaces
from pipeline.room.measure import Room
from pipeline.sight.camera import Camera, Front, Rectangle, aim
from pipeline.sight.light import Light
from pipeline.sight.picture import THREADS, render
from pipeline.sight.scenery import Scenery, Surface, assemble

ASIDE_MM = 60.0
"""How far right of the eye the third picture is taken: about the distance of two eyes."""

RIM_MM = 6.0
"""Thickness of the box's boards as drawn where the scene does not tell how it is made."""

TONES = {
    "floor": (0.72, 0.67, 0.60),
    "ceiling": (0.82, 0.79, 0.73),
    "back-wall": (0.82, 0.74, 0.65),
    "left-wall": (0.80, 0.72, 0.63),
    "right-wall": (0.80, 0.72, 0.63),
    "front-frame": (0.50, 0.44, 0.38),
}
"""Quiet clay and stone, so that the guides read."""

EDGE_TONE = (0.60, 0.52, 0.44)
PRINT_TONE = (0.84, 0.81, 0.75)


def take_pictures(
    room: Room,
    panels: tuple[Panel | BentPanel, ...],
    prints: tuple[Print, ...],
    rim: float = RIM_MM,
    casts: tuple[Cast, ...] = (),
    *,
    aside_mm: float = ASIDE_MM,
) -> dict[str, bytes]:
    """Return ``eye.png``, ``imagined.png`` and ``aside.png`` under their paths.

    Parameters
    ----------
    rim
        How thick the box is, mm.
    casts
        Lights, whose patches and shadows are laid over the panels.
    aside_mm
        How far right of the eye ``aside.png`` is taken.
    """
    relief, hall = room.relief, room.hall
    width, height, _ = room.box
    half = hall.width / 2
    front = Front(
        box=Rectangle(left=-width / 2, right=width / 2, bottom=0.0, top=height),
        hall=Rectangle(left=-half, right=half, bottom=hall.floor, top=hall.floor + hall.height),
        rim=rim,
    )
    light = Light(eye=relief.eye, depth=hall.depth)
    x, y, z = relief.eye
    eye, aside = aim(relief.eye, front), aim((x + aside_mm, y, z), front)
    believed_in, edges = believed_surfaces(relief, panels, prints), cut_edges(relief, panels)
    flat = tuple(panel for panel in panels if isinstance(panel, Panel))
    lit = light_surfaces(flat, casts, relief, _tone)
    made = assemble([*believed_in[: len(panels)], *lit, *edges, *(_print(part, relief) for part in prints)])
    believed = assemble([*believed_in, *lit, *edges])
    views: dict[str, tuple[Scenery, Literal["built", "imagined"], Camera]] = {
        "pictures/eye.png": (made, "built", eye),
        "pictures/imagined.png": (believed, "imagined", eye),
        "pictures/aside.png": (made, "built", aside),
    }

    def take(view: tuple[Scenery, Literal["built", "imagined"], Camera]) -> bytes:
        return write_png(render(*view, front=front, light=light, imagine_points=relief.carry_back))

    with ThreadPoolExecutor(THREADS) as pool:
        return dict(zip(views, pool.map(take, views.values()), strict=True))


def made_surfaces(relief: Relief, panels: tuple[Panel | BentPanel, ...], prints: tuple[Print, ...]) -> list[Surface]:
    """Return what is there: the visible faces of panels, then the bodies of prints."""
    return [*(_panel(panel, relief) for panel in panels), *(_print(part, relief) for part in prints)]


def believed_surfaces(
    relief: Relief, panels: tuple[Panel | BentPanel, ...], prints: tuple[Print, ...]
) -> list[Surface]:
    """Return what the viewer believes in: the visible faces of panels, then the imagined bodies of prints."""
    return [*(_panel(panel, relief) for panel in panels), *(_believed(part) for part in prints)]


def cut_edges(relief: Relief, panels: tuple[Panel | BentPanel, ...]) -> list[Surface]:
    """Return the edges of the sheets, which nobody imagined, in either room."""
    return [_cut_edges(panel, relief) for panel in panels]


def _panel(panel: Panel | BentPanel, relief: Relief) -> Surface:
    if isinstance(panel, BentPanel):
        lines, tone = panel.guides_imagined, TONES["ceiling"]
    else:
        host = panel.guides_host.reshape(-1, 2)
        lines = frames.apply(panel.face.imagined_from_host, host).reshape(-1, 2, 3)
        tone = _tone(panel)
    return Surface(
        part=panel.id,
        tone=tone,
        built=panel.visible,
        imagined=panel.visible_imagined,
        lines_built=relief.build_points(lines.reshape(-1, 3)).reshape(-1, 2, 3),
        lines_imagined=lines,
    )


def _tone(panel: Panel) -> tuple[float, float, float]:
    return TONES.get(panel.id, PRINT_TONE if panel.face.cover is None else _like(panel))


def _like(panel: Panel) -> tuple[float, float, float]:
    """Return the tone of the hall's surface that a covered face is like."""
    return TONES["floor" if panel.face.level else "left-wall"]


def _cut_edges(panel: Panel | BentPanel, relief: Relief) -> Surface:
    """Return the sheet's edges: the only thing seen that nobody imagined, in doorways and inside the front frame."""
    rim = panel.cut_edges
    back = Mesh(vertices=relief.carry_back(rim.vertices), triangles=rim.triangles)
    return Surface(part=panel.id, tone=EDGE_TONE, built=rim, imagined=back)


def _print(part: Print, relief: Relief) -> Surface:
    back = Mesh(vertices=relief.carry_back(part.body.vertices), triangles=part.body.triangles)
    joints = part.solid.joints
    return Surface(
        part=part.id,
        tone=TONES.get(part.id, PRINT_TONE),
        built=part.body,
        imagined=back,
        lines_built=relief.build_points(joints.reshape(-1, 3)).reshape(-1, 2, 3),
        lines_imagined=joints,
        solid=not isinstance(part.solid, Raised),  # their facets are flat, and many
    )


def _believed(part: Print) -> Surface:
    """Return the imagined body itself, which never went through the relief."""
    skin, joints = part.skin_imagined, part.solid.joints
    return Surface(
        part=part.id,
        tone=TONES.get(part.id, PRINT_TONE),
        built=skin,
        imagined=skin,
        lines_built=joints,
        lines_imagined=joints,
        solid=not isinstance(part.solid, Raised),
    )
