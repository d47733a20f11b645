"""``foreshorten sweep``: every combination of some values built side by side, on one contact sheet."""

from __future__ import annotations

import argparse
import json
import os
import shlex
from collections.abc import Generator, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.terminal import Terminal

if TYPE_CHECKING:
    from pipeline.commands.attempts import Attempt
    from pipeline.commands.scene_files import SceneFile
    from pipeline.report.contact_sheet import Card

PAGE = "contact-sheet.html"
MARK = b"contact sheet</title>"
"""In every page of ours, near its beginning."""
MOST = 10_000
"""Builds that nobody is asked about; a day's work of one machine."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take a scene, what to sweep, and where to build it."""
    parser.add_argument("scene", metavar="SCENE", type=Path, help="scene file (.toml)")
    parser.add_argument(
        "--set",
        metavar="KEY=VALUES",
        dest="overrides",
        action="append",
        required=True,
        type=scene_files.override,
        help="a list or a range of values for one key: eye.height=60,80 or eye.distance=300:600:50; all combinations of"
        " several are built",
    )
    parser.add_argument(
        "-o",
        "--out",
        metavar="FOLDER",
        type=Path,
        help="where the folders and the page go (default: exports/SCENE-sweep)",
    )
    scene_files.add_allowance(parser)
    where = parser.add_mutually_exclusive_group()
    where.add_argument(
        "--jobs",
        metavar="N",
        type=scene_files.job_count,
        default=min(8, os.cpu_count() or 1),
        help="builds made at once (default: one for each processor, at most 8)",
    )
    where.add_argument(
        "--cluster", metavar="ADDRESS", help="build on a Dask scheduler instead, as in tcp://10.0.0.5:8786"
    )
    parser.add_argument("--yes", action="store_true", help=f"build even more than {MOST:,} combinations")
    parser.add_argument("--json", action="store_true", help="write one JSON document to stdout instead of text")
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors (and JSON, where asked for)")


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Build every combination and write the contact sheet; return the worst exit code."""
    from pipeline.commands.plain_files import write_over
    from pipeline.commands.publishing import published, recovered
    from pipeline.report.contact_sheet import contact_sheet

    scenes = _scenes(arguments)
    out: Path = arguments.out or Path("exports") / f"{scene_files.safe_stem(arguments.scene)}-sweep"
    _refuse_page(out / PAGE)
    recovered(out)
    cards, entries, codes = [], [], []
    with _made(scenes, arguments) as made:
        for one in terminal.progress(made, len(scenes), "building"):
            result = published(one, out)
            for error in result.errors:
                terminal.problem(f"{_settings_text(one.scene)}: {error}")
            cards.append(_card(result))
            entries.append(_entry(result))
            codes.append(result.exit)
            if not arguments.json and not terminal.quiet:
                terminal.result(_line(result))
    page = out / PAGE
    title = arguments.scene.stem
    if any(card.folder for card in cards):
        write_over(page, contact_sheet(title, _command(arguments), cards))
    worst = max(codes)
    if arguments.json:
        shown = str(page) if any(card.folder for card in cards) else None
        terminal.result(json.dumps({"exit": int(worst), "page": shown, "builds": entries}, indent=2))
    elif not terminal.quiet and any(card.folder for card in cards):
        terminal.result(f"open {page}")
    return worst


def _scenes(arguments: argparse.Namespace) -> list[SceneFile]:
    """Return one scene for each combination, refusing far too many before any is made."""
    from pipeline.commands.combinations import axes, combinations, count
    from pipeline.commands.scene_files import SceneFile

    swept = axes(arguments.overrides)
    number = count(swept)
    if number > MOST and not arguments.yes:
        lists = f" ({' x '.join(str(len(axis.values)) for axis in swept)})" if len(swept) > 1 else ""
        raise InputError(
            f"{number:,} builds{lists} are more than {MOST:,}; nothing was built: take fewer values, or say --yes"
        )
    scene_files.read_bytes(arguments.scene)  # a scene that is not there is said once
    return [
        SceneFile(
            path=arguments.scene,
            stem=combination.name,
            allow_outside=arguments.allow_outside,
            settings=combination.settings,
        )
        for combination in combinations(swept)
    ]


def _refuse_page(page: Path) -> None:
    """Keep from writing over a page of somebody else's."""
    if page.exists() and not (page.is_file() and MARK in page.read_bytes()[:1000]):
        raise InputError(f"{page}: is in the way and not of this program; move it away, or sweep with another --out")


@contextmanager
def _made(scenes: list[SceneFile], arguments: argparse.Namespace) -> Iterator[Generator[Attempt, None, None]]:
    """Yield the builds as they are made, here or on a cluster."""
    if arguments.cluster is not None:
        from pipeline.commands.cluster import attempts_through, cluster

        with (
            cluster(arguments.cluster) as (executor, in_hand),
            closing(attempts_through(executor, scenes, (), in_hand)) as made,
        ):
            yield made
        return
    from pipeline.commands.attempts import attempts

    with closing(attempts(scenes, (), arguments.jobs)) as made:
        yield made


def _card(result: Attempt) -> Card:
    from pipeline.report.contact_sheet import Card, card

    settings = result.scene.settings
    if result.build is None or result.folder is None:
        return Card(settings=settings, errors=result.errors or ("not built",))
    return card(settings, result.folder.name, result.build.manifest, result.build.files["pictures/eye.png"])


def _entry(result: Attempt) -> dict[str, Any]:
    from pipeline.commands.results import entry

    return {"settings": dict(result.scene.settings), **entry(result)}


def _line(result: Attempt) -> str:
    """Return one line on a build: its settings, its back scale, and its checks."""
    name = _settings_text(result.scene)
    if result.build is None:
        return f"{name}: not built"
    manifest = result.build.manifest
    statuses = [check["status"] for check in manifest["checks"]]
    warned = statuses.count("warn")
    return (
        f"{name}: back scale {manifest['relief']['back_scale']:.4f}; {statuses.count('pass')} passed,"
        f" {warned} warning{'' if warned == 1 else 's'}, {statuses.count('fail')} failed"
    )


def _settings_text(scene: SceneFile) -> str:
    return " ".join(f"{key}={value}" for key, value in scene.settings)


def _command(arguments: argparse.Namespace) -> str:
    sets = (f"--set {shlex.quote(f'{key}={values}')}" for key, values in arguments.overrides)
    return " ".join(["foreshorten sweep", shlex.quote(str(arguments.scene)), *sets])


COMMAND = Command(
    name="sweep",
    summary="build every combination of some values side by side, with one contact sheet of them all",
    add_arguments=add_arguments,
    run=run,
)
