"""What an element says of itself: webs, facts, and all of it together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.laminations import Lamination
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.surfaces import Cut, Face, Mark, Sweep
from pipeline.geometry.curves import Path

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class WebEnd:
    """Where a web, or its rulings on one piece of a border, ends.

    Attributes
    ----------
    plane
        ``(4,)`` imagined plane the web ends on, (n, c) with n . x + c >= 0 on the web's side.
    against
        The part that stands there.
    """

    plane: tuple[float, float, float, float]
    against: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Web:
    """A curved visible imagined surface swept by parallel straight lines, its rulings: a cell of a vault.

    Attributes
    ----------
    id
        Part id.
    near, far
        Space curves, imagined mm, the same number of each; points of equal parameter are joined by rulings.
    section
        ``(x, z)`` curves of the barrel along the hall at the same parameters, in order from right to left.
    barrel
        All of that barrel from the right springing to the left one, parted at the crown; the lengths from the
        springing set the levels of the courses.
    imagined_from_section
        ``(4, 4)`` matrix from (x, z, u, 1): u runs along the rulings, from where the cover's perpends are measured.
    near_ends, far_ends
        What stands at each piece of the two borders.
    ends
        What stands at the first and at the last ruling.
    sheet
        What it is made of.
    printed
        Whether it is printed instead of bent.
    cover
        Key of ``[covers]``, or nothing.
    extent
        u up to which the cover is laid, imagined mm.
    covered
        How far beside a groin ribs cover it, imagined mm.
    bare_from
        Imagined y from which that, and what hides tips, is too slight: before the half ribs at the back wall.
    eased
        How much of its hidden side is taken off along its near border, built mm.
    hidden_below
        Height z under which tips too narrow to cut are hidden by something else; nothing where all of it is seen.
    path
        Where the scene file speaks of it.
    offer
        What to write in the scene for a print in its place.
    """

    id: str
    near: Path
    far: Path
    section: Path
    barrel: Path
    imagined_from_section: Array
    near_ends: tuple[WebEnd, ...]
    far_ends: tuple[WebEnd, ...]
    ends: tuple[WebEnd, WebEnd]
    sheet: SurfaceSheet
    printed: bool
    cover: str | None
    extent: float
    hidden_below: float | None
    path: KeyPath
    eased: float = 0.0
    covered: float = 0.0
    bare_from: float = math.inf
    offer: str = 'vault.webs = "print"'

    @property
    def generator(self) -> Array:
        """``(3,)`` imagined direction of the rulings, from near to far."""
        out: Array = self.imagined_from_section[:3, 2]
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One line for the report: what, how much, in which unit."""

    subject: str
    text: str


LAMP_CAUTIONS = ("LEDs and wires in a box",)
"""Subjects of what to mind with lamps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something to be done by hand before a part goes in that closes the way to it.

    ``cautions`` are subjects of what to mind with it.
    """

    before: str
    text: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Imagined:
    """All that elements say, in imagined mm.

    ``planes`` are faces that are not made; panels that end at them are cut along them. ``unseen`` are the ids of those
    among them, and of the ``unseen_webs``, that no eye in the eye box sees.
    """

    faces: tuple[Face, ...] = ()
    planes: tuple[Face, ...] = ()
    unseen: tuple[str, ...] = ()
    solids: tuple[Solid, ...] = ()
    blocks: tuple[Block, ...] = ()
    webs: tuple[Web, ...] = ()
    unseen_webs: tuple[Web, ...] = ()
    laminations: tuple[Lamination, ...] = ()
    cuts: tuple[Cut, ...] = ()
    sweeps: tuple[Sweep, ...] = ()
    marks: tuple[Mark, ...] = ()
    facts: tuple[Fact, ...] = ()
    tasks: tuple[Task, ...] = ()
    problems: tuple[Problem, ...] = ()


def gather(parts: list[Imagined]) -> Imagined:
    """Return everything the elements said as one."""
    return Imagined(
        faces=tuple(x for part in parts for x in part.faces),
        planes=tuple(x for part in parts for x in part.planes),
        unseen=tuple(x for part in parts for x in part.unseen),
        solids=tuple(x for part in parts for x in part.solids),
        blocks=tuple(x for part in parts for x in part.blocks),
        webs=tuple(x for part in parts for x in part.webs),
        unseen_webs=tuple(x for part in parts for x in part.unseen_webs),
        laminations=tuple(x for part in parts for x in part.laminations),
        cuts=tuple(x for part in parts for x in part.cuts),
        sweeps=tuple(x for part in parts for x in part.sweeps),
        marks=tuple(x for part in parts for x in part.marks),
        facts=tuple(x for part in parts for x in part.facts),
        tasks=tuple(x for part in parts for x in part.tasks),
        problems=tuple(x for part in parts for x in part.problems),
    )
