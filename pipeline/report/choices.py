"""Choices of eye and depth for people, for programs, and for the picture."""

from __future__ import annotations

from typing import Any

from pipeline.elements.problems import SceneError
from pipeline.report.trade_off import Curve, TradeOff, ticks
from pipeline.room.choosing import Choice, Goal, Sought, choose, figure
from pipeline.scene.model import Scene

NAMES: dict[Goal, str] = {"back_width": "back width", "rake": "rake", "smallest_unit": "smallest unit"}
UNITS: dict[Goal, str] = {"back_width": "mm", "rake": "degrees", "smallest_unit": "mm"}
POINTS = 40
"""Of a curve in the picture."""
DEPTHS = (0.5, 3.0)
"""From which to which share of the scene's own the picture has curves, at round depths."""


def table(own: Choice, rows: list[Choice | str], hold_depth: bool) -> list[str]:
    """Return the table, a line for each choice; a text in place of one says why there is none."""
    held = "the apparent depth" if hold_depth else "the back scale"
    lines = [
        f"{held} held while the eye moves; * is the scene's own",
        "    eye mm   apparent   back     back      at the   floor    left     right    ceiling  smallest",
        "                        scale    width mm  back 1:  rises    leans    leans    falls    unit mm",
    ]
    for choice in rows:
        if isinstance(choice, str):
            lines.append(f"  {choice}")
            continue
        mark = "*" if choice is own else " "
        lines.append(
            f"{mark} {choice.distance:8.1f} {choice.hall.metres(choice.depth):7.2f} m  {choice.relief.back_scale:7.4f}"
            f" {choice.back_width:9.1f} {choice.hall.scale / choice.relief.back_scale:8.1f}"
            f"  {_degrees(choice.rake_deg)} {' '.join(map(_degrees, choice.leans_deg))} {_unit(choice)}"
        )
    return lines


def _degrees(value: float) -> str:
    return f"{value:5.1f}\N{DEGREE SIGN}  "


def _unit(choice: Choice) -> str:
    unit = choice.unit
    return "   none" if unit is None else f"{unit.size:7.3f} ({unit.surface}, {unit.which})"


def found_lines(goals: dict[Goal, float], sought: dict[Goal, list[Sought]]) -> list[str]:
    """Return where each goal is met, in the scene file's own keys."""
    lines = []
    for goal, wanted in goals.items():
        lines.append(f"{NAMES[goal]} of {wanted:g} {UNITS[goal]}:")
        for found in sought[goal]:
            lines += [f"  {_place(found, choice)}" for choice in found.met] or [f"  {_reach(goal, found)}"]
    return lines


def _place(found: Sought, choice: Choice) -> str:
    deep = f"{choice.hall.metres(choice.depth):.3f} m ({choice.depth:.2f} mm)"
    scale = f"back scale {choice.relief.back_scale:.4f}"
    if found.varied == "eye.distance":
        return f"eye.distance = {choice.distance:.2f} mm, the apparent depth staying {deep}; {scale}"
    return f"space.depth = {deep}, the eye staying at {choice.distance:.2f} mm; {scale}"


def _reach(goal: Goal, found: Sought) -> str:
    if found.reach is None:
        return f"no {found.varied} leads to a room that can be built"
    low, high = found.reach
    return f"no {found.varied} gives it: that reaches {low:.4g} to {high:.4g} {UNITS[goal]}"


def unreachable(goal: Goal, wanted: float, found: list[Sought]) -> str:
    """Return why a goal is met nowhere, and how far one can come."""
    tried = "; ".join(_reach(goal, one) for one in found)
    return f"a {NAMES[goal]} of {wanted:g} {UNITS[goal]} is out of reach: {tried}"


def document(
    own: Choice,
    rows: list[Choice | str],
    goals: dict[Goal, float],
    sought: dict[Goal, list[Sought]],
    hold_depth: bool,
) -> dict[str, Any]:
    """Return everything for programs."""
    return {
        "held": "depth" if hold_depth else "back_scale",
        "own": _entry(own),
        "rows": [_entry(choice) for choice in rows if not isinstance(choice, str)],
        "refused": [choice for choice in rows if isinstance(choice, str)],
        "goals": [
            {
                "goal": goal,
                "wanted": wanted,
                "unit": UNITS[goal],
                "by": [
                    {
                        "varied": found.varied,
                        "reach": None if found.reach is None else [round(value, 6) for value in found.reach],
                        "met": [_entry(choice) for choice in found.met],
                    }
                    for found in sought[goal]
                ],
            }
            for goal, wanted in goals.items()
        ],
    }


def _entry(choice: Choice) -> dict[str, Any]:
    relief, unit = choice.relief, choice.unit
    left, right, ceiling = (round(value, 6) for value in choice.leans_deg)
    return {
        "eye_distance": round(choice.distance, 6),
        "apparent_depth": round(choice.depth, 6),
        "apparent_depth_m": round(choice.hall.metres(choice.depth), 9),
        "built_depth": round(relief.built_depth, 6),
        "back_scale": round(relief.back_scale, 12),
        "back_width": round(choice.back_width, 6),
        "vanishing_depth": None if relief.vanishing_depth is None else round(relief.vanishing_depth, 6),
        "rake_deg": round(choice.rake_deg, 6),
        "lean_deg": {"left": left, "right": right, "ceiling": ceiling},
        "smallest_unit": None
        if unit is None
        else {"size": round(unit.size, 6), "surface": unit.surface, "which": unit.which},
    }


def trade_off(
    scene: Scene, own: Choice, goals: dict[Goal, float], title: str, named: list[float] | None = None
) -> TradeOff:
    """Return what the picture shows, over the distances named, or from half the scene's own to twice."""
    near, far = own.distance / 2, own.distance * 2
    if named and min(named) < max(named):
        near, far = min(named), max(named)
    along = tuple(near + (far - near) * k / POINTS for k in range(POINTS + 1))
    order: tuple[Goal, ...] = ("back_width", "rake", "smallest_unit")
    curves = []
    least, most = (own.hall.metres(own.depth) * share for share in DEPTHS)
    round_depths = (own.hall.millimetres(metres) for metres in ticks(least, most))
    for depth in sorted({own.depth, *(depth for depth in round_depths if depth >= own.relief.built_depth)}):
        found = [_choice_or_none(scene, distance, depth) for distance in along]
        curves.append(
            Curve(
                label=f"{own.hall.metres(depth):.3g} m",
                own=depth == own.depth,
                figures=tuple(tuple(None if c is None else figure(c, goal) for c in found) for goal in order),
            )
        )
    return TradeOff(
        title=title,
        distances=along,
        charts=("Width of the built back wall, mm", "Rise of the floor, degrees", "Smallest side of a unit, mm"),
        curves=tuple(curves),
        own_distance=own.distance,
        own_figures=tuple(figure(own, goal) for goal in order),
        goals=tuple(goals.get(goal) for goal in order),
    )


def _choice_or_none(scene: Scene, distance: float, depth: float) -> Choice | None:
    try:
        return choose(scene, distance, depth)
    except SceneError:
        return None
