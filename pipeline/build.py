"""The whole flow on one screen: scene text to the bytes of every file."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.elements.covers import MOST_GUIDES, count_guides, lay_cover, lay_units
from pipeline.elements.covers.below import carry_below
from pipeline.elements.model import Block, Face, Family, Imagined, KeyPath, Problem, SceneError, Solid, Web
from pipeline.exports.bent_drawing import draw_bent
from pipeline.exports.cut_sheets import fill_sheets, write_sheets
from pipeline.exports.drawing import Drawing, Layer
from pipeline.exports.dxf import write_dxf
from pipeline.exports.panel_drawing import draw_panel
from pipeline.exports.stl import write_stl
from pipeline.exports.svg import write_svg
from pipeline.exports.templates import templates_pdf
from pipeline.exports.threemf import write_3mf
from pipeline.geometry.booleans import BodyError
from pipeline.geometry.curves import bounds
from pipeline.geometry.cutting import CutError
from pipeline.geometry.frames import apply, invert_rigid
from pipeline.geometry.meshes import Mesh
from pipeline.parts.bent import BentPanel, make_bent, web_block
from pipeline.parts.bent_guides import barrel_length
from pipeline.parts.blocks import solid_print
from pipeline.parts.brick_relief import MOST_UNITS, is_raised, relief_print
from pipeline.parts.model import Panel, Print
from pipeline.parts.outlines import Making, prepare
from pipeline.parts.panels import cut_region, make_panel
from pipeline.parts.readying import Bulkheads, Readying, ready_all
from pipeline.parts.shells import shell
from pipeline.report import manifest as manifests
from pipeline.report.leak_picture import leak_picture
from pipeline.report.sheet import page, pictures
from pipeline.report.summary import summarise
from pipeline.room.imagine import imagine
from pipeline.room.measure import Room, measure
from pipeline.scene.model import Scene
from pipeline.scene.read import placed_error, read_scene
from pipeline.sheets.measures import measures_csv
from pipeline.sheets.stock import Filled

Overrides = tuple[tuple[str, str], ...]


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


def build_scene(text: bytes, stem: str, overrides: Overrides = (), read: Mapping[str, bytes] | None = None) -> Build:
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

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        With every problem of the scene, placed in its file.
    """
    evidence = make(text, overrides, read)
    title = evidence.scene.title or stem
    with ThreadPoolExecutor(1) as beside:  # pictures take as long as all the rest, and know nothing of the checks
        taken = beside.submit(pictures, evidence, title)
        findings = [finding for check in CHECKS for finding in check.run(evidence)]
        shots = {**taken.result(), **leak_picture(evidence, findings)}
    files = {**evidence.files, **shots, "report.html": page(evidence, findings, title, shots)}
    content = manifests.manifest(
        title=title,
        scene_bytes=text,
        read=read or {},
        relief=evidence.room.relief,
        parts=list(evidence.entries.values()),
        joints=manifests.joint_entries(evidence.panels),
        findings=findings,
        sheets=manifests.sheet_entries(evidence.sheets),
        files=files,
        unseen=evidence.imagined.unseen,
    )
    files["manifest.json"] = manifests.encode(content)
    failed = sum(finding.status == "fail" for finding in findings)
    return Build(files=files, manifest=content, summary=summarise(stem, evidence, findings), failed=failed)


def make(text: bytes, overrides: Overrides = (), files: Mapping[str, bytes] | None = None) -> Evidence:
    """Return everything a scene makes, before it is checked and shown.

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        With every problem of the scene, placed in its file.
    """
    scene = read_scene(text, overrides)
    try:
        room = measure(scene, files)
        said = imagine(scene, room)
        if said.problems:
            raise SceneError(list(said.problems))
        making = prepare_panels(scene, room, said)
        panels = make_panels(scene, room, said, making)
        bents = make_bents(scene, room, said)
        prints = raise_units(scene, room, said, making, make_prints(scene, room, said))
        prints = ready_prints(scene, room, prints)
        sheets = fill_sheets((*panels, *bents), scene.materials)
        written = export(scene, panels, bents, prints, sheets, eye_distance=-room.relief.eye[1])
    except SceneError as error:
        raise placed_error(text, error.problems, overrides) from error
    return Evidence(
        scene=scene,
        room=room,
        imagined=said,
        panels=panels,
        bents=bents,
        prints=prints,
        sheets=sheets,
        files=written,
        entries={entry["id"]: entry for entry in part_entries(panels, bents, prints)},
    )


def prepare_panels(scene: Scene, room: Room, said: Imagined) -> Making:
    """Return what panels need to know of one another."""
    return prepare(
        said.faces,
        room.relief,
        room.box,
        bevelled=scene.make.edges == "bevel",
        min_guide=scene.make.min_guide,
        planes=said.planes,
    )


