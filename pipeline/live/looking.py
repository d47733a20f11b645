"""What the page shows of a scene: figures at once, shapes after them, checks last."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.build import Overrides, shape, write
from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.elements.problems import SceneError
from pipeline.geometry.curves import bounds
from pipeline.geometry.regions import path_of
from pipeline.keeping.kept import Kept
from pipeline.live.buffers import Buffer, buffer_of
from pipeline.live.knobs import Turned, Values, turned, values_of
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel, Print
from pipeline.relief.collineation import Relief
from pipeline.report.pictures import believed_surfaces, cut_edges
from pipeline.report.thumbnails import panel_thumbnail
from pipeline.room.leaning import rake_deg
from pipeline.room.measure import BareRoom, Room, bare_room
from pipeline.scene.model import Scene
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import placed_error, read_scene


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something wrong with the scene.

    Attributes
    ----------
    text
        What, where and what to do, as the terminal says it.
    line
        Of the file, from 1; nothing where it is not in the file.
    excerpt
        That line as it stands there, with a mark under the column.
    """

    text: str
    line: int | None = None
    column: int | None = None
    excerpt: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where the eye and the room stand, mm: all that the matrix on the graphics card is made of.

    Attributes
    ----------
    grows
        Whether the hall's width and its height are told in metres, and so change with the scale.
    back_scale
        Where the scene gives it, and distance or depth is solved from it.
    """

    eye: tuple[float, float, float]
    apron: float
    apparent: float
    built: float
    scale: float
    floor: float
    grows: tuple[bool, bool]
    back_scale: float | None
    box: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """What is known in a few milliseconds: figures and how the knobs stand."""

    title: str
    values: Values
    knobs: tuple[Turned, ...]
    stand: Stand
    figures: tuple[tuple[str, str], ...]


Outline = tuple[str, str, str]
"""Part id, its size as text, and its outline as an SVG element."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes:
    """The room's shapes.

    Attributes
    ----------
    stand
        What they were made for.
    buffers
        The believed room, and the edges of the sheets.
    prints
        Part id and size of every print.
    """

    stand: Stand
    buffers: tuple[Buffer, Buffer]
    prints: tuple[tuple[str, str], ...]


def glance(text: bytes, overrides: Overrides) -> Glance:
    """Return figures and knobs of a scene.

    Raises
    ------
    SceneFileError
        With every problem of the scene, placed in its file.
    """
    scene = read_scene(text, overrides)
    try:
        bare = bare_room(scene)
    except SceneError as error:
        raise placed_error(text, error.problems, overrides) from error
    return Glance(
        title=scene.title,
        values=values_of(scene),
        knobs=turned(scene, bare),
        stand=_stand(scene, bare),
        figures=_figures(bare),
    )


class UnwantedError(Exception):
    """Something else has been asked for meanwhile."""


def look(
    text: bytes,
    overrides: Overrides,
    files: Mapping[str, bytes],
    kept: Kept,
    show: Callable[[tuple[Outline, ...], Shapes | None], None],
) -> Evidence:
    """Make the shapes of a scene, and return what checks need to go on from them.

    Parameters
    ----------
    show
        Is shown the outlines of the flat panels alone as soon as they are cut, then all outlines and shapes; may raise
        ``UnwantedError``.

    Raises
    ------
    SceneFileError
        With every problem of the scene, placed in its file.
    UnwantedError
        If that was raised.
    """

    def shows(room: Room, panels: tuple[Panel, ...], bents: tuple[BentPanel, ...], prints: tuple[Print, ...]) -> None:
        sheets: tuple[Panel | BentPanel, ...] = (*panels, *bents)
        show(tuple(map(_outline, sheets)), _shapes(stand, room.relief, sheets, prints) if bents or prints else None)

    kept.begin()
    stand = glance(text, overrides).stand
    shaped = shape(text, overrides, files, kept, shows)
    shapes = _shapes(stand, shaped.room.relief, shaped.cut_parts, shaped.prints)
    show(tuple(map(_outline, shaped.cut_parts)), shapes)
    return shaped


