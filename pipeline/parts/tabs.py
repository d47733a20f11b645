"""Tabs and slots for rigid sheet: lugs of the sheet that runs on reach out beyond the other, with a slot for its tab.

In the plane square to the seam let v run from the visible line out along the sheet that runs on, and z from its visible
face toward the viewer. With the room-side angle th the other sheet, thickness tA, goes through it at

    -z cot th <= v <= tA / sin th - z cot th

so a slot cut square, from the visible line on, is as wide as

    tA / sin th + tB max(0, cot th)

and play. At th above 90 degrees the tab's visible arris would stand before the line, where it would show: it is eased
(pared) at its tip, by what the formula gives there. Its length,

    (tB + tA min(0, cos th)) / sin th,

leaves no corner of it below the hidden face. Cuts are nominal here; sheets widen them by the kerf, so that slots come
out as drawn.

An edge that is bevelled stands flat on the visible face of the sheet that runs on. One that is cut square, at th above
90 degrees, reaches below that face by tA |cos th| at its hidden arris. It is not filed: the sheet that runs on ends at
the visible line too, so the corner closes there, with a wedge of 180 - th open behind it. Only beside a tab stands a
lug, and there the edge is notched as far as the arris touches the lug's face:

    s sin th = tA |cos th|,    s = tA |cot th|

What shows of a notch is a groove so high, tA |cos th|, as long as the lug's rim; the arris closes it behind. Where the
scene asks for butted joints, the sheet runs on beneath all of the edge, and the whole edge stands back by s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry import frames
from pipeline.geometry.booleans import body_of, mesh_of, trim
from pipeline.geometry.meshes import EMPTY, Mesh, join
from pipeline.parts.additions import plate
from pipeline.parts.flaps import KEPT, Ground, Strip, strip_at
from pipeline.parts.joints import foot_back
from pipeline.parts.model import Addition, Panel
from pipeline.parts.seams import Seam

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TabSize:
    """Of a tab along its seam, and what its slot is larger by in both directions, mm."""

    length: float
    play: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgesAt:
    """How two sheets meet at a seam: bevelled or square, and whether the one that runs on does along all of it."""

    bevelled: bool
    under: bool


APART = 60.0
"""mm; tabs of one seam stand about so far from one another."""

LUG = 2.0
"""mm at least, and the sheet's thickness, that is left of a lug round its slot."""

THIN = 0.95
"""Least thickness of the sheet with tabs over the other: no slot is cut narrower than its sheet is thick."""

THROUGH = 0.5
"""mm that a slot's body stands out of both faces of the sheet it is cut from."""

SHORTEST = 5.0
"""mm; shorter tabs break."""


def make_tabs(
    seam: Seam, panels: tuple[Panel, Panel], size: TabSize, ground: Ground, edges: EdgesAt
) -> tuple[list[Addition], list[Addition]]:
    """Return the lugs of the sheet that runs on, and the tabs and notches of the other; none where nothing fits.

    Parameters
    ----------
    seam, panels
        Where both meet, the sheet that runs on, and the one that ends on it.
    size
        Wanted.
    ground
        What stands in the way.
    edges
        How both are cut; unless the sheet runs on along all of the seam already, it does where the lugs are.
    """
    through, ending = panels
    if ending.thickness < THIN * through.thickness:
        return [], []
    at = strip_at(seam, through, ending)
    rim = max(LUG, through.thickness)
    wide = slot_width(seam.angle_rad, through.thickness, ending.thickness) + size.play
    low, high = _room(at, wide + rim, rim, through.thickness, ground.box)
    beside = rim + size.play / 2
    length = min(size.length, high - low - 2 * beside)
    if length < SHORTEST:
        return [], []
    count = max(1, int((high - low - length - 2 * beside) / APART) + 1)
    first, last = low + beside + length / 2, high - beside - length / 2
    middles = np.linspace(first, last, count) if count > 1 else np.array([(first + last) / 2])
    lugs, tabs = [], []
    for middle in middles:
        span = (float(middle) - length / 2, float(middle) + length / 2)
        around = (span[0] - size.play / 2, span[1] + size.play / 2)
        lug = _lug(at, around, (wide, rim, at.fold_at if edges.under else 0.0), through, ending.id)
        tab = _tab(at, span, seam, (through, ending), edges)
        notches = _notches(span, rim + size.play, seam, ending) if _notched(seam.angle_rad, edges) else []
        beneath = ending.id if notches else ""  # the notches make room for the lug
        if ground.free(lug, through.id, through=beneath) and ground.free(tab, ending.id, through=through.id):
            lugs.append(lug)
            tabs += [tab, *notches]
    return lugs, tabs


def _notched(angle_rad: float, edges: EdgesAt) -> bool:
    """Return whether an edge on the visible line reaches into lugs."""
    return not edges.bevelled and not edges.under and foot_back(angle_rad, 1.0) > 0


def slot_width(angle_rad: float, through: float, ending: float) -> float:
    """Return how wide a square slot in a sheet must be for another at a room-side angle, from the visible line, mm."""
    return ending / math.sin(angle_rad) + through * max(0.0, 1 / math.tan(angle_rad))


def tab_length(angle_rad: float, through: float, ending: float) -> float:
    """Return how far a tab reaches past the visible line along its own sheet, mm."""
    return (through + ending * min(0.0, math.cos(angle_rad))) / math.sin(angle_rad)


def tab_ease(angle_rad: float, through: float, ending: float) -> float:
    """Return how much of a tab's visible arris is pared off at its tip, mm square to its face."""
    return tab_length(angle_rad, through, ending) * max(0.0, -1 / math.tan(angle_rad))


