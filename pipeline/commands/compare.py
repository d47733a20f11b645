"""``foreshorten compare``: which parts of an earlier build are still good."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.commands import scene_files
from pipeline.commands.depth import length
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pipeline.report.comparing import Compared, Version

ORDER = ("recut", "new", "keep", "same", "dropped")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take two builds, each an export folder or a scene."""
    parser.add_argument("old", metavar="OLD", type=Path, help="export folder (or scene file) that parts were made from")
    parser.add_argument(
        "new", metavar="NEW", type=Path, help="export folder or scene file (.toml) to hold them against"
    )
    scene_files.add_settings(parser, "one key of NEW, where that is a scene")
    scene_files.add_allowance(parser)
    parser.add_argument(
        "--tolerance", metavar="MM", type=length, default=0.3, help="what is made up for at the bench (default: 0.3 mm)"
    )
    parser.add_argument("--as-built", action="store_true", help="pass over what was marked as cut")
    parser.add_argument("--picture", metavar="FILE.svg", type=Path, help="draw both outlines of every changed part")
    parser.add_argument("--json", action="store_true", help="write one JSON document to stdout instead of text")
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors (and JSON, where asked for)")


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Tell what became of every part; exit code 1 if one must be made again."""
    from pipeline.commands.cut_marks import marked
    from pipeline.report.comparing import compare

    if arguments.picture is not None and arguments.picture.suffix.lower() != ".svg":
        raise InputError(f"--picture {arguments.picture}: is drawn as SVG; allowed: a name that ends in .svg")
    old = _versions(arguments.old, (), arguments, terminal)
    new = None if old is None else _versions(arguments.new, tuple(arguments.overrides), arguments, terminal)
    if old is None or new is None:
        return Exit.INPUT
    cut: dict[str, Version] = {}
    if arguments.old.is_dir() and not arguments.as_built:
        cut = marked(arguments.old)
    found = compare({**old, **cut}, new, arguments.tolerance, frozenset(cut))
    if arguments.picture is not None:
        _draw(found, arguments)
    if arguments.json:
        terminal.result(json.dumps({"parts": [entry(one) for one in found]}, indent=2))
    elif not terminal.quiet:
        for line in lines(found):
            terminal.result(line)
    return Exit.CHECK_FAILED if any(one.verdict == "recut" for one in found) else Exit.DONE


def _versions(
    path: Path, overrides: tuple[tuple[str, str], ...], arguments: argparse.Namespace, terminal: Terminal
) -> dict[str, Version] | None:
    """Return the parts of a folder, or of a scene built in memory; nothing where the scene was refused."""
    if path.suffix.lower() != ".toml" or path.is_dir():
        if overrides:
            raise InputError(f"--set: {path} is built already; name the scene file in its place")
        from pipeline.commands.built_folders import built_folder

        return built_folder(path).versions()
    from pipeline.commands.attempts import attempt

    scene = scene_files.scene_files([path], arguments.allow_outside)[0]
    made = attempt(scene, overrides)
    for error in made.errors:
        terminal.problem(error)
    if made.build is None:
        if made.exit == Exit.FAULT:
            raise RuntimeError("the scene could not be built")
        return None
    from pipeline.report.comparing import versions

    return versions(made.build.manifest, made.build.files.__getitem__)


def lines(found: Sequence[Compared]) -> Iterator[str]:
    """Yield what became of the parts, those to be made again first."""
    counts = {verdict: sum(one.verdict == verdict for one in found) for verdict in ORDER}
    yield ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count) or "no parts"
    for verdict in ORDER:
        if verdict == "same" and counts["same"] > 3:
            yield f"  same     {counts['same']} parts, to the byte"
            continue
        for one in found:
            if one.verdict == verdict:
                yield f"  {verdict:8} {describe(one)}"


def describe(one: Compared) -> str:
    """Return a part with its figure and reasons."""
    said = (
        []
        if one.shift is None
        else ["to the byte" if one.verdict == "same" else f"off by {one.shift:.3f} mm at its worst"]
    )
    said += one.reasons
    if one.redraw:
        said.append("redraw its guides and places")
    name = f"{one.id} (as cut)" if one.as_cut else one.id
    return f"{name}: {'; '.join(said)}" if said else name


def entry(one: Compared) -> dict[str, Any]:
    """Return a part for programs."""
    return {
        "id": one.id,
        "verdict": one.verdict,
        "shift": None if one.shift is None else round(one.shift, 4),
        "as_cut": one.as_cut,
        "redraw": one.redraw,
        "reasons": list(one.reasons),
    }


def _draw(found: Sequence[Compared], arguments: argparse.Namespace) -> None:
    from pipeline.commands.plain_files import write_over
    from pipeline.report.comparing_sheet import comparing_svg

    for other in (arguments.old, arguments.new):
        if other.is_file() and arguments.picture.exists() and arguments.picture.samefile(other):
            raise InputError(f"{arguments.picture}: would be written over {other}; give another name")
    write_over(arguments.picture, comparing_svg(found, f"{arguments.old.name} and {arguments.new.name}"))


COMMAND = Command(
    name="compare",
    summary="tell which parts of an earlier build are still good for another one, and which must be made again",
    add_arguments=add_arguments,
    run=run,
)
