"""What the tables of a scene file must agree on among themselves.

These checks read the parsed file, not the model, so that they speak up together with whatever else is wrong in it.
What has the wrong shape is passed over: the model refuses that.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

from pipeline.elements.hall_shape import HOSTS
from pipeline.elements.problems import KeyPath, Problem
from pipeline.scene.casing import BOARDS, casing_problems
from pipeline.scene.materials import MARGIN
from pipeline.scene.nearest import nearest
from pipeline.scene.stuff_names import stuff_names
from pipeline.scene.values import show, show_choices, show_path
from pipeline.scene.wording import bad_name
from pipeline.units import NAME_PATTERN, parse_length, part_id

SHEETS = ("left", "right", "back", "floor", "ceiling", "front")
NAMED = ("openings", "columns", "arches", "steps", "spiral_stairs", "meshes", "figures", "lights")
MADE_OF_SHEET = ("openings", "steps", "supports")
"""Tables, or arrays of them, that may name a material."""
FILLINGS = ("tracery", "door")
"""Tables within an opening that may."""
RESERVED = frozenset(
    ["con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))],
)
"""Names of devices on Windows, with any extension."""


def disagreements(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield the problems between the tables of a parsed scene file."""
    yield from relief_figures(data)
    yield from sheet_names(data)
    yield from part_materials(data)
    yield from step_covers(data)
    yield from element_names(data)
    yield from sheet_margins(data)
    yield from casing_problems(data)
    yield from box_materials(data)
    yield from stuff_names(data)
    make = _table(data, "make")
    yield from _reference(
        ("make", "stencil_material"), make.get("stencil_material"), list(_table(data, "materials")), "material"
    )
    if make.get("dxf") == "R12" and make.get("curves") == "splines":
        yield Problem(
            path=("make", "curves"), found="splines are asked of DXF R12, which has none", allowed='"arcs"',
            remedy='write curves = "arcs", or dxf = "R2010"',
        )  # fmt: skip
    for key, value in (("joint", "butt"), ("fillets", True)):
        if make.get(key) == value and make.get("edges", "bevel") != "square":
            yield Problem(
                path=("make", key), found=f"{show(value)} is of joints of square edges, and edges are bevelled",
                allowed='edges = "square" beside it', remedy=f'write edges = "square", or take {key} out',
            )  # fmt: skip
    for kind in ("covers", "materials"):
        yield from _names((((kind, key), key) for key in _table(data, kind)), {})