def _room(at: Strip, out: float, rim: float, thickness: float, box: tuple[Array, ...]) -> tuple[float, float]:
    """Return the stretch of u where lugs that reach so far out stay within the box, clear of the seam's ends."""
    low, high = rim, at.length - rim
    for plane in box:
        line = plane @ at.strip_from_own
        for v, z in ((0.0, -thickness), (out, 0.0), (out, -thickness)):
            slope, rest = float(line[0]), float(line[1] * v + line[2] * z + line[3]) - KEPT
            if abs(slope) < 1e-12:
                low = low if rest >= 0 else math.inf
            elif slope > 0:
                low = max(low, -rest / slope)
            else:
                high = min(high, -rest / slope)
    return low, high


def _lug(
    at: Strip, slot_at: tuple[float, float], sizes: tuple[float, float, float], through: Panel, against: str
) -> Addition:
    """Return the lug round a slot between two u.

    ``sizes`` are the slot's width, what is left round it, and how far the sheet runs on already, mm.
    """
    (a, b), (wide, rim, base) = slot_at, sizes
    left, right = a - rim, b + rim
    outer = [(left, base), (right, base), (right, wide + rim), (left, wide + rim)]
    plates = [
        [(left, base), (a, base), (a, wide + rim), (left, wide + rim)],
        [(a, wide), (b, wide), (b, wide + rim), (a, wide + rim)],
        [(b, base), (right, base), (right, wide + rim), (b, wide + rim)],
    ]
    slot = np.array([(a, 0.0), (a, wide), (b, wide), (b, 0.0)])
    return Addition(
        kind="lug",
        against=against,
        chain=frames.apply(at.flat_from_own, [outer[1], outer[2], outer[3], outer[0]]),
        slot=frames.apply(at.flat_from_own, slot),
        body=join([plate(np.array(one), at.strip_from_own, through.thickness) for one in plates]),
        hole=_hole(at, slot[::-1], through.thickness) if base else None,
    )


def _hole(at: Strip, slot: Array, thickness: float) -> Mesh:
    """Return what a slot takes of a sheet, somewhat longer than that is thick."""
    lifted = at.strip_from_own.copy()
    lifted[:3, 3] += THROUGH * lifted[:3, 2]
    return plate(slot, lifted, thickness + 2 * THROUGH)


def _tab(at: Strip, span: tuple[float, float], seam: Seam, panels: tuple[Panel, Panel], edges: EdgesAt) -> Addition:
    """Return the tab, its chain on the ending sheet's edge, its body pared to the slot."""
    through, ending = panels
    base = 0.0 if edges.bevelled or not edges.under else foot_back(seam.angle_rad, ending.thickness)
    reach = tab_length(seam.angle_rad, through.thickness, ending.thickness)
    chain = _across(seam, ending, span, (-base, reach))
    leaf = seam.sides(ending.id)[0].leaf
    return Addition(
        kind="tab",
        against=through.id,
        chain=chain,
        ease=tab_ease(seam.angle_rad, through.thickness, ending.thickness),
        body=_pared(at, chain, leaf, ending, edges),
    )


def _notches(span: tuple[float, float], wide: float, seam: Seam, ending: Panel) -> list[Addition]:
    """Return the notches on either side of a tab, as wide as the lug goes on there."""
    side, other = seam.sides(ending.id)
    back = foot_back(seam.angle_rad, ending.thickness)
    low, high = span
    return [
        Addition(
            kind="notch",
            against=other.part,
            chain=_across(seam, ending, ends, (0.0, -back)),
            gap=back * math.sin(seam.angle_rad),
            body=EMPTY,
            hole=_cut_through(_across(seam, ending, ends, (THROUGH, -back)), side.leaf, ending),
        )
        for ends in ((low - wide, low), (high, high + wide))
    ]


def _across(seam: Seam, ending: Panel, span: tuple[float, float], reach: tuple[float, float]) -> Array:
    """Return the corners ``(4, 2)`` of a rectangle on a sheet's edge, along it and outward from the visible line.

    Both outlines run along the seam in opposite directions, so u of the one is the way of the other's.
    """
    side, _ = seam.sides(ending.id)
    start, end = side.ends
    along = frames.unit(end - start)
    outward = np.array([along[1], -along[0]])
    (a, b), (first, last) = (start + u * along for u in span), reach
    return np.array([a + first * outward, a + last * outward, b + last * outward, b + first * outward])


def _cut_through(chain: Array, leaf: int, ending: Panel) -> Mesh:
    """Return a plate over a notch, somewhat longer than its sheet is thick."""
    lifted = ending.leaves[leaf].built_from_flat.copy()
    lifted[:3, 3] += THROUGH * lifted[:3, 2]
    return plate(chain[::-1], lifted, ending.thickness + 2 * THROUGH)


def _pared(at: Strip, chain: Array, leaf: int, ending: Panel, edges: EdgesAt) -> Mesh:
    """Return a tab's body, none of it before the visible line.

    On a bevelled edge it begins below the visible face of the sheet it goes through, on a square one where it stands.
    """
    inner = 2 * ending.thickness * (chain[0] - chain[1]) / np.linalg.norm(chain[1] - chain[0])
    outline = np.array([chain[0] + inner, *chain[1:3], chain[3] + inner]) if edges.bevelled else chain
    body = body_of(plate(outline, ending.leaves[leaf].built_from_flat, ending.thickness))
    up, out = at.strip_from_own[:3, 2], at.strip_from_own[:3, 1]
    origin = at.strip_from_own[:3, 3]
    if edges.bevelled:
        body = trim(body, np.array([*-up, up @ origin]))
    return mesh_of(trim(body, np.array([*out, -out @ origin])))