def judge(
    shaped: Evidence, text: bytes, overrides: Overrides, wanted: Callable[[], bool]
) -> tuple[Finding, ...] | None:
    """Return what the checks find, or nothing if it is no longer wanted.

    Raises
    ------
    SceneFileError
        If a cut is wider than a feature it goes round.
    """
    if not wanted():
        return None
    evidence = write(shaped, text, overrides, hands_out=False)
    findings: list[Finding] = []
    for check in CHECKS:
        if not wanted():
            return None
        findings += check.run(evidence)
    return tuple(findings)


def faults_of(error: SceneFileError, name: str, text: bytes) -> tuple[Fault, ...]:
    """Return every problem of a scene with the line it is on."""
    lines = text.decode("utf-8", errors="replace").removeprefix("\ufeff").splitlines()
    faults = []
    for placed in error.placed:
        if placed.setting:
            said = placed.say(name).replace(f"--set {placed.setting}", f"set here: {placed.setting}", 1)
            faults.append(Fault(text=said))
            continue
        here = lines[placed.line - 1] if 0 < placed.line <= len(lines) else ""
        mark = "" if placed.column is None else "\n" + " " * min(placed.column - 1, 160) + "^"
        excerpt = here[:160] + mark if here.strip() else ""
        faults.append(Fault(text=placed.say(name), line=placed.line, column=placed.column, excerpt=excerpt))
    return tuple(faults)


def _stand(scene: Scene, bare: BareRoom) -> Stand:
    relief, space = bare.relief, scene.space
    solved = scene.eye.distance is None or space.depth is None
    return Stand(
        eye=relief.eye,
        apron=relief.apron,
        apparent=relief.apparent_depth,
        built=relief.built_depth,
        scale=space.scale,
        floor=bare.hall.floor,
        grows=(space.width is not None, space.height is not None or scene.vault is not None),
        back_scale=relief.back_scale if solved else None,
        box=bare.inside.bounds,
    )


def _figures(bare: BareRoom) -> tuple[tuple[str, str], ...]:
    relief, hall = bare.relief, bare.hall
    vanishing = relief.vanishing_depth
    return (
        ("Apparent depth", f"{hall.metres(relief.apparent_depth):.2f} m"),
        ("Built depth", f"{relief.built_depth:.1f} mm"),
        ("Back scale", f"{relief.back_scale:.4f}"),
        ("Back wall", f"{hall.width * relief.back_scale:.1f} x {hall.height * relief.back_scale:.1f} mm"),
        ("Floor rises", f"{rake_deg(relief, hall):.2f} degrees"),
        ("Vanishing depth", "none" if vanishing is None else f"{vanishing:.1f} mm"),
        ("Eye", f"{-relief.eye[1]:.4g} mm before, {relief.eye[2]:.4g} mm up, {relief.eye[0]:.4g} mm right"),
        ("Hall", f"{hall.metres(hall.width):.2f} x {hall.metres(hall.height):.2f} m at 1:{hall.scale:g}"),
    )


def _shapes(stand: Stand, relief: Relief, sheets: tuple[Panel | BentPanel, ...], prints: tuple[Print, ...]) -> Shapes:
    return Shapes(
        stand=stand,
        buffers=(buffer_of(believed_surfaces(relief, sheets, prints)), buffer_of(cut_edges(relief, sheets))),
        prints=tuple(
            (part.id, _size(np.ptp(part.body.vertices @ part.built_from_bed[:3, :3], axis=0))) for part in prints
        ),
    )


def _outline(panel: Panel | BentPanel) -> Outline:
    path = path_of(panel.cut.outline)
    low, high = bounds(path if isinstance(panel, BentPanel) else path + path_of(panel.hidden.outline))
    return panel.id, _size(high - low), panel_thumbnail(panel)


def _size(size: Iterable[float]) -> str:
    return " x ".join(f"{side:.1f}" for side in size) + " mm"
