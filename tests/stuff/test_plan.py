"""The order of work: every part once, in an order in which it goes in, with what must be done before and after."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from pipeline.build import Build, make
from pipeline.checks.evidence import Evidence
from pipeline.geometry.booleans import body_of
from pipeline.parts.order import HOME
from pipeline.report.cautions import CAUTIONS
from pipeline.report.plan_gluing import turns
from pipeline.report.plan_model import Phase, WorkPlan
from pipeline.report.plan_words import plan_words
from pipeline.report.quantities import quantities
from pipeline.report.work_plan import plan, wire_tasks
from pipeline.scene.made_of import MadeOf

from ..conftest import SCENES
from ..strategies import scenes
from .rooms import GROIN, POST, TRUE

LIT = (
    '[[openings]]\nname = "window"\nwall = "left"\nat = 1.5\nwidth = 0.8\nsill = 1.0\nheight = 1.5\nbeyond = "light"\n'
)
LAMP = '[[lights]]\nname = "lantern"\nkind = "lamp"\nat = [0.0, 1.0, 2.0]\n'
BRICK = "[covers.work]\nlength = 0.59\nheight = 0.19\njoint = 0.01\n"


@cache
def built(text: str, *overrides: tuple[str, str]) -> Evidence:
    return make(text.encode(), overrides)


def planned(text: str, *overrides: tuple[str, str]) -> WorkPlan:
    evidence = built(text, *overrides)
    return plan(evidence, quantities(evidence))


def phase(work: WorkPlan, beginning: str) -> Phase:
    return next(one for one in work.phases if one.heading.startswith(beginning))


def texts(work: WorkPlan, beginning: str) -> list[str]:
    return [step.text for step in phase(work, beginning).steps]


def replayed(evidence: Evidence) -> list[str]:
    """Return the parts that are blocked when the turns are played, what is glued together going in as one."""
    there: list[str] = []
    waiting: dict[str, list[str]] = {}
    blocked = []
    for turn in turns(evidence):
        if turn.onto:
            waiting.setdefault(turn.onto, []).append(turn.id)
            continue
        for one in (turn.id, *waiting.pop(turn.id, [])):
            off = HOME if one != turn.id else (turn.off or HOME)
            if evidence.bench.blockers(one, there, off):
                blocked.append(one)
        there += [turn.id, *(one.id for one in turns(evidence) if one.onto == turn.id)]
    assert waiting == {}
    return blocked


@pytest.mark.parametrize("name", ["cistern", "deck", "tunnel"])
def test_every_part_is_fitted_once_and_goes_in(name: str) -> None:
    """All ids of the manifest stand in one step each; played through, nothing is in the way but where it is said."""
    evidence = built((SCENES / f"{name}.toml").read_text(encoding="utf-8"))
    work = plan(evidence, quantities(evidence))
    fitted = [part for step in work.steps for part in step.parts]
    assert sorted(fitted) == sorted(evidence.entries)
    sprung = {step.parts[0] for step in work.steps if step.text.startswith("Spring ")}
    assert set(replayed(evidence)) <= sprung
    assert all(step.glue for step in work.steps if step.parts)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(scenes())
def test_any_room_has_a_plan(text: str) -> None:
    """Random rooms: every part once, nothing blocked but what is sprung in, a glue for each; volumes as of bodies."""
    evidence = make(text.encode())
    found = quantities(evidence)
    for kind, parts in (("sheet", evidence.cut_parts), ("print", evidence.prints)):
        volume = sum(body_of(part.body).volume() for part in parts)  # manifold3d's own
        assert sum(one.volume or 0.0 for one in found.amounts if one.kind == kind) == pytest.approx(volume, rel=1e-9)
    work = plan(evidence, found)
    assert sorted(part for step in work.steps for part in step.parts) == sorted(evidence.entries)
    sprung = {step.parts[0] for step in work.steps if step.text.startswith("Spring ")}
    assert set(replayed(evidence)) <= sprung
    assert all(step.glue for step in work.steps if step.parts)


def test_what_has_no_way_in_later_is_glued_on_before() -> None:
    """The far wall of the demo's stair lies behind the left wall: it is on its back before that goes in."""
    work = planned((SCENES / "cistern.toml").read_text(encoding="utf-8"))
    ids = [step.parts[0] for step in work.steps if step.parts]
    told = {
        "stair-far-wall": ("left-wall", "in its place on"),
        "stair-floor": ("left-wall", "in its place on"),
        "left-lunette-tracery": ("back-wall", "to the back of"),
    }
    for part, (host, where) in told.items():
        step = next(step for step in work.steps if step.parts == (part,))
        assert step.text.startswith(f"Glue {part} {where} {host} on the bench")
        assert 1 <= ids.index(host) - ids.index(part) <= 2


