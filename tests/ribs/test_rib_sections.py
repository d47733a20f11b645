"""Chamfered and rolled ribs of the cistern can be printed, down to its farthest bay."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.checks.print_closed import check_closed
from pipeline.checks.print_wall import check_wall
from pipeline.exports.stl import write_stl
from pipeline.geometry.booleans import body_of
from pipeline.geometry.contacts import contacts
from pipeline.room.imagine import imagine
from pipeline.room.measure import measure
from pipeline.scene.read import read_scene
from pipeline.stages.files import bed_mesh
from pipeline.stages.prints import cast, printing_of
from tests.ribs.samples import CASES, blocks

CISTERN = Path(__file__).parents[2] / "scenes" / "cistern.toml"


@pytest.mark.parametrize("section", ["chamfered", "roll"])
def test_the_cisterns_ribs_are_closed_and_thick_enough_whatever_their_section(section: str) -> None:
    """Half ribs at the back wall come out 1.05 mm thick where 1 mm is needed: nothing is to spare for the section."""
    scene = read_scene(CISTERN.read_bytes(), (("vault.section", section),))
    room = measure(scene)
    said = imagine(scene, room)
    for block in said.blocks:
        if "right" in block.id:  # the left ones' mirror images
            continue
        stl = write_stl(bed_mesh(cast(printing_of(scene, room), block)), block.id)
        found = [*check_closed(block.id, stl), *check_wall(block.id, stl, scene.make.printer.min_wall)]
        assert [f.message for f in found if f.status != "pass"] == []


@pytest.mark.parametrize("name", ["chamfered", "boss and ridge"])
def test_springers_are_one_through_the_bay_line(name: str) -> None:
    """The feet from both bays meet on the bay line; what only touched there would be torn in a file."""
    for part, block in blocks(**CASES[name]).items():
        if "springer" in part:
            body = body_of(block.mesh)
            assert len(contacts(body)) == 0, part


def test_springers_between_equal_bays_are_their_own_mirror_images() -> None:
    """By volume and by bounds, about the bay line."""
    for part, block in blocks(section="roll").items():
        if part.endswith(("-left-2", "-left-3")) and "springer" in part:
            line = 250.0 / 3 * (int(part[-1]) - 1)
            points = block.mesh.vertices[:, 1] - line
            np.testing.assert_allclose(points.max(), -points.min(), atol=1e-9)
