"""The scene file that ``foreshorten begin`` writes: a small room that builds as it is, every line explained."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Literal

from pipeline.scene import starter_texts as texts

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
SHEETS = ((420.0, 297.0), (594.0, 420.0), (700.0, 500.0), (1000.0, 700.0))
"""mm; A3 and A2 (ISO 216), and the two sizes that card is mostly sold in."""
LEANING, EDGE = 1.25, 10.0
"""How much longer than the box is deep a wall is that leans by 37 degrees, and mm to leave at a sheet's edge."""
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
    sheet
        Width and height of one, or of what the cutter takes, mm; nothing takes the smallest common one that will do.
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
    sheet: tuple[float, float] | None = None
    paper: str = "A4"


def stock(wishes: Wishes) -> tuple[float, float]:
    """Return the sheet to cut from, mm: the one wished for, or the smallest that is sold and holds every wall."""
    if wishes.sheet is not None:
        return wishes.sheet
    width, height, depth = wishes.box
    _, middle, longest = sorted(side + 2 * EDGE for side in (width, height, LEANING * depth))
    for wide, high in SHEETS:
        if longest <= wide and middle <= high:
            return wide, high
    return float(round(longest + middle)), float(round(longest))


def starter_scene(wishes: Wishes) -> str:
    """Return a commented starter scene."""
    room = _Room(wishes)
    parts = [texts.HEAD, texts.SURFACES[wishes.kind], *_things(room)]
    text = "\n".join(part.strip("\n") + "\n" for part in parts)
    for name, value in room.words.items():  # THIN first: it holds others
        text = text.replace(f"@{name}@", value)
    return re.sub(r"^(\w+ = [^#\n]*?) +#", lambda line: f"{line[1]:<23} #", text, flags=re.MULTILINE)


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
        crown = min(0.53 * self.height, half)  # of a vault, over its springing
        return {
            "THIN": texts.THIN if wishes.kind == "vault" else "",
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
            "VAULT": _number(round(0.98 * self.height - crown, 2)),
            "VAULT_RISE": _number(round(crown, 2)),
            "WINDOW_AT": _number(round(0.35 * self.depth, 1)),
            "WINDOW": _number(round(min(1.2, 0.2 * self.depth), 2)),
            "SILL": _number(round(0.35 * self.height, 2)),
            "LIGHT": _number(round(0.4 * self.height, 2)),
            "THICK": _number(wishes.thickness),
            "PROCESS": texts.LASER if wishes.process == "laser" else f"{_quote(wishes.process)} # hand, knife or laser",
            "SHEET": f"[{', '.join(map(_number, stock(wishes)))}] # mm, the stock it is cut from",
            "EDGES": texts.BEVELS if wishes.process == "hand" else texts.SQUARE,
            "PAPER": _quote(wishes.paper),
        }  # fmt: skip


def _things(room: _Room) -> list[str]:
    """Return what stands in the room."""
    kind = room.wishes.kind
    things = {
        "brick": [texts.DOOR],
        "vault": [texts.DOOR, texts.VAULT],
        "timber": [texts.DOOR, texts.WINDOW],
        "plain": [texts.EMPTY],
    }[kind]
    if kind == "brick" and room.wishes.printer and room.roomy:
        return [*things, texts.PRINTS, texts.CARD, texts.PRINTER]
    return [*things, texts.CARD, *([texts.PRINTER] if room.wishes.printer else [])]


def _number(value: float) -> str:
    return f"{value:.10g}"


def _quote(name: str) -> str:
    printable = "".join(letter if letter.isprintable() else " " for letter in name)
    return json.dumps(printable[:LONGEST_TITLE].strip() or "My room", ensure_ascii=False)
