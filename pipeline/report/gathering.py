"""From what was built and checked to what the page shows."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.elements.hall_shape import Hall
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel
from pipeline.relief.collineation import Relief
from pipeline.report.air_rows import AirWords
from pipeline.report.bench import measure_tables, sheet_rows
from pipeline.report.bill import BillWords
from pipeline.report.box_notes import box_notes
from pipeline.report.casework_words import PICTURE, box_words
from pipeline.report.corner_notes import corner_words, net_notes
from pipeline.report.cut_list import cut_groups, likeness, lying
from pipeline.report.figure_rows import figure_rows
from pipeline.report.forgiving_words import ForgivingWords
from pipeline.report.light_rows import light_rows
from pipeline.report.model import CheckRow, EdgeRow, Figure, Note, PartRow, ReportData, Shot
from pipeline.report.model_view import model_view
from pipeline.report.photograph_words import PhotographWords
from pipeline.report.pictures import ASIDE_MM
from pipeline.report.plan_model import PlanWords
from pipeline.report.quantities import words_used
from pipeline.report.thumbnails import panel_thumbnail
from pipeline.report.wiring_rows import WiringWords
from pipeline.report.work_notes import work_notes
from pipeline.room.leaning import leans_deg, rake_deg

CAPTIONS = (
    (
        "pictures/eye.png",
        "What the eye sees of the built room.",
        "The built room seen from the eye point: it looks as deep as the imagined one.",
    ),
    (
        "pictures/imagined.png",
        "The imagined room from the same point, the sheets' cut edges drawn in as built. The two pictures are one.",
        "The imagined room seen from the eye point.",
    ),
    (
        "pictures/aside.png",
        f"The built room from {ASIDE_MM:g} mm to the right, where it no longer fits: so shallow it is.",
        "The built room seen from beside the eye point: walls and floor look bent.",
    ),
)


def gather_report(
    evidence: Evidence,
    checks: tuple[Check, ...],
    findings: list[Finding],
    *,
    title: str,
    pictures: dict[str, bytes],
    forgives: ForgivingWords,
    camera: PhotographWords | None = None,
    air: AirWords | None = None,
    bill: BillWords,
    wiring: WiringWords | None = None,
    work: PlanWords,
) -> ReportData:
    """Return the page's content.

    Parameters
    ----------
    evidence, checks, findings
        What was built, the table of checks, and what they said.
    title
        Of the scene, or its file's stem.
    pictures
        Relative path to bytes: the three PNG files, ``pictures/plan.svg`` and ``pictures/section.svg``.
    forgives
        What the eye forgives.
    camera
        How to photograph it, for a scene with a camera.
    air
        How far to lighten each depth, for a scene with air.
    wiring
        What to wire, for a scene that asks for it.
    bill, work
        What it all takes, and in which order it is made.
    """
    scene, room = evidence.scene, evidence.room
    used = {piece.material for piece in (*evidence.cut_parts, *evidence.boards_cut) if piece.material}
    processes: set[str] = {scene.materials[name].process for name in used}
    if evidence.prints:
        processes.add(scene.make.printer.process)
    parts = part_rows(evidence, pictures)
    return ReportData(
        title=title,
        summary=summary_line(evidence),
        figures=figures(room.relief, room.hall),
        shots=tuple(Shot(file=file, png=pictures[file], caption=words, alt=alt) for file, words, alt in CAPTIONS),
        plan=pictures["pictures/plan.svg"],
        section=pictures["pictures/section.svg"],
        forgives=forgives,
        parts=parts,
        cut_list=cut_groups(parts, scene.materials),
        checks=tuple(
            CheckRow(
                id=check.id,
                title=check.title,
                rationale=check.rationale,
                findings=tuple(finding for finding in findings if finding.id == check.id),
            )
            for check in checks
        ),
        notes=(
            *box_notes(evidence),
            *net_notes(evidence),
            *work_notes(evidence),
            *(Note(subject=f.subject, text=f.text) for f in evidence.imagined.facts),
        ),
        processes=frozenset(processes),
        materials=tuple(sorted(used)),
        sheets=sheet_rows(evidence.sheets),
        sheet_notes=evidence.sheet_notes,
        measures=measure_tables(evidence),
        ruler=scene.make.ruler,
        standing=figure_rows(evidence),
        lights=light_rows(evidence, pictures),
        casework=box_words(evidence.casework, pictures.get(PICTURE, b"")),
        camera=camera,
        air=air,
        model=evidence.kept.of(
            model_view, room.relief, room.box, evidence.cut_parts, evidence.prints, tuple(in_order(evidence))
        ),
        bill=bill,
        wiring=wiring,
        work=work,
        words=words_used(evidence),
    )


def summary_line(evidence: Evidence) -> str:
    """Return one sentence on what was made."""
    relief, hall = evidence.room.relief, evidence.room.hall
    panels, guides = len(evidence.cut_parts), sum(len(panel.guides) for panel in evidence.cut_parts)
    width, height, depth = (getattr(evidence.scene.box, key) for key in ("width", "height", "inside_depth"))
    lines = f" with {guides:,} guide lines".replace(",", "\N{NARROW NO-BREAK SPACE}") if guides else ""
    prints = len(evidence.prints)
    parts = [f"{panels} panels{lines}", *([f"{prints} print{'' if prints == 1 else 's'}"] if prints else [])]
    return (
        f"A room {hall.metres(hall.depth):.2f} m deep at 1:{hall.scale:g}, in a box {width:g} \N{MULTIPLICATION SIGN} "
        f"{height:g} \N{MULTIPLICATION SIGN} {depth:g} mm: {' and '.join(parts)}, for an eye {-relief.eye[1]:g} mm "
        "before the opening."
    )


def figures(relief: Relief, hall: Hall) -> tuple[Figure, ...]:
    """Return the relief's figures, in the order they are told."""
    x, y, z = relief.eye
    rows = [
        Figure(name="Eye distance", value=f"{-y:.1f} mm", note="From the opening, square to it."),
        Figure(name="Eye height", value=f"{z:.1f} mm", note="Above the inside bottom of the box."),
        Figure(name="Eye to the right", value=f"{x + 0.0:.1f} mm", note="Of the box's middle; minus means left."),
        Figure(
            name="Apparent depth",
            value=f"{relief.apparent_depth:.1f} mm",
            note=f"{hall.metres(relief.apparent_depth):.2f} m at 1:{hall.scale:g}; from the opening to the back wall.",
        ),
        Figure(name="Built depth", value=f"{relief.built_depth:.1f} mm", note="What is there."),
        Figure(
            name="Back scale",
            value=f"{relief.back_scale:.4f}",
            note=f"Built back wall over imagined one; it stands at 1:{hall.scale / relief.back_scale:.1f}.",
        ),
    ]
    if relief.apron > 0:
        rows.append(Figure(name="Apron", value=f"{relief.apron:.1f} mm", note="Strip at the front that is built true."))
    if relief.vanishing_depth is None:
        return (
            *rows,
            Figure(name="Vanishing depth", value="none", note="Nothing is squeezed: the room is built true."),
        )
    left, right, ceiling = leans_deg(relief, hall)
    lean = {"Left wall leans": left, "Right wall leans": right, "Ceiling falls": ceiling}
    rake = rake_deg(relief, hall)
    return (
        *rows,
        Figure(
            name="Vanishing depth",
            value=f"{relief.vanishing_depth:.1f} mm",
            note="Behind the opening, level with the eye; edges that run into the room aim at this point.",
        ),
        Figure(
            name="Floor rises",
            value=f"{rake:.1f}\N{DEGREE SIGN}",
            note=f"1 in {1 / math.tan(math.radians(rake)):.2f}." if rake else "",
        ),
        *(
            Figure(
                name=name,
                value=f"{degrees:.1f}\N{DEGREE SIGN}",
                note="From square to the opening.",
            )
            for name, degrees in lean.items()
        ),
    )


