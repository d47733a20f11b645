"""Plan and section of the box, dimensioned, with the eye and what it is to believe.

Along and up are as in ``drawing_layout``.

Terms
-----
ghost
    The imagined room, dashed, running out through the back of the box.
"""

from __future__ import annotations

import math

import numpy as np

from pipeline.report import draughting as pen
from pipeline.report import sections
from pipeline.report.drawing_layout import ROW, Layout, Places, Spot, Subject, View, lay_out

LEAST_OFFSET = 0.05
"""mm; an eye nearer to the middle stands in the middle."""
ANGLE_BEHIND = 16.0
"""mm of paper between the box's back and the arc of an angle, where there is room for it."""

PLAN_AXES = np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]])
SECTION_AXES = np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]])
"""Built directions of (along, up, toward the viewer)."""


def plan_svg(subject: Subject) -> bytes:
    """Return the plan, cut level with the eye and seen from above."""
    box, hall = subject.box, subject.hall
    half = box.width / 2
    outline = subject.plan or ((0.0, half), (box.depth, half), (box.depth, -half), (0.0, -half))
    return _draw(
        subject,
        View(
            kind="plan",
            heading=f"Plan, cut {pen.size(subject.relief.eye[2])} mm above the inside bottom, level with the eye",
            box=_spread(outline),
            hall=(-hall.width / 2, hall.width / 2),
            eye=-subject.relief.eye[0],
            across="width",
            outline=outline,
            most=" at its widest" if subject.plan else "",
        ),
    )


def section_svg(subject: Subject) -> bytes:
    """Return the upright section through the eye, seen from the right."""
    box, hall = subject.box, subject.hall
    outline = subject.section or ((0.0, box.height), (box.depth, box.height), (box.depth, 0.0), (0.0, 0.0))
    return _draw(
        subject,
        View(
            kind="section",
            heading="Section along the box through the eye, seen from the right",
            box=_spread(outline),
            hall=(hall.floor, hall.floor + hall.height),
            eye=subject.relief.eye[2],
            across="height",
            outline=outline,
            most=" at its highest" if subject.section else "",
        ),
    )


def _spread(outline: Places) -> tuple[float, float]:
    """Return the lowest and the highest place of an outline."""
    return min(up for _, up in outline), max(up for _, up in outline)


def _draw(subject: Subject, view: View) -> bytes:
    layout = lay_out(subject, view)
    parts = [
        *_bodies(subject, view, layout),
        *_sight_lines(subject, view, layout),
        *_box(view, layout),
        *_across_sizes(subject, view, layout),
        *_along_sizes(subject, view, layout),
        *_angles(subject, view, layout),
        *_title_block(subject, view, layout),
    ]
    return pen.sheet(
        *layout.size, title=f"{subject.title}: {view.kind}", words=view.heading, hatches=_hatches(view), parts=parts
    )


def _hatches(view: View) -> tuple[pen.Hatch, pen.Hatch]:
    return (
        pen.Hatch(id=f"{view.kind}-sheet", angle_deg=45, spacing=1.1, stroke="#8a6430", ground="#f6ead2"),
        pen.Hatch(id=f"{view.kind}-print", angle_deg=-45, spacing=0.8, stroke="#456", ground="#dfe8ee"),
    )


def _bodies(subject: Subject, view: View, layout: Layout) -> list[str]:
    """Return what lies behind the cut, the farthest first, and the cut bodies over it."""
    ex, _, ez = subject.relief.eye
    toward, offset = (PLAN_AXES[2], ez) if view.kind == "plan" else (SECTION_AXES[2], ex)
    along, up, _ = PLAN_AXES if view.kind == "plan" else SECTION_AXES
    sheet_hatch, print_hatch = _hatches(view)
    bodies = [(mesh, sheet_hatch) for mesh in subject.panels] + [(mesh, print_hatch) for mesh in subject.prints]
    bodies = [(mesh, hatch) for mesh, hatch in bodies if len(mesh.triangles)]
    behind = sorted((mesh for mesh, _ in bodies), key=lambda mesh: float((mesh.vertices @ toward).max()))
    parts = [pen.faint_area(layout.loops(sections.outline(mesh, along, up, offset))) for mesh in behind]
    for mesh, hatch in bodies:
        loops = [np.column_stack([loop @ along, loop @ up]) for loop in sections.cut(mesh, toward, offset)]
        parts.append(pen.area(layout.loops(loops), hatch))
    return parts


