"""What another eye distance or another apparent depth would mean, for choosing one before anything is built.

Terms
-----
choice
    One eye distance and one apparent depth, and the figures that follow.
held
    What stays while the eye moves: the apparent depth, or the back scale, which the depth then follows.
goal
    A figure somebody wants: a back wall so wide, a floor so steep, no unit smaller than this.
reach
    The least and the greatest that a figure becomes while one thing varies over all that is sought through.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from pipeline.elements.hall_shape import Hall
from pipeline.elements.problems import SceneError
from pipeline.relief import solve
from pipeline.relief.collineation import Relief
from pipeline.room.leaning import leans_deg, rake_deg
from pipeline.room.measure import bare_room
from pipeline.room.smallest_unit import Side, smallest_unit
from pipeline.scene.model import Scene

Goal = Literal["back_width", "rake", "smallest_unit"]
Varied = Literal["eye.distance", "space.depth"]

NEAREST_EYE, FARTHEST_EYE = 20.0, 20_000.0
"""mm; no eye is nearer to a box, and from beyond a hundred box depths nothing changes any more."""
DEEPEST = 200.0
"""Times the built depth; at any eye distance above the back scale is then that of a point."""
STEPS = 96
"""Of what is sought through, in equal ratios; between two of them a figure turns at most once."""
HALVINGS = 60
"""Of the step the goal lies in: more than the digits of a number."""
SAME = 1e-9
"""Share by which two figures differ that are the same but for rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """An eye distance and an apparent depth, mm, and what follows.

    Attributes
    ----------
    hall, relief
        As they would be.
    back_width
        Of the built back wall, mm.
    rake_deg
        How steeply the floor rises.
    leans_deg
        Of the left wall, the right wall and the ceiling (also where a vault takes its place: at the crown).
    unit
        Smallest side of a unit, or nothing where no surface has a cover.
    """

    hall: Hall
    relief: Relief
    back_width: float
    rake_deg: float
    leans_deg: tuple[float, float, float]
    unit: Side | None

    @property
    def distance(self) -> float:
        """Eye distance from the opening, mm."""
        return -self.relief.eye[1]

    @property
    def depth(self) -> float:
        """Apparent depth from the opening, mm."""
        return self.relief.apparent_depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """Where a goal is met while one thing varies.

    Attributes
    ----------
    varied
        What varies; the other stays as the scene has it.
    met
        The choices that meet the goal, the nearest to the scene's own first.
    reach
        (least, greatest) the figure becomes, or nothing where it has none at all.
    """

    varied: Varied
    met: tuple[Choice, ...]
    reach: tuple[float, float] | None


def own_choice(scene: Scene) -> Choice:
    """Return the scene's own choice.

    Raises
    ------
    SceneError
        If the room does not fit the box, no relief has these figures, or the eye does not see into the hall.
    """
    bare = bare_room(scene)
    return Choice(
        hall=bare.hall,
        relief=bare.relief,
        back_width=bare.relief.back_scale * bare.hall.width,
        rake_deg=rake_deg(bare.relief, bare.hall),
        leans_deg=leans_deg(bare.relief, bare.hall),
        unit=smallest_unit(scene, bare.hall, bare.relief),
    )


def choose(scene: Scene, distance: float, depth: float) -> Choice:
    """Return the choice of an eye distance and an apparent depth, both from the opening, mm.

    Raises
    ------
    SceneError
        As ``own_choice`` does.
    """
    eye = scene.eye.model_copy(update={"distance": distance})
    given = {"depth": depth * scene.space.scale / 1000, "back_scale": None, "back_width": None}
    return own_choice(scene.model_copy(update={"eye": eye, "space": scene.space.model_copy(update=given)}))


def holds_depth(scene: Scene) -> bool:
    """Return whether the scene says how deep the room looks, and not only how small its back wall is."""
    return scene.space.depth is not None


def row(scene: Scene, own: Choice, distance: float, *, hold_depth: bool) -> Choice:
    """Return the choice at another eye distance, the apparent depth or the back scale held.

    Raises
    ------
    SceneError
        As ``own_choice`` does.
    """
    if hold_depth:
        return choose(scene, distance, own.depth)
    apron, built = own.relief.apron, own.relief.built_depth
    depth = solve.apparent_depth(distance + apron, own.relief.back_scale, built - apron) + apron
    return choose(scene, distance, max(depth, built))


def figure(choice: Choice, goal: Goal) -> float | None:
    """Return the figure a goal is about; nothing where there is none."""
    if goal == "back_width":
        return choice.back_width
    if goal == "rake":
        return choice.rake_deg
    return None if choice.unit is None else choice.unit.size


def seek(scene: Scene, own: Choice, goal: Goal, wanted: float, varied: Varied) -> Sought:
    """Return where a goal is met while the eye distance or the apparent depth varies and the other stays."""
    if varied == "eye.distance":
        start, tried = own.distance, np.geomspace(NEAREST_EYE, FARTHEST_EYE, STEPS)

        def choice_at(value: float) -> Choice:
            return choose(scene, value, own.depth)
    else:
        built = own.relief.built_depth
        start, tried = own.depth, np.geomspace(built, DEEPEST * built, STEPS)

        def choice_at(value: float) -> Choice:
            return choose(scene, own.distance, value)

    known = list(_possible(choice_at, goal, tried))
    if not known:
        return Sought(varied=varied, met=(), reach=None)
    reach = (min(found for _, found in known), max(found for _, found in known))
    places = sorted(_crossings(choice_at, goal, wanted, known), key=lambda place: abs(np.log(place / start)))
    return Sought(varied=varied, met=tuple(map(choice_at, places)), reach=reach)


def _possible(
    choice_at: Callable[[float], Choice], goal: Goal, tried: Iterable[np.float64]
) -> Iterator[tuple[float, float]]:
    """Yield each place that can be built and the figure there."""
    for value in map(float, tried):
        try:
            found = figure(choice_at(value), goal)
        except SceneError:
            continue
        if found is not None:
            yield value, found


def _crossings(
    choice_at: Callable[[float], Choice], goal: Goal, wanted: float, known: list[tuple[float, float]]
) -> Iterator[float]:
    """Yield where the figure becomes what is wanted, by halving every step it does so in."""
    first, start = known[0]
    if abs(start - wanted) <= SAME * max(abs(wanted), 1.0):
        yield first
    for (low, at_low), (high, at_high) in pairwise(known):
        if not (at_low - wanted) * (at_high - wanted) < 0 and at_high != wanted:
            continue
        below, above = low, high
        for _ in range(HALVINGS):
            middle = (below + above) / 2
            found = figure(choice_at(middle), goal)
            if found is None or (found - wanted) * (at_low - wanted) <= 0:
                above = middle
            else:
                below = middle
        yield above
