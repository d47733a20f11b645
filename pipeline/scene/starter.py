"""The scene file that ``foreshorten begin`` writes: a small room that builds as it is, every line explained."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Literal

Kind = Literal["brick", "vault", "timber", "plain"]
Process = Literal["hand", "knife", "laser"]

KINDS: dict[Kind, str] = {
    "brick": "a brick room with a door at the far end",
    "vault": "a brick tunnel under a barrel vault",
    "timber": "a timber room with a window to one side",
    "plain": "bare surfaces, to fill yourself",
}
"""What a starter scene may be, in words."""
HEIGHTS: dict[Kind, float] = {"brick": 2.8, "vault": 4.0, "timber": 2.5, "plain": 2.8}
"""m; of the room that the viewer believes in."""
LONGEST_TITLE = 200
CLEARANCE = 0.5
"""mm; the default of ``box.clearance``."""
NEAREST = 250.0
"""mm; closer to a box than this hardly anybody looks."""
LEAST_WIDTH = 2.0
"""m; in a narrower room piers and an arch across it would leave little to see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What somebody has, and wants to see.

    Attributes
    ----------
    title
        Of the scene.
    box
        Width, height and depth of the inside, mm.
    distance, height
        Of the eye: in front of the opening, above the inside bottom, mm; nothing takes what suits the box.
    kind
        Of room.
    process
        What cuts the sheets.
    printer
        Whether there is a 3D printer.
    thickness
        Of the sheets, mm.
    paper
        For templates.
    """

    title: str = "My room"
    box: tuple[float, float, float] = (160.0, 120.0, 70.0)
    distance: float | None = None
    height: float | None = None
    kind: Kind = "brick"
    process: Process = "hand"
    printer: bool = True
    thickness: float = 2.0
    paper: str = "A4"


def starter_scene(wishes: Wishes) -> str:
    """Return a commented starter scene."""
    room = _Room(wishes)
    parts = [_HEAD, _SURFACES[wishes.kind], *_things(room)]
    text = "\n".join(part.strip("\n") + "\n" for part in parts)
    for name, value in room.words.items():  # THIN first: it holds others
        text = text.replace(f"@{name}@", value)
    return text


class _Room:
    """The room that fits a box: its scale and its measures in m, rounded as people write them."""

    def __init__(self, wishes: Wishes) -> None:
        self.wishes = wishes
        width, height, depth = wishes.box
        thick = wishes.thickness
        clear = height - 2 * thick - CLEARANCE
        self.scale = max(1, round(HEIGHTS[wishes.kind] * 1000 / max(clear, 1.0)))
        self.width = (width - 2 * (thick + CLEARANCE)) * self.scale / 1000
        self.height = clear * self.scale / 1000
        built = (depth - thick - CLEARANCE) * self.scale / 1000
        self.depth = round(max(1.6 * self.width, 2.4 * built), 1)
        self.distance = round(max(NEAREST, 2.5 * max(width, height)), -1)

    @property
    def roomy(self) -> bool:
        """Whether piers and an arch leave something of the room."""
        return self.width >= LEAST_WIDTH and self.width >= 0.8 * self.height

    @property
    def words(self) -> dict[str, str]:
        """What stands for the names in the text."""
        wishes, half = self.wishes, self.width / 2
        width, height, depth = wishes.box
        door = min(1.0, 0.35 * self.width)
        springing = 0.55 * self.height
        return {
            "THIN": _THIN if wishes.kind == "vault" else "",
            "TITLE": _quote(wishes.title),
            "WIDTH": _number(width),
            "HEIGHT": _number(height),
            "DEPTH": _number(depth),
            "DISTANCE": _number(self.distance if wishes.distance is None else wishes.distance),
            "EYE": _number(round(height / 2) if wishes.height is None else wishes.height),
            "SCALE": str(self.scale),
            "METRE": f"{1000 / self.scale:.1f}",
            "APPARENT": _number(self.depth),
            "HALL": f"{self.width:.2f}",
            "HIGH": f"{self.height:.2f}",
            "MIDDLE": _number(round(half, 2)),
            "DOOR": _number(round(door, 2)),
            "HEAD": _number(round(min(2.1 * door, 0.75 * self.height), 2)),
            "PIER": _number(round(half - 0.02, 2)),
            "PIER_AT": _number(round(0.5 * self.depth, 1)),
            "ARCH_AT": _number(round(0.2 * self.depth, 1)),
            "SPRINGING": _number(round(springing, 2)),
            "RISE": _number(round(min(0.25 * self.height, 0.3 * self.width), 2)),
            "VAULT": _number(round(0.45 * self.height, 2)),
            "VAULT_RISE": _number(round(min(0.53 * self.height, half), 2)),
            "WINDOW_AT": _number(round(0.35 * self.depth, 1)),
            "WINDOW": _number(round(min(1.2, 0.2 * self.depth), 2)),
            "SILL": _number(round(0.35 * self.height, 2)),
            "LIGHT": _number(round(0.4 * self.height, 2)),
            "THICK": _number(wishes.thickness),
            "PROCESS": _quote(wishes.process),
            "SHEET": "[420, 297]      # mm, the stock it is cut from" if max(wishes.box) < 280 else
            f"[{_number(2.5 * max(wishes.box))}, {_number(1.8 * max(wishes.box))}]     # mm, the stock it is cut from",
            "PAPER": _quote(wishes.paper),
        }  # fmt: skip


def _things(room: _Room) -> list[str]:
    """Return what stands in the room."""
    kind = room.wishes.kind
    things = {"brick": [_DOOR], "vault": [_DOOR, _VAULT], "timber": [_DOOR, _WINDOW], "plain": [_EMPTY]}[kind]
    if kind == "brick" and room.wishes.printer and room.roomy:
        return [*things, _PRINTS, _CARD, _PRINTER]
    return [*things, _CARD, *([_PRINTER] if room.wishes.printer else [])]


def _number(value: float) -> str:
    return f"{value:.10g}"


def _quote(name: str) -> str:
    printable = "".join(letter if letter.isprintable() else " " for letter in name)
    return json.dumps(printable[:LONGEST_TITLE].strip() or "My room", ensure_ascii=False)


_HEAD = """
# A scene for foreshorten: a shallow box that looks like a deep room.
#
# Change a number, run `foreshorten build` on this file again, and look at the report.
# Everything after a # is a note to people; the program passes over it.
#
# Lengths: tables about real things (box, eye, materials, make) are in millimetres, tables about the room the viewer
# believes in are in metres. With a unit in quotes you may write either in your own measure:
#   "180 mm"   "75 cm"   "2.4 m"   "3 in"   "12 ft"

