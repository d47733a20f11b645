"""The table of a box that is to be made, and what of it cannot be.

Terms
-----
lid
    What is sawn off the glued box in front of the opening; its height is from the outside of its board to that line.
end board
    The back board, or the lid's.
half
    The box or the lid, once sawn apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from pipeline.elements.problems import KeyPath, Problem
from pipeline.scene.values import show
from pipeline.units import Length, PositiveMillimetres, Table, parse_length

BOARDS = ("box-bottom", "box-top", "box-left", "box-right", "box-back", "box-lid")
"""Ids of the boards."""
MOST_FINGERS = 200
"""Of one half; narrower ones break."""
AGREE = 1e-6
"""mm; thicknesses that differ by less are one."""
LEAST_SCREWS = 6.0
"""mm from the edge that a hinge's screws sit unless told otherwise, or half the lid's room where that is less."""
LEAST_EDGE = 3.0
"""mm from the rim that a small hinge's screws want at the least: one and a half times a screw of 2 mm, or it splits."""
HELD = 4.0
"""mm of board that hold such a screw: twice its thickness of thread."""
USUAL_FINGER = 2.0
"""Width of a finger over the board's thickness unless told otherwise."""


@dataclass(frozen=True, slots=True)
class SawCut(Length):
    """A saw's kerf: refused in words that say what saws take."""

    @property
    def form(self) -> str:
        """What to write."""
        return (
            "Saw a scrap and measure the slot: a fine hand saw takes about 0.5 mm, a band saw 1, a circular saw 2 to 3."
        )


@dataclass(frozen=True, slots=True)
class FingerWidth(Length):
    """A finger's width: refused in words that say which are usual."""

    @property
    def form(self) -> str:
        """What to write."""
        return "Take one to two boards' thickness, or leave finger out: then it is two, or what the lid has room for."


Board = Annotated[float, Length("mm", 0.0, above=True, most=100.0)]
Cut = Annotated[float, SawCut("mm", 0.0, above=True, most=10.0)]
Finger = Annotated[float, FingerWidth("mm", 1.0, most=500.0)]
Lid = Annotated[float, Length("mm", 0.0, above=True, most=2000.0)]
"""As far as the inside of a box."""
LetIn = Annotated[float, Length("mm", 0.0, most=100.0)]
Joint = Literal["butt", "mitre", "rebate", "finger"]
Edge = Literal["left", "right", "top", "bottom"]
OF_JOINT = {"rebate": "rebate", "finger": "finger"}
"""Keys that belong to one joint."""


class BoxMake(Table):
    """`[box.make]`: the box itself, six boards glued shut and sawn apart along the opening, mm."""

    board: Board = Field(description="Thickness of the four sides as measured, mm.")
    end_board: Board | None = Field(
        default=None, description="Thickness of the back board and of the lid's, mm; left out, as thick as the sides."
    )
    material: str | None = Field(
        default=None, description="Sheet of [materials] that the boards are laid on; left out, they are cut by hand."
    )
    end_material: str | None = Field(
        default=None, description="The same for back and lid; left out, that of the sides where it is as thick."
    )
    joint: Joint = Field(
        default="mitre",
        description="How the sides meet at the corners; butt and rebate: top and bottom run over the other two.",
    )
    rebate: Board | None = Field(
        default=None, description='Depth of the corner rebates of joint = "rebate", mm; left out, half the board.'
    )
    finger: Finger | None = Field(
        default=None, description='Width of the fingers of joint = "finger", about, mm; left out, two boards.'
    )
    ends: Literal["laid on", "let in"] = Field(
        default="laid on",
        description="Back and lid boards: laid on the edges of the sides, or let in flush between them.",
    )
    let_in: LetIn | None = Field(
        default=None,
        description="Depth of the rebate in the sides that holds boards let in, mm; 0: none, they stand between the"
        " sides; left out, half the board.",
    )
    lid: Lid = Field(description="Height of the lid, mm, from the outside of its board to where it meets the box.")
    saw: Cut = Field(description="Kerf of the saw that parts lid and box, measured in a scrap, mm.")
    hinge: Edge = Field(default="left", description="Side that the lid hangs on, as seen from the front of the box.")
    screws: PositiveMillimetres | None = Field(
        default=None, description="From the edge where lid and box meet to the hinges' screws, mm; left out, 6."
    )

    @property
    def end_thickness(self) -> float:
        """Thickness of the back board and the lid's, mm."""
        return self.board if self.end_board is None else self.end_board

    @property
    def room(self) -> float:
        """Inside depth of the lid, mm."""
        return self.lid - self.end_thickness

    @property
    def rebate_depth(self) -> float:
        """Depth of the corner rebates, mm."""
        return self.board / 2 if self.rebate is None else self.rebate

    @property
    def let_in_depth(self) -> float:
        """How deep the end boards reach into the sides, mm."""
        if self.ends == "laid on":
            return 0.0
        return self.board / 2 if self.let_in is None else self.let_in

    @property
    def screw_line(self) -> float:
        """From the edge where lid and box meet to the hinges' screws, mm."""
        return min(LEAST_SCREWS, self.room / 2) if self.screws is None else self.screws

    @property
    def sheet_of_ends(self) -> str | None:
        """Sheet that back and lid are laid on."""
        if self.end_material is None and abs(self.end_thickness - self.board) <= AGREE:
            return self.material
        return self.end_material

    def sides_of(self, inside: float) -> float:
        """Return how deep the sides of a half are that is so deep inside, mm."""
        return inside + (self.end_thickness if self.ends == "let in" else 0.0)

    def finger_width(self, depth: float) -> float:
        """Return about how wide fingers shall be, mm, in a box ``depth`` deep inside."""
        most = min(self.sides_of(depth), self.sides_of(self.room)) / 2
        return min(USUAL_FINGER * self.board, most) if self.finger is None else self.finger


