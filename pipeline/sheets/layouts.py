"""A layout written down: what was found by a longer search, read again at every build.

It is JSON, in millimetres and whole quarter turns, so that a person can read it and move a part by hand:

    {"format": 1, "materials": {"foam": {"sheets": [
      {"size": [300, 200], "parts": [{"id": "floor", "turn": 90, "at": [5, 5]}]}]}}}

``at`` is where the lower left corner of all the part takes up lies once it is turned counter-clockwise by ``turn``
degrees. Nothing in it is trusted: whatever it says is held against the parts before it is used.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Annotated, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from pydantic import Field, ValidationError

from pipeline.geometry.frames import moved
from pipeline.sheets.nesting import Layout, Placed, corner_matrix
from pipeline.sheets.refusals import LayoutError
from pipeline.sheets.stock import Filled, Stock
from pipeline.units import Table

FORMAT = 1
DECIMALS = 3
"""A micron."""
SLACK = 2e-3
"""mm that parts may lie nearer than asked: two roundings."""
MOST_NAMED = 6
"""Parts named in a message."""

Coordinate = Annotated[float, Field(ge=-1e5, le=1e5, strict=False)]


class LaidPart(Table):
    """Where one part lies."""

    id: Annotated[str, Field(max_length=200)]
    turn: Literal[0, 90, 180, 270]
    at: Annotated[tuple[Coordinate, Coordinate], Field(strict=False)]


class LaidSheet(Table):
    """One sheet."""

    size: Annotated[tuple[Coordinate, Coordinate], Field(strict=False)]
    parts: Annotated[tuple[LaidPart, ...], Field(strict=False, max_length=5000)]


class LaidMaterial(Table):
    """All sheets of a material."""

    sheets: Annotated[tuple[LaidSheet, ...], Field(strict=False, max_length=1000)]

    @property
    def ids(self) -> list[str]:
        """Ids of the parts, in order."""
        return [part.id for sheet in self.sheets for part in sheet.parts]


class LaidScene(Table):
    """The whole file."""

    format: Literal[1]
    materials: Annotated[dict[str, LaidMaterial], Field(max_length=1000)]


def read_layout(data: bytes) -> LaidScene:
    """Return what a layout file says.

    Raises
    ------
    LayoutError
        If it is no layout, with the first thing that is wrong.
    """
    try:
        return LaidScene.model_validate(json.loads(data.decode("utf-8")))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise LayoutError(f"not a layout: {place or 'the whole file'}: {first['msg'].lower()}") from None
    except (ValueError, RecursionError) as error:
        raise LayoutError(f"not a layout: {str(error).splitlines()[0].lower()}") from None


def written_layout(sheets: Sequence[Filled]) -> bytes:
    """Return the layout of filled sheets as the bytes of a file."""
    materials: dict[str, list[str]] = {}
    for sheet in sheets:
        parts = ",\n    ".join(
            json.dumps(_part(name, matrix, shape))
            for (name, matrix), shape in zip(sheet.placed, sheet.footprints, strict=True)
        )
        size = json.dumps([round(side, DECIMALS) for side in sheet.size])
        text = f'  {{"size": {size}, "parts": [\n    {parts}]}}'
        materials.setdefault(sheet.stock.name, []).append(text)
    body = ",\n".join(
        f' {json.dumps(name)}: {{"sheets": [\n' + ",\n".join(texts) + "]}" for name, texts in materials.items()
    )
    return f'{{"format": {FORMAT}, "materials": {{\n{body}}}}}\n'.encode()


def _part(name: str, matrix: NDArray[np.float64], shape: shapely.Polygon) -> dict[str, object]:
    turn = round(float(np.degrees(np.arctan2(matrix[1, 0], matrix[0, 0])))) % 360
    return {"id": name, "turn": turn, "at": [round(float(x), DECIMALS) + 0.0 for x in shape.bounds[:2]]}


def refuse_other_parts(laid: LaidScene, parts: Mapping[str, Sequence[str]], too_large: Sequence[str] = ()) -> None:
    """Refuse a layout that is not one of these parts.

    Parameters
    ----------
    laid
        What the file says.
    parts
        The ids of all parts of each material.
    too_large
        Ids of parts that fit no sheet: the file need not lay them, and where it does, larger stock was meant.

    Raises
    ------
    LayoutError
        Naming what it has too many and too few.
    """
    known = {(material, name) for material, names in parts.items() for name in names}
    wanted = {(material, name) for material, name in known if name not in too_large}
    given = [(material, name) for material, one in laid.materials.items() for name in one.ids]
    strange = list(dict.fromkeys(name for name in given if name not in known))
    missing = sorted(wanted - set(given))
    twice = list(dict.fromkeys(name for name in given if given.count(name) > 1))
    said = [
        f"{what} {_named(names)}"
        for what, names in (
            ("it has", strange),
            ("it lacks", missing),
            ("it has twice", [name for name in twice if name not in strange]),
        )
        if names
    ]
    if said:
        raise LayoutError(f"a layout of other parts: {'; '.join(said)}")


def _named(names: Sequence[tuple[str, str]]) -> str:
    text = ", ".join(f"{name} of {material}" for material, name in names[:MOST_NAMED])
    return text if len(names) <= MOST_NAMED else f"{text} and {len(names) - MOST_NAMED} more"


def laid_out(
    laid: LaidMaterial, stock: Stock, names: Sequence[str], shapes: Sequence[shapely.Polygon]
) -> tuple[Layout, str]:
    """Return the layout a file asks for, and why it does not fit the parts as they are now, or nothing.

    Parameters
    ----------
    laid
        What the file says of this material; its parts are among ``names``.
    stock
        The material.
    names, shapes
        Ids of all its parts, and what each takes up in its flat frame, mm.
    """
    placed = []
    for number, sheet in enumerate(laid.sheets):
        for part in sheet.parts:
            index = names.index(part.id)
            matrix = corner_matrix(shapes[index], part.turn)
            shift = np.array([[1.0, 0, part.at[0]], [0, 1, part.at[1]], [0, 0, 1]])
            placed.append(Placed(part=index, sheet=number, sheet_from_flat=shift @ matrix))
    layout = Layout(
        placed=tuple(sorted(placed, key=lambda one: one.part)),
        sheets=tuple(sheet.size for sheet in laid.sheets),
        left_over=tuple(i for i, name in enumerate(names) if name not in laid.ids),
    )
    return layout, misfit(layout, stock, names, shapes)


def misfit(layout: Layout, stock: Stock, names: Sequence[str], shapes: Sequence[shapely.Polygon]) -> str:
    """Return what is wrong with a layout, or nothing: sheets there are not, grain, margins, parts too near."""
    offcuts = list(stock.offcuts)
    for size in layout.sheets:
        if size in offcuts:
            offcuts.remove(size)
        elif size != stock.size:
            return f"there is no {stock.name} of {size[0]:g} x {size[1]:g} mm, or no more"
    for number, size in enumerate(layout.sheets):
        here = [one for one in layout.placed if one.sheet == number]
        lying = [moved(shapes[one.part], one.sheet_from_flat) for one in here]
        for one, shape in zip(here, lying, strict=True):
            name = names[one.part]
            if stock.grain and abs(one.sheet_from_flat[0, 0]) < 0.5:
                return f"{name} lies across the grain of the {stock.name}"
            low_x, low_y, high_x, high_y = shape.bounds
            over = max(stock.margin - low_x, stock.margin - low_y, high_x - size[0] + stock.margin,
                       high_y - size[1] + stock.margin)  # fmt: skip
            if over > SLACK:
                return f"{name} reaches {over:.2f} mm into the margin of {stock.name} sheet {number + 1}"
        tree = shapely.STRtree(lying)
        i, j = tree.query(lying, predicate="dwithin", distance=stock.gap - SLACK)
        for a, b in zip(i.tolist(), j.tolist(), strict=True):
            if a < b:
                apart = float(lying[a].distance(lying[b]))
                said = f"{apart:.2f} mm apart, less than {stock.gap:g}" if apart > 0 else "on one another"
                return f"{names[here[a].part]} and {names[here[b].part]} would lie {said}"
    return ""
