"""How large the hall is and which relief it gets: from the box, the sheets and the eye."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from pipeline.elements import steps
from pipeline.elements.hall import HallSheets
from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.problems import Problem, SceneError
from pipeline.elements.vault.shape import find_problems, shape_of
from pipeline.elements.vault.table import VaultTable
from pipeline.elements.vault.webs import tops
from pipeline.relief.collineation import Relief
from pipeline.room.cross_section import cross_section
from pipeline.room.depths import depth_before_what_stands_behind, distance_and_depth, greatest_depth
from pipeline.room.frame import frame_outside
from pipeline.room.framing import frame_webs
from pipeline.room.inside import Inside
from pipeline.room.refusing import refuse
from pipeline.room.surface_sheets import material_of, surface_sheets
from pipeline.room.surveying import survey
from pipeline.scene.box import Box
from pipeline.scene.model import Scene
from pipeline.sight.eye_box import EYE_PITCH, MOST_RAYS, count_rays


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The measured scene.

    Attributes
    ----------
    hall
        Imagined mm.
    relief
        Built mm.
    sheets
        What the surfaces are made of.
    inside
        The box.
    """

    hall: Hall
    relief: Relief
    sheets: HallSheets
    inside: Inside

    @property
    def box(self) -> tuple[float, float, float]:
        """Inside width, height, depth, mm; of a box that is not square, of the least square one round it."""
        return self.inside.bounds


@dataclass(frozen=True, slots=True, kw_only=True)
class BareRoom:
    """The hall with nothing in it but its size and floor level, imagined mm, the relief and the box, built mm."""

    hall: Hall
    relief: Relief
    inside: Inside


def measure(scene: Scene, files: Mapping[str, bytes] | None = None) -> Room:
    """Return the hall and the relief of a scene; ``files`` are those it names, by the name it uses.

    Raises
    ------
    SceneError
        If the room does not fit the box, no relief has these figures, or the eye does not see into the hall.
    """
    sheets, covers = surface_sheets(scene)
    bare = bare_room(scene)
    inside, width, height, floor = bare.inside, bare.hall.width, bare.hall.height, bare.hall.floor
    relief, apparent, built_depth = bare.relief, bare.relief.apparent_depth, bare.relief.built_depth
    outside = frame_outside(scene, sheets, inside, (width, height, floor))
    front = 0.0
    if outside is not None:
        webs = scene.vault.material if scene.vault is not None else None  # a thicker frame would end before thin webs
        material, finish = material_of(scene, scene.front.material or webs), scene.front.finish
        sheet = SurfaceSheet(material=material, thickness=scene.materials[material].thickness, finish=finish)
        sheets["front-frame"] = sheet
        if sheet.thickness + sheet.finish >= built_depth:
            found, remedy = "the front frame is thicker than the room is deep", "give front.material a thinner sheet"
            refuse(("front",), found, f"below {built_depth:.4g} mm", remedy)
        front = relief.imagined_depth(sheet.thickness + sheet.finish)
    hall = Hall(
        scale=scene.space.scale,
        width=width,
        height=height,
        depth=apparent,
        floor=floor,
        apron=scene.space.apron,
        front=front,
        least_ends=_least_ends(scene, relief),
        facet=scene.make.mesh_tolerance,
        materials={name: table.thickness for name, table in scene.materials.items()},
        surfaces=sheets,
        covers=covers,
        files=files or {},
    )
    hall = steps.lay_out(scene.steps, _vaulted(scene, hall, relief))
    return Room(
        hall=hall,
        relief=relief,
        sheets=HallSheets(sheets=sheets, covers=covers, frame_outside=outside),
        inside=inside,
    )


def bare_room(scene: Scene) -> BareRoom:
    """Return the hall's size and its relief alone, as ``measure`` finds them, a hundred times sooner.

    Raises
    ------
    SceneError
        If the room does not fit the box, no relief has these figures, or the eye does not see into the hall.
    """
    sheets, _ = surface_sheets(scene)
    inside = _surveyed(scene.box)
    width, height, floor = cross_section(scene, sheets, inside)
    deepest = greatest_depth(scene, sheets, inside)
    built = depth_before_what_stands_behind(scene, sheets, width, deepest, inside)
    distance, apparent = distance_and_depth(scene, built, width)
    _eye_inside(scene, width, height, floor)
    apron = scene.space.apron
    eye = (scene.eye.right, -distance, scene.eye.height)
    return BareRoom(
        hall=Hall(
            scale=scene.space.scale, width=width, height=height, depth=apparent, floor=floor, apron=apron, front=0.0
        ),
        relief=Relief(eye=eye, apron=apron, apparent_depth=apparent, built_depth=built),
        inside=inside,
    )


