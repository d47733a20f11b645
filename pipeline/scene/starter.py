"""The scene file that ``foreshorten begin`` writes: a small room that builds as it is, every line explained."""

from __future__ import annotations

import json

LONGEST_TITLE = 200


def starter_scene(name: str) -> str:
    """Return a commented starter scene with ``name`` as its title."""
    return _STARTER.replace("@TITLE@", _quote(name))


def _quote(name: str) -> str:
    printable = "".join(letter if letter.isprintable() else " " for letter in name)
    return json.dumps(printable[:LONGEST_TITLE].strip() or "My room", ensure_ascii=False)


_STARTER = """\
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
width = 160
height = 120
depth = 70

[eye]                   # the one point the room is made for, in mm
distance = 400          # in front of the box's opening
height = 60             # above the inside bottom of the box

[space]                 # the room the viewer believes in
scale = 24              # 1:24, so that 1 m of the room is 41.7 mm at the opening
depth = 6.0             # how deep it seems, in m
# Of eye.distance, space.depth and space.back_scale any two are given, and the third follows.
# back_scale = 0.6      # size of the back wall as built, over its believed size

# The room comes out 3.72 m wide and 2.77 m high: what the box, the sheets and a little play leave.

# The five surfaces. A cover is a pattern, described further down under [covers]; without one the surface is plain.

[left]
cover = "brick"

[right]
cover = "brick"

[back]
cover = "brick"

[floor]
cover = "boards"

# [ceiling] is not here, so it is plain.

[covers.brick]          # sizes of one brick, in m, and of the joint round it
pattern = "running"     # others: stack third header english flemish flags planks herringbone
length = 0.215
height = 0.065
width = 0.1025
joint = 0.010

[covers.boards]
pattern = "planks"
length = 2.4
width = "15 cm"         # the same as 0.15
joint = 0.005

[[openings]]            # a hole in a wall; two pairs of brackets, since there may be several
name = "door"
wall = "back"           # left, right or back
at = 1.86               # m from the wall's left end to the middle of the hole (side walls: from the box's opening)
width = 1.0
height = 2.1            # to the top of the head
head = "round"          # others: flat segmental pointed ogee basket

[[columns]]             # printed
name = "pier"
at = [[-1.7, 3.0], [1.7, 3.0]]   # two of them; each is m right of the middle, then m from the opening
diameter = 0.3
engaged = true          # half a column against the nearest wall
base = 0.3              # heights, in m
capital = 0.3

[[arches]]              # printed; a ring across the room
name = "cross arch"
at = 1.2                # m from the opening to its front face
depth = 0.35            # how far it reaches along the room
springing = 1.5         # m above the floor, where the curve starts
head = "segmental"
rise = 0.7              # m from there to the top of the curve
ring = 0.25             # thickness of the ring

[materials.card]        # what you cut the surfaces from; the name is yours
thickness = 2.0         # mm, as measured and not as sold
process = "hand"        # hand, knife or laser
sheet = [420, 297]      # mm, the stock it is cut from

[make]
paper = "A4"            # of the paper templates

[make.printer]
bed = [180, 180, 180]   # mm, what fits on your printer
min_wall = 1.0          # mm, the thinnest wall it prints well
process = "resin"       # resin or filament
"""
