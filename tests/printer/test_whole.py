"""From scene to files: prints cut for a small bed, drained, named and faithful."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from pipeline.build import make
from pipeline.checks import bodies_apart, print_bed, print_closed, print_faithful, print_overhang, print_wall
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.elements.problems import SceneError
from pipeline.exports.stl import write_stl
from pipeline.geometry.meshes import Mesh
from pipeline.parts.readying import Readying, named_apart, ready
from pipeline.scene.problems import SceneFileError
from pipeline.stages.files import bed_mesh
from tests.printer.prisms import FIT, box, hollow_box, printed_as
from tests.printer.reading import read_strictly
from tests.prints.samples import IDENTITY
from tests.scene_text import PLAIN

SCENE = (
    PLAIN
    + """
[[columns]]
name = "post"
at = [1.0, 3.0]
diameter = 0.9
base = 0.4
capital = 0.4

[[arches]]
name = "cross arch"
at = 1.0
springing = 2.0
ring = 0.6
depth = 0.8
closed = true
"""
)
SMALL = "\n[make.printer]\nbed = [100, 90, 60]\nmin_wall = 0.8\n"
CHECKS = (bodies_apart, print_bed, print_closed, print_faithful, print_overhang, print_wall)


@cache
def made(extra: str) -> Evidence:
    return make((SCENE + extra).encode())


def findings(evidence: Evidence) -> list[Finding]:
    return [finding for check in CHECKS for finding in check.run(evidence)]


def test_prints_cut_for_a_small_bed_pass_every_check() -> None:
    """Each piece fits, is closed, has its walls, and together they are the imagined skin to the eye."""
    evidence = made(SMALL)
    names = [part.id for part in evidence.prints]
    assert {"post-1", "post-2", "cross-arch-1", "cross-arch-2"} <= set(names)
    assert [f for f in findings(evidence) if f.status != "pass"] == []
    assert {f.part for f in print_faithful.run(evidence)} == set(names)
    assert [evidence.entries[name]["piece_of"] for name in ("post-1", "cross-arch-2")] == ["post", "cross-arch"]
    assert [thing.name for thing in read_strictly(evidence.files["prints.3mf"]).objects] == names


@pytest.mark.parametrize("piece", ["post-2", "cross-arch-1"])
def test_a_piece_that_is_not_where_it_belongs_is_not_faithful(piece: str) -> None:
    """A file of one piece shifted by a millimetre fails for the print it belongs to, and for no other."""
    evidence = made(SMALL)
    part = next(part for part in evidence.prints if part.id == piece)
    lying = bed_mesh(part)
    moved = Mesh(vertices=lying.vertices + np.array([1.0, 1.0, 0.0]), triangles=lying.triangles)
    stl = evidence.entries[piece]["files"]["stl"]
    spoilt = replace(evidence, files={**evidence.files, stl: write_stl(moved, piece)})
    failed = {f.part for f in print_faithful.run(spoilt) if f.status == "fail"}
    assert failed == {name for name in evidence.entries if name.startswith(part.solid.id + "-")}


def test_a_closed_arch_is_drained_unless_told_otherwise() -> None:
    """Two holes of 2.5 mm by default; with none asked for, or with filament, the hollow stays closed."""

    def arch(extra: str) -> tuple[tuple[float, ...], str]:
        evidence = made(extra)
        (finding,) = (f for f in print_closed.run(evidence) if f.part == "cross-arch")
        part = next(part for part in evidence.prints if part.id == "cross-arch")
        assert evidence.entries["cross-arch"]["drains"] == list(part.drains)
        return part.drains, finding.status

    wide = "\n[make.printer]\nbed = [300, 300, 300]\nmin_wall = 0.8\n"
    assert arch(wide) == ((2.5, 2.5), "pass")
    assert arch(wide + "drain = 2.0\ndrains = 3\n") == ((2.0, 2.0, 2.0), "pass")
    assert arch(wide + "drains = 0\n") == ((), "warn")
    assert arch(wide + 'process = "filament"\n') == ((), "pass")


def test_a_bed_too_small_to_be_one_is_an_error_of_the_scene() -> None:
    """Hundreds of pieces are refused with the key named."""
    with pytest.raises(SceneFileError, match=r"make\.printer\.bed"):
        make((SCENE + "\n[make.printer]\nbed = [6, 6, 6]\n").encode())


def test_a_piece_never_takes_another_parts_name() -> None:
    """A beam cut in two would be part-1 and part-2; a print called so already is an error, not a lost file."""
    beam, stub = printed_as(box(250, 20, 12)), printed_as(box(20, 20, 12), name="part-1")
    readying = Readying(relief=IDENTITY, bed=(180.0, 180.0, 180.0), fit=FIT, wall=1.0, drain=2.5, drains=2)
    with pytest.raises(SceneError, match="two parts would be called 'part-1'"):
        named_apart(tuple(piece for one in (beam, stub) for piece in ready(one, readying, lambda part, _: part)))


def test_a_solid_body_with_a_void_in_it_is_drained_too() -> None:
    """A mesh may bring a hollow of its own; resin does not ask who made it."""
    readying = Readying(relief=IDENTITY, bed=(180.0, 180.0, 180.0), fit=FIT, wall=1.0, drain=2.5, drains=2)
    (part,) = ready(printed_as(hollow_box(60, 30, 20, 2.0)), readying, lambda part, _: part)
    assert part.drains == (2.5, 2.5)
