"""The order of work: a numbered plan made from the parts themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pipeline.checks.evidence import Evidence
from pipeline.elements.model import LAMP_CAUTIONS, Task
from pipeline.report.plan_gluing import filling, glue_in, joint_rows
from pipeline.report.plan_making import before, coating, cutting, forming, painting, printing, trying
from pipeline.report.plan_model import Phase, Step, WorkPlan
from pipeline.report.quantities import Quantities
from pipeline.room.light_places import place_light
from pipeline.room.photographing import pupil_of
from pipeline.scene.made_of import MadeOf


def plan(evidence: Evidence, found: Quantities) -> WorkPlan:
    """Return the order of work of a scene."""
    made = MadeOf(evidence.scene)
    phases = (
        before(evidence),
        cutting(evidence, made, found),
        printing(evidence, found),
        forming(evidence, found),
        trying(evidence),
        coating(evidence, made, found),
        painting(evidence, made, found),
        _gluing(evidence, made, found),
        _finishing(evidence),
        _looking(evidence),
    )
    return WorkPlan(phases=tuple(phase for phase in phases if phase is not None), joints=joint_rows(evidence, made))


def _gluing(evidence: Evidence, made: MadeOf, found: Quantities) -> Phase:
    tasks = (*evidence.imagined.tasks, *lamp_tasks(evidence), *wire_tasks(evidence))
    steps = glue_in(evidence, made, tasks)
    if not any(panel.id == "front-frame" for panel in evidence.panels):
        steps += filling(evidence, made)
    fit = found.efforts.get("fit")
    return Phase(
        heading="Glue in, from the back forward",
        lead="Each part goes straight in, square to the opening, past those that are in: so no finished face is "
        "dragged along another. Glue on hidden faces only. Go on once a joint holds; load nothing before it is dry.",
        steps=steps,
        cautions=_glue_cautions(evidence, made),
        hours=None if fit is None else fit.hours,
    )


def _glue_cautions(evidence: Evidence, made: MadeOf) -> tuple[str, ...]:
    """Return the subjects of cautions that the scene's glues and filler ask for."""
    words = {word for row in joint_rows(evidence, made) for word in made.named(row.glue).kinds}
    words |= set() if made.filler is None else made.filler.kinds
    asked = {"epoxy": "Epoxy", "solvent": "Solvents", "cyanoacrylate": "Cyanoacrylate"}
    return ("Glue and putty", *(subject for word, subject in asked.items() if word in words))


def lamp_tasks(evidence: Evidence) -> Iterator[Task]:
    """Yield a task for each lamp of the scene, before the part that would close the way to it."""
    room = evidence.room
    for light in evidence.scene.lights:
        place = place_light(light, room.hall, room.relief, room.inside)
        if light.kind == "lamp" and place.inside_box and place.point is not None:
            yield Task(
                before=_closing(evidence, place.point),
                text=f"Fit the LED of {light.name}, lead its wires out, and light it.",
                cautions=LAMP_CAUTIONS,
            )


def wire_tasks(evidence: Evidence) -> Iterator[Task]:
    """Yield a task for the battery, before what it lies behind, and one for each hole, before its panel goes in."""
    wiring = evidence.wiring
    if wiring is None:
        return
    if wiring.battery is not None and wiring.place is not None:
        x, y, z = wiring.place.mean(axis=0).tolist()
        part = _closing(evidence, (x, y, z))
        behind = "" if part == "front-frame" else f" behind {part}"
        yield Task(
            before=part,
            text=f"Put the battery in its place{behind}, with its switch and a way from outside to change it, and lead "
            "its wires to those of the lights.",
            cautions=(*LAMP_CAUTIONS, "Button cells") if wiring.battery.button else LAMP_CAUTIONS,
        )
    for hole in wiring.holes:
        whose = " and ".join(hole.lights)
        yield Task(
            before=hole.part,
            text=f"Thread the wires of {whose} through the hole in {hole.part} as that goes in, tape them down, and "
            "light them once.",
            cautions=LAMP_CAUTIONS,
        )


def _closing(evidence: Evidence, point: tuple[float, float, float]) -> str:
    """Return the part behind which a built point lies, of those before which it can still be reached."""
    relief, hall = evidence.room.relief, evidence.room.hall
    ids = {panel.id for panel in evidence.panels}
    if point[1] > relief.built_depth:  # nothing behind the vanishing plane can be carried back
        return "back-wall" if "back-wall" in ids else "front-frame"
    x, _, z = relief.imagine_points([point])[0].tolist()
    behind = {
        "left-wall": x < -hall.width / 2,
        "right-wall": x > hall.width / 2,
        "floor": z < hall.floor,
        "ceiling": z > hall.floor + hall.height,
    }
    return next((part for part, lies in behind.items() if lies and part in ids), "front-frame")


def _finishing(evidence: Evidence) -> Phase:
    steps = [Step(text="Touch up joints and corners with the paint that is left, from the back forward.")]
    far_first = sorted((one for one in evidence.scene.figures if one.mesh is None), key=lambda figure: -figure.at[1])
    steps += [
        Step(
            text=f"Stand {figure.name} on its mark, with the wedge or pin that its section gives.",
            cautions=("Metal and resin figures",),
        )
        for figure in far_first
    ]
    steps.append(
        Step(text="Clean the inside. A pane before the opening is fitted last, so that it can be taken off again.")
    )
    return Phase(heading="Finish", steps=tuple(steps))


def _looking(evidence: Evidence) -> Phase:
    x, y, z = evidence.room.relief.eye
    where = f"{-y:g} mm before the opening and {z:g} mm above the box's bottom"
    beside = f", {x:g} mm right of its middle" if x else ""
    steps = (
        Step(text=f"Fix a peephole or a chin rest for one eye {where}{beside}, and look."),
        Step(text=f"Photograph it with the lens's entrance pupil {_pupil_words(evidence)}."),
    )
    return Phase(heading="Look and photograph", steps=steps)


def _pupil_words(evidence: Evidence) -> str:
    """Return where the camera goes: to the eye point, or where the scene has it stand."""
    camera, eye = evidence.scene.camera, evidence.room.relief.eye
    if camera is None:
        return "at that point, and stop down"
    x, y, z = pupil = pupil_of(camera, evidence.room.relief)
    if pupil == eye:
        return "at that point, as Photographing it tells"
    side = f"{abs(x):g} mm {'left' if x < 0 else 'right'} of its middle" if x else "in its middle"
    return f"{-y:g} mm before the opening, {z:g} mm above the box's bottom and {side}, as Photographing it tells"


def work_entries(work: WorkPlan) -> list[dict[str, Any]]:
    """Return the manifest's list of steps."""
    out = []
    number = 0
    for phase in work.phases:
        for step in phase.steps:
            number += 1
            out.append(
                {
                    "number": number,
                    "phase": phase.heading,
                    "text": step.text,
                    "parts": list(step.parts),
                    "glue": step.glue or None,
                    "waits": step.waits or None,
                    "dries_hours": step.dries or None,
                    "cautions": list(step.cautions),
                }
            )
    return out