format = 1
title = @TITLE@

[box]                   # the inside of your real box, in mm: measure it
width = @WIDTH@
height = @HEIGHT@
depth = @DEPTH@

[eye]                   # the one point the room is made for, in mm
distance = @DISTANCE@          # in front of the box's opening
height = @EYE@             # above the inside bottom of the box

[space]                 # the room the viewer believes in
scale = @SCALE@              # 1:@SCALE@, so that 1 m of the room is @METRE@ mm at the opening
depth = @APPARENT@             # how deep it seems, in m
# Of eye.distance, space.depth and space.back_scale any two are given, and the third follows.
# back_scale = 0.6      # size of the back wall as built, over its believed size

# The room comes out @HALL@ m wide and @HIGH@ m high: what the box, the sheets and a little play leave.

# The five surfaces. A cover is a pattern, described further down under [covers]; without one the surface is plain.
"""

_BRICK = """
[covers.brick]          # sizes of one brick, in m, and of the joint round it
pattern = "running"     # others: stack third header english flemish flags planks herringbone
length = 0.215
height = 0.065
width = 0.1025
joint = 0.010
"""

_SURFACES: dict[Kind, str] = {
    "brick": """
[left]
cover = "brick"

[right]
cover = "brick"

[back]
cover = "brick"

[floor]
cover = "boards"

# [ceiling] is not here, so it is plain.
"""
    + _BRICK
    + """
[covers.boards]
pattern = "planks"
length = 2.4
width = "15 cm"         # the same as 0.15
joint = 0.005
""",
    "vault": """
[left]
cover = "brick"
material = "card"

[right]
cover = "brick"
material = "card"

