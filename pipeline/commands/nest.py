"""``foreshorten nest``: a longer search for how the parts lie on their sheets, written beside the scene."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.terminal import Terminal

if TYPE_CHECKING:
    from pipeline.exports.cut_sheets import Pile
    from pipeline.sheets.nesting import Layout

MOST_SECONDS = 86_400


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take a scene and how long to search."""
    parser.add_argument("scene", metavar="SCENE", type=Path, help="scene file (.toml)")
    parser.add_argument(
        "--seconds", metavar="N", type=seconds, default=20.0, help="how long to search, s (default: 20)"
    )
    parser.add_argument("--seed", metavar="N", type=seed, default=1, help="another number tries other orders")
    scene_files.add_allowance(parser)
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors")


def seconds(text: str) -> float:
    """Return a number of seconds."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= MOST_SECONDS:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds from 0 to {MOST_SECONDS}, as in 60")
    return value


def seed(text: str) -> int:
    """Return a whole number."""
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of up to nine digits, as in 7")
    return int(text)


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Search, and write the layout file."""
    from pipeline.commands.layout_files import layout_path
    from pipeline.commands.mesh_files import read_named
    from pipeline.commands.plain_files import write_over
    from pipeline.scene.problems import SceneFileError
    from pipeline.scene.read import placed_error, read_scene

    text = scene_files.read_bytes(arguments.scene)
    try:
        files, problems = read_named(read_scene(text), arguments.scene.parent, arguments.allow_outside)
        if problems:
            raise placed_error(text, problems)
        layout, lines = searched_layout(
            arguments.scene,
            text,
            files,
            seconds=arguments.seconds,
            seed=arguments.seed,
            told=terminal.progress,
        )
    except SceneFileError as error:
        for line in error.describe(str(arguments.scene)):
            terminal.problem(line)
        return Exit.INPUT
    path = layout_path(arguments.scene)
    write_over(path, layout)
    if not terminal.quiet:
        terminal.result(f"{path}: used from now on, as long as it fits the parts; delete it to lay them anew")
        for line in lines:
            terminal.result(f"  {line}")
    return Exit.DONE


def _untold(piles: Iterable[Pile], total: int, what: str) -> Iterable[Pile]:
    return piles


def searched_layout(
    path: Path,
    text: bytes,
    files: dict[str, bytes],
    *,
    seconds: float,
    seed: int,
    settings: tuple[tuple[str, str], ...] = (),
    told: Callable[[Iterable[Pile], int, str], Iterable[Pile]] = _untold,
) -> tuple[bytes, list[str]]:
    """Return the layout file of the best layouts found in some seconds, and a line on each material.

    Parameters
    ----------
    path, text, files, settings
        The scene: its file for what is said, its text, the meshes it names, what is set over it.
    seconds, seed
        How long to search, and where to start.
    told
        Passes the materials on one by one, and may show how far the search is.

    Raises
    ------
    InputError
        If nothing of the scene is cut from sheet.
    pipeline.scene.problems.SceneFileError
        If the scene is at fault.
    """
    from pipeline.build import shape
    from pipeline.exports.cut_sheets import pile_up
    from pipeline.sheets.layouts import written_layout
    from pipeline.sheets.stock import filled_by

    shaped = shape(text, settings, files)
    piles = pile_up(shaped.pieces, shaped.scene.materials)
    if not piles:
        raise InputError(f"{path}: nothing in it is cut from sheet", "there is nothing to lay; build it as it is")
    lines, sheets = [], []
    whole = sum(len(pile.pieces) for pile in piles)
    for pile in told(piles, len(piles), "nesting"):
        layout, said = _searched(pile, seconds * len(pile.pieces) / whole, seed)
        sheets += filled_by(pile.stock, list(pile.pieces), list(pile.shapes), layout)
        lines.append(said)
    return written_layout(sheets), lines


def _searched(pile: Pile, share: float, chosen: int) -> tuple[Layout, str]:
    """Return the best layout of one material found in a number of seconds, and what is to be said of it."""
    from pipeline.sheets.searching import search
    from pipeline.sheets.stock import lay
    from pipeline.sheets.strips import available, squeeze

    stock, shapes = pile.stock, list(pile.shapes)
    start = lay(stock, shapes)
    strips = available() and share >= 2
    end = time.monotonic() + (share / 2 if strips else share)
    layout, tries = search(stock, shapes, start, chosen, lambda: time.monotonic() < end)
    if strips:
        layout = squeeze(stock, shapes, layout, chosen, share / 2)
    return layout, f"{stock.name}: {_told(start, pile)} at first, {_told(layout, pile)} after {tries} tries"


def _told(layout: Layout, pile: Pile) -> str:
    from pipeline.sheets.searching import worth

    count = len(layout.sheets)
    left = -worth(layout, pile.stock, list(pile.shapes))[2] / 100
    return f"{count} sheet{'s' * (count > 1)} with {left:.0f} cm2 left whole"


COMMAND = Command(
    name="nest",
    summary="search longer for how the parts lie on their sheets, and keep what was found beside the scene",
    add_arguments=add_arguments,
    run=run,
)
