"""Pictures, drawings and the page that shows them."""

from __future__ import annotations

from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.parts.bed import on_bed
from pipeline.report.air_rows import AIR, air_picture, air_words
from pipeline.report.bill import bill_words
from pipeline.report.box_outline import plan_outline, section_outline
from pipeline.report.casework_picture import box_picture
from pipeline.report.casework_words import PICTURE
from pipeline.report.drawing_layout import Box, Subject
from pipeline.report.drawings import plan_svg, section_svg
from pipeline.report.forgiving import Forgiveness
from pipeline.report.forgiving_map import forgiving_svg
from pipeline.report.forgiving_words import forgiving_words
from pipeline.report.gathering import gather_report
from pipeline.report.heatmap import wall_picture
from pipeline.report.light_rows import light_pictures
from pipeline.report.page import render_page
from pipeline.report.photograph_words import photograph_words
from pipeline.report.photographing import photograph
from pipeline.report.pictures import RIM_MM, take_pictures
from pipeline.report.plan_model import WorkPlan
from pipeline.report.plan_words import plan_words
from pipeline.report.quantities import Quantities
from pipeline.report.wiring_picture import wiring_svg
from pipeline.report.wiring_rows import wiring_words

FORGIVES = "pictures/forgives.svg"
WIRING = "pictures/wiring.svg"


def pictures(evidence: Evidence, title: str) -> dict[str, bytes]:
    """Return the files under ``pictures/``."""
    room, scene = evidence.room, evidence.scene
    width, height, depth = room.box
    subject = Subject(
        title=title,
        box=Box(width=width, height=height, depth=depth, back_gap=scene.box.back_gap),
        relief=room.relief,
        hall=room.hall,
        panels=tuple(panel.body for panel in evidence.cut_parts),
        prints=tuple(part.body for part in evidence.prints),
        plan=plan_outline(room.inside, room.relief.eye[2]) if room.inside.measured else (),
        section=section_outline(room.inside, room.relief.eye[0]) if room.inside.measured else (),
    )
    rim = RIM_MM if scene.box.make is None else scene.box.make.board
    return {
        **evidence.kept.of(take_pictures, room, evidence.cut_parts, evidence.prints, rim, evidence.casts),
        **{
            evidence.entries[part.id]["files"]["walls"]: evidence.kept.of(
                wall_picture, on_bed(part.body, part.built_from_bed), scene.make.printer.min_wall
            )
            for part in evidence.prints
        },
        **air_picture(evidence, title),
        **light_pictures(evidence),
        **({} if evidence.casework is None else {PICTURE: evidence.kept.of(box_picture, evidence.casework)}),
        **wiring_picture(evidence, title),
        "pictures/plan.svg": evidence.kept.of(plan_svg, subject),
        "pictures/section.svg": evidence.kept.of(section_svg, subject),
    }


def wiring_picture(evidence: Evidence, title: str) -> dict[str, bytes]:
    """Return the drawing of the wires, for a scene that has some."""
    if evidence.wiring is None:
        return {}
    panels = tuple(panel.body for panel in evidence.cut_parts)
    return {WIRING: evidence.kept.of(wiring_svg, evidence.wiring, panels, evidence.room.box, title)}


def forgiving_picture(forgiven: Forgiveness, title: str) -> dict[str, bytes]:
    """Return the map of what the eye forgives."""
    return {FORGIVES: forgiving_svg(forgiven, title)}


def page(
    evidence: Evidence,
    findings: list[Finding],
    forgiven: Forgiveness,
    title: str,
    shots: dict[str, bytes],
    *,
    found: Quantities,
    work: WorkPlan,
) -> bytes:
    """Return ``report.html``, the pictures inside it; ``found`` is what it all takes, ``work`` in which order."""
    forgives = forgiving_words(forgiven, shots[FORGIVES])
    taken = photograph(evidence, forgiven)
    camera = None if taken is None else photograph_words(taken)
    return render_page(
        gather_report(
            evidence,
            CHECKS,
            findings,
            title=title,
            pictures=shots,
            forgives=forgives,
            camera=camera,
            air=air_words(evidence, shots.get(AIR, b"")),
            wiring=wiring_words(evidence, shots.get(WIRING, b"")),
            bill=bill_words(found),
            work=plan_words(work),
        )
    )
