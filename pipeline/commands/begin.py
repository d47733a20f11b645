"""``foreshorten begin``: a commented starter scene for one's own box, from flags or from a few questions."""

from __future__ import annotations

import argparse
import re
import shlex
import unicodedata
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.commands.disk_words import unwritten
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.plain_files import write_new
from pipeline.commands.scene_files import safe_stem
from pipeline.commands.terminal import Terminal
from pipeline.scene.starter import KINDS, Process, Wishes, starter_scene, stock

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

PROCESSES: dict[Process, str] = {
    "hand": "a scalpel and a ruler",
    "knife": "a knife cutter",
    "laser": "a laser cutter",
}
PAPERS = ("A4", "Letter", "A3")
NO_QUESTIONS = "answer each, or say it by options: begin --help lists them"
MOST = 10_000.0
"""mm; no shallow box is larger."""
NAMED_SHEETS = {"A4": (297.0, 210.0), "A3": (420.0, 297.0), "A2": (594.0, 420.0), "A1": (841.0, 594.0)}
"""mm, laid across; ISO 216."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take the new scene's name, and what is known of box, eye, room and bench."""
    parser.add_argument("name", metavar="NAME", help="name of the scene, or a path ending in it")
    parser.add_argument(
        "--box",
        metavar="WxHxD",
        type=box,
        help='inside width, height and depth, mm or with a unit: 180x150x85, "7x6x3in"',
    )
    parser.add_argument(
        "--sheet",
        metavar="WxH",
        type=sheet,
        help="of a sheet, or of the cutter's bed; or A4 to A1 (default: what holds the walls)",
    )
    parser.add_argument(
        "--eye", metavar="MM", type=length, dest="distance", help="distance of the eye from the opening"
    )
    parser.add_argument("--eye-height", metavar="MM", type=length, dest="height", help="above the inside bottom")
    parser.add_argument("--room", choices=list(KINDS), dest="kind", help="what it is to be (default: brick)")
    parser.add_argument("--cut", choices=list(PROCESSES), dest="process", help="what cuts the sheets (default: hand)")
    parser.add_argument("--thickness", metavar="MM", type=length, help="of the sheets, as measured (default: 2)")
    parser.add_argument("--paper", choices=PAPERS, help="for the templates (default: A4)")
    parser.add_argument(
        "--printer",
        action=argparse.BooleanOptionalAction,
        default=None,
        help="whether there is a 3D printer; without one nothing needs a machine (default: yes)",
    )
    parser.add_argument(
        "--ask",
        action=argparse.BooleanOptionalAction,
        default=None,
        help="ask for all of it (default: on a terminal, where none of it is given)",
    )
    parser.add_argument("-n", "--dry-run", action="store_true", help="show the scene and write nothing")
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors")


def length(text: str) -> float:
    """Return a length above zero in mm; a bare number is mm."""
    from pipeline.units import parse_length

    plain = re.fullmatch(r"\s*[0-9]*[.,]?[0-9]+\s*", text)
    value = float(text.replace(",", ".")) if plain else parse_length(text, "mm")
    if value is None or not 1 <= value <= MOST:
        raise argparse.ArgumentTypeError(f"{text!r} is not a length from 1 to {MOST:,.0f} mm, as in 180, 7in or 0.18m")
    return round(value, 3)


def box(text: str) -> tuple[float, float, float]:
    """Return three lengths in mm; one unit at the end goes for all that have none."""
    width, height, depth = _lengths(text, 3, "width x height x depth", "180x150x85")
    return width, height, depth


def sheet(text: str) -> tuple[float, float]:
    """Return two lengths in mm; one unit at the end goes for both, and A4 to A1 are known by name."""
    if (known := NAMED_SHEETS.get(text.strip().upper())) is not None:
        return known
    width, height = _lengths(text, 2, "width x height", "420x297; A4, A3, A2 or A1 will do too")
    return width, height