def _box(view: View, layout: Layout) -> list[str]:
    walls = [layout.spot(*place) for place in view.outline]
    x, y = layout.spot(*view.outline[0])
    return [pen.polyline(walls, "heavy"), pen.note((x - 1.5, y - 1.5), "opening", anchor="end")]


def _built_back(subject: Subject, view: View) -> tuple[float, float]:
    """Return the built back wall's (low, high), up; it begins at the floor behind the last steps."""
    low, high = _lower_line(subject, view)[-1][1], view.hall[1]
    scale = subject.relief.back_scale
    return view.eye + (low - view.eye) * scale, view.eye + (high - view.eye) * scale


def _lower_line(subject: Subject, view: View) -> list[Spot]:
    """Return the imagined room's lower line from the opening to the back: the floors, and the flights between them."""
    low, deep = view.hall[0], subject.relief.apparent_depth
    if view.kind == "plan" or not subject.hall.grounds:
        return [(0.0, low), (deep, low)]
    return [(at, low + ground.level) for ground in subject.hall.grounds for at in (ground.near, ground.far)]


def _before(line: list[Spot], end: float) -> list[Spot]:
    """Return what of a line lies before a depth."""
    along, up = np.array(line).T
    kept = [spot for spot in line if spot[0] < end]
    return [*kept, (end, float(np.interp(end, along, up)))]


def _sight_lines(subject: Subject, view: View, layout: Layout) -> list[str]:
    """Return the imagined room, the rays, the built lines' way to the vanishing point, and the eye."""
    relief, end = subject.relief, layout.end
    deep, built = relief.apparent_depth, relief.built_depth
    eye = (relief.eye[1], view.eye)
    shown = min(deep, end)
    parts = []
    lines = (_before(_lower_line(subject, view), shown), [(0.0, view.hall[1]), (shown, view.hall[1])])
    for up, back, line in zip(view.hall, _built_back(subject, view), lines, strict=True):
        parts.append(pen.polyline([layout.spot(*place) for place in line], "ghost"))
        parts += _ray(layout, eye, (0.0, up), "ray")
        parts += _ray(layout, eye, (built, back), "ray")
        on = (shown - built) / (built - eye[0])
        parts.append(
            pen.polyline([layout.spot(built, back), layout.spot(shown, back + on * (back - view.eye))], "ghost")
        )
    low, high = (layout.spot(*line[-1]) for line in lines)
    if deep <= end:
        parts.append(pen.polyline([low, high], "ghost"))
        words = "imagined back wall"
        clear = low[0] > layout.spot(subject.box.depth, 0)[0] + 2 * ROW
        if clear and pen.width_of(words) < 0.8 * (low[1] - high[1]):
            parts.append(pen.note((low[0] + 4.6, (low[1] + high[1]) / 2), words, anchor="middle", turn=True))
    else:
        parts.append(pen.break_mark(low[0], high[1] - 3, low[1] + 3))
    if layout.missing:
        x = layout.origin[0] - layout.scale * layout.near
        parts.append(pen.break_mark(x, layout.spot(0, max(view.box))[1], layout.spot(0, min(view.box))[1]))
    parts += _vanishing(subject, view, layout)
    at = layout.spot(*eye)
    return [*parts, pen.eye_mark(at), pen.note((at[0] - 1, at[1] - 4), "eye", anchor="end")]