def test_a_lamp_behind_a_wall_is_lit_before_that_wall_goes_in() -> None:
    """What must be wired stands before what closes it; a lamp in the hall before the frame or at the end."""
    lamp = '[[lights]]\nname = "lantern"\nkind = "lamp"\nat = [0.0, 1.0, 2.0]\n'
    said = texts(planned(TRUE + LIT + lamp), "Glue in")
    window = next(number for number, text in enumerate(said) if "behind window" in text)
    assert said[window + 1] == "Push in left-wall."
    assert any(text.startswith("Fit the LED of lantern") for text in said)
    steps = phase(planned(TRUE + LIT + lamp), "Glue in").steps
    assert "Button cells" not in steps[window].cautions


def test_what_is_wired_comes_before_what_closes_it_though_that_is_glued_on_first() -> None:
    """Nothing holds a back wall of thin card off the box's back, so it is glued to a wall; its lamp is lit first."""
    lit = LIT.replace('"left"', '"back"')
    text = TRUE.replace("clearance = 0", "back_gap = 8\nclearance = 0.5").replace("depth = 61", "depth = 75")
    thin = '[materials.thin]\nthickness = 0.4\nof = "card"\n'
    said = phase(planned(text + lit + thin, ("space.depth", "9"), ("back.material", "thin")), "Glue in").steps
    glued = next(number for number, step in enumerate(said) if "back-wall" in step.parts)
    assert said[glued].text.startswith("Glue back-wall in its place on left-wall on the bench")
    lamp = next(number for number, step in enumerate(said) if "behind window" in step.text)
    host = next(number for number, step in enumerate(said) if "left-wall" in step.parts)
    assert (lamp, host) == (glued + 1, glued + 2)


BEHIND = ("wiring.battery", "CR2032"), ("box.depth", "87"), ("box.back_gap", "26")
"""26 mm are free behind the back wall."""


def test_a_battery_behind_a_wall_lies_there_before_that_wall_goes_in() -> None:
    """Nothing reaches it afterwards but from outside the box."""
    evidence = built(TRUE + LAMP, *BEHIND)
    assert evidence.wiring is not None
    assert evidence.wiring.place is not None
    assert evidence.wiring.place[0][1] > 60.0
    said = phase(planned(TRUE + LAMP, *BEHIND), "Glue in").steps
    battery = next(number for number, step in enumerate(said) if "battery" in step.text)
    wall = next(number for number, step in enumerate(said) if "back-wall" in step.parts)
    assert battery < wall
    assert "behind back-wall" in said[battery].text
    assert "Button cells" in said[battery].cautions


def test_what_lies_behind_the_vanishing_plane_lies_behind_the_back_wall() -> None:
    """60 m in 60 mm vanish at 84 mm (references: V = d (L + D) / (L - d)); carried back, 86 mm would be in front."""
    evidence = built(TRUE + LAMP, *BEHIND, ("space.depth", "60"))
    assert evidence.wiring is not None
    deep = replace(evidence.wiring, place=np.array([[-4.0, 85.5, 29.0], [2.0, 86.5, 51.0]]))
    [battery] = [task for task in wire_tasks(replace(evidence, wiring=deep)) if "battery" in task.text]
    assert battery.before == "back-wall"


def test_guides_are_drawn_again_on_what_was_coated() -> None:
    """Guides are for the finished surface; a coat hides those on the sheet. Without a finish nothing is said of it."""
    text = TRUE.replace("[left]\n", '[left]\ncover = "work"\n') + BRICK
    clay = ("left.finish", "0.5"), ("materials.board.coat", '"air-dried clay"')
    said = texts(planned(text, *clay), "Coat")
    assert "0.5 mm of air-dried clay on left-wall" in said[0]
    assert said[0].startswith("Seal or key")
    assert said[1].startswith("Draw the guides again")
    assert said[2].startswith("Score or sculpt the work along the guides: ")
    assert not any("again" in one for one in texts(planned(text), "Coat"))
    order = [one.heading for one in planned(text, *clay).phases]
    assert order.index("Coat, draw and sculpt") < order.index("Glue in, from the back forward")