def relief_figures(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem unless exactly two of eye distance, apparent depth and back scale are given."""
    back = [key for key in ("back_scale", "back_width") if key in _table(data, "space")]
    given: list[KeyPath] = []
    if "distance" in _table(data, "eye"):
        given.append(("eye", "distance"))
    if "depth" in _table(data, "space"):
        given.append(("space", "depth"))
    given += [("space", key) for key in back]
    allowed = "exactly two of eye.distance, space.depth and space.back_scale (or space.back_width)"
    names = " and ".join(show_path(path) for path in given)
    if len(back) == 2:
        remedy = "take one of them out" if len(given) <= 3 else "take out two of the four"
        yield Problem(path=given[-1], found="back_scale and back_width are both given", allowed=allowed, remedy=remedy)
    elif len(given) == 3:
        yield Problem(path=given[-1], found=f"{names} are all given", allowed=allowed, remedy="take one of them out")
    elif len(given) == 1:
        yield Problem(path=("space",), found=f"only {names} is given", allowed=allowed, remedy="add one more")
    elif not given:
        found, remedy = (
            "none of the relief's figures is given",
            "begin with distance below [eye] and depth below [space]",
        )
        yield Problem(path=("space",), found=found, allowed=allowed, remedy=remedy)


def sheet_names(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each surface whose cover or material is not in the file, or cannot be told."""
    covers, materials = list(_table(data, "covers")), list(_table(data, "materials"))
    if "vault" in data and "ceiling" in data:
        yield Problem(
            path=("ceiling",),
            found="there are a ceiling and a vault",
            allowed="one of them: a vault replaces the ceiling",
            remedy="take [ceiling] or [vault] out",
        )
    covered = [name for name in SHEETS if name != "ceiling" or "vault" not in data]
    for name in (*covered, "vault"):
        table = data.get(name, {})
        if not isinstance(table, dict):
            continue
        yield from _reference((name, "cover"), table.get("cover"), covers, "cover")
        yield from _reference((name, "material"), table.get("material"), materials, "material")
        if name == "vault":
            yield from _reference((name, "rib_material"), table.get("rib_material"), materials, "material")
        built = table.get("build", True) is not False and (name not in ("front", "vault") or name in data)
        if built and "material" not in table and len(materials) > 1:
            yield Problem(
                path=(name, "material"),
                found="missing, and there are several materials",
                allowed=show_choices(materials),
                remedy=f'add material = "{materials[0]}" or another of them to [{name}]',
            )


def part_materials(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each material that an element or the supports name and the file has not."""
    known = list(_table(data, "materials"))
    for key in MADE_OF_SHEET:
        tables = data.get(key)
        if isinstance(tables, dict):
            yield from _reference((key, "material"), tables.get("material"), known, "material")
        for number, table in enumerate(tables if isinstance(tables, list) else []):
            if not isinstance(table, dict):
                continue
            for name in ("material", "barrel_material"):
                yield from _reference((key, number, name), table.get(name), known, "material")
            for part in FILLINGS:
                named = _table(table, part).get("material")
                yield from _reference((key, number, part, "material"), named, known, "material")


def box_materials(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each material that the boards of the box name and the file has not."""
    make = _table(_table(data, "box"), "make")
    for key in ("material", "end_material"):
        yield from _reference(("box", "make", key), make.get(key), list(_table(data, "materials")), "material")


def step_covers(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each cover that a flight of steps names and the file has not."""
    tables = data.get("steps")
    for number, table in enumerate(tables if isinstance(tables, list) else []):
        if isinstance(table, dict):
            path: KeyPath = ("steps", number, "cover")
            yield from _reference(path, table.get("cover"), list(_table(data, "covers")), "cover")


def element_names(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each name of an element that cannot name parts and files."""
    taken = {host: f"the part {host}" for host in HOSTS}
    if "make" in _table(data, "box"):
        taken |= {name: f"the board {name}" for name in BOARDS}
    named: list[tuple[KeyPath, str]] = []
    for kind in NAMED:
        tables = data.get(kind, [])
        for number, table in enumerate(tables if isinstance(tables, list) else []):
            name = table.get("name") if isinstance(table, dict) else None
            if isinstance(name, str):
                named.append(((kind, number, "name"), name))
    yield from _names(named, taken)


def sheet_margins(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each sheet and offcut of which its margins leave nothing."""
    for name, table in _table(data, "materials").items():
        if not isinstance(table, dict):
            continue
        margin = parse_length(table.get("margin", MARGIN), "mm")
        offcuts = table.get("offcuts", [])
        sizes: list[tuple[KeyPath, Any]] = [(("materials", name, "sheet"), table.get("sheet"))]
        sizes += [
            (("materials", name, "offcuts", number), size)
            for number, size in enumerate(offcuts if isinstance(offcuts, list) else [])
        ]
        for path, size in sizes:
            if not isinstance(size, list) or len(size) < 2 or margin is None:
                continue
            sides = [parse_length(side, "mm") for side in size[:2]]
            least = min((side for side in sides if side is not None and side > 0), default=None)
            if least is not None and least <= 2 * margin:
                yield Problem(
                    path=path, found=f"a margin of {margin:g} mm on both sides leaves nothing of {least:g} mm",
                    allowed=f"sheets wider and higher than {2 * margin:g} mm",
                    remedy=f"give materials.{name} a smaller margin, or a larger sheet",
                )  # fmt: skip


def _names(named: Iterable[tuple[KeyPath, str]], taken: dict[str, str]) -> Iterator[Problem]:
    for path, name in named:
        if not re.fullmatch(NAME_PATTERN, name):
            yield bad_name(path, name)
            continue
        own = part_id(name)
        if own in RESERVED:
            yield Problem(
                path=path,
                found=f"{show(name)} is the name of a device on some systems",
                allowed="any other name",
                remedy=f'add a word, as in "{name} 2"',
            )
        elif own in taken:
            found = f"{show(name)} gives the id {own}, which is that of {taken[own]}"
            allowed, remedy = "names that differ in more than case, spaces and hyphens", "rename one of the two"
            yield Problem(path=path, found=found, allowed=allowed, remedy=remedy)
        else:
            taken[own] = show_path(path[:-1] if path[-1] == "name" else path)


def _reference(path: KeyPath, name: Any, known: list[str], kind: str) -> Iterator[Problem]:
    if not isinstance(name, str) or name in known:
        return
    guess = nearest(name, known)
    yield Problem(
        path=path,
        found=f"there is no {kind} {show(name)}",
        allowed=show_choices(known) if known else "",
        remedy=f'did you mean "{guess}"?' if guess is not None else f"add a table [{kind}s.{name}]",
    )


def _table(data: dict[str, Any], key: str) -> dict[str, Any]:
    value = data.get(key)
    return value if isinstance(value, dict) else {}
