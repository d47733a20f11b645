"""Random scenes that can be built."""

from __future__ import annotations

from typing import get_args

from hypothesis import strategies as st

from pipeline.elements.covers import PATTERNS
from pipeline.geometry.heads import Head

HEADS: tuple[Head, ...] = get_args(Head)


@st.composite
def scenes(draw: st.DrawFn, *, prints: bool = True, behind: bool = False) -> str:
    """Return the text of a scene: any box, eye, apron, finish and cover; openings, a pair of columns, an arch.

    ``behind`` adds passages, niches and reveals to the openings, of which the box may have no room for some.
    """

    def number(low: float, high: float) -> float:
        return round(draw(st.floats(low, high)), 3)

    width, height, depth = number(110, 300), number(90, 220), number(50, 130)
    sheet, scale = number(1.0, 5.0), draw(st.sampled_from([24, 35, 48, 72]))
    finish = draw(st.sampled_from([0.0, 0.0, 0.6, 1.5]))
    inside_w, inside_h = width - 2 * (sheet + 0.5 + finish), height - 2 * sheet - 0.5 - finish
    narrow = draw(st.sampled_from([1.0, 1.0, 0.85]))
    hall_w, hall_h = inside_w * narrow, inside_h * (1.0 if narrow == 1.0 else 0.9)
    built = depth - sheet - 0.5 - 2
    apron = draw(st.sampled_from([0.0, 0.0, 0.2])) * built
    apparent = apron + (built - apron) * number(1.05, 6)
    floor = sheet + finish
    eye_z, eye_x = floor + hall_h * number(0.2, 0.8), hall_w * number(-0.3, 0.3)
    metres = scale / 1000
    out = [
        f'format = 1\ntitle = "random"\n[box]\nwidth = {width}\nheight = {height}\ndepth = {depth}\nback_gap = 2',
        f"[eye]\ndistance = {number(250, 900)}\nheight = {eye_z:.4f}\nright = {eye_x:.4f}",
        f"[space]\nscale = {scale}\ndepth = {apparent * metres:.6f}\napron = {apron:.4f}",
    ]
    if narrow < 1:
        out.append(f"width = {hall_w * metres:.6f}\nheight = {hall_h * metres:.6f}")
    for surface in ("left", "right", "floor", "back"):
        kept = f"finish = {finish}" if surface in ("left", "right", "floor") else ""
        kept += '\nmaterial = "board"'
        cover = f'cover = "{surface}"' if draw(st.booleans()) else ""
        out.append(f"[{surface}]\n{kept}\n{cover}")
        if cover:
            pattern = draw(st.sampled_from(sorted(PATTERNS)))
            unit = number(0.3, 1.2)
            joint = 0.05 * unit
            half = (unit - joint) / 2
            out.append(
                f'[covers.{surface}]\npattern = "{pattern}"\nlength = {unit}\nheight = {unit / 3:.6f}\n'
                f"width = {half:.9f}\njoint = {joint:.9f}"
            )
    out.append(f'[materials.board]\nthickness = {sheet}\nprocess = "knife"\nsheet = [420, 320]')
    if behind:
        out.append('[ceiling]\nmaterial = "board"\n[front]\nmaterial = "board"')
        out.append("[materials.card]\nthickness = 0.4\nsheet = [420, 320]\nmin_bend = 0.01")
    out.append("[make.printer]\nbed = [400, 400, 400]")
    hall_m, deep_m, high_m = hall_w * metres, apparent * metres, hall_h * metres
    out += _openings(draw, deep_m, hall_m, high_m, apron * metres, behind=behind)
    if prints:
        standing = draw(st.sampled_from([None, _columns, _arch]))
        if standing is not None:
            out.append(standing(draw, hall_m, deep_m, high_m, apron * metres))
    return "\n".join(out) + "\n"


def _openings(draw: st.DrawFn, deep: float, wide: float, high: float, apron: float, *, behind: bool) -> list[str]:
    out = []
    for wall, length in (("left", deep), ("right", deep), ("back", wide)):
        if not draw(st.booleans()):
            continue
        head = draw(st.sampled_from(HEADS))
        width = min(length * draw(st.floats(0.12, 0.3)), 0.5 * high)
        sill = draw(st.sampled_from([0.0, 0.15])) * high
        at = apron + (length - apron) * draw(st.floats(0.45, 0.7))
        out.append(
            f'[[openings]]\nname = "{wall} hole"\nwall = "{wall}"\nat = {at:.5f}\nwidth = {width:.5f}\n'
            f'sill = {sill:.5f}\nheight = {0.7 * high:.5f}\nhead = "{head}"'
        )
        if behind:
            out.append(_behind(draw, head, width))
    return out


def _behind(draw: st.DrawFn, head: str, width: float) -> str:
    """Return what lies behind an opening: a passage, a niche, a reveal, or nothing, of sheet or printed."""
    kind = draw(st.sampled_from(["passage", "niche", "reveal", "bare"]))
    if kind == "bare":
        return ""
    size = f"{width * draw(st.floats(0.05, 1.0)):.5f}"
    said = f"reveal = {size}" if kind == "reveal" else f'beyond = "{kind}"\nlength = {size}'
    if head == "flat":
        return said
    made = draw(st.sampled_from(["", "card", "card", "print"]))
    if made == "print":
        return f'{said}\n{"reveal" if kind == "reveal" else "barrel"}_as = "print"'
    return f'{said}\nbarrel_material = "{made}"' if made else said


def _columns(draw: st.DrawFn, wide: float, deep: float, high: float, apron: float) -> str:
    diameter = wide * draw(st.floats(0.07, 0.12))
    y = apron + max(diameter, (deep - apron) * draw(st.floats(0.12, 0.2)))
    x = wide * draw(st.floats(0.15, 0.3))
    section = draw(st.sampled_from(["round", "octagon", "square"]))
    feet = draw(st.sampled_from([0.0, 0.05])) * high
    return (
        f'[[columns]]\nname = "post"\nat = [[{-x:.5f}, {y:.5f}], [{x:.5f}, {y:.5f}]]\ndiameter = {diameter:.5f}\n'
        f'section = "{section}"\nbase = {feet:.5f}\ncapital = {feet:.5f}'
    )


def _arch(draw: st.DrawFn, wide: float, deep: float, high: float, apron: float) -> str:
    head = draw(st.sampled_from(HEADS))
    ring = high * draw(st.floats(0.05, 0.09))
    sharp = head in ("pointed", "ogee")
    span = min(wide - 2 * ring, 0.5 * high) if sharp else wide - 2 * ring
    rise = "" if sharp or head == "flat" else f"rise = {min(0.25 * high, 0.4 * span):.5f}"
    springing = 0.3 * high
    thick = (deep - apron) * draw(st.floats(0.05, 0.1))
    at = apron + (deep - apron) * draw(st.floats(0.02, 0.1))
    legs, spandrel = draw(st.sampled_from([("true", "false"), ("true", "true"), ("false", "true")]))
    return (
        f'[[arches]]\nname = "ring"\nat = {at:.5f}\nspringing = {springing:.5f}\nhead = "{head}"\n{rise}\n'
        f"ring = {ring:.5f}\ndepth = {thick:.5f}\nspan = {span:.5f}\nlegs = {legs}\nspandrel = {spandrel}"
    )
