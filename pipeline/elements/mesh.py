"""Meshes from files: anything with a closed surface, placed in the imagined room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from pipeline.elements.bodies import Block
from pipeline.elements.hall_shape import Hall
from pipeline.elements.model import Fact, Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.geometry.meshes import Mesh
from pipeline.units import MM_PER_UNIT, Name, Place, PositiveMetres, Table, Words, part_id

if TYPE_CHECKING:
    from pipeline.geometry.mending import Mended, MendError
    from pipeline.meshfiles import MeshFile, MeshFileError

Array = NDArray[np.float64]

TOUCH = 1e-4
"""mm; files in single precision miss a floor or wall they mean to stand on by less."""
WALLS = ("ceiling", "left-wall", "right-wall", "back-wall")
UPRIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
"""Turns files whose y points up, so that z does."""


class MeshTable(Table):
    """One of `[[meshes]]`."""

    name: Name = Field(description="What you call it; its print is named after it.")
    file: Annotated[Words, Field(min_length=1, max_length=200)] = Field(
        description="STL, OBJ, PLY or GLB file with one closed surface; its place is told from the scene file's folder."
    )
    unit: Literal["mm", "cm", "m", "in", "ft"] = Field(
        default="m", description="What 1 in the file stands for in the imagined room."
    )
    at: Place = Field(
        description="[x, y] or [x, y, height], m: where the file's origin goes; x from the hall's middle (right "
        "positive), y from the opening, height above the floor (default 0)."
    )
    turn: Annotated[float, Field(ge=-360, le=360)] = Field(
        default=0.0, description="Degrees it is turned about the vertical through its origin, anticlockwise from above."
    )
    scale: Annotated[float, Field(gt=0, le=1e6)] | None = Field(
        default=None, description="How many times larger it is made than the file says; default 1."
    )
    size: PositiveMetres | None = Field(
        default=None,
        description="Its longest side (of width, depth and height) in the imagined room, m; sets the scale.",
    )
    smooth: Annotated[float, Field(gt=0, lt=180)] | None = Field(
        default=None,
        description="Degrees: facets that meet at less are taken for cuts through a curve, and are split until they "
        "follow it within make.mesh_tolerance; edges that fold by more stay sharp. 40 suits most; left out, facets "
        "stay the planes they are.",
    )
    hollow: bool = Field(
        default=False,
        description="Whether its print is hollowed to the printer's min_wall, to save resin; one too slight for a "
        "hollow of min_cavity stays solid, and the check print-hollow says so.",
    )
    up: Literal["y", "z"] | None = Field(
        default=None, description="Which axis of the file points up; default z, and y in GLB files as their rule is."
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """A mended mesh in the imagined room, mm, and how it came there.

    Attributes
    ----------
    mended
        In the file's own unit and axes.
    mesh
        Imagined mm: turned, scaled, moved, and split where it is to follow a curve.
    """

    mended: Mended
    notes: tuple[str, ...]
    mesh: Mesh


def imagine(table: MeshTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the block of a mesh file, or the problems against it."""
    y = min(max(hall.millimetres(table.at[1]), 0.0), hall.depth)
    ground = hall.ground(y, y)
    if ground is None:
        found = f"{table.name!r} stands on a flight of steps"
        problem = Problem(path=(*path, "at"), found=found, allowed="a place clear of the steps", remedy="move it")
        return Imagined(problems=(problem,))
    return _stood(table, hall.over(ground), path)


