"""How large the hall is and which relief it gets: from the box, the sheets and the eye."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from pipeline.elements import steps
from pipeline.elements.hall import PART_OF, SURFACES, HallSheets
from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.problems import KeyPath, Problem, SceneError
from pipeline.elements.vault.shape import find_problems, shape_of
from pipeline.elements.vault.webs import tops
from pipeline.relief import solve
from pipeline.relief.collineation import Relief
from pipeline.room.behind import ends_behind
from pipeline.room.frame import BARE, frame_outside
from pipeline.room.framing import frame_webs
from pipeline.room.inside import Inside
from pipeline.room.largest import highest, largest, limits, widest
from pipeline.room.surveying import survey
from pipeline.scene.box import Box
from pipeline.scene.model import Scene
from pipeline.sight.eye_box import EYE_PITCH, MOST_RAYS, count_rays

LEAST_SCALE = 1e-3
"""Of the back wall: at less it is a fraction of a millimetre wide, and depths before it run into infinity."""
SMALLEST = 10.0
"""mm; no box is smaller, and such a figure was most likely meant in metres."""
HALVINGS = 60
"""Of a depth that is sought: more than the digits of a number."""


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
    sheets, covers = _sheets(scene)
    bare = bare_room(scene)
    inside, width, height, floor = bare.inside, bare.hall.width, bare.hall.height, bare.hall.floor
    relief, apparent, built_depth = bare.relief, bare.relief.apparent_depth, bare.relief.built_depth
    outside = frame_outside(scene, sheets, inside, (width, height, floor))
    front = 0.0
    if outside is not None:
        webs = scene.vault.material if scene.vault is not None else None  # a thicker frame would end before thin webs
        material, finish = _material(scene, scene.front.material or webs), scene.front.finish
        sheet = SurfaceSheet(material=material, thickness=scene.materials[material].thickness, finish=finish)
        sheets["front-frame"] = sheet
        if sheet.thickness + sheet.finish >= built_depth:
            found, remedy = "the front frame is thicker than the room is deep", "give front.material a thinner sheet"
            _fail(("front",), found, f"below {built_depth:.4g} mm", remedy)
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
    sheets, _ = _sheets(scene)
    inside = _surveyed(scene.box)
    width, height, floor = _cross_section(scene, sheets, inside)
    built_depth = _room_behind(scene, sheets, width, _built_depth(scene, sheets, inside), inside)
    distance, apparent = _two_of_three(scene, built_depth, width)
    _eye_inside(scene, width, height, floor)
    apron = scene.space.apron
    eye = (scene.eye.right, -distance, scene.eye.height)
    return BareRoom(
        hall=Hall(
            scale=scene.space.scale, width=width, height=height, depth=apparent, floor=floor, apron=apron, front=0.0
        ),
        relief=Relief(eye=eye, apron=apron, apparent_depth=apparent, built_depth=built_depth),
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
    shape = shape_of(scene.vault, hall)
    over = shape.springing + shape.rise * float(shape.share(2 * scene.eye.right / hall.width))
    if scene.eye.height >= over:
        _fail(
            ("eye", "height"),
            f"{scene.eye.height:g} mm is above the vault where the eye stands, which would lean out of the box",
            f"between {hall.floor:.4g} and {over:.4g} mm",
            "lower the eye, or move it toward the vault's middle",
        )
    start, eased = frame_webs(shape, relief, hall.sheet(scene.vault.material).thickness, hall.front)
    hall = replace(hall, springing=shape.springing, bay_lines=shape.lines, web_front=start, web_eased=eased)
    return replace(hall, tops=tops(shape, hall))


def _least_ends(scene: Scene, relief: Relief) -> tuple[float, float]:
    """Return the imagined lengths that the printer's least wall is at the opening, and at the back wall past its play.

    Where the built room is shallower than that, it is the whole hall's.
    """
    least = scene.make.printer.min_wall
    back = relief.built_depth - scene.make.fit - least
    whole = relief.apparent_depth
    front = relief.imagined_depth(least) if least < relief.built_depth else whole
    return front, whole - relief.imagined_depth(back) if back > 0 else whole


def _fail(path: KeyPath, found: str, allowed: str, remedy: str) -> None:
    raise SceneError([Problem(path=path, found=found, allowed=allowed, remedy=remedy)])


def _material(scene: Scene, named: str | None) -> str:
    return named if named is not None else next(iter(scene.materials))


def _sheets(scene: Scene) -> tuple[dict[str, SurfaceSheet], dict[str, str | None]]:
    """Return sheet and cover of every surface that is built, by part id."""
    sheets: dict[str, SurfaceSheet] = {}
    covers: dict[str, str | None] = {}
    for name in SURFACES:
        table = getattr(scene, name)
        if table.build and not (name == "ceiling" and scene.vault is not None):
            material = _material(scene, table.material)
            sheets[PART_OF[name]] = SurfaceSheet(
                material=material, thickness=scene.materials[material].thickness, finish=table.finish
            )
            covers[PART_OF[name]] = table.cover
    return sheets, covers


def _total(sheets: dict[str, SurfaceSheet], part: str) -> float:
    return sheets[part].thickness + sheets[part].finish if part in sheets else 0.0


def _cross_section(scene: Scene, sheets: dict[str, SurfaceSheet], inside: Inside) -> tuple[float, float, float]:
    """Return width, height and floor level of the hall at the opening, mm."""
    clearance, scale = scene.box.clearance, scene.space.scale
    thick = max(_total(sheets, "left-wall"), _total(sheets, "right-wall"))
    floor = _total(sheets, "floor")
    most_wide = scene.box.width - 2 * (thick + clearance)
    most_high = scene.box.height - floor - _total(sheets, "ceiling") - clearance
    if inside.measured:
        most_wide, most_high = _between_walls(scene, inside, 2 * thick, floor + _total(sheets, "ceiling"))
    for name, room in (("width", most_wide), ("height", most_high)):
        if room <= 0:
            found = f"the sheets and the clearance leave no room inside {getattr(scene.box, name):g} mm"
            allowed = f"more than {getattr(scene.box, name) - room:.4g} mm"
            given = getattr(scene.box, name)
            metres = f'; for metres write "{given:g} m", since numbers here are millimetres' if given < SMALLEST else ""
            _fail(("box", name), found, allowed, f"take a larger box or thinner sheets{metres}")
    width = most_wide if scene.space.width is None else scene.space.width * 1000 / scale
    height = most_high if scene.space.height is None else scene.space.height * 1000 / scale
    if scene.vault is not None:
        height = _crown(scene, most_high)
    for name, wanted, room in (("width", width, most_wide), ("height", height, most_high)):
        if wanted > room + BARE:
            _fail(
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
        webs = scene.materials[_material(scene, scene.vault.material)].thickness
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
    thickness = scene.materials[_material(scene, vault.material)].thickness
    crown, room = (vault.springing + vault.rise) * 1000 / scale, most_high - thickness
    if scene.space.height is not None:
        _fail(
            ("space", "height"),
            "a hall under a vault is as high as the vault",
            "springing and rise of [vault]",
            "take height out",
        )
    if crown > room + BARE:
        least = room * scale / 1000 - vault.springing
        _fail(
            ("vault", "rise"),
            f"springing and rise are {crown:.4g} mm at 1:{scale:g}; floor, webs and clearance leave {room:.4g} mm",
            f"at most {least:.4g} m over this springing" if least > 0 else "a lower springing",
            f"make the vault lower, or raise space.scale to {scale * crown / room:.3g}",
        )
    return crown


def _built_depth(scene: Scene, sheets: dict[str, SurfaceSheet], inside: Inside) -> float:
    deepest = inside.depth - scene.box.back_gap - _total(sheets, "back-wall") - scene.box.clearance
    if deepest <= scene.space.apron:
        needed, make = inside.depth - deepest + scene.space.apron, scene.box.make
        in_lid = scene.box.part == "lid" and make is not None
        _fail(
            ("box", "make", "lid") if in_lid else ("box", "depth"),
            f"back gap, back sheet, clearance and apron leave {deepest - scene.space.apron:.4g} mm of depth",
            f"more than {needed + (make.end_thickness if in_lid and make is not None else 0.0):.4g} mm",
            "take a deeper box or a thinner sheet, or a smaller back_gap or apron",
        )
    wanted = scene.space.built_depth
    if wanted is None:
        return deepest
    if wanted > deepest + BARE:
        remedy = "make it smaller, or leave it out to use all of the box"
        _fail(("space", "built_depth"), f"{wanted:g} mm does not fit the box", f"at most {deepest:.4g} mm", remedy)
    if wanted <= scene.space.apron:
        remedy = "make it deeper, or the apron shorter"
        _fail(("space", "built_depth"), f"{wanted:g} mm ends on the apron", f"above {scene.space.apron:g} mm", remedy)
    return wanted


def _room_behind(scene: Scene, sheets: dict[str, SurfaceSheet], width: float, deepest: float, inside: Inside) -> float:
    """Return the deepest built depth that leaves room for all that stands behind the back wall, mm.

    It goes back with the wall through the same relief, so the depth is sought by halving.
    """
    back, floor = _total(sheets, "back-wall"), _total(sheets, "floor")
    behind = [
        end for table in scene.openings if table.wall == "back" for end in ends_behind(table, scene, width, back, floor)
    ]
    if not behind or scene.space.built_depth is not None:
        return deepest
    limit = inside.depth - scene.box.back_gap - scene.box.clearance

    def fits(built: float) -> bool:
        distance, apparent = _two_of_three(scene, built, width)
        eye = (scene.eye.right, -distance, scene.eye.height)
        relief = Relief(eye=eye, apron=scene.space.apron, apparent_depth=apparent, built_depth=built)
        return all(relief.built_y(apparent + end.length) + end.thickness(relief) <= limit for end in behind)

    if fits(deepest):
        return deepest
    low, high = scene.space.apron, deepest
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if middle - scene.space.apron <= BARE:
            break
        low, high = (middle, high) if fits(middle) else (low, middle)
    if low == scene.space.apron:
        _fail(
            ("openings", next(number for number, table in enumerate(scene.openings) if table.wall == "back")),
            f"what ends behind openings of the back wall leaves none of the {deepest - scene.space.apron:.4g} mm "
            "of depth there are before it",
            "what leaves some",
            "make the box deeper, or what is behind them shorter and thinner",
        )
    return low


def _two_of_three(scene: Scene, built_depth: float, width: float) -> tuple[float, float]:
    """Return eye distance from the opening and apparent depth, mm; the reader has seen to it that two are given."""
    space, apron = scene.space, scene.space.apron
    built = built_depth - apron
    key = "back_scale" if space.back_scale is not None else "back_width"
    scale = space.back_scale if space.back_width is None else space.back_width / width
    distance = scene.eye.distance
    apparent = None if space.depth is None else _at_least(space.depth * 1000 / space.scale, built_depth)
    if apparent is not None and apparent - apron < built:
        needed = built_depth * space.scale / 1000
        _fail(
            ("space", "depth"),
            f"{space.depth:g} m is {apparent:.4g} mm at 1:{space.scale:g}, less than the built {built_depth:.4g} mm",
            f"at least {math.ceil(needed * 1000 - BARE) / 1000:g} m",
            "imagine a deeper room, or give a smaller space.built_depth",
        )
    try:
        if distance is not None and apparent is not None:
            solve.back_scale(distance + apron, apparent - apron, built)
        elif distance is not None and scale is not None:
            apparent = _at_least(solve.apparent_depth(distance + apron, scale, built) + apron, built_depth)
        elif apparent is not None and scale is not None:
            distance = solve.eye_distance(apparent - apron, scale, built) - apron
    except solve.UnsolvableError as error:
        _fail(
            ("space", key),
            str(error),
            "two of eye.distance, space.depth and a back scale that agree",
            "take out the back scale and give eye.distance and space.depth: these always agree",
        )
    if distance is None or apparent is None:
        raise AssertionError("the reader lets no scene pass without two of the three")
    if apparent - apron < built:
        _fail(
            ("space", key),
            f"this back scale puts the back wall at {apparent:.4g} mm, before the built one at {built_depth:.4g} mm",
            "a back scale below 1",
            "make the back scale smaller, or give space.depth in its place",
        )
    if (distance + built_depth) < LEAST_SCALE * (distance + apparent):
        deepest = ((distance + built_depth) / LEAST_SCALE - distance) * space.scale / 1000
        _fail(
            ("space", key if space.depth is None else "depth"),
            f"the back wall would be built at {(distance + built_depth) / (distance + apparent):.2g} of its size",
            f"at least {LEAST_SCALE:g}, which is a depth of {deepest:.4g} m at 1:{space.scale:g}",
            "imagine a shallower room, or raise space.scale",
        )
    if distance <= 0:
        _fail(
            ("space", key),
            f"the eye would have to stand {-distance:.4g} mm inside the box",
            "figures that put it before the opening",
            "make the back scale larger or the room deeper",
        )
    return distance, apparent


def _at_least(apparent: float, built_depth: float) -> float:
    """Return an apparent depth, the built one where it falls short of that by rounding only."""
    return built_depth if abs(apparent - built_depth) <= BARE else apparent


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
