"""Meshes of figures that are not flattened: as deep as stock figures of their scale.

The relief makes of a body one that is b / w^2 as deep along the hall where 1 / w is its height. What it is to make a
figure of true proportions from is that figure carried back, point by point: a collineation takes planes to planes, so
facets stay facets. On a floor that slopes it is sheared upright by the slope, so that its soles lie flat.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pipeline.elements.bodies import Block
from pipeline.elements.figure import FigureTable, standing_ground
from pipeline.elements.hall_shape import Hall
from pipeline.elements.mesh import outside
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.geometry.meshes import Mesh
from pipeline.relief.collineation import Relief
from pipeline.room.figuring import stand


def keep_deep(said: Imagined, figures: Sequence[FigureTable], hall: Hall, relief: Relief) -> Imagined:
    """Return what was said with the meshes of figures deep that are not to be flattened, and what then is wrong."""
    deep: dict[KeyPath, FigureTable] = {
        ("figures", k): one for k, one in enumerate(figures) if one.mesh is not None and one.flatten is False
    }
    if not deep:
        return said
    blocks: list[Block] = []
    problems: list[Problem] = []
    for block in said.blocks:
        table = deep.get(block.path)
        ground = None if table is None else standing_ground(table, hall)
        if table is None or ground is None:
            blocks.append(block)
            continue
        blocks.append(replace(block, mesh=_deep(block, table, hall, relief)))
        past = outside(table.name, table.at, hall.over(ground), block.path, blocks[-1].mesh)
        problems += [_too_deep(problem, block) for problem in past]
    return replace(said, blocks=tuple(blocks), problems=(*said.problems, *problems))


def _deep(block: Block, table: FigureTable, hall: Hall, relief: Relief) -> Mesh:
    standing = stand(table, hall, relief)
    x, y = (hall.millimetres(value) for value in table.at)
    ground = standing_ground(table, hall)
    foot = np.array([x, y, hall.floor + (0.0 if ground is None else ground.level)])
    shrunk = standing.height / hall.millimetres(table.height)
    built = np.array(standing.feet) + shrunk * (block.mesh.vertices - foot)
    built[:, 2] += math.tan(math.radians(standing.slope_deg)) * (built[:, 1] - standing.feet[1])
    return Mesh(vertices=relief.carry_back(built), triangles=block.mesh.triangles)


def _too_deep(problem: Problem, block: Block) -> Problem:
    return Problem(
        path=(*block.path, "flatten"),
        found=f"not flattened, {problem.found}",
        allowed="flatten = true, or a place with more room along the hall",
        remedy="take flatten out, or move it",
    )
