"""The six boards of a box.

A board is drawn as seen on its outside, which is what shows when the box is shut; z points toward the viewer and the
board fills z in [-thickness, 0], as panels do behind their visible face. The grain runs along x. Sides are drawn with
the lid upward, y from their back edge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.casework.fingers import Fingers, lay_fingers
from pipeline.casework.hinging import Hinging, hang_lid
from pipeline.casework.shell import Array, Shell, shell_of
from pipeline.geometry.curves import polygon
from pipeline.geometry.frames import rigid
from pipeline.geometry.regions import Region, loop_of
from pipeline.scene.box import Box

OUTWARD = {"bottom": (0, 0, -1), "top": (0, 0, 1), "left": (-1, 0, 0), "right": (1, 0, 0)}
THROUGH = ("bottom", "top")
"""Sides that run over the ends of the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebate:
    """A step taken out of a board's inside: what for, its corners on the board, flat mm, and its depth.

    It may reach past the board's outline, which bounds it.
    """

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """One board.

    Attributes
    ----------
    id, material, thickness
        Its name; the sheet it is laid on, or "" where it is cut by hand; mm.
    cut, hidden
        Outline on its outside and on its inside, which differ where the ends are mitred.
    rebates
        Steps in its inside.
    built_from_flat
        Rigid ``(4, 4)``.
    saw
        Flat y of the box's rim and of the lid's, mm, on a side; the saw takes out what lies between.
    """

    id: str
    material: str
    thickness: float
    cut: Region
    hidden: Region
    rebates: tuple[Rebate, ...]
    built_from_flat: Array
    saw: tuple[float, float] | None

    @property
    def corners(self) -> Array:
        """``(n, 2)`` corners of the outline on the outside, flat mm, counter-clockwise."""
        return np.array([edge.curve.start for edge in self.cut.outline])

    @property
    def fingered(self) -> bool:
        """Whether its ends have fingers."""
        return len(self.cut.outline) > 4

    @property
    def size(self) -> tuple[float, float]:
        """Length along the grain and width, over all, mm."""
        length, width = np.ptp(self.corners, axis=0)
        return float(length), float(width)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Casework:
    """A box to be made: its measures, its boards, and how its lid hangs."""

    shell: Shell
    boards: tuple[Board, ...]
    hinging: Hinging


def plan_casework(box: Box) -> Casework | None:
    """Return the boards of a box, or nothing where the scene does not say how it is made."""
    shell = shell_of(box)
    return None if shell is None else Casework(shell=shell, boards=make_boards(shell), hinging=hang_lid(shell))


def make_boards(shell: Shell) -> tuple[Board, ...]:
    """Return the boards of a shell: bottom, top, left, right, back, lid."""
    fingers = lay_fingers(shell) if shell.make.joint == "finger" else None
    sides = [_side(shell, name, fingers) for name in OUTWARD]
    return (*sides, _end(shell, "back"), _end(shell, "lid"))


def _side(shell: Shell, name: str, fingers: Fingers | None) -> Board:
    """Return one of the four sides.

    Along x its inside runs from ``past`` to ``past`` + length, ``past`` being how far its ends reach beyond.
    """
    make, through = shell.make, name in THROUGH
    length = shell.width if through else shell.height
    board, deep = make.board, shell.sides_deep
    past = board
    if not through and make.joint in ("butt", "rebate"):
        past = make.rebate_depth if make.joint == "rebate" else 0.0
    outline = _rectangle(0.0, length + 2 * past, deep)
    inner = outline
    if make.joint == "mitre":
        inner = _rectangle(past, past + length, deep)
    if fingers is not None:
        outline = inner = _fingered(shell, fingers, length, through)
    rebates = tuple(_corner_rebates(shell, length)) if make.joint == "rebate" and through else ()
    rebates += tuple(_end_rebates(shell, past, length))
    outward = np.array(OUTWARD[name], dtype=float)
    lidward = np.array([0.0, -1.0, 0.0])
    along = np.cross(lidward, outward)
    middle = outward * [shell.width / 2 + board, 0.0, shell.height / 2 + board] + [0.0, 0.0, shell.height / 2]
    origin = middle - along * (length / 2 + past) + [0.0, shell.back, 0.0]
    return Board(
        id=f"box-{name}",
        material=make.material or "",
        thickness=board,
        cut=_region(outline),
        hidden=_region(inner),
        rebates=rebates,
        built_from_flat=shell.built_from_shell @ rigid(along, lidward, outward, origin),
        saw=(shell.back, shell.back + make.saw),
    )


def _end(shell: Shell, name: str) -> Board:
    """Return the back board or the lid's, its grain along the longer way."""
    make, let_in = shell.make, shell.make.let_in_depth
    past = make.board if make.ends == "laid on" else let_in
    size = np.array([shell.width, shell.height]) + 2 * past
    outward = np.array([0.0, 1.0 if name == "back" else -1.0, 0.0])
    up = np.array([0.0, 0.0, 1.0])
    along = np.cross(up, outward)
    if size[1] > size[0]:
        along, up, size = up, np.cross(outward, up), size[::-1]
    place = shell.depth if name == "back" else -make.saw - make.room
    middle = np.array([0.0, place, shell.height / 2]) + outward * make.end_thickness
    outline = _rectangle(0.0, float(size[0]), float(size[1]))
    return Board(
        id=f"box-{name}",
        material=make.sheet_of_ends or "",
        thickness=make.end_thickness,
        cut=_region(outline),
        hidden=_region(outline),
        rebates=(),
        built_from_flat=shell.built_from_shell
        @ rigid(along, up, outward, middle - along * size[0] / 2 - up * size[1] / 2),
        saw=None,
    )


def _corner_rebates(shell: Shell, length: float) -> Iterator[Rebate]:
    """Yield what takes the ends of left and right, in the inside of top and bottom."""
    board, deep = shell.make.board, shell.sides_deep
    for name, start in (("first", 0.0), ("other", board + length)):
        yield Rebate(name=name, low=(start, 0.0), high=(start + board, deep), depth=shell.make.rebate_depth)


def _end_rebates(shell: Shell, past: float, length: float) -> Iterator[Rebate]:
    """Yield what takes back and lid boards that are let in; stopped where the side runs on past the corner."""
    make, depth = shell.make, shell.make.let_in_depth
    if depth == 0:
        return
    reach = min(depth, past)
    low, high = past - reach, past + length + reach
    deep, thick = shell.sides_deep, make.end_thickness
    yield Rebate(name="back", low=(low, 0.0), high=(high, thick), depth=depth)
    yield Rebate(name="lid", low=(low, deep - thick), high=(high, deep), depth=depth)


def _fingered(shell: Shell, fingers: Fingers, length: float, through: bool) -> Array:
    """Return the outline of a side with fingers, counter-clockwise from its lower left corner."""
    board = shell.make.board
    ups = shell.back - fingers.edges
    ups[0] = 0.0
    right = []
    for number, (low, high) in enumerate(pairwise(ups)):
        reach = board if fingers.of_top(number) == through else 0.0
        right += [(reach, low), (reach, high)]
    reaches = np.array(right)
    first = np.column_stack([board + length + reaches[:, 0], reaches[:, 1]])
    other = np.column_stack([board - reaches[::-1, 0], reaches[::-1, 1]])
    outline: Array = np.vstack([first, other])
    return outline


def _rectangle(x0: float, x1: float, high: float) -> Array:
    return np.array([[x0, 0.0], [x1, 0.0], [x1, high], [x0, high]])


def _region(points: Array) -> Region:
    return Region(loop_of(polygon(points)))
