"""How a box is made, step by step."""

from __future__ import annotations

from pipeline.casework.boards import Casework
from pipeline.casework.shell import Shell

CORNERS = {
    "butt": "Cut all ends square. Top and bottom run over the ends of left and right. End grain drinks glue: size "
    "it first, and strengthen the corners with dowels or pins{clear}.",
    "mitre": "Mitre the ends of all four at 45\N{DEGREE SIGN}, lengths to the long points on the outside (the "
    "outline of the drawings; BEVEL is the inside). Check that opposite sides are of one length, and try the "
    "corners dry. Size the end grain; splines or keys across the corners, where you want them, go in when the glue "
    "is hard{clear}.",
    "rebate": "Cut all ends square. Rebate the inside of top and bottom at both ends, {rebate:g} mm deep and as "
    "wide as the board is thick, {board:g} mm, to take left and right. Try the corners dry.",
    "finger": "Cut the fingers on the outlines as drawn; by hand, from templates.pdf, saw on the waste side. The "
    "wide finger lies under the saw line: keep all boards the same way round. They are to go together with a light "
    "tap; the sheets' drawings bear your cutter's kerf, the boards' own do not.",
}


def box_steps(casework: Casework) -> tuple[str, ...]:
    """Return the steps from boards to a hung lid."""
    shell = casework.shell
    make = shell.make
    clear = f", but none within {max(make.saw + 3, 5):g} mm of the saw line"
    sizes = CORNERS[make.joint].format(clear=clear, rebate=make.rebate_depth, board=make.board)
    return (
        _sides(casework),
        f"Mark the outside and the back edge of each, and on the outside the saw line, {shell.saw_from_edge:.2f} mm "
        f"from the back edge, with the {make.saw:g} mm of the saw beyond it.",
        sizes,
        _ends(shell),
        "Sand and finish the inside now, but for where glue goes: it is hard to reach later.",
        "Glue the four sides together"
        + (" round the back board" if make.ends == "let in" else "")
        + "; both diagonals must be alike. Then glue "
        + ("the lid board in." if make.ends == "let in" else "back and lid boards on, with no pin near the saw line.")
        + " Let it set for a day.",
        "Saw it apart: fence or gauge against the back, so that the saw's near side runs "
        f"{shell.saw_from_outside:.2f} mm from the outside of the back, and all of its kerf falls on the lid's "
        f"side. Saw two opposite sides through, set slips {make.saw:g} mm thick in the cuts and tape them, then saw "
        "the other two: so the lid can neither close on the saw nor tear off.",
        "Rub both rims on abrasive glued to a flat board, a few strokes: what comes off is missing in the depth, "
        "where the room has no more play than box.clearance.",
        _hang(casework),
        "The room goes in last, through the opening.",
    )


def _sides(casework: Casework) -> str:
    """Return where the four sides come from: sheets, or a strip of board."""
    shell = casework.shell
    make, wide = shell.make, f"{shell.sides_deep:.2f} mm wide"
    if make.material is not None:
        return (
            f"Cut the four sides from their sheets, {wide}: the kerf of the cutter is in the sheets' drawings, that of "
            f"the saw in the width. The boards are to be {_thick(shell)} thick."
        )
    long = sum(board.size[0] for board in casework.boards if board.saw is not None)
    return (
        f"Plane or buy the boards to {_thick(shell)}. Cut the four sides {wide} from one strip, at least {long:.0f} mm "
        "long and five saw cuts, in the order left, top, right, bottom: so the grain runs round the box."
    )


def _hang(casework: Casework) -> str:
    make, hinging = casework.shell.make, casework.hinging
    if not hinging.screwed:
        return (
            f"Hang the lid on the {make.hinge}: boards of {make.board:g} mm hold no screws, so glue a strip of linen "
            "or leather over the hinge line on the outside, box and lid shut and taped, or blocks inside for the "
            "screws of hinges."
        )
    return (
        f"Hang the lid on the {make.hinge}: hinges over the marks on the outside, pin over the joint, screws "
        f"{hinging.screws:g} mm from the rims, holes drilled first. Screws are to end within the board's "
        f"{make.board:g} mm, or inside the room they show."
    )


def _thick(shell: Shell) -> str:
    make = shell.make
    if make.end_thickness == make.board:
        return f"{make.board:g} mm"
    return f"{make.board:g} mm, back and lid to {make.end_thickness:g} mm"


def _ends(shell: Shell) -> str:
    make = shell.make
    if make.ends == "laid on":
        return (
            "Back and lid boards lie on the edges of the sides, flush all round; cut by hand, leave them a hair "
            "large and plane them off."
        )
    if make.let_in_depth == 0:
        return (
            "Back and lid boards stand between the sides, flush with their edges. Plane them to a snug fit, one by one."
        )
    return (
        f"Rebate the inside of all four sides along both long edges, {make.end_thickness:g} mm wide and "
        f"{make.let_in_depth:g} mm deep, for back and lid boards. Where the cut list says stopped, the rebate must "
        "not show at the corner: end it there with a chisel. Plane the boards to a snug fit."
    )