[back]
cover = "brick"
material = "card"

[floor]
cover = "flags"
material = "card"

# The vault further down takes the ceiling's place.

[front]                 # the frame in the box's opening; behind a thick one a thin vault would leave a slit
material = "thin card"
"""
    + _BRICK
    + """
[covers.flags]
pattern = "flags"
length = 0.60
width = "40 cm"         # the same as 0.40
joint = 0.010
""",
    "timber": """
[left]
cover = "boards"

[right]
cover = "boards"

[back]
cover = "boards"

[floor]
cover = "boards"

[ceiling]
cover = "boards"

[covers.boards]         # sizes of one board, in m, and of the joint round it
pattern = "planks"      # others: running stack third header english flemish flags herringbone
length = 3.0
width = "18 cm"         # the same as 0.18
joint = 0.005
""",
    "plain": """
# [left], [right], [back], [floor] and [ceiling] are not here, so all five are plain. For bricks on the left wall take
# the marks away from these lines:
# [left]
# cover = "brick"
#
# [covers.brick]
# pattern = "running"     # others: stack third header english flemish flags planks herringbone
# length = 0.215          # sizes of one brick, in m, and of the joint round it
# height = 0.065
# width = 0.1025
# joint = 0.010
""",
}

_DOOR = """
[[openings]]            # a hole in a wall; two pairs of brackets, since there may be several
name = "door"
wall = "back"           # left, right or back
at = @MIDDLE@               # m from the wall's left end to the middle of the hole (side walls: from the box's opening)
width = @DOOR@
height = @HEAD@           # to the top of the head
head = "round"          # others: flat segmental pointed ogee basket
"""

_WINDOW = """
[[openings]]
name = "window"
wall = "left"
at = @WINDOW_AT@                # m from the box's opening
width = @WINDOW@
sill = @SILL@             # m above the floor
height = @LIGHT@           # from the sill to the top
"""

_VAULT = """
[vault]                 # replaces the ceiling; cut flat and bent
form = "barrel"         # barrel: a tunnel; groin: crossed by another over every bay
bays = 3
springing = @VAULT@        # m above the floor, where the curve starts
rise = @VAULT_RISE@             # m from there to the crown
profile = "round"       # round pointed segmental
rib_width = 0           # m; above 0 there are ribs between the bays
material = "thin card"
"""

_EMPTY = """
# A door in the back wall:
# [[openings]]            # a hole in a wall; two pairs of brackets, since there may be several
# name = "door"
# wall = "back"           # left, right or back
# at = @MIDDLE@               # m from the wall's left end to the middle of the hole
# width = @DOOR@
# height = @HEAD@           # to the top of the head
# head = "round"          # others: flat segmental pointed ogee basket
"""

_PRINTS = """
[[columns]]             # printed
name = "pier"
at = [[-@PIER@, @PIER_AT@], [@PIER@, @PIER_AT@]]   # two of them; each is m right of the middle, then m from the opening
diameter = 0.3
engaged = true          # half a column against the nearest wall
base = 0.3              # heights, in m
capital = 0.3

[[arches]]              # printed; a ring across the room
name = "cross arch"
at = @ARCH_AT@                # m from the opening to its front face
depth = 0.35            # how far it reaches along the room
springing = @SPRINGING@         # m above the floor, where the curve starts
head = "segmental"
rise = @RISE@              # m from there to the top of the curve
ring = 0.25             # thickness of the ring
"""

_CARD = """
[materials.card]        # what you cut the surfaces from; the name is yours
thickness = @THICK@         # mm, as measured and not as sold
process = @PROCESS@        # hand, knife or laser
sheet = @SHEET@

@THIN@[make]
paper = @PAPER@            # of the paper templates
"""

_THIN = """\
[materials."thin card"] # for the vault
thickness = 0.5
process = @PROCESS@
sheet = @SHEET@
min_bend = 8            # mm, the smallest radius it bends to without a crease; 0 = it does not bend

"""

_PRINTER = """
[make.printer]
bed = [180, 180, 180]   # mm, what fits on your printer
min_wall = 1.0          # mm, the thinnest wall it prints well
process = "resin"       # resin or filament
"""
