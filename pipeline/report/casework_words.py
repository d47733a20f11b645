"""The box in words: its measures, its cut list, and how it is glued, sawn and hung."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.casework.boards import Board, Casework
from pipeline.casework.cut_list import end_words, rebate_words
from pipeline.casework.fingers import lay_fingers
from pipeline.casework.shell import Shell
from pipeline.report.casework_steps import box_steps

PICTURE = "pictures/box.png"
OTHER = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
"""Side of the lid's scene on which a side of the box lies, where the lid hangs on it."""
TIMES = " \N{MULTIPLICATION SIGN} "

_BESIDE = (
    "Swung open by half a turn the lid stands beside the box, on what the box stands on: keep that much of the shelf "
    "free."
)
OPENING = {
    "left": _BESIDE,
    "right": _BESIDE,
    "top": "The lid swings up and falls shut of itself: give it a stay on one side, or a prop.",
    "bottom": "The lid swings down, past what the box stands on: set the box on feet or a block at least {lid:g} mm "
    "high that ends at its front, or at the edge of the shelf; a cord on each side keeps the lid from hanging in its "
    "hinges.",
}
"""What each side that the lid may hang on asks of the place where the box stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardRow:
    """A line of the cut list; lengths in mm as text."""

    id: str
    length: str
    width: str
    thickness: str
    material: str
    work: str
    files: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxWords:
    """What the page says of the box.

    Attributes
    ----------
    lead
        What it is.
    measures
        What, how much, and what it means.
    boards
        The cut list.
    steps
        What to do, in order.
    notes
        About what, and what is to be known.
    picture
        The box glued, and sawn and open, as a PNG file.
    """

    lead: str
    measures: tuple[tuple[str, str, str], ...]
    boards: tuple[BoardRow, ...]
    steps: tuple[str, ...]
    notes: tuple[tuple[str, str], ...]
    picture: bytes


def box_words(casework: Casework | None, picture: bytes) -> BoxWords | None:
    """Return what the page says of the box, or nothing where it is not made."""
    if casework is None:
        return None
    shell = casework.shell
    return BoxWords(
        lead=_lead(shell),
        measures=tuple(_measures(casework)),
        boards=tuple(_row(shell, board) for board in casework.boards),
        steps=box_steps(casework),
        notes=tuple(_notes(casework)),
        picture=picture,
    )


def _lead(shell: Shell) -> str:
    lead = "Six boards are glued up as one shut box, and lid and box are then sawn apart, so that they match all round."
    if shell.part == "lid":
        beside = ("right", "left") if shell.make.hinge in ("left", "right") else ("top", "bottom")
        lead += (
            " This scene is the lid's; its boards are those of the scene in the box: make them once. They are on that "
            f"scene's sheets and bill, not on these, and bear its names: seen into the lid, box-{beside[0]} is "
            f"{beside[1]}."
        )
    return lead


def _measures(casework: Casework) -> list[tuple[str, str, str]]:
    shell, hinging = casework.shell, casework.hinging
    make = shell.make
    rows = [
        ("Inside the box", _size(shell.width, shell.height, shell.depth), "Width, height, and depth from its rim."),
        ("Inside the lid", _size(shell.width, shell.height, make.room), "What board and saw leave."),
        ("Outside, closed", _size(*shell.outside), "Without hinges."),
        ("Sides cut", f"{shell.sides_deep:.2f} mm", "Wide: both halves, and what the saw takes."),
        (
            "Saw line",
            f"{shell.saw_from_edge:.2f} mm",
            "From the back edge of the sides, to the box's rim"
            + ("." if make.ends == "let in" else f"; {shell.saw_from_outside:.2f} mm from the outside of the back."),
        ),
        ("Saw's kerf", f"{make.saw:g} mm", "Beyond that line, toward the lid. Nothing else is taken out for it."),
        (
            "Hinge line",
            f"{make.hinge}, outside",
            "Where box and lid meet; the pin of the hinges lies along it."
            + (
                f" That is as the box is seen; seen into the lid, as this scene is, it is {OTHER[make.hinge]}."
                if shell.part == "lid"
                else ""
            ),
        ),
        (
            "Hinges",
            f"{len(hinging.middles)}" if hinging.screwed else "a strip",
            f"Linen or leather, {hinging.long:.0f} mm long: boards of {make.board:g} mm hold no screws."
            if not hinging.screwed
            else f"Up to {hinging.length:.0f} mm long, middles {hinging.from_ends:.1f} mm from the ends"
            + (", the third in the middle" if len(hinging.middles) == 3 else "")
            + f"; screws {hinging.screws:g} mm from either rim.",
        ),
    ]
    if make.joint == "finger":
        box, lid = lay_fingers(shell).widths
        rows.append(
            ("Fingers", f"{box:.2f} mm, in the lid {lid:.2f} mm", "The one that the saw passes through holds one of "
             "each, and the kerf: both rims end in a whole finger, and a saw a hair off leaves no sliver.")
        )  # fmt: skip
    return rows


def _row(shell: Shell, board: Board) -> BoardRow:
    length, width = board.size
    return BoardRow(
        id=board.id,
        length=f"{length:.2f}",
        width=f"{width:.2f}",
        thickness=f"{board.thickness:g}",
        material=board.material or "by hand",
        work="; ".join([end_words(shell, board), *(f"rebate {words}" for words in rebate_words(board))]) + ".",
        files=(f"box/{board.id}.dxf", f"box/{board.id}.svg"),
    )


def _notes(casework: Casework) -> list[tuple[str, str]]:
    shell, hinging = casework.shell, casework.hinging
    make = shell.make
    other, room = ("lid", make.room) if shell.part == "box" else ("box", shell.depth)
    most = min(room, shell.width, shell.height)
    wide = min(casework.boards[-1].size)
    return [
        (
            f"Room in the {other}",
            f"{_size(shell.width, shell.height, room)}, for a scene of its own"
            + (' ([box] part = "lid", the rest of [box] as here).' if other == "lid" else ' ([box] part = "box").'),
        ),
        (
            "Closing",
            "What ends at the rim never meets the other half. Two front frames lie face to face there: keep their "
            "paint thin, or let the hinges hold them a card apart. A knob or a lamp that stands out before the "
            f"rim, by {most:g} mm at the most, must keep {hinging.kept_clear(most):.2f} mm off the side opposite "
            "the hinges, past which it swings; less, if it stands out less.",
        ),
        ("Opening", OPENING[make.hinge].format(lid=make.lid)),
        (
            "Grain and seasons",
            f"Grain runs along the length of every board. A solid back or lid board {wide:.0f} mm wide moves across "
            f"its grain by 1 to 2 in a hundred with the seasons, up to {0.02 * wide:.1f} mm here, and splits or "
            "bursts the corners if it is glued all round: take plywood for these two, or glue them along the "
            "middle only.",
        ),
        (
            "Measures hold if",
            f"the boards are as thick as the scene says ({make.board:g} mm, ends {make.end_thickness:g} mm). "
            "Measure them, and the slot your saw leaves in a scrap, before anything is cut.",
        ),
    ]


def _size(width: float, height: float, depth: float) -> str:
    return f"{width:g}{TIMES}{height:g}{TIMES}{depth:g} mm"
