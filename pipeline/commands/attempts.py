"""Scenes built; whatever happens to one, the others go on."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.commands.layout_files import layout_refusal, read_layout_file
from pipeline.commands.mesh_files import read_named
from pipeline.commands.model import Exit, InputError
from pipeline.commands.scene_files import SceneFile, read_bytes
from pipeline.commands.terminal import fault_text

if TYPE_CHECKING:
    from pipeline.build import Build
    from pipeline.keeping.kept import Kept
    from pipeline.scene.problems import PlacedProblem

Overrides = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One thing wrong with a scene, where and why, as the JSON output says it.

    Line and column count from 1 and are nothing where the value came by ``--set``; ``setting`` is then that argument.
    """

    line: int | None
    column: int | None
    setting: str
    key: str
    found: str
    allowed: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """What became of one scene.

    Attributes
    ----------
    build
        Everything made, or nothing where it was refused.
    places
        What is wrong with the scene file.
    errors
        The same and any other error, each one line for stderr.
    folder
        Where it was written.
    as_cut, as_cut_lines
        What became of the parts that are marked as cut, for programs and for people.
    """

    scene: SceneFile
    exit: Exit
    build: Build | None = None
    places: tuple[Place, ...] = ()
    errors: tuple[str, ...] = ()
    folder: Path | None = None
    as_cut: tuple[dict[str, Any], ...] = ()
    as_cut_lines: tuple[str, ...] = ()


def attempt(
    scene: SceneFile,
    overrides: Overrides,
    work: Path | None = None,
    keeper: Kept | None = None,
    begins: Callable[[str], None] = lambda stage: None,
) -> Attempt:
    """Build one scene in memory; every foreseeable failure comes back as a value, fit to cross processes.

    Parameters
    ----------
    scene, overrides
        What to build.
    work
        Folder where builds leave what the next one can use; nothing for one that is to leave nothing.
    keeper
        What this process keeps of earlier builds of the scene, in place of what that folder holds.
    begins
        Is told each stage of the build as it begins.
    """
    return _guarded(scene, lambda: _built(scene, _read(scene, overrides), overrides, work, keeper, begins=begins))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gathered:
    """Everything a build needs from the disk: the scene's text, the files it names, and the layout beside it."""

    text: bytes
    files: dict[str, bytes]
    layout: bytes | None


def gather(scene: SceneFile, overrides: Overrides) -> Gathered | Attempt:
    """Return what a build needs from the disk, so that it can be made elsewhere; or why it cannot."""
    found: list[Gathered] = []

    def read() -> Attempt:
        found.append(_read(scene, overrides))
        return Attempt(scene=scene, exit=Exit.DONE)

    refused = _guarded(scene, read)
    return found[0] if found else refused


def make_gathered(scene: SceneFile, gathered: Gathered, overrides: Overrides) -> Attempt:
    """Build one scene from values alone, touching no disk: fit for a machine elsewhere."""
    return _guarded(scene, lambda: _built(scene, gathered, overrides))


def _guarded(scene: SceneFile, make: Callable[[], Attempt]) -> Attempt:
    """Return what is made; every foreseeable failure as a value."""
    from pipeline.scene.problems import SceneFileError

    try:
        return make()
    except SceneFileError as error:
        errors = tuple(error.describe(str(scene.path)))
        return Attempt(scene=scene, exit=Exit.INPUT, places=tuple(map(_place, error.placed)), errors=errors)
    except InputError as refusal:
        return Attempt(scene=scene, exit=Exit.INPUT, errors=(f"foreshorten: {refusal}",))
    except Exception as fault:
        if os.environ.get("FORESHORTEN_TRACEBACK"):
            raise
        text = f"foreshorten: {scene.path}: {fault_text(fault)}; FORESHORTEN_TRACEBACK=1 shows where"
        return Attempt(scene=scene, exit=Exit.FAULT, errors=(text,))


def attempts(
    scenes: list[SceneFile],
    overrides: Overrides,
    jobs: int,
    work: Path | None = None,
    begins: Callable[[str], None] = lambda stage: None,
) -> Generator[Attempt, None, None]:
    """Yield what became of each scene, in the order given; see `attempt`. Stages are told of one after another only."""
    if min(jobs, len(scenes)) == 1:
        yield from (attempt(scene, overrides, work, begins=begins) for scene in scenes)
    else:
        from pipeline.commands.workers import attempts_at_once

        yield from attempts_at_once(scenes, overrides, jobs, work)


def _read(scene: SceneFile, overrides: Overrides) -> Gathered:
    from pipeline.scene.read import placed_error, read_scene

    text, settings = read_bytes(scene.path), (*overrides, *scene.settings)
    files, problems = read_named(read_scene(text, settings), scene.path.parent, scene.allow_outside)
    if problems:
        raise placed_error(text, problems, settings)
    return Gathered(text=text, files=files, layout=read_layout_file(scene.path))


def _built(
    scene: SceneFile,
    gathered: Gathered,
    overrides: Overrides,
    work: Path | None = None,
    keeper: Kept | None = None,
    *,
    begins: Callable[[str], None] = lambda stage: None,
) -> Attempt:
    # Only now: a scene with an error in it is answered before geometry and pictures are even loaded.
    from pipeline.build import build_scene
    from pipeline.commands.pack import keeping
    from pipeline.sheets.refusals import LayoutError

    settings = (*overrides, *scene.settings)
    try:
        with keeping(work, scene.stem) if keeper is None else nullcontext(keeper) as kept:
            build = build_scene(
                gathered.text, scene.stem, settings, gathered.files, layout=gathered.layout, kept=kept, begins=begins
            )
    except LayoutError as error:
        raise InputError(layout_refusal(scene.path, error)) from None
    return Attempt(scene=scene, exit=Exit.CHECK_FAILED if build.failed else Exit.DONE, build=build)


def _place(placed: PlacedProblem) -> Place:
    from pipeline.scene.values import show_path

    return Place(
        line=None if placed.setting else placed.line,
        column=None if placed.setting else placed.column,
        setting=placed.setting,
        key=show_path(placed.problem.path),
        found=placed.problem.found,
        allowed=placed.problem.allowed,
        remedy=placed.problem.remedy,
    )
