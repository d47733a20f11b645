"""The pieces of a starter scene; ``@NAME@`` stands for what the box and the wishes make of it."""

from __future__ import annotations

HEAD = """
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

BRICK = """
[covers.brick]          # sizes of one brick, in m, and of the joint round it
pattern = "running"     # others: stack third header english flemish flags planks herringbone
length = 0.215
height = 0.065
width = 0.1025
joint = 0.010
"""

SURFACES: dict[str, str] = {
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
    + BRICK
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
    + BRICK
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

DOOR = """
[[openings]]            # a hole in a wall; two pairs of brackets, since there may be several
name = "door"
wall = "back"           # left, right or back
at = @MIDDLE@               # m from the wall's left end to the middle of the hole (side walls: from the box's opening)
width = @DOOR@
height = @HEAD@           # to the top of the head
head = "round"          # others: flat segmental pointed ogee basket
"""

WINDOW = """
[[openings]]
name = "window"
wall = "left"
at = @WINDOW_AT@                # m from the box's opening
width = @WINDOW@
sill = @SILL@             # m above the floor
height = @LIGHT@           # from the sill to the top
"""

VAULT = """
[vault]                 # replaces the ceiling; cut flat and bent
form = "barrel"         # barrel: a tunnel; groin: crossed by another over every bay
bays = 3
springing = @VAULT@        # m above the floor, where the curve starts
rise = @VAULT_RISE@             # m from there to the crown
profile = "round"       # round pointed segmental
rib_width = 0           # m; above 0 there are ribs between the bays
material = "thin card"
"""

EMPTY = """
# A door in the back wall:
# [[openings]]            # a hole in a wall; two pairs of brackets, since there may be several
# name = "door"
# wall = "back"           # left, right or back
# at = @MIDDLE@               # m from the wall's left end to the middle of the hole
# width = @DOOR@
# height = @HEAD@           # to the top of the head
# head = "round"          # others: flat segmental pointed ogee basket
"""

PRINTS = """
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

CARD = """
[materials.card]        # what you cut the surfaces from; the name is yours
thickness = @THICK@         # mm, as measured and not as sold
process = @PROCESS@
sheet = @SHEET@

@THIN@[make]
paper = @PAPER@            # of the paper templates
edges = @EDGES@

[supports]              # what holds the leaning floor up
stringers = 2           # wedges under it
material = "card"
"""

LASER = """\
"laser"       # hand, knife or laser
kerf = 0.15             # mm, what the beam takes away: common; `foreshorten coupon` tells yours"""

BEVELS = """\
"bevel"         # cut along the lean of the wall behind it; "square" needs no bevels, and shows the sheet's edge"""

SQUARE = """\
"square"        # as a machine cuts; "bevel" is for a blade held at a slant"""

THIN = """\
[materials."thin card"] # for the vault
thickness = 0.5
process = @PROCESS@
sheet = @SHEET@
min_bend = 8            # mm, the smallest radius it bends to without a crease; 0 = it does not bend

"""

PRINTER = """
[make.printer]
bed = [180, 180, 180]   # mm, what fits on your printer
min_wall = 1.0          # mm, the thinnest wall it prints well
process = "resin"       # resin or filament
"""