def _lengths(text: str, count: int, form: str, example: str) -> list[float]:
    sides = re.split(r"\s*[xX*\N{MULTIPLICATION SIGN}]\s*", text.strip())
    if len(sides) != count:
        raise argparse.ArgumentTypeError(f"{text!r} is not {form}, as in {example}")
    unit = re.search(r"[a-z]+\s*$", sides[-1])
    return [length(side if unit is None or re.search("[a-z]", side) else f"{side} {unit[0].strip()}") for side in sides]


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write ``NAME.toml``; never over a file that is there."""
    path = scene_path(arguments.name)
    given = {
        field.name: value for field in fields(Wishes) if (value := getattr(arguments, field.name, None)) is not None
    }
    wishes = replace(Wishes(title=Path(arguments.name.removesuffix(".toml")).name), **given)
    if path.exists() and not arguments.dry_run:
        raise InputError(f"{path}: exists already and was left alone; choose another name")
    ask = arguments.ask if arguments.ask is not None else not given and not arguments.quiet and terminal.can_ask()
    if ask:
        wishes = asked(wishes, terminal)
    text = starter_scene(checked(wishes))
    if arguments.dry_run:
        terminal.result(text.rstrip("\n"))
        return Exit.DONE
    try:
        write_new(path, text.encode())
    except FileExistsError:
        raise InputError(f"{path}: exists already and was left alone; choose another name") from None
    except OSError as error:
        raise InputError(*unwritten(path, error)) from None
    if not arguments.quiet:
        terminal.result(str(path))
        if wishes.box[2] > wishes.box[0]:
            sides = " x ".join(f"{side:g}" for side in wishes.box)
            terminal.message(f"note: {sides} mm is deeper than wide; width comes first, then height, then depth")
        terminal.message(f"next: foreshorten build {shlex.quote(str(path))}")
    return Exit.DONE


def asked(wishes: Wishes, terminal: Terminal) -> Wishes:
    """Return the wishes after a few questions; an empty answer takes what stands in brackets.

    Raises
    ------
    InputError
        If the answers end before the questions.
    """
    terminal.message("A few questions; Enter takes what stands in brackets, Ctrl-C leaves without writing anything.")
    for key, question, choices, shown, read in _questions(wishes):
        for name, words in choices.items():
            terminal.message(f"  {name:{max(map(len, choices))}}  {words}")
        answer = _answered(key, f"{question} [{shown}]: ", read, terminal)
        wishes = replace(wishes, **answer)
        checked(wishes)
    return wishes


def _answered(key: str, question: str, read: Callable[[str], object], terminal: Terminal) -> dict[str, Any]:
    """Ask until the answer can be read, and return it under its key; nothing for an empty one."""
    while True:
        answer = terminal.ask(question)
        if answer is None:
            raise InputError("the answers ended before the questions, and nothing was written", NO_QUESTIONS)
        if not answer.strip():
            return {}
        try:
            return {key: read(answer.strip())}
        except (argparse.ArgumentTypeError, InputError) as refusal:
            terminal.message(f"  {refusal}")


def _questions(wishes: Wishes) -> Iterator[tuple[str, str, Mapping[Any, str], str, Callable[[str], object]]]:
    """Yield key, question, choices with their words, what an empty answer means, and how an answer is read."""
    sides = "x".join(f"{side:g}" for side in wishes.box)
    yield "box", "Inside of the box, width x height x depth, mm or as in 31x22x9cm", {}, sides, box
    yield "distance", "How far in front of it is your eye, mm", {}, "what suits the box", length
    yield "kind", "Which room", KINDS, wishes.kind, _one_of(KINDS)
    yield "process", "What cuts the sheets", PROCESSES, wishes.process, _one_of(PROCESSES)
    yield "thickness", "How thick are they, mm, as measured", {}, f"{wishes.thickness:g}", length
    size = "x".join(f"{side:g}" for side in stock(wishes))
    yield "sheet", "How large is a sheet, or the cutter's bed, mm or as in A3", {}, size, sheet
    yield "printer", "Is there a 3D printer, yes or no", {}, "yes" if wishes.printer else "no", _yes
    yield "paper", f"Paper for templates, {', '.join(PAPERS)}", {}, wishes.paper, _one_of(dict.fromkeys(PAPERS, ""))


def _one_of(choices: Mapping[Any, str]) -> Callable[[str], str]:
    """Return what reads one of some names, its beginning, or a word that only its description has."""
    names: tuple[str, ...] = tuple(choices)

    def read(answer: str) -> str:
        near = [name for name in names if answer.casefold() in choices[name].casefold().split()]
        if len(near) == 1:
            return near[0]
        near = [name for name in names if name.casefold().startswith(answer.casefold())]
        exact = [name for name in names if name.casefold() == answer.casefold()]
        if len(near) != 1 and not exact:
            raise InputError(f"{answer!r} is none of these", f"type {' or '.join(names)}")
        return (exact or near)[0]

    return read


def _yes(answer: str) -> bool:
    return _one_of({"yes": "", "no": ""})(answer) == "yes"


def checked(wishes: Wishes) -> Wishes:
    """Return the wishes if a room can stand in the box.

    Raises
    ------
    InputError
        If something is not among what there is, the sheets fill the box, or the eye is not before the opening.
    """
    _refuse_foreign(wishes)
    width, height, depth = wishes.box
    least = 10 * wishes.thickness
    if min(width, height) < least or depth < 5 * wishes.thickness:
        raise InputError(
            f"a box of {width:g} x {height:g} x {depth:g} mm is filled by sheets of {wishes.thickness:g} mm; allowed: "
            f"{least:g} x {least:g} x {5 * wishes.thickness:g} mm or more, or a thinner sheet"
        )
    low, high = wishes.thickness, height - wishes.thickness - 1
    if wishes.height is not None and not low < wishes.height < high:
        raise InputError(
            f"an eye {wishes.height:g} mm up does not look into the opening; allowed: {low:g} to {high:g} mm"
        )
    return wishes


def _refuse_foreign(wishes: Wishes) -> None:
    """Refuse what no option could have given, as a script may."""
    choices: tuple[tuple[str, str, tuple[str, ...]], ...] = (
        ("kind", wishes.kind, tuple(KINDS)),
        ("process", wishes.process, tuple(PROCESSES)),
        ("paper", wishes.paper, PAPERS),
    )
    for name, value, known in choices:
        if value not in known:
            raise InputError(f"{name}: there is no {value!r}; choose from {', '.join(known)}")
    for name, many in (("box", 3), ("sheet", 2), ("thickness", 1), ("distance", 1), ("height", 1)):
        given = getattr(wishes, name)
        sides = given if many > 1 else [given]
        if given is not None and not (
            isinstance(sides, tuple | list) and len(sides) == many and all(map(_fits, sides))
        ):
            wanted = "a length" if many == 1 else f"{many} lengths"
            raise InputError(f"{name}: {given!r} is not {wanted} in mm; allowed: numbers from 1 to {MOST:,.0f}")


def _fits(side: object) -> bool:
    return isinstance(side, int | float) and 1 <= side <= MOST


def scene_path(name: str) -> Path:
    """Return the path to write, its last part made a plain file name of letters, digits, hyphens and underscores.

    Raises
    ------
    InputError
        If nothing is left of the name, or what is left cannot name a file.
    """
    given = Path(name.removesuffix(".toml"))
    plain = unicodedata.normalize("NFKD", given.name).encode("ascii", "ignore").decode()
    safe = re.sub(r"[^A-Za-z0-9_]+", "-", plain).strip("-")[:100]
    if not safe:
        raise InputError(f"{name!r}: no letters or digits to name a file by", 'name it as in "my room"')
    path = given.with_name(f"{safe}.toml")
    safe_stem(path)
    return path


COMMAND = Command(
    name="begin",
    summary="write a commented starter scene for your box that builds as it is",
    add_arguments=add_arguments,
    run=run,
    compiled=("pydantic",),
)
