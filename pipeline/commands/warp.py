"""``foreshorten warp``: one mesh file through a scene's relief, the scene itself not built."""

from __future__ import annotations

import argparse
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.plain_files import write_over
from pipeline.commands.terminal import Terminal

if TYPE_CHECKING:
    from pipeline.checks.model import Finding
    from pipeline.elements.mesh import MeshTable
    from pipeline.elements.model import Imagined
    from pipeline.elements.problems import Problem
    from pipeline.parts.model import Print
    from pipeline.room.measure import Room
    from pipeline.scene.model import Scene

KEYS = ("at", "turn", "unit", "scale", "size", "up", "smooth")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Warped:
    """A mesh through a scene's relief: its print, what it was imagined as, and the scene."""

    part: Print
    said: Imagined
    scene: Scene
    room: Room


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take a mesh, a scene, and what a table of ``[[meshes]]`` would say."""
    parser.add_argument("mesh", metavar="MESH", type=Path, help="STL, OBJ, PLY or GLB file")
    parser.add_argument("--scene", metavar="SCENE", type=Path, required=True, help="scene file (.toml) with the relief")
    parser.add_argument(
        "--at", metavar="X,Y[,H]", help="where its origin goes, m (default: mid-floor); --at=-1,4 left of the middle"
    )
    parser.add_argument("--turn", metavar="DEG", help="degrees about the vertical, anticlockwise from above")
    parser.add_argument("--unit", metavar="UNIT", help="what 1 in the file stands for: mm, cm, m (default), in or ft")
    parser.add_argument("--scale", metavar="N", help="how many times larger than the file says")
    parser.add_argument("--size", metavar="LENGTH", help="its longest side in the imagined room, m")
    parser.add_argument("--up", metavar="AXIS", help="which axis of the file points up: y or z")
    parser.add_argument(
        "--smooth", metavar="DEG", help="split facets that meet at less into the curve they were cut from"
    )
    parser.add_argument("--hollow", action="store_true", help="hollow it to the printer's min_wall, with drain holes")
    scene_files.add_settings(parser, "one key of the scene")
    parser.add_argument(
        "-o", "--out", metavar="FILE", type=Path, help="STL file to write (default: MESH-built.stl here)"
    )
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors")


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write the print of one mesh and say what was made of it."""
    from pipeline.exports.stl import write_stl
    from pipeline.parts.bed import on_bed
    from pipeline.scene.problems import SceneFileError

    out = arguments.out or Path(f"{arguments.mesh.stem}-built.stl")
    _refuse_target(out, arguments)
    try:
        made = warped(arguments.scene, tuple(arguments.overrides), arguments.mesh, _keys(arguments))
    except SceneFileError as error:
        for line in error.describe(str(arguments.scene)):
            terminal.problem(line)
        return Exit.INPUT
    write_over(out, write_stl(on_bed(made.part.body, made.part.built_from_bed), made.part.id))
    if not terminal.quiet:
        for line in _lines(out, made):
            terminal.result(line)
    return Exit.DONE


def warped(path: Path, settings: tuple[tuple[str, str], ...], mesh: Path, keys: Mapping[str, Any]) -> Warped:
    """Return one mesh file taken through a scene's relief.

    Parameters
    ----------
    path, settings
        The scene file, and what is set over it.
    mesh
        STL, OBJ, PLY or GLB file.
    keys
        As a table of ``[[meshes]]`` would have them; without ``at`` it stands in the middle of the floor.

    Raises
    ------
    InputError
        If the mesh or a key is at fault.
    pipeline.scene.problems.SceneFileError
        If the scene is.
    """
    from pipeline.commands.mesh_files import read_mesh
    from pipeline.meshfiles import MOST_BYTES

    text = scene_files.read_bytes(path)
    scene, room = _measured(text, settings, mesh.name, read_mesh(mesh, MOST_BYTES))
    said = _imagined(_table(mesh, keys, room), room)
    return Warped(part=_made(said, scene, room), said=said, scene=scene, room=room)


def _measured(text: bytes, overrides: tuple[tuple[str, str], ...], name: str, data: bytes) -> tuple[Scene, Room]:
    from pipeline.elements.problems import SceneError
    from pipeline.room.measure import measure
    from pipeline.scene.read import placed_error, read_scene

    scene = read_scene(text, overrides)
    try:
        return scene, measure(scene, {name: data})
    except SceneError as error:
        raise placed_error(text, error.problems, overrides) from error