def _ray(layout: Layout, eye: Spot, target: Spot, style: str) -> list[str]:
    """Return the ray from the eye to a place, in two pieces where a length is left out."""
    if not layout.missing:
        return [pen.polyline([layout.spot(*eye), layout.spot(*target)], style)]
    slope = (target[1] - eye[1]) / (target[0] - eye[0])

    def at(along: float) -> Spot:
        return layout.spot(along, eye[1] + slope * (along - eye[0]))

    gap = 1.5 / layout.scale
    first, last = eye[0] + layout.near - gap, -layout.near + gap
    return [pen.polyline([at(eye[0]), at(first)], style), pen.polyline([at(last), at(target[0])], style)]


def _vanishing(subject: Subject, view: View, layout: Layout) -> list[str]:
    relief = subject.relief
    depth = relief.vanishing_depth
    if depth is None:
        return []
    parts = []
    shown = min(depth, layout.end)
    for back in _built_back(subject, view):
        on = (shown - relief.built_depth) / (depth - relief.built_depth)
        points = [layout.spot(relief.built_depth, back), layout.spot(shown, back + on * (view.eye - back))]
        parts.append(pen.polyline(points, "axis"))
    parts += _ray(layout, (relief.eye[1], view.eye), (shown, view.eye), "axis")
    if depth <= layout.end:
        x, y = layout.spot(depth, view.eye)
        parts.append(pen.polyline([(x - 1.6, y - 1.6), (x + 1.6, y + 1.6)], "line"))
        parts.append(pen.polyline([(x - 1.6, y + 1.6), (x + 1.6, y - 1.6)], "line"))
        if depth > relief.apparent_depth:  # else the imagined back wall's words stand there; its dimension names it
            parts.append(pen.note((x + 3, y + 1.2), "vanishing point"))
    return parts


def _across_sizes(subject: Subject, view: View, layout: Layout) -> list[str]:
    """Return the dimensions that run across: room and box before the opening, back wall behind the box, eye."""
    built, depth = subject.relief.built_depth, subject.box.depth
    x, _ = layout.origin
    low, high = view.hall
    back_low, back_high = _built_back(subject, view)
    room = f"room {view.across} {pen.size(high - low)}"
    parts = [
        pen.dimension_up(layout.spot(0, low), layout.spot(0, high), x - ROW, room),
        pen.dimension_up(
            layout.spot(0, view.box[0]), layout.spot(0, view.box[1]), x - 2 * ROW,
            f"box {view.across}{view.most} {pen.size(view.box[1] - view.box[0])}",
        ),
        pen.dimension_up(
            layout.spot(built, back_low), layout.spot(built, back_high), layout.spot(depth, 0)[0] + ROW,
            f"back {view.across} {pen.size(back_high - back_low)}",
        ),
    ]  # fmt: skip
    foot, words = (0.0, "right of the middle") if view.kind == "plan" else (view.box[0], "eye height")
    away = view.eye - foot
    if abs(away) >= LEAST_OFFSET:
        eye = layout.spot(subject.relief.eye[1], view.eye)
        base = layout.spot(subject.relief.eye[1], foot)
        parts.append(pen.polyline([base, layout.spot(0, foot)], "thin"))
        below, above = (base, eye) if away > 0 else (eye, base)
        parts.append(pen.dimension_up(below, above, eye[0] - ROW, f"{words} {pen.size(abs(away))}"))
    return parts