def in_order(evidence: Evidence) -> list[str]:
    """Return the ids of all parts in the order of work."""
    return sorted(evidence.entries, key=lambda name: int(evidence.entries[name]["order"]))


def part_rows(evidence: Evidence, pictures: Mapping[str, bytes]) -> tuple[PartRow, ...]:
    """Return the list of parts in the order of work; those in ``pictures`` with their walls."""
    panels = {panel.id: panel for panel in evidence.cut_parts}
    rows = [evidence.entries[name] for name in in_order(evidence)]
    printed = f"{evidence.scene.make.printer.process} print"
    lies = lying(evidence)
    return tuple(
        replace(
            _part_row(entry, panels.get(entry["id"]), printed, pictures.get(entry["files"].get("walls", ""), b"")),
            order=int(entry["order"]),
            lies=lies.get(entry["id"], ()),
        )
        for entry in rows
    )


def _part_row(entry: dict[str, Any], panel: Panel | BentPanel | None, printed: str, walls: bytes) -> PartRow:
    if panel is None:
        wall = f"shell, wall {entry['min_wall']:g} mm" if entry["hollow"] else "solid"
        return PartRow(
            id=entry["id"],
            made_as=entry["made_as"],
            material=f"{printed}, {wall}",
            size=tuple(entry["size"]),
            amount=f"{entry['volume'] / 1000:.2f} cm\N{SUPERSCRIPT THREE}",
            files=tuple(entry["files"].values()),
            walls=walls,
        )
    notes = []
    if isinstance(panel, Panel):
        notes += corner_words(panel)
    if isinstance(panel, BentPanel):
        notes.append(
            f"Bend it along its {len(panel.folds)} folds, from the crown out, to {panel.radius:.1f} mm at its tightest."
        )
    if panel.thinned is not None:
        number, depth = panel.thinned
        notes.append(
            f"{number} guide lines would lie too close; they are left out or stop, from {depth:.1f} mm deep on."
        )
    return PartRow(
        id=entry["id"],
        made_as=entry["made_as"],
        material=f"{entry['material']} {panel.thickness:g} mm",
        size=tuple(entry["size"]),
        amount=f"{panel.area / 100:.1f} cm\N{SUPERSCRIPT TWO}",
        files=tuple(entry["files"].values()),
        thumbnail=panel_thumbnail(panel),
        stock=panel.material,
        alike=likeness(panel),
        edges=tuple(
            EdgeRow(
                length=edge.length,
                against=edge.against,
                angle_deg=edge.angle_deg,
                bevel_deg=edge.bevel_deg,
                gap=edge.gap,
            )
            for edge in panel.edges
        ),
        notes=tuple(notes),
    )
