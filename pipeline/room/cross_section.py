"""Width, height and floor level of the hall at the opening: from the box, the sheets and the vault."""

from __future__ import annotations

from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.room.frame import BARE
from pipeline.room.inside import Inside
from pipeline.room.largest import highest, largest, limits, widest
from pipeline.room.refusing import refuse
from pipeline.room.surface_sheets import material_of, total
from pipeline.scene.model import Scene

SMALLEST = 10.0
"""mm; no box is smaller, and such a figure was most likely meant in metres."""


def cross_section(scene: Scene, sheets: dict[str, SurfaceSheet], inside: Inside) -> tuple[float, float, float]:
    """Return width, height and floor level of the hall at the opening, mm."""
    clearance, scale = scene.box.clearance, scene.space.scale
    thick = max(total(sheets, "left-wall"), total(sheets, "right-wall"))
    floor = total(sheets, "floor")
    most_wide = scene.box.width - 2 * (thick + clearance)
    most_high = scene.box.height - floor - total(sheets, "ceiling") - clearance
    if inside.measured:
        most_wide, most_high = _between_walls(scene, inside, 2 * thick, floor + total(sheets, "ceiling"))
    for name, room in (("width", most_wide), ("height", most_high)):
        if room <= 0:
            found = f"the sheets and the clearance leave no room inside {getattr(scene.box, name):g} mm"
            allowed = f"more than {getattr(scene.box, name) - room:.4g} mm"
            given = getattr(scene.box, name)
            metres = f'; for metres write "{given:g} m", since numbers here are millimetres' if given < SMALLEST else ""
            refuse(("box", name), found, allowed, f"take a larger box or thinner sheets{metres}")
    width = most_wide if scene.space.width is None else scene.space.width * 1000 / scale
    height = most_high if scene.space.height is None else scene.space.height * 1000 / scale
    if scene.vault is not None:
        height = _crown(scene, most_high)
    for name, wanted, room in (("width", width, most_wide), ("height", height, most_high)):
        if wanted > room + BARE:
            refuse(
                ("space", name),
                f"{wanted * scale / 1000:.4g} m is {wanted:.4g} mm at 1:{scale:g}; the box leaves {room:.4g} mm",
                f"at most {room * scale / 1000:.4g} m",
                f"make it smaller, leave it out, or raise space.scale to {scale * wanted / room:.3g}",
            )
    return width, height, floor


def _between_walls(scene: Scene, inside: Inside, across: float, up: float) -> tuple[float, float]:
    """Return the greatest width and height of the hall between walls that are not square, mm.

    Where the scene gives neither, they are those of the largest area; where it gives one, the other is what that
    leaves.
    """
    rows, in_mm = limits(inside, scene.box.clearance), 1000 / scene.space.scale
    width, height = scene.space.width, scene.space.height
    if scene.vault is not None:
        webs = scene.materials[material_of(scene, scene.vault.material)].thickness
        top = up + (scene.vault.springing + scene.vault.rise) * in_mm + webs
        wide = widest(rows, top)
        if wide > across:
            return wide - across, highest(rows, wide if width is None else width * in_mm + across) - up
    wide, high = largest(rows, across, up)
    if height is not None:
        wide = widest(rows, height * in_mm + up) or wide
    if width is not None:
        high = highest(rows, width * in_mm + across) or high
    return wide - across, high - up


def _crown(scene: Scene, most_high: float) -> float:
    """Return the height of a vault's crown over the floor, mm; the vault and its webs must fit."""
    vault, scale = scene.vault, scene.space.scale
    if vault is None:
        return most_high
    thickness = scene.materials[material_of(scene, vault.material)].thickness
    crown, room = (vault.springing + vault.rise) * 1000 / scale, most_high - thickness
    if scene.space.height is not None:
        refuse(
            ("space", "height"),
            "a hall under a vault is as high as the vault",
            "springing and rise of [vault]",
            "take height out",
        )
    if crown > room + BARE:
        least = room * scale / 1000 - vault.springing
        refuse(
            ("vault", "rise"),
            f"springing and rise are {crown:.4g} mm at 1:{scale:g}; floor, webs and clearance leave {room:.4g} mm",
            f"at most {least:.4g} m over this springing" if least > 0 else "a lower springing",
            f"make the vault lower, or raise space.scale to {scale * crown / room:.3g}",
        )
    return crown
