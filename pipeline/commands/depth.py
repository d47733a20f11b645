"""``foreshorten depth``: how deep a room can look, from where, before anything is built."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.ranges import values
from pipeline.commands.terminal import Terminal

if TYPE_CHECKING:
    from pipeline.room.choosing import Choice, Goal
    from pipeline.scene.model import Scene


ROWS = 9
"""Of the table, about, where no distances are named."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take a scene, the distances to tell, and the figures to seek."""
    parser.add_argument("scene", metavar="SCENE", type=Path, help="scene file (.toml)")
    scene_files.add_settings(parser, "one key, as in --set space.scale=35")
    parser.add_argument(
        "--distances",
        metavar="LIST",
        type=distances,
        help="eye distances to tell, mm: 300,400 or 300:600:50 (default: from half the scene's own to twice)",
    )
    parser.add_argument(
        "--hold",
        choices=("depth", "back-scale"),
        help="what stays while the eye moves (default: the apparent depth where the scene gives it)",
    )
    parser.add_argument("--back-width", metavar="MM", type=length, help="seek a built back wall so wide")
    parser.add_argument("--rake", metavar="DEG", type=angle, help="seek a floor that rises so steeply: 12deg")
    parser.add_argument("--smallest-unit", metavar="MM", type=length, help="seek a smallest brick or flag: 0.8mm")
    parser.add_argument("--picture", metavar="FILE.svg", type=Path, help="draw the trade-off into a file")
    parser.add_argument("--json", action="store_true", help="write one JSON document to stdout instead of text")
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors (and JSON, where asked for)")


def length(text: str) -> float:
    """Return a length above zero in mm; a bare number is mm."""
    from pipeline.units import parse_length

    try:
        value: float | None = float(text)
    except ValueError:
        value = parse_length(text, "mm")
    if value is None or not 0 < value < 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is not a length above zero, as in 96 or 0.8mm")
    return value


def angle(text: str) -> float:
    """Return an angle from 0 to below 90 degrees; "deg" may follow."""
    match = re.fullmatch(r"\s*(\+?[0-9]*\.?[0-9]+)\s*(deg|\N{DEGREE SIGN})?\s*", text)
    if match is None or not 0 <= float(match[1]) < 90:
        raise argparse.ArgumentTypeError(f"{text!r} is not an angle from 0 to below 90 degrees, as in 12deg")
    return float(match[1])


def distances(text: str) -> list[float]:
    """Return eye distances, mm."""
    try:
        found = values(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    if len(found) > 1000:
        raise argparse.ArgumentTypeError(
            f"{text!r} names {len(found):,} distances; a table has at most 1,000: take a longer step"
        )
    return [length(value) for value in found]


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write the table, and where each goal is met."""
    from pipeline.elements.problems import SceneError
    from pipeline.room.choosing import own_choice
    from pipeline.scene.problems import SceneFileError
    from pipeline.scene.read import placed_error, read_scene

    text = scene_files.read_bytes(arguments.scene)
    overrides = tuple(arguments.overrides)
    try:
        scene = read_scene(text, overrides)
        try:
            own = own_choice(scene)
        except SceneError as error:
            raise placed_error(text, error.problems, overrides) from error
    except SceneFileError as error:
        for line in error.describe(str(arguments.scene)):
            terminal.problem(line)
        return Exit.INPUT
    return _answer(scene, own, arguments, terminal)


def _answer(scene: Scene, own: Choice, arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    from pipeline.report import choices
    from pipeline.room.choosing import holds_depth, seek

    hold_depth = holds_depth(scene) if arguments.hold is None else arguments.hold == "depth"
    rows = [_row(scene, own, distance, hold_depth) for distance in arguments.distances or _round_distances(own)]
    goals = {goal: wanted for goal in choices.NAMES if (wanted := getattr(arguments, goal)) is not None}
    if "smallest_unit" in goals and own.unit is None:
        raise InputError(
            "--smallest-unit: no surface of this scene has a cover to measure", "give one a cover, or leave it out"
        )
    sought = {
        goal: [seek(scene, own, goal, wanted, varied) for varied in ("eye.distance", "space.depth")]
        for goal, wanted in goals.items()
    }
    if arguments.picture is not None:
        _draw(scene, own, goals, arguments)
    if arguments.json:
        terminal.result(json.dumps(choices.document(own, rows, goals, sought, hold_depth), indent=2))
    elif not terminal.quiet:
        for line in (*choices.table(own, rows, hold_depth), *choices.found_lines(goals, sought)):
            terminal.result(line)
    missed = [goal for goal, found in sought.items() if not any(one.met for one in found)]
    for goal in missed:
        terminal.error(choices.unreachable(goal, goals[goal], sought[goal]))
    return Exit.INPUT if missed else Exit.DONE


def _round_distances(own: Choice) -> list[float]:
    from pipeline.report.trade_off import ticks

    return sorted({*ticks(own.distance / 2, own.distance * 2, about=ROWS), own.distance})


def _row(scene: Scene, own: Choice, distance: float, hold_depth: bool) -> Choice | str:
    """Return the choice at a distance, or why there is none."""
    from pipeline.elements.problems import SceneError
    from pipeline.room.choosing import row

    if distance == own.distance:
        return own
    try:
        return row(scene, own, distance, hold_depth=hold_depth)
    except SceneError as error:
        return f"{distance:g} mm: {error.problems[0].found}"


def _draw(scene: Scene, own: Choice, goals: dict[Goal, float], arguments: argparse.Namespace) -> None:
    from pipeline.commands.plain_files import write_over
    from pipeline.report.choices import trade_off
    from pipeline.report.trade_off import trade_off_svg

    if arguments.picture.suffix.lower() != ".svg":
        raise InputError(f"--picture {arguments.picture}: is drawn as SVG; allowed: a name that ends in .svg")
    if arguments.picture.exists() and arguments.picture.samefile(arguments.scene):
        raise InputError(f"{arguments.picture}: would be written over the scene; give another name")
    title = scene.title or arguments.scene.stem
    write_over(arguments.picture, trade_off_svg(trade_off(scene, own, goals, title, arguments.distances)))


COMMAND = Command(
    name="depth",
    summary="tell how deep a scene can look, from where, and seek the eye or the depth that gives a wanted figure",
    add_arguments=add_arguments,
    run=run,
    compiled=("numpy", "pydantic", "shapely"),
)