def _along_sizes(subject: Subject, view: View, layout: Layout) -> list[str]:
    """Return the dimensions that run along: what is built below, what is imagined above."""
    relief, box, hall = subject.relief, subject.box, subject.hall
    low, high = min(view.box[0], view.eye), max(view.box[1], view.eye)
    below, above = layout.spot(0, low)[1] + ROW + 1, layout.spot(0, high)[1] - ROW - 2
    front, floor = layout.spot(0, view.box[0]), layout.spot(box.depth, view.box[0])
    back_low = _built_back(subject, view)[0]
    eye = layout.spot(relief.eye[1], view.eye)
    built = layout.spot(relief.built_depth, back_low)
    parts = [
        pen.dimension_across(eye, front, below, f"eye distance {pen.size(-relief.eye[1])}"),
        pen.dimension_across(front, built, below, f"built depth {pen.size(relief.built_depth)}"),
        pen.dimension_across(front, floor, below + ROW, f"box depth {pen.size(box.depth)}"),
    ]
    if box.back_gap > 0:
        gap = layout.spot(box.depth - box.back_gap, view.box[0])
        parts.append(pen.dimension_across(gap, floor, below + 2 * ROW, f"kept free {pen.size(box.back_gap)}"))
    top = layout.spot(0, view.box[1])
    shown = layout.spot(min(relief.apparent_depth, layout.end), view.hall[1])
    words = f"apparent depth {pen.size(relief.apparent_depth)} ({hall.metres(relief.apparent_depth):.2f} m)"
    above_sizes = [(shown, words)]
    vanishing = relief.vanishing_depth
    if vanishing is not None and vanishing <= layout.end:
        above_sizes.append((layout.spot(vanishing, view.eye), f"vanishing depth {pen.size(vanishing)}"))
    top = layout.spot(0, view.box[1])
    for row, (place, words) in enumerate(sorted(above_sizes)):
        parts.append(pen.dimension_across(top, place, above - row * ROW, words))
    return parts


def _angles(subject: Subject, view: View, layout: Layout) -> list[str]:
    """Return how far the built walls, floor or ceiling lean from the imagined ones."""
    relief = subject.relief
    if relief.vanishing_depth is None:
        return []
    parts = []
    radius = layout.scale * (subject.box.depth - relief.apron) + ANGLE_BEHIND
    for up in view.hall:
        angle = math.degrees(math.atan2(view.eye - up, relief.vanishing_depth - relief.apron))
        if radius * abs(math.radians(angle)) > pen.FONT + 1:
            corner = layout.spot(relief.apron, up)
            parts.append(pen.angle_mark(corner, 0.0, angle, radius, f"{abs(angle):.1f}\N{DEGREE SIGN}"))
    return parts


def _title_block(subject: Subject, view: View, layout: Layout) -> list[str]:
    width, height = layout.size
    scale = f"Scale {layout.name} printed at {width:.0f} mm wide. Sizes in mm."
    if layout.missing or layout.end < subject.relief.apparent_depth:
        scale += " Zigzag lines: a length is left out."
    sheet_hatch, print_hatch = _hatches(view)
    step = round(width / 5 / layout.scale, -1) or 10.0
    parts = [
        pen.polyline([(10, height - 27), (width - 10, height - 27)], "thin"),
        pen.heading((10, height - 20.5), subject.title, width - 20),
        pen.note((10, height - 9.2), view.heading + "."),
        pen.note((10, height - 4.4), scale),
        pen.scale_bar((width - 14 - step * layout.scale, height - 6.4), layout.scale, step),
    ]
    key = width - 12.0
    vanishing = subject.relief.vanishing_depth
    samples = [("imagined", "ghost"), ("ray of sight", "ray")]
    if vanishing is not None:
        samples.append((f"to the vanishing point, {pen.size(vanishing)} deep", "axis"))
    for words, sample in samples:
        key -= pen.width_of(words, 3.2)
        parts.append(pen.note((key, height - 14.8), words, font=3.2))
        parts.append(pen.polyline([(key - 9, height - 15.8), (key - 1.5, height - 15.8)], sample))
        key -= 13
    for words, hatch in (("print, cut", print_hatch), ("sheet, cut", sheet_hatch)):
        key -= pen.width_of(words, 3.2)
        parts.append(pen.note((key, height - 14.8), words, font=3.2))
        corners = [
            (key - 8, height - 17.4),
            (key - 1.5, height - 17.4),
            (key - 1.5, height - 14.4),
            (key - 8, height - 14.4),
        ]
        parts.append(pen.area([np.array(corners)], hatch))
        key -= 12
    return parts
