"""The whole flow on one screen: scene text to the bytes of every file."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.elements.covers import MOST_GUIDES, count_guides, lay_cover
from pipeline.elements.model import Face, Family, Imagined, Problem, SceneError
from pipeline.exports.drawing import Layer
from pipeline.exports.dxf import write_dxf
from pipeline.exports.panel_drawing import draw_panel
from pipeline.exports.stl import write_stl
from pipeline.exports.svg import write_svg
from pipeline.geometry.cutting import CutError
from pipeline.geometry.frames import apply, invert_rigid
from pipeline.geometry.meshes import Mesh
from pipeline.parts.blocks import solid_print
from pipeline.parts.model import Panel, Print
from pipeline.parts.outlines import prepare
from pipeline.parts.panels import cut_region, make_panel
from pipeline.parts.shells import shell
from pipeline.report import manifest as manifests
from pipeline.report.sheet import page, pictures
from pipeline.report.summary import summarise
from pipeline.room.imagine import imagine
from pipeline.room.measure import Room, measure
from pipeline.scene.model import Scene
from pipeline.scene.read import placed_error, read_scene


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


def build_scene(text: bytes, stem: str, overrides: tuple[tuple[str, str], ...] = ()) -> Build:
    """Return everything a scene makes.

    Parameters
    ----------
    text
        The scene file, UTF-8.
    stem
        Name of the export folder.
    overrides
        Keys and values set over the file's, as text: ``("eye.distance", "380")``.

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        With every problem of the scene, placed in its file.
    """
    evidence = make(text, overrides)
    title = evidence.scene.title or stem
    with ThreadPoolExecutor(1) as beside:  # pictures take as long as all the rest, and know nothing of the checks
        taken = beside.submit(pictures, evidence, title)
        findings = [finding for check in CHECKS for finding in check.run(evidence)]
        shots = taken.result()
    files = {**evidence.files, **shots, "report.html": page(evidence, findings, title, shots)}
    content = manifests.manifest(
        title=title,
        scene_bytes=text,
        relief=evidence.room.relief,
        parts=list(evidence.entries.values()),
        joints=manifests.joint_entries(evidence.panels),
        findings=findings,
        files=files,
    )
    files["manifest.json"] = manifests.encode(content)
    failed = sum(finding.status == "fail" for finding in findings)
    return Build(files=files, manifest=content, summary=summarise(stem, evidence, findings), failed=failed)


def make(text: bytes, overrides: tuple[tuple[str, str], ...] = ()) -> Evidence:
    """Return everything a scene makes, before it is checked and shown.

    Raises
    ------
    pipeline.scene.problems.SceneFileError
        With every problem of the scene, placed in its file.
    """
    scene = read_scene(text, overrides)
    try:
        room = measure(scene)
        said = imagine(scene, room)
        if said.problems:
            raise SceneError(list(said.problems))
        panels = make_panels(scene, room, said)
    except SceneError as error:
        raise placed_error(text, error.problems, overrides) from error
    prints = make_prints(scene, room, said)
    return Evidence(
        scene=scene,
        room=room,
        imagined=said,
        panels=panels,
        prints=prints,
        files=export(scene, panels, prints),
        entries={entry["id"]: entry for entry in part_entries(panels, prints)},
    )


def make_panels(scene: Scene, room: Room, said: Imagined) -> tuple[Panel, ...]:
    """Return every panel.

    Raises
    ------
    SceneError
        If openings leave nothing of a wall, or a cover needs too many guides.
    """
    making = prepare(
        said.faces, room.relief, room.box, bevelled=scene.make.edges == "bevel", min_guide=scene.make.min_guide
    )
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
        panels.append(make_panel(face, region, lay_face(scene, room, face), said.marks, making))
    return tuple(panels)


def lay_face(scene: Scene, room: Room, face: Face) -> list[Family]:
    """Return the lines of a face's cover.

    Raises
    ------
    SceneError
        If there would be too many.
    """
    if face.cover is None:
        return []
    table = scene.covers[face.cover]
    count = count_guides(table, room.hall.scale, *face.extent, level=face.level)
    if count > MOST_GUIDES:
        problem = Problem(
            path=("covers", face.cover),
            found=f"{face.id} would need about {count:.3g} guides",
            allowed=f"at most {MOST_GUIDES:,} on a face",
            remedy="give larger units or a larger scale number",
        )
        raise SceneError([problem])
    return lay_cover(table, room.hall.scale, *face.extent, level=face.level)


def make_prints(scene: Scene, room: Room, said: Imagined) -> tuple[Print, ...]:
    """Return every print."""
    make = scene.make
    shells = tuple(
        shell(
            solid,
            room.relief,
            room.hall,
            fit=make.fit,
            mesh_tolerance=make.mesh_tolerance,
            min_wall=make.printer.min_wall,
            min_cavity=make.printer.min_cavity,
        )
        for solid in said.solids
    )
    cast = tuple(solid_print(block, room.relief, room.hall, make.fit) for block in said.blocks)
    return shells + cast


def export(scene: Scene, panels: tuple[Panel, ...], prints: tuple[Print, ...]) -> dict[str, bytes]:
    """Return the files of panels and prints."""
    make = scene.make
    colours = {layer: getattr(make.colours, layer.value.lower()) for layer in Layer}
    files = {}
    for panel in panels:
        drawing = draw_panel(panel, colours)
        files[f"panels/{panel.id}.dxf"] = write_dxf(drawing, make.curve_tolerance, make.curves)
        files[f"panels/{panel.id}.svg"] = write_svg(drawing, make.curve_tolerance)
    for part in prints:
        files[f"prints/{part.id}.stl"] = write_stl(bed_mesh(part), part.id)
    return files


def bed_mesh(part: Print) -> Mesh:
    """Return a print as it lies on the bed, mm."""
    return Mesh(vertices=apply(invert_rigid(part.built_from_bed), part.body.vertices), triangles=part.body.triangles)


def part_entries(panels: tuple[Panel, ...], prints: tuple[Print, ...]) -> list[dict[str, Any]]:
    """Return the manifest's list of parts, in the order of work: back before front, panels before prints."""
    return [
        *(manifests.panel_entry(panel, order) for order, panel in enumerate(panels, start=1)),
        *(manifests.print_entry(part, order) for order, part in enumerate(prints, start=len(panels) + 1)),
    ]
