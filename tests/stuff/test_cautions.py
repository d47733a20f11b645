"""Each caution stands on the page when its subject is in the scene, and only then."""

from __future__ import annotations

import re
from functools import cache

import pytest

from pipeline.build import build_scene
from pipeline.report.cautions import CAUTIONS

from .rooms import GROIN, POST, TRUE

BRICK = '[covers.work]\npattern = "stack"\nlength = 0.59\nheight = 0.19\njoint = 0.01\n'
COVERED = TRUE.replace("[left]\n", '[left]\ncover = "work"\n') + BRICK
WEBS = GROIN.replace('material = "paper"\n', 'material = "paper"\ncover = "work"\n') + BRICK
RAISED = ("covers.work.relief", "0.03"), ("covers.work.relief_as", "guides")
LASER = TRUE.replace('process = "knife"', 'process = "laser"')
LIT = (
    '[[openings]]\nname = "window"\nwall = "left"\nat = 1.5\nwidth = 0.8\nsill = 1.0\nheight = 1.5\nbeyond = "light"\n'
)
LAMP = '[[lights]]\nname = "lantern"\nkind = "lamp"\nat = [0.0, 1.0, 2.0]\n'
FIGURE = '[[figures]]\nname = "keeper"\nheight = 1.7\nat = [0.5, 1.0]\n'

Settings = tuple[tuple[str, str], ...]

ALWAYS = {"Glue and putty"}
"""Every room is glued."""
SCENES: list[tuple[str, str, Settings, set[str]]] = [
    ("a tray of card", TRUE, (), {"Blades", "Drag knife"}),
    ("lasered, edges square", LASER, (), {"Laser"}),
    ("lasered, edges mitred", LASER, (("make.edges", "bevel"), ("space.depth", "9.0")), {"Laser", "Blades"}),
    ("by hand", TRUE, (("materials.board.process", "hand"),), {"Blades"}),
    ("plywood", TRUE, (("materials.board.of", "plywood"),), {"Blades", "Drag knife", "Dust"}),
    ("foam", TRUE, (("materials.board.of", "EPS"),), {"Blades", "Drag knife", "Foam"}),
    ("foam only on the shelf", TRUE + "[materials.foam]\nthickness = 5\n", (("left.material", "board"),
     ("back.material", "board")), {"Blades", "Drag knife"}),
    ("a resin post", TRUE + POST, (), {"Blades", "Drag knife", "Dust", "Resin"}),
    ("a filament post", TRUE + POST, (("make.printer.process", "filament"),),
     {"Blades", "Drag knife", "Dust", "Filament"}),
    ("epoxy glue", TRUE, (("work.glue", '"epoxy glue"'),), {"Blades", "Drag knife", "Epoxy"}),
    ("superglue", TRUE, (("work.glue", "superglue"),), {"Blades", "Drag knife", "Cyanoacrylate"}),
    ("spray", TRUE, (("work.paint", '"spray paint"'),), {"Blades", "Drag knife", "Solvents"}),
    ("putty that nothing asks for", COVERED, (("materials.board.coat", '"epoxy putty"'),), {"Blades", "Drag knife",
     "Dust"}),
    ("bricks of putty on a wall", COVERED, (("materials.board.coat", '"epoxy putty"'), *RAISED),
     {"Blades", "Drag knife", "Dust", "Epoxy"}),
    ("bricks of putty on a vault", WEBS, (("covers.work.of", '"epoxy putty"'), *RAISED),
     {"Blades", "Drag knife", "Dust", "Epoxy"}),
    ("a coat of baked clay", TRUE, (("left.finish", "0.5"), ("materials.board.coat", '"heat-cured clay"')),
     {"Blades", "Drag knife", "Dust", "Oven"}),
    ("a lit window", TRUE + LIT, (), {"Blades", "Drag knife", "LEDs and wires in a box"}),
    ("a lamp", TRUE + LAMP, (), {"Blades", "Drag knife", "LEDs and wires in a box"}),
    ("a lamp on a button cell", TRUE + LAMP,
     (("wiring.battery", "CR2032"), ("box.depth", "87"), ("box.back_gap", "26")),
     {"Blades", "Drag knife", "LEDs and wires in a box", "Button cells"}),
    ("a figure", TRUE + FIGURE, (), {"Blades", "Drag knife", "Metal and resin figures"}),
]  # fmt: skip


@cache
def page(text: str, settings: Settings) -> str:
    return build_scene(text.encode(), "room", settings).files["report.html"].decode()


def subjects(page: str) -> set[str]:
    """Return the subjects of the cautions that are told anywhere on a page."""
    told = set(re.findall(r"<li><strong>([^<]+)\.</strong>", page))
    assert told <= {one.subject for one in CAUTIONS}
    return told


@pytest.mark.parametrize(("name", "text", "settings", "expected"), SCENES, ids=[one[0] for one in SCENES])
def test_a_caution_stands_where_its_subject_is_and_nowhere_else(
    name: str, text: str, settings: Settings, expected: set[str]
) -> None:
    """Blades where something is cut, scored or bevelled by hand, dust where something is sanded, and so on."""
    assert subjects(page(text, settings)) == ALWAYS | expected, name


@pytest.mark.parametrize(("name", "text", "settings", "expected"), SCENES, ids=[one[0] for one in SCENES])
def test_whatever_the_order_of_work_warns_of_is_told_in_full_elsewhere(
    name: str, text: str, settings: Settings, expected: set[str]
) -> None:
    """The list at the end tells every caution, or where on the page it stands."""
    work, *_ = page(text, settings).split('<section id="work"')[1].split("</section>")
    others = page(text, settings).replace(work, "")
    assert subjects(work) <= subjects(others), name


def test_no_caution_is_long() -> None:
    """Four sentences at the most."""
    assert [one.subject for one in CAUTIONS if len(re.findall(r"[.!?](?:\s|$)", one.text)) > 4] == []