def _stood(table: MeshTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the block, or the problems; ``hall`` is as it is over the floor the mesh stands on."""
    if table.size is not None and table.scale is not None:
        found, remedy = "size and scale are both given", "leave one out"
        return Imagined(problems=(Problem(path=(*path, "scale"), found=found, allowed="one of them", remedy=remedy),))
    from pipeline.geometry.mending import MendError  # only where a scene has meshes: others are answered sooner
    from pipeline.meshfiles import MeshFileError

    try:
        placed = place(table, hall)
    except (MeshFileError, MendError) as refusal:
        return Imagined(problems=(refused(table.file, (*path, "file"), refusal),))
    mesh = placed.mesh
    problems = outside(table.name, table.at, hall, path, mesh) or across_apron(hall, path, mesh)
    if problems:
        return Imagined(problems=tuple(problems))
    name = part_id(table.name)
    contacts = ("opening", *(wall for wall in WALLS if wall in hall.surfaces))
    floor = (np.array([0.0, 0.0, 1.0, -hall.floor]),)
    block = Block(
        id=name, mesh=mesh, contacts=contacts, seams=floor, joints=np.zeros((0, 2, 3)), path=path, hollow=table.hollow
    )
    return Imagined(blocks=(block,), facts=tuple(Fact(subject=name, text=text) for text in _said(table, hall, placed)))


def place(table: MeshTable, hall: Hall) -> Placed:
    """Return a table's mesh, read, mended and placed.

    Raises
    ------
    MeshFileError
        If the file was not handed in, or cannot be read.
    MendError
        If it holds no closed body.
    """
    from pipeline.geometry.mending import MendError, mend, refuse_crossing
    from pipeline.geometry.smoothing import TooFineError, follow_curve
    from pipeline.meshfiles import MOST_TRIANGLES, MeshFileError, read_mesh_file

    if table.file not in hall.files:
        raise MeshFileError("it was not read")
    read = read_mesh_file(table.file, hall.files[table.file])
    corners = read.mesh.corners.reshape(-1, 3)
    mended = mend(read.mesh, _scale(table, hall, corners) if (corners != corners[:1]).any() else None)
    matrix = _placement(table, hall, read, mended)
    points = mended.mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3]
    mesh = Mesh(vertices=points, triangles=mended.mesh.triangles)
    if table.smooth is not None:
        try:
            # Behind the opening nothing grows in the relief, so what is near enough here is so as built.
            mesh = follow_curve(mesh, table.smooth, hall.facet, MOST_TRIANGLES)
        except TooFineError as error:
            raise MendError(
                f"split to follow its curves it has {error}; leave out smooth, or make it smaller"
            ) from None
        refuse_crossing(mesh, "split to follow its curves ")
    return Placed(mended=mended, notes=read.notes, mesh=mesh)


def _placement(table: MeshTable, hall: Hall, read: MeshFile, mended: Mended) -> Array:
    upright = np.eye(3) if (table.up or read.up) == "z" else UPRIGHT
    turn = math.radians(table.turn)
    about = np.array([[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [0, 0, 1]])
    x, y, height = (hall.millimetres(value) for value in (*table.at, 0.0)[:3])
    out = np.eye(4)
    out[:3, :3] = _scale(table, hall, mended.mesh.vertices) * about @ upright
    out[:3, 3] = x, y, hall.floor + height
    return out


def _scale(table: MeshTable, hall: Hall, points: Array) -> float:
    """Return imagined mm for one unit of the file; ``points`` are those of its mesh."""
    if table.size is None:
        return hall.millimetres(float(MM_PER_UNIT[table.unit]) / 1000) * (table.scale or 1.0)
    return hall.millimetres(table.size) / float((points.max(axis=0) - points.min(axis=0)).max())


def refused(file: str, path: KeyPath, refusal: MeshFileError | MendError) -> Problem:
    """Return the problem of a file; ``path`` leads to the key that names it."""
    from pipeline.geometry.mending import MendError

    readable = isinstance(refusal, MendError)
    return Problem(
        path=path,
        found=f"{file} cannot be {'printed' if readable else 'read'}: {refusal}",
        allowed="a mesh with one closed surface" if readable else "a whole STL, OBJ, PLY or GLB file",
        remedy="mend it where it was modelled; places are in the file's own coordinates"
        if readable
        else "export it anew",
    )


def outside(
    name: str, at: tuple[float, ...], hall: Hall, path: KeyPath, mesh: Mesh, *, smaller: str = "size, or another unit"
) -> list[Problem]:
    """Return what reaches out of the hall, one problem for the whole mesh; ``smaller`` is what is to be made less."""
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    least = np.array([-hall.width / 2, 0.0, hall.floor])
    most = np.array([hall.width / 2, hall.depth, hall.floor + hall.height])
    past = np.array([least - low, high - most])
    if past.max() <= TOUCH:
        return []
    sides = (("the left wall", "the opening", "the floor"), ("the right wall", "the back wall", "the ceiling"))
    out = [
        f"{hall.metres(past[end, axis]):.4g} m past {sides[end][axis]}"
        for axis in range(3)
        for end in range(2)
        if past[end, axis] > TOUCH
    ]
    size = " x ".join(f"{hall.metres(value):.4g}" for value in high - low)
    room = " x ".join(f"{hall.metres(value):.4g}" for value in most - least)
    fits = bool((high - low <= most - least).all())
    remedy = _moved_in(at, hall, past) if fits else f"give a smaller {smaller}"
    found = f"{name!r} reaches {', '.join(out)}; it is {size} m (width x depth x height)"
    return [Problem(path=(*path, "at"), found=found, allowed=f"inside the hall, {room} m", remedy=remedy)]


def _moved_in(at: tuple[float, ...], hall: Hall, past: Array) -> str:
    """Return the place that is as near the one given as the hall allows, as it is written."""
    way = np.array([hall.metres(value) for value in np.maximum(past[0], 0.0) - np.maximum(past[1], 0.0)])
    place = np.array([*at, 0.0][:3]) + np.sign(way) * np.ceil(np.abs(way) * 1000 - 1e-6) / 1000
    return f"move it: at = [{', '.join(f'{value + 0.0:.6g}' for value in place)}] is the nearest place"


def across_apron(hall: Hall, path: KeyPath, mesh: Mesh) -> list[Problem]:
    """Return the problem of a mesh that stands across the apron's end."""
    near, far = float(mesh.vertices[:, 1].min()), float(mesh.vertices[:, 1].max())
    if not near < hall.apron - TOUCH or not far > hall.apron:
        return []
    end = hall.metres(hall.apron)
    found = (
        f"it stands from {hall.metres(near):.4g} to {hall.metres(far):.4g} m, across the apron's end at {end:.4g} m, "
        "where the relief breaks"
    )
    allowed = "wholly before or wholly behind the apron's end"
    return [Problem(path=(*path, "at"), found=found, allowed=allowed, remedy="move it, or change space.apron")]


def _said(table: MeshTable, hall: Hall, placed: Placed) -> list[str]:
    points = placed.mesh.vertices
    size = " x ".join(f"{hall.metres(value):.3g}" for value in points.max(axis=0) - points.min(axis=0))
    text = f"{table.file}: {len(placed.mended.mesh.triangles):,} facets, {size} m (width x depth x height)"
    if len(placed.mesh.triangles) > len(placed.mended.mesh.triangles):
        text += f", split into {len(placed.mesh.triangles):,} to follow its curves"
    mended = [f"{table.file} was mended: {', '.join(placed.mended.repairs)}"] if placed.mended.repairs else []
    return [text, *mended, *(f"{table.file}: {note}" for note in placed.notes)]