def test_times_to_dry_are_the_scenes_or_named_as_common() -> None:
    """The maker's data sheet goes first: a common figure says that it is one, a figure of the scene stands alone."""
    text = TRUE.replace("[left]\n", '[left]\ncover = "work"\n') + BRICK
    clay = ("left.finish", "0.5"), ("materials.board.coat", '"air-dried clay"')
    assert phase(planned(text, *clay), "Coat").steps[0].waits == "see the maker's data sheet; 2 days is common"
    own = text + '[stuff."air-dried clay"]\ndries = 30\n'
    assert phase(planned(own, *clay), "Coat").steps[0].waits == "30 h"


def test_each_joint_names_its_glue() -> None:
    """Prints ask for cyanoacrylate; on foam it is passed over, with the reason, for what the room is glued with."""
    text = (
        TRUE.replace('of = "card"', 'of = "polystyrene foam"')
        + POST
        + POST.replace("post", "pier").replace("0, 1", "1, 1")
    )
    work = planned(text, ("make.printer.glue", "cyanoacrylate"))
    rows = {row.sides: row for row in work.joints}
    mixed = rows["board (polystyrene foam) to prints (cured resin)"]
    assert (mixed.glue, mixed.joints) == ("PVA glue", 4)
    assert mixed.note == "not cyanoacrylate: cyanoacrylate dissolves polystyrene foam"
    post = next(step for step in work.steps if step.parts == ("post",))
    assert post.glue == "PVA glue to floor, ceiling"


def test_cautions_stand_beside_the_work_that_needs_them() -> None:
    """Laser with the sheets, resin with the prints, epoxy with what is glued; once in each phase, and in the list."""
    text = TRUE.replace('process = "knife"', 'process = "laser"') + POST
    words = plan_words(planned(text, ("work.glue", '"epoxy glue"')))
    beside = {
        one.heading: [subject for subject, _ in (*one.cautions, *(c for s in one.steps for c in s.cautions))]
        for one in words.phases
    }
    assert "Laser" in beside["Cut the sheets"]
    assert "Resin" in beside["Print"]
    assert "Epoxy" in beside["Glue in, from the back forward"]
    assert all(len(subjects) == len(set(subjects)) for subjects in beside.values())
    assert {subject for subjects in beside.values() for subject in subjects} <= {one.subject for one in CAUTIONS}


def test_rates_give_hours_to_phases() -> None:
    """Five parts at 2.5 an hour are glued in within 2 hours; a phase without a rate names none."""
    work = planned(TRUE, ("work.rates.fit", "2.5"))
    assert phase(work, "Glue in").hours == pytest.approx(2.0)
    assert phase(work, "Cut").hours is None


def test_filler_comes_before_the_frame_closes_the_opening() -> None:
    """Behind the vault is out of reach afterwards."""
    framed = ("front.build", "true"), ("front.material", "board"), ("work.filler", '"wall filler"')
    evidence = built(GROIN, *framed)
    steps = phase(plan(evidence, quantities(evidence)), "Glue in").steps
    filled = next(number for number, step in enumerate(steps) if step.text.startswith("Fill in wall filler"))
    assert steps[filled + 2].parts == ("front-frame",)


def test_glue_is_passed_over_only_for_the_other_side() -> None:
    """What a sheet itself asks for is passed over too, but the check has told that the two do not go together."""
    made = MadeOf(built(TRUE.replace('of = "card"', 'of = "foam"'), ("materials.board.glue", "cyanoacrylate")).scene)
    board = made.sheet("board")
    assert made.glue(board, board).glue.name == "PVA glue"


def test_the_page_has_a_box_to_tick_for_every_step(demo: Build) -> None:
    """Ticked on screen without a script, and on paper; numbered through as in the manifest."""
    page = demo.files["report.html"].decode()
    section = page[page.index('<section id="work"') :].split("</section>")[0]
    steps = demo.manifest["work"]
    assert section.count('<input type="checkbox">') == len(steps)
    assert [step["number"] for step in steps] == list(range(1, len(steps) + 1))
    starts = [int(found) for found in re.findall(r"counter-reset: step (\d+)", section)]
    counts = [one.count("<label>") for one in section.split("<ol")[1:]]
    assert starts == [sum(counts[:number]) for number in range(len(counts))]
    assert "<script" not in section
    assert sorted(part for step in steps for part in step["parts"]) == sorted(
        part["id"] for part in demo.manifest["parts"]
    )
