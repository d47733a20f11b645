"""Stencils of all patches and shadows of a scene, and the marks their pins want on the panels."""

from __future__ import annotations

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
    return tuple(stencil for stencil in stencils if stencil is not None)


def mark_pins(panels: tuple[Panel, ...], stencils: tuple[Stencil, ...]) -> tuple[Panel, ...]:
    """Return the panels with the pin marks of their stencils."""
    out = []
    for panel in panels:
        pins = [("", path) for one in stencils if one.panel == panel.id for path in one.pin_paths]
        out.append(replace(panel, light_places=(*panel.light_places, *pins)) if pins else panel)
    return tuple(out)
