"""Fillet strips, cut where the scene asks for them and nothing else is in the way."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.model import Fact, Imagined
from pipeline.elements.problems import KeyPath
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import Mesh
from pipeline.parts.bent import BentPanel
from pipeline.parts.blanks import make_blank
from pipeline.parts.fillets import SHORTEST, Wedge, wedges
from pipeline.parts.leaves import lie_of
from pipeline.parts.model import Panel, Print
from pipeline.parts.outlines import Making
from pipeline.parts.panels import make_panel
from pipeline.relief.collineation import Relief
from pipeline.room.hidden import built_face
from pipeline.room.measure import Room
from pipeline.scene.model import Scene

Array = NDArray[np.float64]

PATH: KeyPath = ("make", "fillets")

CLEAR = 0.1
"""mm kept along the joint from whatever else reaches into the wedge."""

FLAT = 1e-6
"""A joint that goes no farther into the box than this for its length lies across it."""

TOUCHING = 1e-6
"""mm^3; what only touches has a common volume of rounding, far below this."""


def fill_wedges(
    scene: Scene,
    room: Room,
    said: Imagined,
    making: Making,
    parts: tuple[tuple[Panel, ...], tuple[BentPanel | Print, ...]],
    *,
    tabbed: bool = False,
    kept_free: tuple[Mesh, ...] = (),
) -> tuple[tuple[Panel, ...], Imagined]:
    """Return the panels with the strips behind their joints, and what was said with what there is to know of them.

    ``parts`` are the panels and the others that the strips must leave room for, and ``kept_free`` what is no part.
    Joints with tabs are ``tabbed``: theirs are filled once it is known where tabs are.
    """
    panels, others = parts
    make = scene.make
    if make.edges != "square":
        return panels, said
    found = [wedge for wedge in wedges(panels, making.box) if _tabbed(wedge, making) == tabbed]
    if not found:
        return panels, said
    framed = any(panel.id == "front-frame" for panel in panels)
    wanted = framed if make.fillets is None else make.fillets
    if not wanted:
        return panels, replace(said, facts=(*said.facts, _offer(found)))
    bodies = [body_of(mesh) for mesh in (*(part.body for part in (*panels, *others)), *kept_free)]
    strips: dict[str, Panel] = {}
    for wedge in found:
        for start, end in _free(wedge, bodies, room.relief):
            strip = _strip(_name(wedge, strips), wedge.strip(start, end), wedge, making, room)
            strips[strip.id] = strip
            bodies.append(body_of(strip.body))
    bare = [wedge for wedge in found if wedge.sheet is None]
    facts = (Fact(subject="fillets", text=_too_narrow(bare)),) if bare else ()
    return (*panels, *strips.values()), replace(said, facts=(*said.facts, *facts))


def _tabbed(wedge: Wedge, making: Making) -> bool:
    return making.corners.kind(*wedge.parts, wedge.angle_rad) == "tabs"


def _name(wedge: Wedge, taken: dict[str, Panel]) -> str:
    name = f"fillet-{wedge.parts[0]}-{wedge.parts[1]}"
    names = (name, *(f"{name}-{number}" for number in range(2, len(taken) + 3)))
    return next(name for name in names if name not in taken)


def _strip(name: str, corners: Array, wedge: Wedge, making: Making, room: Room) -> Panel:
    """Return a strip as a panel; it knows no neighbours, so that all its edges are square and free."""
    sheet = wedge.sheet or SurfaceSheet(material="", thickness=0.0, finish=0.0)
    face = built_face(name, corners, wedge.normal, relief=room.relief, sheet=sheet, path=PATH)
    alone = replace(making, lies={name: lie_of(face, room.relief)}, faces={name: face}, regions={name: face.region})
    return make_panel(
        face, make_blank(face, face.region, alone), [], (), relief=room.relief, min_guide=making.min_guide
    )


def _before_apron(wedge: Wedge, corners: Array, along: Array, apron: float) -> float:
    """Return from where along a joint all of a strip lies behind the apron, where alone the relief places it."""
    if apron == 0.0 or along[1] < FLAT:
        return 0.0 if corners[:, 1].min() >= apron else math.inf
    deep = wedge.section[0] * wedge.out
    nearest = min(float(corner[1] + step[1]) for corner in corners for step in (np.zeros(3), deep))
    return max(0.0, (apron - nearest) / float(along[1]))


def _past_infinity(wedge: Wedge, corners: Array, along: Array, last: float) -> float:
    """Return up to where along a joint all of a strip has a place in the imagined room, whose depth has an end here."""
    deep = wedge.section[0] * wedge.out
    farthest = max(float(corner[1] + step[1]) for corner in corners for step in (np.zeros(3), deep))
    length = float(np.linalg.norm(wedge.line[1] - wedge.line[0]))
    if farthest <= last:
        return length
    return 0.0 if along[1] < FLAT else length - (farthest - last) / float(along[1])


def _free(wedge: Wedge, bodies: list[manifold3d.Manifold], relief: Relief) -> list[tuple[float, float]]:
    """Return the stretches along a joint where a strip fits and nothing else stands in its wedge."""
    if wedge.sheet is None:
        return []
    length = float(np.linalg.norm(wedge.line[1] - wedge.line[0]))
    along = (wedge.line[1] - wedge.line[0]) / length
    corners = wedge.strip(0.0, length)
    whole = manifold3d.Manifold.hull_points(np.vstack([corners, corners + wedge.sheet.thickness * wedge.out]))
    low, high = np.array(whole.bounding_box()).reshape(2, 3)
    taken = [
        (0.0, _before_apron(wedge, corners, along, relief.apron)),
        (_past_infinity(wedge, corners, along, relief.last_carried), length),
    ]
    for body in bodies:
        their_low, their_high = np.array(body.bounding_box()).reshape(2, 3)
        if (their_low > high).any() or (low > their_high).any():
            continue
        for common in (whole ^ body).decompose():
            if common.volume() > TOUCHING:
                reach = (mesh_of(common).vertices - wedge.line[0]) @ along
                taken.append((float(reach.min()) - CLEAR, float(reach.max()) + CLEAR))
    return _left(length, sorted(taken))


def _left(length: float, taken: list[tuple[float, float]]) -> list[tuple[float, float]]:
    out, start = [], 0.0
    for low, high in (*taken, (length, length)):
        if low - start >= SHORTEST:
            out.append((start, low))
        start = max(start, high)
    return out


def _offer(found: list[Wedge]) -> Fact:
    fit = [wedge for wedge in found if wedge.sheet is not None]
    text = f"Behind {_joints(found)}, cut square, a wedge of {_degrees(found)} stays open out of sight."
    if fit:
        text += f" make.fillets = true cuts strips of sheet for {len(fit)} of them, {_widths(fit)} mm wide."
    return Fact(subject="fillets", text=text)


def _too_narrow(bare: list[Wedge]) -> str:
    named = ", ".join(f"{a} and {b}" for a, b in dict.fromkeys(wedge.parts for wedge in bare))
    return f"No strip fits the wedge of {_degrees(bare)} behind {named}: run filler or glue into it."


def _joints(found: list[Wedge]) -> str:
    return f"{len(found)} joints" if len(found) > 1 else "a joint"


def _degrees(found: list[Wedge]) -> str:
    """Return the wedges' angles in words."""
    angles = [180 - math.degrees(wedge.angle_rad) for wedge in found]
    low, high = f"{min(angles):.0f}", f"{max(angles):.0f}"
    return f"{low} degrees" if low == high else f"{low} to {high} degrees"


def _widths(fit: list[Wedge]) -> str:
    widths = [wedge.section[2] - wedge.section[1] for wedge in fit]
    low, high = f"{min(widths):.1f}", f"{max(widths):.1f}"
    return low if low == high else f"{low} to {high}"