@lru_cache(maxsize=4)
def _surveyed(box: Box) -> Inside:
    """Return the inside of a box; while an eye is chosen it is asked for hundreds of times."""
    return survey(box)


def _vaulted(scene: Scene, hall: Hall, relief: Relief) -> Hall:
    """Return the hall under its vault, if it has one."""
    if scene.vault is None:
        return hall
    problems = find_problems(scene.vault, hall)
    if problems:
        raise SceneError(problems)
    _bays_deep_enough(scene, scene.vault, hall, relief)
    shape = shape_of(scene.vault, hall)
    over = shape.springing + shape.rise * float(shape.share(2 * scene.eye.right / hall.width))
    if scene.eye.height >= over:
        refuse(
            ("eye", "height"),
            f"{scene.eye.height:g} mm is above the vault where the eye stands, which would lean out of the box",
            f"between {hall.floor:.4g} and {over:.4g} mm",
            "lower the eye, or move it toward the vault's middle",
        )
    start, eased = frame_webs(shape, relief, hall.sheet(scene.vault.material).thickness, hall.front)
    hall = replace(hall, springing=shape.springing, bay_lines=shape.lines, web_front=start, web_eased=eased)
    return replace(hall, tops=tops(shape, hall))


def _bays_deep_enough(scene: Scene, table: VaultTable, hall: Hall, relief: Relief) -> None:
    """Refuse bays whose webs at the back would be built shorter than they are thick."""
    printed = table.webs == "print"
    thick = scene.make.printer.min_wall if printed else hall.sheet(table.material).thickness

    def last(bays: int) -> float:
        begins = float(relief.build_points([[0.0, relief.apparent_depth * (1 - 1 / bays), 0.0]])[0, 1])
        return relief.built_depth - begins

    if table.bays > 1 and last(table.bays) < thick:
        most = next((bays for bays in range(table.bays - 1, 1, -1) if last(bays) >= thick), 1)
        found = f"the last of {table.bays} bays would be built {last(table.bays):.2g} mm long"
        what = "wall a printer makes" if printed else "sheet its webs are bent from"
        refuse(
            ("vault", "bays"), f"{found}, and the {what} is {thick:g} mm thick", f"at most {most}", "give fewer bays"
        )


def _least_ends(scene: Scene, relief: Relief) -> tuple[float, float]:
    """Return the imagined lengths that the printer's least wall is at the opening, and at the back wall past its play.

    Where the built room is shallower than that, it is the whole hall's.
    """
    least = scene.make.printer.min_wall
    back = relief.built_depth - scene.make.fit - least
    whole = relief.apparent_depth
    front = relief.imagined_depth(least) if least < relief.built_depth else whole
    return front, whole - relief.imagined_depth(back) if back > 0 else whole


def _eye_inside(scene: Scene, width: float, height: float, floor: float) -> None:
    problems = []
    if not abs(scene.eye.right) < width / 2:
        problems.append(
            Problem(
                path=("eye", "right"),
                found=f"{scene.eye.right:g} mm is beside the hall, so a wall would lean out of the box",
                allowed=f"between {-width / 2:.4g} and {width / 2:.4g} mm",
                remedy="move the eye in; 0 is the middle",
            )
        )
    if not floor < scene.eye.height < floor + height:
        problems.append(
            Problem(
                path=("eye", "height"),
                found=f"{scene.eye.height:g} mm is above or below the hall; floor or ceiling would lean out of the box",
                allowed=f"between {floor:.4g} and {floor + height:.4g} mm",
                remedy=f"move the eye in; {floor + height / 2:.4g} mm is half-way up",
            )
        )
    rays = count_rays((width, height), scene.eye.box)
    if rays > MOST_RAYS:
        across, up = scene.eye.box
        found = f"looked at from every {EYE_PITCH:g} mm of {across:g} x {up:g} mm, this opening takes {rays:,} rays"
        remedy = "give the eye less room to move"
        problems.append(Problem(path=("eye", "box"), found=found, allowed=f"at most {MOST_RAYS:,}", remedy=remedy))
    if problems:
        raise SceneError(problems)