def make_panels(scene: Scene, room: Room, said: Imagined, making: Making) -> tuple[Panel, ...]:
    """Return every panel; faces whose units are raised are printed instead.

    Raises
    ------
    SceneError
        If openings leave nothing of a wall, or a cover needs too many guides.
    """
    panels = []
    for face in said.faces:
        try:
            region = cut_region(face, said.cuts)
        except CutError as error:
            problem = Problem(
                path=face.path, found=f"the openings of the {face.id} leave no one piece of it: {error}",
                allowed="openings that leave the wall in one piece",
            )  # fmt: skip
            raise SceneError([problem]) from error
        families = lay_face(scene, room, face)
        if is_raised(face, scene.covers.get(face.cover or ""), making.lies[face.id]):
            refuse_relief(scene, room, face)
        else:
            panels.append(make_panel(face, region, families, said.marks, making))
    return tuple(panels)


def refuse_relief(scene: Scene, room: Room, face: Face) -> None:
    """Refuse to raise the units of a face whose plate would be too thin, or of too many units.

    Raises
    ------
    SceneError
        If so.
    """
    least, thickness = scene.make.printer.min_wall, face.sheet.thickness + face.sheet.finish
    count = count_guides(scene.covers[face.cover or ""], room.hall.scale, *face.extent, level=face.level)
    path: KeyPath = ("covers", face.cover or "", "relief")
    if thickness < least:
        found = f"the {face.id} is {thickness:g} mm thick, so its plate would be thinner than the printer's least wall"
        allowed, remedy = f"{least:g} mm (make.printer.min_wall) or more", "give it a thicker material, or relief = 0"
    elif count > MOST_UNITS:
        found, allowed = f"the {face.id} would have about {count:.3g} units", f"at most {MOST_UNITS:,} on a print"
        remedy = 'give larger units, or relief_as = "guides"'
    else:
        return
    raise SceneError([Problem(path=path, found=found, allowed=allowed, remedy=remedy)])


def raise_units(
    scene: Scene, room: Room, said: Imagined, making: Making, prints: tuple[Print, ...]
) -> tuple[Print, ...]:
    """Return the prints, and after them every face whose units are raised; units keep clear of all before them."""
    for face in said.faces:
        cover = scene.covers.get(face.cover or "")
        if cover is not None and is_raised(face, cover, making.lies[face.id]):
            raised = relief_print(
                face,
                cut_region(face, said.cuts),
                lay_units(cover, room.hall.scale, *face.extent, level=face.level),
                lay_face(scene, room, face),
                making,
                height=room.hall.millimetres(cover.relief),
                marks=tuple(mark for mark in said.marks if not mark.hidden),
                standing=prints,
                fit=scene.make.fit,
                mesh_tolerance=scene.make.mesh_tolerance,
                detail=scene.make.printer.least_detail,
            )
            prints = (*prints, raised)
    return prints


def make_bents(scene: Scene, room: Room, said: Imagined) -> tuple[BentPanel, ...]:
    """Return every web that is bent from sheet.

    Raises
    ------
    SceneError
        If a cover needs too many guides.
    """
    return tuple(
        make_bent(
            web,
            lay_web(scene, room, web),
            room.relief,
            bend_factor=scene.materials[web.sheet.material].bend_factor,
            bend_tolerance=scene.make.bend_tolerance,
            min_guide=scene.make.min_guide,
        )
        for web in said.webs
        if not web.printed
    )


def lay_web(scene: Scene, room: Room, web: Web) -> list[Family]:
    """Return the lines of a web's cover on one of its halves.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    if web.cover is None:
        return []
    return lay(scene, room, web.id, web.cover, (web.extent, barrel_length(web.barrel)), level=False)


def lay_face(scene: Scene, room: Room, face: Face) -> list[Family]:
    """Return the lines of a face's cover.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    if face.cover is None:
        return list(face.lines)
    families = lay(scene, room, face.id, face.cover, face.extent, level=face.level)
    foot = room.hall.foot if face.through else float(bounds(face.region.curves)[0, 1])
    return [*carry_below(families, foot), *face.lines]


