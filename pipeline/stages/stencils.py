"""Stencils of all patches and shadows of a scene, and the marks their pins want on the panels."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from pipeline.parts.lighting.model import Cast
from pipeline.parts.model import Panel
from pipeline.parts.outlines import Making
from pipeline.parts.stencils import Stencil, make_stencil
from pipeline.scene.model import Scene
from pipeline.units import part_id


def make_stencils(
    scene: Scene, panels: tuple[Panel, ...], making: Making, casts: tuple[Cast, ...]
) -> tuple[Stencil, ...]:
    """Return a stencil for every panel that a light falls on, and one for every panel that it leaves partly dark."""
    if not scene.make.stencils:
        return ()
    stencils = []
    for cast in casts:
        light = scene.lights[cast.number].name
        for kind, patches in (("light", cast.patches), ("shadow", cast.dark)):
            for panel in panels:
                loops = [patch.loops for patch in patches if patch.part == panel.id]
                if loops:
                    stencils.append(
                        make_stencil(
                            panel,
                            making.lies[panel.id],
                            loops,
                            name=f"{panel.id}-stencil-{part_id(light)}" + ("-shadow" if kind == "shadow" else ""),
                            light=light,
                            kind=kind,
                            material=scene.make.stencil_material or "",
                        )
                    )
    return _numbered([stencil for stencil in stencils if stencil is not None])


def mark_pins(panels: tuple[Panel, ...], stencils: tuple[Stencil, ...]) -> tuple[Panel, ...]:
    """Return the panels with the pin marks of their stencils, numbered where there are several."""
    out = []
    for panel in panels:
        pins = [(one.number, path) for one in stencils if one.panel == panel.id for path in one.pin_paths]
        marks = (*panel.light_places, *(("", path) for _, path in pins))
        labels = (*panel.labels, *((f"{number}", path) for number, path in pins if number))
        out.append(replace(panel, light_places=marks, labels=labels) if pins else panel)
    return tuple(out)


def _numbered(stencils: Sequence[Stencil]) -> tuple[Stencil, ...]:
    """Return stencils with the numbers that their pins bear: 1, 2, ... where several lie on one panel."""
    count = Counter(one.panel for one in stencils)
    seen: Counter[str] = Counter()
    out = []
    for one in stencils:
        seen[one.panel] += 1
        out.append(replace(one, number=seen[one.panel]) if count[one.panel] > 1 else one)
    return tuple(out)
