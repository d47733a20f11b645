"""How deep the hall is built and looks, and where the eye stands: two of three figures, and the room there is."""

from __future__ import annotations

import math

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.relief import solve
from pipeline.relief.collineation import Relief
from pipeline.room.behind import ends_behind
from pipeline.room.frame import BARE
from pipeline.room.inside import Inside
from pipeline.room.refusing import refuse
from pipeline.room.surface_sheets import total
from pipeline.scene.model import Scene

LEAST_SCALE = 1e-3
"""Of the back wall: at less it is a fraction of a millimetre wide, and depths before it run into infinity."""
HALVINGS = 60
"""Of a depth that is sought: more than the digits of a number."""


def greatest_depth(scene: Scene, sheets: dict[str, SurfaceSheet], inside: Inside) -> float:
    """Return the built depth that the scene asks for, else the greatest that fits the box, mm."""
    deepest = inside.depth - scene.box.back_gap - total(sheets, "back-wall") - scene.box.clearance
    thick = thickest(sheets)
    if deepest <= scene.space.apron + thick:
        needed, make = inside.depth - deepest + scene.space.apron + thick, scene.box.make
        in_lid = scene.box.part == "lid" and make is not None
        less = f", less than the {thick:g} mm of a sheet" if deepest > scene.space.apron else ""
        refuse(
            ("box", "make", "lid") if in_lid else ("box", "depth"),
            f"back gap, back sheet, clearance and apron leave {deepest - scene.space.apron:.4g} mm of depth{less}",
            f"more than {needed + (make.end_thickness if in_lid and make is not None else 0.0):.4g} mm",
            "take a deeper box or a thinner sheet, or a smaller back_gap or apron",
        )
    wanted = scene.space.built_depth
    if wanted is None:
        return deepest
    if wanted > deepest + BARE:
        remedy = "make it smaller, or leave it out to use all of the box"
        refuse(("space", "built_depth"), f"{wanted:g} mm does not fit the box", f"at most {deepest:.4g} mm", remedy)
    if wanted <= scene.space.apron + thick:
        remedy = "make it deeper, or the apron shorter"
        ends = "on the apron" if wanted <= scene.space.apron else f"less than a sheet of {thick:g} mm behind the apron"
        allowed = f"above {scene.space.apron + thick:g} mm"
        refuse(("space", "built_depth"), f"{wanted:g} mm ends {ends}", allowed, remedy)
    return wanted


def thickest(sheets: dict[str, SurfaceSheet]) -> float:
    """Return the greatest thickness of what runs into the depth, mm; no hall is shallower than its own sheets."""
    return max(total(sheets, part) for part in ("floor", "ceiling", "left-wall", "right-wall"))


def depth_before_what_stands_behind(
    scene: Scene, sheets: dict[str, SurfaceSheet], width: float, deepest: float, inside: Inside
) -> float:
    """Return the deepest built depth that leaves room for all that stands behind the back wall, mm.

    It goes back with the wall through the same relief, so the depth is sought by halving.
    """
    back, floor = total(sheets, "back-wall"), total(sheets, "floor")
    behind = [
        end for table in scene.openings if table.wall == "back" for end in ends_behind(table, scene, width, back, floor)
    ]
    if not behind or scene.space.built_depth is not None:
        return deepest
    limit = inside.depth - scene.box.back_gap - scene.box.clearance

    def fits(built: float) -> bool:
        distance, apparent = distance_and_depth(scene, built, width)
        eye = (scene.eye.right, -distance, scene.eye.height)
        relief = Relief(eye=eye, apron=scene.space.apron, apparent_depth=apparent, built_depth=built)
        return all(relief.built_y(apparent + end.length) + end.thickness(relief) <= limit for end in behind)

    if fits(deepest):
        return deepest
    low, high = scene.space.apron, deepest
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if middle - scene.space.apron <= BARE:
            break
        low, high = (middle, high) if fits(middle) else (low, middle)
    if low <= scene.space.apron + thickest(sheets):
        left, there = low - scene.space.apron, deepest - scene.space.apron
        refuse(
            ("openings", next(number for number, table in enumerate(scene.openings) if table.wall == "back")),
            f"what ends behind openings of the back wall leaves {left:.2g} mm of the {there:.4g} mm of depth before it",
            f"what leaves more than {thickest(sheets):g} mm",
            "make the box deeper, or what is behind them shorter and thinner",
        )
    return low


def distance_and_depth(scene: Scene, built_depth: float, width: float) -> tuple[float, float]:
    """Return eye distance from the opening and apparent depth, mm; the reader has seen to it that two are given."""
    space, apron = scene.space, scene.space.apron
    built = built_depth - apron
    key = "back_scale" if space.back_scale is not None else "back_width"
    scale = space.back_scale if space.back_width is None else space.back_width / width
    distance = scene.eye.distance
    apparent = None if space.depth is None else _at_least(space.depth * 1000 / space.scale, built_depth)
    if apparent is not None and apparent - apron < built:
        needed = built_depth * space.scale / 1000
        refuse(
            ("space", "depth"),
            f"{space.depth:g} m is {apparent:.4g} mm at 1:{space.scale:g}, less than the built {built_depth:.4g} mm",
            f"at least {math.ceil(needed * 1000 - BARE) / 1000:g} m",
            "imagine a deeper room, or give a smaller space.built_depth",
        )
    try:
        if distance is not None and apparent is not None:
            solve.back_scale(distance + apron, apparent - apron, built)
        elif distance is not None and scale is not None:
            apparent = _at_least(solve.apparent_depth(distance + apron, scale, built) + apron, built_depth)
        elif apparent is not None and scale is not None:
            distance = solve.eye_distance(apparent - apron, scale, built) - apron
    except solve.UnsolvableError as error:
        refuse(
            ("space", key),
            str(error),
            "two of eye.distance, space.depth and a back scale that agree",
            "take out the back scale and give eye.distance and space.depth: these always agree",
        )
    if distance is None or apparent is None:
        raise AssertionError("the reader lets no scene pass without two of the three")
    if apparent - apron < built:
        refuse(
            ("space", key),
            f"this back scale puts the back wall at {apparent:.4g} mm, before the built one at {built_depth:.4g} mm",
            "a back scale below 1",
            "make the back scale smaller, or give space.depth in its place",
        )
    if (distance + built_depth) < LEAST_SCALE * (distance + apparent):
        deepest = ((distance + built_depth) / LEAST_SCALE - distance) * space.scale / 1000
        refuse(
            ("space", key if space.depth is None else "depth"),
            f"the back wall would be built at {(distance + built_depth) / (distance + apparent):.2g} of its size",
            f"at least {LEAST_SCALE:g}, which is a depth of {deepest:.4g} m at 1:{space.scale:g}",
            "imagine a shallower room, or raise space.scale",
        )
    if distance <= 0:
        refuse(
            ("space", key),
            f"the eye would have to stand {-distance:.4g} mm inside the box",
            "figures that put it before the opening",
            "make the back scale larger or the room deeper",
        )
    return distance, apparent


def _at_least(apparent: float, built_depth: float) -> float:
    """Return an apparent depth, the built one where it falls short of that by rounding only."""
    return built_depth if abs(apparent - built_depth) <= BARE else apparent
