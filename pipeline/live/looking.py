"""What the page shows of a scene: figures at once, shapes after them, checks last."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from pipeline.build import Overrides, shape, write
from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.elements.problems import SceneError
from pipeline.keeping.kept import Kept
from pipeline.live.buffers import Buffer, buffer_of
from pipeline.live.knobs import Turned, Values, turned, values_of
from pipeline.report.pictures import believed_surfaces, cut_edges
from pipeline.report.thumbnails import panel_thumbnail
from pipeline.room.leaning import rake_deg
from pipeline.room.measure import BareRoom, bare_room
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes:
    """The room's shapes.

    Attributes
    ----------
    stand
        What they were made for.
    buffers
        The believed room, and the edges of the sheets.
    outlines
        Part id, its size as text, and its outline as an SVG element.
    prints
        Part id and size of every print.
    """

    stand: Stand
    buffers: tuple[Buffer, Buffer]
    outlines: tuple[tuple[str, str, str], ...]
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


def look(text: bytes, overrides: Overrides, files: Mapping[str, bytes], kept: Kept) -> tuple[Shapes, Evidence]:
    """Return the shapes of a scene, and what checks need to go on from them.

    Raises
    ------
    SceneFileError
        With every problem of the scene, placed in its file.
    """
    kept.begin()
    shaped = shape(text, overrides, files, kept)
    relief, sheets = shaped.room.relief, shaped.cut_parts
    entries = shaped.entries
    shapes = Shapes(
        stand=_stand(shaped.scene, bare_room(shaped.scene)),
        buffers=(
            buffer_of(believed_surfaces(relief, sheets, shaped.prints)),
            buffer_of(cut_edges(relief, sheets)),
        ),
        outlines=tuple((panel.id, _size(entries[panel.id]["size"]), panel_thumbnail(panel)) for panel in sheets),
        prints=tuple((part.id, _size(entries[part.id]["size"])) for part in shaped.prints),
    )
    return shapes, shaped


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
    evidence = write(shaped, text, overrides)
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


def _size(size: list[float]) -> str:
    return " x ".join(f"{side:.1f}" for side in size) + " mm"
