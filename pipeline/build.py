"""The whole flow on one screen: scene text to the bytes of every file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from pipeline.casework.boards import plan_casework
from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.elements.problems import SceneError
from pipeline.exports.cut_sheets import fill_sheets
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel, Print
from pipeline.parts.order import Bench, Step
from pipeline.parts.web_angles import tell_web_angles
from pipeline.report import manifest as manifests
from pipeline.report.air_rows import air_entry
from pipeline.report.bill import bill_csv, bill_entries
from pipeline.report.built_model import built_model
from pipeline.report.casework_entry import casework_entry
from pipeline.report.figure_rows import figure_entries
from pipeline.report.forgiving import forgive, forgives_entry
from pipeline.report.leak_picture import leak_picture
from pipeline.report.light_rows import light_entries, stencil_entries
from pipeline.report.photographing import camera_entry, photograph
from pipeline.report.quantities import quantities
from pipeline.report.sheet import forgiving_picture, page, pictures
from pipeline.report.summary import summarise
from pipeline.report.wiring_rows import wiring_entry
from pipeline.report.work_plan import plan, work_entries
from pipeline.room.batteries import wiring_problems
from pipeline.room.imagine import imagine
from pipeline.room.measure import Room, measure
from pipeline.room.photographing import camera_problems
from pipeline.scene.read import placed_error, read_scene
from pipeline.sheets.layouts import LaidScene, read_layout
from pipeline.stages.corners import hold_corners, make_nets, plan_corners
from pipeline.stages.files import draw, export
from pipeline.stages.fillets import fill_wedges
from pipeline.stages.ground import Ground
from pipeline.stages.handing_out import hand_out
from pipeline.stages.leds import place_leds
from pipeline.stages.lighting import cast_lights, mark_light
from pipeline.stages.ordering import pieces_of, plan_work
from pipeline.stages.panels import make_bents, make_panels, prepare_panels
from pipeline.stages.parting import mark_partings
from pipeline.stages.prints import make_prints, raise_units, ready_prints
from pipeline.stages.stencils import make_stencils, mark_pins
from pipeline.stages.wiring import kept_free, run_wires

Overrides = tuple[tuple[str, str], ...]
Shows = Callable[[Room, tuple[Panel, ...], tuple[BentPanel, ...], tuple[Print, ...]], None]
"""Is shown the flat panels as soon as they are cut, again as soon as it is known what light falls on them, and then all
parts before anybody knows their order of work."""


def _unshown(*_: object) -> None:
    """Show nobody."""


def _untold(stage: str) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Build:
    """A built scene as bytes.

    Attributes
    ----------
    files
        Relative path to bytes, ``manifest.json`` among them.
    manifest
        The manifest's content.
    summary
        A few lines for the terminal.
    failed
        Number of failed checks.
    """

    files: dict[str, bytes]
    manifest: dict[str, Any]
    summary: tuple[str, ...]
    failed: int


def build_scene(
    text: bytes,
    stem: str,
    overrides: Overrides = (),
    read: Mapping[str, bytes] | None = None,
    *,
    layout: bytes | None = None,
    kept: Kept = NOTHING_KEPT,
    begins: Callable[[str], None] = _untold,
    made: Callable[[Evidence], None] = _unshown,
) -> Build:
    """Return everything a scene makes.

    Parameters
    ----------
    text
        The scene file, UTF-8.
    stem
        Name of the export folder.
    overrides
        Keys and values set over the file's, as text: ``("eye.distance", "380")``.
    read
        Bytes of the mesh files that the scene names, by the name it uses.
    layout
        Bytes of the layout file beside it, where there is one.
    kept
        What earlier builds made; what still holds is taken from there, and the result is the same, byte for byte.
    begins
        Is told each of ``STAGES`` as it begins, for those who wait.
    made
        Is shown what was made, its files written, for those who want more of it than bytes.

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        With every problem of the scene, placed in its file.
    pipeline.sheets.refusals.LayoutError
        If the layout file cannot be read or is one of other parts.
    """
    laid = read_layout(layout) if layout is not None else None
    kept.begin()
    begins("shapes")
    shaped = shape(text, overrides, read, kept)
    title = shaped.scene.title or stem
    with ThreadPoolExecutor(1) as beside:  # pictures take as long as all the rest, and know nothing of files and checks
        forgiving = beside.submit(kept.given, (forgive, *shaped.shapes, shaped.scene.camera), partial(forgive, shaped))
        taken = beside.submit(pictures, shaped, title)
        begins("files")
        evidence = write(shaped, text, overrides, laid)
        made(evidence)
        begins("checks")
        findings = [finding for check in CHECKS for finding in check.run(evidence)]
        begins("pictures")
        forgiven = forgiving.result()
        shots = {**taken.result(), **leak_picture(evidence, findings), **forgiving_picture(forgiven, title)}
    begins("page")
    shots |= built_model(evidence, title)
    found = quantities(evidence)
    work = plan(evidence, found)
    shown = page(evidence, findings, forgiven, title, shots, found=found, work=work)
    files = {**evidence.files, **shots, "materials.csv": bill_csv(found), "report.html": shown}
    content = manifests.manifest(
        title=title,
        scene_bytes=text,
        read={**(read or {}), **({} if layout is None else {f"{stem}.layout.json": layout})},
        relief=evidence.room.relief,
        box=manifests.box_entry(evidence),
        parts=list(evidence.entries.values()),
        joints=manifests.joint_entries((*evidence.panels, *evidence.bents)),
        findings=findings,
        sheets=manifests.sheet_entries(evidence.sheets),
        nets=manifests.net_entries(evidence.nets),
        files=files,
        unseen=evidence.imagined.unseen,
        forgives=forgives_entry(forgiven),
        figures=figure_entries(evidence),
        lights=light_entries(evidence),
        stencils=stencil_entries(evidence),
        air=air_entry(evidence),
        casework=casework_entry(evidence.casework),
        wiring=wiring_entry(evidence),
        camera=camera_entry(photograph(evidence, forgiven)),
        takes={**bill_entries(found), "work": work_entries(work)},
    )
    files["manifest.json"] = manifests.encode(content)
    failed = sum(finding.status == "fail" for finding in findings)
    return Build(files=files, manifest=content, summary=summarise(stem, evidence, findings, forgiven), failed=failed)


def make(text: bytes, overrides: Overrides = (), files: Mapping[str, bytes] | None = None) -> Evidence:
    """Return everything a scene makes, its files written, before it is checked and shown.

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        With every problem of the scene, placed in its file.
    """
    return write(shape(text, overrides, files), text, overrides)


def shape(
    text: bytes,
    overrides: Overrides = (),
    files: Mapping[str, bytes] | None = None,
    kept: Kept = NOTHING_KEPT,
    shows: Shows = _unshown,
) -> Evidence:
    """Return everything a scene makes, as shapes only; ``shows`` is for those who wait, and may raise to end it.

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        With every problem of the scene, placed in its file.
    """
    scene = read_scene(text, overrides)
    try:
        room = measure(scene, files)
        said = imagine(scene, room, kept)
        problems = (*said.problems, *camera_problems(scene.camera, room.relief), *wiring_problems(scene))
        if problems:
            raise SceneError(list(problems))
        making, said, unfolded = plan_corners(scene, said, prepare_panels(scene, room, said, kept))
        if scene.lights and shows is not _unshown:  # what light falls on them takes as long to find as to cut them
            shows(room, make_panels(scene, room, said, making, kept), (), ())
        casts = cast_lights(scene, room, said, making, kept)
        said = mark_light(scene, said, casts)
        panels = make_panels(scene, room, said, making, kept)
        shows(room, panels, (), ())
        bents = make_bents(scene, room, said, kept)
        prints = make_prints(scene, room, said, kept)
        prints = raise_units(scene, room, said, making, prints, kept=kept)
        prints = ready_prints(scene, room, prints, kept)
        panels, said = fill_wedges(scene, room, said, making, (panels, (*bents, *prints)))
        made: tuple[Panel | BentPanel | Print, ...] = (*panels, *bents, *prints)
        to_wire = (
            place_leds(scene, room, said, making, parts=made, casts=casts, kept=kept)
            if scene.wiring is not None
            else ()
        )
        panels, said, wiring = run_wires(scene, room, said, making, made, leds=to_wire, kept=kept)
        ground = Ground((*panels, *bents, *prints), tuple(room.inside.planes.values()), unfolded, kept_free(wiring))
        panels, said = hold_corners(scene, said, making, panels, ground)
        wired = kept_free(wiring)
        panels, said = fill_wedges(scene, room, said, making, (panels, (*bents, *prints)), tabbed=True, kept_free=wired)
        panels, bents = kept.of(tell_web_angles, panels, bents)
        panels = mark_partings(scene, panels, kept)
        stencils = make_stencils(scene, panels, making, casts)
        panels = mark_pins(panels, stencils)
        leds = place_leds(
            scene, room, said, making, parts=(*panels, *bents, *prints), casts=casts, kept=kept, wiring=wiring
        )
    except SceneError as error:
        raise placed_error(text, error.problems, overrides) from error
    shows(room, panels, bents, prints)
    bench = Bench(pieces_of(panels, bents, prints), room.box)
    named = tuple((part.solid.id, part.id) for part in prints)
    order = kept.given((plan_work, named, *bench.inputs), partial(plan_work, bench, prints))
    return Evidence(
        scene=scene,
        room=room,
        imagined=said,
        panels=panels,
        bents=bents,
        prints=prints,
        nets=make_nets(unfolded, panels),
        wiring=wiring,
        entries={entry["id"]: entry for entry in part_entries(panels, bents, prints, order, kept)},
        bench=bench,
        casework=plan_casework(scene.box),
        casts=casts,
        leds=leds,
        stencils=stencils,
        kept=kept,
    )


def write(
    shaped: Evidence,
    text: bytes,
    overrides: Overrides = (),
    laid: LaidScene | None = None,
    *,
    hands_out: bool = True,
) -> Evidence:
    """Return what was made with its files.

    Parameters
    ----------
    shaped, text, overrides
        What was made, and the scene it was made of.
    laid
        How the parts lay on sheets before, used where that still fits.
    hands_out
        Whether templates, measures and all prints in one file are wanted too, on which nothing is checked.

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        If a cut is wider than a feature it goes round.
    """
    scene, kept = shaped.scene, shaped.kept
    sheets, notes = fill_sheets(shaped.pieces, scene.materials, laid, kept)
    drawn = draw(
        shaped.panels, shaped.bents, scene.make,
        nets=shaped.nets, casework=shaped.casework, stencils=shaped.stencils, kept=kept,
    )  # fmt: skip
    try:
        files = export(drawn, shaped.prints, sheets, scene.make, kept)
    except SceneError as error:
        raise placed_error(text, error.problems, overrides) from error
    if hands_out:
        files |= hand_out(
            scene, shaped.room, drawn, shaped.prints,
            casework=shaped.casework, stencils=shaped.stencils, kept=kept,
        )  # fmt: skip
    return replace(shaped, sheets=sheets, sheet_notes=notes, files=files)


def part_entries(
    panels: tuple[Panel, ...],
    bents: tuple[BentPanel, ...],
    prints: tuple[Print, ...],
    steps: tuple[Step, ...],
    kept: Kept,
) -> list[dict[str, Any]]:
    """Return the manifest's list of parts, in the order of work."""
    place = {step.id: (order, step.held_off) for order, step in enumerate(steps, start=1)}
    entries = [
        *(kept.here(manifests.panel_entry, panel, *place[panel.id]) for panel in panels),
        *(kept.here(manifests.bent_entry, panel, *place[panel.id]) for panel in bents),
        *(kept.here(manifests.print_entry, part, *place[part.id]) for part in prints),
    ]
    return sorted(entries, key=lambda entry: int(entry["order"]))