def _keys(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return the keys of ``[[meshes]]`` that the options stand for."""
    given: dict[str, Any] = {
        key: _value(getattr(arguments, key)) for key in KEYS if getattr(arguments, key) is not None
    }
    if arguments.at is not None:
        given["at"] = [_value(word) for word in arguments.at.split(",")]
    return given | {"hollow": arguments.hollow}


def _table(mesh: Path, keys: Mapping[str, Any], room: Room) -> MeshTable:
    """Return the table of ``[[meshes]]`` for a mesh file."""
    from pydantic import ValidationError

    from pipeline.elements.mesh import MeshTable
    from pipeline.scene.wording import word_all

    words = " ".join(re.findall(r"[A-Za-z0-9]+", mesh.stem))
    name = words if words[:1].isalpha() else f"mesh {words}"
    middle = [0.0, round(room.hall.metres(room.hall.depth) / 2, 6)]
    given = {"at": middle, **keys, "name": name[:60].strip(), "file": mesh.name}
    try:
        return MeshTable.model_validate(given)
    except ValidationError as error:
        raise _refusal(word_all(MeshTable, given, error.errors(include_url=False))) from None


def _value(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text.strip()


def _refusal(problems: list[Problem]) -> InputError:
    said = []
    for problem in problems:
        key = next((part for part in reversed(problem.path) if isinstance(part, str)), "")
        option = f"--{key}: " if key in KEYS else ""
        allowed = f"; allowed: {problem.allowed}" if problem.allowed else ""
        said.append(f"{option}{problem.found}{allowed}. {problem.remedy[:1].upper()}{problem.remedy[1:]}")
    return InputError("\n".join(said))


def _imagined(table: MeshTable, room: Room) -> Imagined:
    from pipeline.elements.mesh import imagine

    said = imagine(table, room.hall, ())
    if said.problems:
        raise _refusal(list(said.problems))
    return said


def _made(said: Imagined, scene: Scene, room: Room) -> Print:
    from pipeline.elements.problems import SceneError
    from pipeline.keeping.kept import NOTHING_KEPT
    from pipeline.stages.prints import cast, printing_of, ready_prints

    try:
        part = cast(printing_of(scene, room), said.blocks[0])
        pieces = ready_prints(scene, room, (part,), NOTHING_KEPT)
    except SceneError as error:
        raise _refusal(list(error.problems)) from None
    return pieces[0] if len(pieces) == 1 else part  # one file, one body: what is too large for the bed is said


def _lines(out: Path, made: Warped) -> list[str]:
    part, said, scene, room = made.part, made.said, made.scene, made.room
    lying = part.body.vertices @ part.built_from_bed[:3, :3]
    size = lying.max(axis=0) - lying.min(axis=0)
    near, far = part.body.vertices[:, 1].min(), part.body.vertices[:, 1].max()
    lines = [f"{out}: one closed body", *(f"  {fact.text}" for fact in said.facts)]
    lines.append(f"  built: {' x '.join(f'{v:.2f}' for v in size)} mm on the bed, {part.volume / 1000:.3f} cm3")
    lines += [f"  {finding.message}" for finding in _hollowed(part, scene)]
    lines.append(f"  stands {near:.2f} to {far:.2f} mm behind the opening; eye {-room.relief.eye[1]:g} mm before it")
    if any(v > most for v, most in zip(size, scene.make.printer.bed, strict=True)):
        lines.append(f"  larger than the printer's bed of {' x '.join(f'{v:g}' for v in scene.make.printer.bed)} mm")
    return lines


def _hollowed(part: Print, scene: Scene) -> list[Finding]:
    from pipeline.checks.print_hollow import check_hollow

    return check_hollow(part, scene.make.printer.min_wall, scene.make.printer.min_cavity)


def _refuse_target(out: Path, arguments: argparse.Namespace) -> None:
    """Keep from writing over what is not ours: the mesh, the scene, or anything not named with ``-o``."""
    if not arguments.out and out.exists():
        raise InputError(f"{out}: exists already and was left alone; name it with -o to replace it")
    for other in (arguments.mesh, arguments.scene):
        if out.exists() and other.exists() and out.samefile(other):
            raise InputError(f"{out}: would be written over {other}; give another name with -o")


COMMAND = Command(
    name="warp",
    summary="put one mesh file through a scene's relief and write it as STL, the scene itself not built",
    add_arguments=add_arguments,
    run=run,
)