def lay(scene: Scene, room: Room, part: str, cover: str, extent: tuple[float, float], *, level: bool) -> list[Family]:
    """Return the lines of a cover on a part's extent.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    table = scene.covers[cover]
    count = count_guides(table, room.hall.scale, *extent, level=level)
    if count > MOST_GUIDES:
        problem = Problem(
            path=("covers", cover),
            found=f"{part} would need about {count:.3g} guides",
            allowed=f"at most {MOST_GUIDES:,} on a face",
            remedy="give larger units or a larger scale number",
        )
        raise SceneError([problem])
    return lay_cover(table, room.hall.scale, *extent, level=level)


def make_prints(scene: Scene, room: Room, said: Imagined) -> tuple[Print, ...]:
    """Return every print.

    Raises
    ------
    SceneError
        If too little is left of a body between the surfaces it touches.
    """
    shells = tuple(make_shell(scene, room, solid) for solid in said.solids)
    printed = tuple(web_block(web, room.relief) for web in said.webs if web.printed)
    return shells + tuple(cast(scene, room, block) for block in (*said.blocks, *printed))


def make_shell(scene: Scene, room: Room, solid: Solid, bulkheads: Bulkheads = ()) -> Print:
    """Return a solid as a shell, its hollow filled on either side of planes it is to be cut by."""
    make = scene.make
    return shell(
        solid,
        room.relief,
        room.hall.below_vault if solid.axis == "z" else room.hall,
        fit=make.fit,
        mesh_tolerance=make.mesh_tolerance,
        min_wall=make.printer.min_wall,
        min_cavity=make.printer.min_cavity,
        bulkheads=bulkheads,
    )


def ready_prints(scene: Scene, room: Room, prints: tuple[Print, ...]) -> tuple[Print, ...]:
    """Return the prints as the printer takes them: cut to its bed, laid on it, drained.

    Raises
    ------
    SceneError
        If the bed would take too many pieces, or a piece would be named like another part.
    """
    printer = scene.make.printer
    readying = Readying(
        relief=room.relief,
        bed=printer.bed,
        fit=scene.make.fit,
        wall=printer.min_wall,
        drain=printer.drain,
        drains=printer.drains if printer.process == "resin" else 0,
    )

    def remake(part: Print, bulkheads: Bulkheads) -> Print:
        return make_shell(scene, room, part.solid, bulkheads) if isinstance(part.solid, Solid) else part

    return ready_all(prints, readying, remake)


def cast(scene: Scene, room: Room, block: Block) -> Print:
    """Return a block as a print.

    Raises
    ------
    SceneError
        If not one closed body is left of it.
    """
    try:
        return solid_print(block, room.relief, room.hall, scene.make.fit)
    except BodyError as error:
        problem = Problem(
            path=block.path, found=f"no one body is left of {block.id} in the relief: {error}",
            allowed=f"a body thicker than the play of {scene.make.fit:g} mm wherever it touches a surface",
            remedy="make it larger, or move it away from floor and walls",
        )  # fmt: skip
        raise SceneError([problem]) from error


def export(
    scene: Scene,
    panels: tuple[Panel, ...],
    bents: tuple[BentPanel, ...],
    prints: tuple[Print, ...],
    sheets: tuple[Filled, ...],
    *,
    eye_distance: float,
) -> dict[str, bytes]:
    """Return the files of panels, sheets, templates, measures and prints.

    Raises
    ------
    SceneError
        If a cut is wider than a feature it goes round.
    """
    make = scene.make
    colours = {layer: getattr(make.colours, layer.value.lower()) for layer in Layer}
    files = {}
    drawn: list[tuple[Panel | BentPanel, Drawing]] = [(panel, draw_panel(panel, colours)) for panel in panels]
    drawn += [(panel, draw_bent(panel, colours)) for panel in bents]
    for panel, drawing in drawn:
        files[f"panels/{panel.id}.dxf"] = write_dxf(drawing, make.curve_tolerance, make.curves)
        files[f"panels/{panel.id}.svg"] = write_svg(drawing, make.curve_tolerance)
    lying = {part.id: bed_mesh(part) for part in prints}
    files |= {f"prints/{name}.stl": write_stl(mesh, name) for name, mesh in lying.items()}
    if lying:
        files["prints.3mf"] = write_3mf(lying, scene.title, make.printer.bed[:2])
    files |= write_sheets(sheets, {panel.id: drawing for panel, drawing in drawn}, make.curve_tolerance)
    papers = [(drawing, panel.edges) for panel, drawing in drawn]
    files["templates.pdf"] = templates_pdf(scene.title, papers, make.paper)
    files["measures.csv"] = measures_csv(panels, eye_distance)
    return files


def bed_mesh(part: Print) -> Mesh:
    """Return a print as it lies on the bed, mm."""
    return Mesh(vertices=apply(invert_rigid(part.built_from_bed), part.body.vertices), triangles=part.body.triangles)


def part_entries(
    panels: tuple[Panel, ...], bents: tuple[BentPanel, ...], prints: tuple[Print, ...]
) -> list[dict[str, Any]]:
    """Return the manifest's list of parts, in the order of work: back before front, panels before prints."""
    return [
        *(manifests.panel_entry(panel, order) for order, panel in enumerate(panels, start=1)),
        *(manifests.bent_entry(panel, order) for order, panel in enumerate(bents, start=len(panels) + 1)),
        *(manifests.print_entry(p, order) for order, p in enumerate(prints, start=len(panels) + len(bents) + 1)),
    ]
