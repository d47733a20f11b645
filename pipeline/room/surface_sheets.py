"""What the surfaces of the hall are made of."""

from __future__ import annotations

from pipeline.elements.hall import PART_OF, SURFACES
from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.scene.model import Scene


def material_of(scene: Scene, named: str | None) -> str:
    """Return the material that is named, else the scene's first."""
    return named if named is not None else next(iter(scene.materials))


def surface_sheets(scene: Scene) -> tuple[dict[str, SurfaceSheet], dict[str, str | None]]:
    """Return sheet and cover of every surface that is built, by part id."""
    sheets: dict[str, SurfaceSheet] = {}
    covers: dict[str, str | None] = {}
    for name in SURFACES:
        table = getattr(scene, name)
        if table.build and not (name == "ceiling" and scene.vault is not None):
            material = material_of(scene, table.material)
            sheets[PART_OF[name]] = SurfaceSheet(
                material=material, thickness=scene.materials[material].thickness, finish=table.finish
            )
            covers[PART_OF[name]] = table.cover
    return sheets, covers


def total(sheets: dict[str, SurfaceSheet], part: str) -> float:
    """Return the thickness of a surface's sheet and finish, mm; 0 where it is not built."""
    return sheets[part].thickness + sheets[part].finish if part in sheets else 0.0
