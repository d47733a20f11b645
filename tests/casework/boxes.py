"""Boxes to be made, and how tests put their written boards together again."""

from __future__ import annotations

import io
from itertools import combinations
from typing import Any

import ezdxf
import numpy as np
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold, OpType
from numpy.typing import NDArray

from pipeline.casework.boards import Casework, plan_casework
from pipeline.exports.board_drawing import draw_board
from pipeline.exports.drawing import COLOURS
from pipeline.exports.dxf import write_dxf
from pipeline.report.casework_entry import casework_entry
from pipeline.scene.box import Box

from ..scene_text import PLAIN, changed

Array = NDArray[np.float64]

JOINTS = ("butt", "mitre", "rebate", "finger")
ENDS = ("laid on", "let in")
EDGES = ("left", "right", "top", "bottom")


def box_of(part: str = "box", size: tuple[float, float, float] = (180.0, 150.0, 85.0), **make: Any) -> Box:
    """Return a box: boards of 6 mm, ends of 4, a lid of 24 sawn off with 1.2 unless told otherwise."""
    keys = {"board": 6.0, "end_board": 4.0, "lid": 24.0, "saw": 1.2} | make
    width, height, depth = size
    return Box.model_validate({"width": width, "height": height, "depth": depth, "part": part, "make": keys})


def planned(box: Box) -> Casework:
    """Return the casework of a box that has one."""
    casework = plan_casework(box)
    assert casework is not None
    return casework


@st.composite
def boxes(draw: st.DrawFn, joint: str, ends: str) -> Box:
    """Return any box of a joint and an end style that can be made."""

    def number(low: float, high: float) -> float:
        return round(draw(st.floats(low, high)), 3)

    board, end = number(2, 15), number(2, 12)
    room, depth = number(5, 60), number(30, 160)
    make: dict[str, Any] = {"board": board, "end_board": end, "joint": joint, "ends": ends, "lid": round(end + room, 3)}
    make |= {"saw": number(0.3, 3.5), "hinge": draw(st.sampled_from(EDGES))}
    if joint == "rebate":
        make["rebate"] = round(board * number(0.2, 0.9), 3)
    if joint == "finger" and draw(st.booleans()):
        make["finger"] = number(2.0, 2.5)
    if ends == "let in":
        make["let_in"] = draw(st.sampled_from([0.0, round(board * number(0.2, 0.9), 3)]))
    size = (number(40, 400), number(40, 400), depth)
    return box_of(draw(st.sampled_from(["box", "lid"])), size, **make)


def written(casework: Casework) -> tuple[dict[str, Any], dict[str, bytes]]:
    """Return the manifest's entry of a box, and the DXF file of every board by its id."""
    entry = casework_entry(casework)
    assert entry is not None
    return entry, {board.id: write_dxf(draw_board(casework, board, dict(COLOURS)), 0.02) for board in casework.boards}


def outlines(data: bytes, layer: str) -> list[Array]:
    """Return the corners ``(n, 2)`` of every polyline on a layer, as ezdxf reads them."""
    model = ezdxf.read(io.StringIO(data.decode())).modelspace()
    return [np.array(line.get_points("xy")) for line in model.query(f'LWPOLYLINE[layer=="{layer}"]')]


def body(board: dict[str, Any], data: bytes) -> Manifold:
    """Return a board from its file and its entry, where it stands, built mm."""
    (outside,) = outlines(data, "OUTLINE")
    inside = outlines(data, "BEVEL")
    thick = board["thickness"]
    if inside:  # mitred: a convex body between two rectangles
        corners = [*((*p, 0.0) for p in outside), *((*p, -thick) for p in inside[0])]
        made = Manifold.hull_points(np.array(corners))
    else:
        made = CrossSection([outside]).extrude(thick).translate((0, 0, -thick))
    for rebate in board["rebates"]:
        (x0, y0), (x1, y1) = rebate["low"], rebate["high"]
        # A hair more where it runs out at an edge, or a film of no thickness would stay.
        x0, y0 = (low - 1 if low <= 1e-6 else low for low in (x0, y0))
        x1, y1 = (
            high + 1 if high >= most - 1e-6 else high for high, most in zip((x1, y1), outside.max(axis=0), strict=True)
        )
        cut = Manifold.cube((x1 - x0, y1 - y0, rebate["depth"] + 1)).translate((x0, y0, -thick - 1))
        made -= cut
    return made.transform(np.array(board["built_from_flat"])[:3].tolist())


def assembled(casework: Casework) -> dict[str, Manifold]:
    """Return every board of a box as its file has it, where it stands, built mm."""
    entry, files = written(casework)
    return {board["id"]: body(board, files[board["id"]]) for board in entry["boards"]}


def union(bodies: list[Manifold]) -> Manifold:
    """Return all bodies as one."""
    return Manifold.batch_boolean(bodies, OpType.Add)


def overlap(bodies: dict[str, Manifold]) -> float:
    """Return the largest volume that two bodies share, mm^3."""
    return max(float((one ^ other).volume()) for one, other in combinations(bodies.values(), 2))


def block(low: tuple[float, float, float], high: tuple[float, float, float]) -> Manifold:
    """Return the box between two corners."""
    size = np.subtract(high, low)
    return Manifold.cube(tuple(size.tolist())).translate(low)


BOXED = changed(
    PLAIN,
    "back_gap = 4\n",
    'back_gap = 4\n\n[box.make]\nboard = 6\nend_board = 4\njoint = "finger"\nlid = 24\nsaw = 1.2\nmaterial = "ply"\n'
    '\n[left]\nmaterial = "foam"\n[right]\nmaterial = "foam"\n[back]\nmaterial = "foam"\n[floor]\nmaterial = "foam"\n'
    '[ceiling]\nmaterial = "foam"\n'
    '[materials.ply]\nthickness = 6\nprocess = "laser"\nkerf = 0.2\ngrain = true\nsheet = [500, 400]\n',
)
"""A plain room in a box of plywood, its ends of other stock."""
