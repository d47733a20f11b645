"""``foreshorten build``: scene files to export folders."""

from __future__ import annotations

import argparse
import json
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.terminal import Terminal
from pipeline.commands.waiting import Waiting
from pipeline.folder import WORK

if TYPE_CHECKING:
    from pipeline.commands.attempts import Attempt


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take scenes and the folder to write to."""
    scene_files.add_arguments(parser)
    parser.add_argument(
        "-o",
        "--out",
        metavar="FOLDER",
        type=Path,
        default=Path("exports"),
        help="where the export folders go, each named like its scene file (default: exports)",
    )
    parser.add_argument(
        "-n", "--dry-run", action="store_true", help="build and say what would be written, and write nothing"
    )
    parser.add_argument(
        "--watch", action="store_true", help="go on, and build a scene again whenever its file changes, until Ctrl-C"
    )
    parser.add_argument(
        "--anew", action="store_true", help="make everything anew, using nothing that earlier builds left"
    )


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Build every scene and write those that could be built; return the worst exit code."""
    from pipeline.commands.attempts import attempts
    from pipeline.commands.cut_marks import held_against_cut
    from pipeline.commands.pack import forget
    from pipeline.commands.publishing import published, recovered
    from pipeline.commands.results import as_json, report

    scenes = scene_files.scene_files(arguments.scenes, arguments.allow_outside)
    if arguments.watch and arguments.json:
        raise InputError("--watch has no end, and --json is one document at the end: leave one of them out")
    if arguments.watch and arguments.dry_run:
        raise InputError("--watch writes whenever a scene is saved, and --dry-run never: leave one of them out")
    if not arguments.dry_run:
        recovered(arguments.out)
        if arguments.anew:
            forget(arguments.out / WORK, [scene.stem for scene in scenes])
    if arguments.watch:
        _watch(scenes, arguments, terminal)
    work = None if arguments.dry_run else arguments.out / WORK
    results, waiting = [], Waiting()
    with closing(attempts(scenes, tuple(arguments.overrides), arguments.jobs, work, waiting.begins)) as made:
        for one in terminal.progress(made, len(scenes), "building", waiting):
            if arguments.dry_run:
                result, lines = one, _would(one, arguments.out)
            else:
                result = held_against_cut(published(one, arguments.out), arguments.out)
                lines = _lines(result)
            results.append(result)
            report(result, terminal, () if arguments.json else lines)
    if arguments.json:
        terminal.result(json.dumps(as_json(results), indent=2))
    return max(result.exit for result in results)


def _watch(scenes: list[scene_files.SceneFile], arguments: argparse.Namespace, terminal: Terminal) -> NoReturn:
    """Build every scene, and again whenever one of its files changes; only an interruption ends it."""
    from pipeline.commands.attempts import attempt
    from pipeline.commands.cut_marks import held_against_cut
    from pipeline.commands.pack import pack_of
    from pipeline.commands.publishing import published
    from pipeline.commands.results import report
    from pipeline.commands.watching import changes, state_of
    from pipeline.keeping.kept import Kept

    packs = {scene.path: pack_of(arguments.out / WORK, scene.stem) for scene in scenes}
    keepers = {path: Kept(pack) for path, pack in packs.items()}

    def build(scene: scene_files.SceneFile) -> None:
        made = attempt(scene, tuple(arguments.overrides), keeper=keepers[scene.path])
        result = held_against_cut(published(made, arguments.out), arguments.out)
        report(result, terminal, _lines(result))
        terminal.flush()

    seen = {scene: state_of(scene) for scene in scenes}
    try:
        for scene in scenes:
            build(scene)
        terminal.message("watching; Ctrl-C ends it")
        for scene, there in changes(seen):
            if there:
                build(scene)
            else:
                terminal.message(f"{scene.path} is gone; what was built of it stays. Waiting for it to come back")
        raise AssertionError("a watch has no end of its own")
    finally:
        for pack in packs.values():
            pack.save()


def _would(result: Attempt, out: Path) -> tuple[str, ...]:
    """Return what a build would have written, and where."""
    if result.build is None:
        return ()
    size, folder = sum(map(len, result.build.files.values())) / 1e6, out / result.scene.stem
    verb = "would replace" if folder.exists() else "would make"
    return (
        *result.build.summary,
        f"  {verb} {folder}: {len(result.build.files)} files, {size:.1f} MB; nothing written",
    )


def _lines(result: Attempt) -> tuple[str, ...]:
    """Return what a build says of itself, and what to open."""
    if result.build is None or result.folder is None:
        return ()
    return (*result.build.summary, *result.as_cut_lines, f"  open {result.folder / 'report.html'}")


COMMAND = Command(
    name="build",
    summary="build scenes: panels, prints, guides, pictures, checks and a report, one folder for each scene",
    add_arguments=add_arguments,
    run=run,
)
