"""``foreshorten coupon``: test pieces that tell a material's kerf, and the reading back into the scene."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.terminal import Terminal

if TYPE_CHECKING:
    from pipeline.scene.materials import Material
    from pipeline.scene.model import Scene
    from pipeline.sheets.coupons import Coupon

MOST_KERF = 2.0
"""mm; a wider cut is no laser's and no knife's, and a reading that says so is a slip."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take a material of a scene, and what was read off its gauge."""
    parser.add_argument("material", metavar="MATERIAL", help="one of the scene's [materials]")
    parser.add_argument("--scene", metavar="SCENE", type=Path, required=True, help="scene file (.toml)")
    parser.add_argument(
        "-o",
        "--out",
        metavar="FOLDER",
        type=Path,
        default=Path("exports"),
        help="where the files go (default: exports)",
    )
    parser.add_argument(
        "--read", metavar="MM", type=reading, help="length of the gauge's blocks pushed together: say the kerf instead"
    )
    parser.add_argument("--write", action="store_true", help="with --read: write the kerf into the scene file")
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors")


def reading(text: str) -> float:
    """Return a length in millimetres."""
    try:
        value = float(text.replace(",", ".").removesuffix("mm"))
    except ValueError:
        value = math.nan
    if not 0 < value < 1e4:
        raise argparse.ArgumentTypeError(f"{text!r} is not a length in millimetres, as in 48.62")
    return value


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write the test pieces of a material, or say what a reading makes of its kerf."""
    from pipeline.scene.problems import SceneFileError
    from pipeline.scene.read import read_scene

    if arguments.write and arguments.read is None:
        raise InputError("--write needs --read MM, what the gauge measures")
    data = scene_files.read_bytes(arguments.scene)
    try:
        scene = read_scene(data)
    except SceneFileError as error:
        for line in error.describe(str(arguments.scene)):
            terminal.problem(line)
        return Exit.INPUT
    material = known_material(scene, arguments.material, arguments.scene)
    lines = _drawn(arguments, scene) if arguments.read is None else _judged(arguments, data, material)
    if not terminal.quiet:
        for line in lines:
            terminal.result(line)
    return Exit.DONE


def known_material(scene: Scene, name: str, path: Path) -> Material:
    """Return a material of the scene.

    Raises
    ------
    InputError
        If it has none of that name.
    """
    from pipeline.scene.nearest import nearest
    from pipeline.scene.values import show, show_choices

    if name in scene.materials:
        return scene.materials[name]
    guess = nearest(name, list(scene.materials))
    hint = f' Did you mean "{guess}"?' if guess is not None else ""
    raise InputError(
        f"{path}: there is no material {show(name)}; it has {show_choices(list(scene.materials))}."
        f"{hint or ' Name one of these'}"
    )


def test_pieces(scene: Scene, name: str, path: Path, command: str) -> tuple[dict[str, bytes], Coupon]:
    """Return the files of a material's test pieces by their ending, and what they are.

    Parameters
    ----------
    scene, path
        The scene, and its file for what is said.
    name
        Of the material.
    command
        What takes the reading, for the words that go with the pieces.

    Raises
    ------
    InputError
        If they do not fit the material's sheet.
    """
    from pipeline.exports.coupon_drawing import coupon_text, draw_coupon
    from pipeline.exports.drawing import Layer
    from pipeline.exports.dxf import write_dxf
    from pipeline.exports.dxf_r12 import write_r12
    from pipeline.exports.svg import write_svg
    from pipeline.sheets.coupons import make_coupon

    material = scene.materials[name]
    coupon = make_coupon(name, material.thickness)
    room = sorted(side - 2 * material.margin for side in material.sheet)
    size = sorted(coupon.size)
    if size[0] > room[0] or size[1] > room[1]:
        raise InputError(
            f"{path}: materials.{name}.sheet: the test pieces need {size[1]:.0f} x {size[0]:.0f} mm within "
            f"the margin, the sheet has {room[1]:g} x {room[0]:g}; cut them from a larger piece and say so there"
        )
    colours = {layer: getattr(scene.make.colours, layer.value.lower()) for layer in Layer}
    drawing = draw_coupon(coupon, f"{name} {material.thickness:g} mm, test pieces", colours)
    files = {
        ".dxf": (write_r12 if scene.make.dxf == "R12" else write_dxf)(drawing, scene.make.curve_tolerance),
        ".svg": write_svg(drawing, scene.make.curve_tolerance),
        ".txt": coupon_text(coupon, name, material.thickness, command).encode(),
    }
    return files, coupon


def _drawn(arguments: argparse.Namespace, scene: Scene) -> list[str]:
    from pipeline.commands.disk_words import unwritten
    from pipeline.commands.plain_files import write_over
    from pipeline.units import part_id

    command = f"foreshorten coupon {arguments.material} --scene {arguments.scene} --read"
    stem = f"{scene_files.safe_stem(arguments.scene)}-{part_id(arguments.material)}-coupon"
    files, coupon = test_pieces(scene, arguments.material, arguments.scene, command)
    try:
        arguments.out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(*unwritten(arguments.out, error)) from None
    for ending, content in files.items():
        write_over(arguments.out / (stem + ending), content)
    return [
        *(str(arguments.out / (stem + ending)) for ending in files),
        f"  comb: {len(coupon.widths)} slots from {coupon.widths[0]:.2f} to {coupon.widths[-1]:.2f} mm",
        f"  gauge: {coupon.length:g} mm as drawn; cut it, push the blocks together, measure, then",
        f"  {command} MEASURED",
    ]


def kerf_of(material: Material, measured: float) -> float:
    """Return the kerf that a reading of the gauge makes, mm.

    Raises
    ------
    InputError
        If no cut is so wide.
    """
    from pipeline.sheets.coupons import BLOCKS, block_of, kerf_read

    length = block_of(material.thickness) * BLOCKS
    kerf = round(kerf_read(measured, material.thickness), 4) + 0.0
    if not 0 <= kerf <= MOST_KERF:
        raise InputError(
            f"a gauge of {measured:g} mm makes a kerf of {kerf:g} mm; allowed: {length - MOST_KERF * BLOCKS:g} to "
            f"{length:g} mm, the gauge being {length:g} as drawn. Push the blocks together and measure again; was it "
            f"cut at true size, without the machine's own kerf, and drawn for thickness = {material.thickness:g}?"
        )
    return kerf


def _judged(arguments: argparse.Namespace, data: bytes, material: Material) -> list[str]:
    from pipeline.sheets.coupons import BLOCKS, block_of

    name, measured = arguments.material, arguments.read
    length = block_of(material.thickness) * BLOCKS
    kerf = kerf_of(material, measured)
    said = f"kerf = ({length:g} - {measured:g}) / {BLOCKS} = {kerf:g} mm; the scene has {material.kerf:g}"
    if not arguments.write:
        return [said, f"  write into {arguments.scene}, or say --write:", f"  [materials.{name}]", f"  kerf = {kerf:g}"]
    _written(arguments.scene, data, name, kerf)
    return [said, f"  written to {arguments.scene}, everything else in it left as it was"]


def _written(path: Path, data: bytes, name: str, kerf: float) -> None:
    from pipeline.commands.scene_edits import write_values

    write_values(path, data, {("materials", name, "kerf"): kerf})


COMMAND = Command(
    name="coupon",
    summary="draw test pieces that tell a material's kerf, or take the reading into the scene",
    add_arguments=add_arguments,
    run=run,
    compiled=("numpy", "pydantic"),
)