def casing_problems(data: dict[str, Any]) -> Iterator[Problem]:
    """Yield what of a box to be made cannot be, and what would fit; tables of the wrong shape are passed over."""
    box = data.get("box")
    if not isinstance(box, dict):
        return
    if box.get("part") == "lid" and "make" not in box:
        yield Problem(
            path=("box", "part"),
            found="the lid's depth is what the saw leaves of it, and nothing tells how the box is made",
            allowed="a lid of a box with a table [box.make]",
            remedy="add [box.make] as in the scene of the box itself",
        )
    try:
        make = BoxMake.model_validate(box.get("make"))
    except ValidationError:
        return
    yield from _thin_lid(make)
    yield from _depths(make)
    yield from _strange_keys(make)
    yield from _stock(make, data.get("materials"))
    if make.room > 0:
        yield from _screws(make)
        depth = parse_length(box.get("depth"), "mm")
        if make.joint == "finger" and depth is not None and depth > 0:
            yield from _fingers(make, depth)


def _path(key: str) -> KeyPath:
    return ("box", "make", key)


def _thin_lid(make: BoxMake) -> Iterator[Problem]:
    if make.room > 0:
        return
    board = make.end_thickness
    yield Problem(
        path=_path("lid"),
        found=f"a lid {make.lid:g} mm high is no thicker than its board of {board:g} mm, and has no sides",
        allowed=f"above {board:g} mm",
        remedy=f"make it higher: {2 * board:g} mm leaves {board:g} mm of room in it",
    )


def _depths(make: BoxMake) -> Iterator[Problem]:
    for key, depth in (("rebate", make.rebate), ("let_in", make.let_in)):
        if depth is not None and depth >= make.board:
            yield Problem(
                path=_path(key),
                found=f"{depth:g} mm goes through a board of {make.board:g} mm",
                allowed=f"below {make.board:g} mm",
                remedy=f"make it shallower; {make.board / 2:g} mm is usual",
            )


def _strange_keys(make: BoxMake) -> Iterator[Problem]:
    for key, joint in OF_JOINT.items():
        if getattr(make, key) is not None and make.joint != joint:
            yield Problem(
                path=_path(key), found=f'{key} is of joint = "{joint}", and the corners are {show(make.joint)}',
                allowed=f'joint = "{joint}" beside it', remedy=f"take {key} out, or change the joint",
            )  # fmt: skip
    if make.let_in is not None and make.ends != "let in":
        yield Problem(
            path=_path("let_in"), found="back and lid are laid on, and reach into nothing",
            allowed='ends = "let in" beside it', remedy="take let_in out, or let them in",
        )  # fmt: skip


def _stock(make: BoxMake, materials: Any) -> Iterator[Problem]:
    """Yield a problem where boards and the sheet they are to be cut from differ."""
    both = (("material", "board", make.board), ("end_material", "end_board", make.end_thickness))
    for key, own, thickness in both:
        name = getattr(make, key)
        table = materials.get(name) if isinstance(materials, dict) and name is not None else None
        sheet = parse_length(table.get("thickness"), "mm") if isinstance(table, dict) else None
        if sheet is not None and abs(sheet - thickness) > AGREE:
            yield Problem(
                path=_path(key), found=f"{show(name)} is {sheet:g} mm thick, and {own} is {thickness:g} mm",
                allowed=f"{own} = {sheet:g}, or a sheet of {thickness:g} mm",
                remedy="measure the sheet, and write what it is in both places",
            )  # fmt: skip


def _screws(make: BoxMake) -> Iterator[Problem]:
    if make.screw_line >= make.room:
        yield Problem(
            path=_path("screws"),
            found=f"screws {make.screw_line:g} mm from the edge miss the lid's sides, which are {make.room:g} mm deep",
            allowed=f"below {make.room:g} mm; {min(LEAST_SCREWS, make.room / 2):g} mm is safe",
            remedy="bring them nearer to the edge, or make the lid higher",
        )


def _fingers(make: BoxMake, depth: float) -> Iterator[Problem]:
    halves = {"the lid": make.sides_of(make.room), "the box": make.sides_of(depth)}
    lower, side = min(halves.items(), key=lambda half: half[1])
    if make.finger is not None and make.finger > side / 2:
        yield Problem(
            path=_path("finger"),
            found=f"fingers of {make.finger:g} mm are wider than half the sides of {lower}, which are {side:g} mm deep",
            allowed=f"at most {side / 2:g} mm, so that two of them lock",
            remedy="make them narrower, or the lid higher" if lower == "the lid" else "make them narrower",
        )
    wide = make.finger_width(depth)
    deeper = max(halves.values())
    if deeper / wide > MOST_FINGERS:
        yield Problem(
            path=_path("finger"),
            found=f"fingers of {wide:g} mm make {deeper / wide:.0f} of them along sides {deeper:g} mm deep",
            allowed=f"at most {MOST_FINGERS}: {deeper / MOST_FINGERS:.3g} mm or wider",
            remedy="make them wider" if make.finger is not None else "give finger a width, or take another joint",
        )
