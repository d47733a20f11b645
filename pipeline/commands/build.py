"""``foreshorten build``: scene files to export folders."""

from __future__ import annotations

import argparse
import json
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit
from pipeline.commands.terminal import Terminal
from pipeline.folder import WORK

if TYPE_CHECKING:
    from pipeline.commands.attempts import Attempt


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take scenes and the folder to write to."""
    scene_files.add_arguments(parser)
    parser.add_argument(
        "--out",
        metavar="FOLDER",
        type=Path,
        default=Path("exports"),
        help="where the export folders go, each named like its scene file (default: exports)",
    )
    parser.add_argument(
        "--anew", action="store_true", help="make everything anew, using nothing that earlier builds left"
    )


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Build every scene and write those that could be built; return the worst exit code."""
    from pipeline.commands.attempts import attempts
    from pipeline.commands.cut_marks import held_against_cut
    from pipeline.commands.publishing import published, recovered
    from pipeline.commands.results import as_json, report

    scenes = scene_files.scene_files(arguments.scenes, arguments.allow_outside)
    recovered(arguments.out)
    work = None if arguments.anew else arguments.out / WORK
    results = []
    with closing(attempts(scenes, tuple(arguments.overrides), arguments.jobs, work)) as made:
        for one in terminal.progress(made, len(scenes), "building"):
            result = held_against_cut(published(one, arguments.out), arguments.out)
            results.append(result)
            report(result, terminal, () if arguments.json else _lines(result))
    if arguments.json:
        terminal.result(json.dumps(as_json(results), indent=2))
    return max(result.exit for result in results)


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
