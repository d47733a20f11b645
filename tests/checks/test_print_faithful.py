"""The check of prints' skins, itself checked: wrong files must not pass."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import print_faithful
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.checks.written import read_stl
from pipeline.exports.stl import write_stl
from pipeline.geometry import frames
from pipeline.geometry.meshes import Mesh, join, weld
from pipeline.relief.collineation import Relief

from ..scene_text import PLAIN, changed

Array = NDArray[np.float64]

PRINTS = """
[[columns]]
name = "post"
at = [1.5, 3.0]
diameter = 0.9
base = 0.4
capital = 0.4

[[columns]]
name = "pier"
at = [-4.0, 4.0]
diameter = 0.8
section = "octagon"
engaged = true

[[arches]]
name = "ring"
at = 6.0
springing = 3.0
head = "round"
ring = 0.4
depth = 0.8
voussoirs = 9
"""


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    """A round post, an octagonal half pier and a ring with joints."""
    return make((PLAIN + PRINTS).encode())


def doctored(evidence: Evidence, part: str, matrix: Array) -> Finding:
    """Return the finding on one print whose written triangles were moved by a ``(4, 4)`` matrix on the bed."""
    path = evidence.entries[part]["files"]["stl"]
    corners = read_stl(evidence.files[path]).reshape(-1, 3)
    moved = (corners @ matrix[:3, :3].T + matrix[:3, 3]).reshape(-1, 3, 3)
    if np.linalg.det(matrix) < 0:
        moved = moved[:, ::-1]
    files = {**evidence.files, path: write_stl(weld(moved), part)}
    return next(f for f in print_faithful.run(replace(evidence, files=files)) if f.part == part)


def stretched(*factors: float) -> Array:
    return np.diag([*factors, 1.0])


def shifted(*by: float) -> Array:
    matrix = np.eye(4)
    matrix[:3, 3] = by
    return matrix


PARTS = ("post", "pier-left-1", "ring")


def test_true_files_pass(evidence: Evidence) -> None:
    """What was written is the relief of what was imagined, within the facets' tolerance."""
    findings = print_faithful.run(evidence)
    assert tuple(finding.part for finding in findings) == PARTS
    assert all(finding.status == "pass" for finding in findings)
    assert all((finding.value or 0) > 0 for finding in findings), "a figure of exactly nothing was not measured"


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("by", [(0.3, 0, 0), (0, 0.3, 0), (0, 0, 0.3)])
def test_shifted_files_fail(evidence: Evidence, part: str, by: tuple[float, float, float]) -> None:
    """0.3 mm any way but along the piece itself; a prism slid along its own axis shows only at its ends."""
    way = np.array(evidence.entries[part]["built_from_bed"])[:3, :3] @ np.array(by) / 0.3
    along_itself = part == "pier-left-1" and abs(way[2]) > 0.9
    assert doctored(evidence, part, shifted(*by)).status == ("pass" if along_itself else "fail")


@pytest.mark.parametrize("part", PARTS)
def test_scaled_files_fail(evidence: Evidence, part: str) -> None:
    """Three per cent too large all round."""
    assert doctored(evidence, part, stretched(1.03, 1.03, 1.03)).status == "fail"


@pytest.mark.parametrize("part", PARTS)
def test_mirrored_files_fail(evidence: Evidence, part: str) -> None:
    """Left for right."""
    assert doctored(evidence, part, stretched(-1.0, 1.0, 1.0)).status == "fail"


def test_a_post_of_another_place_fails(evidence: Evidence) -> None:
    """The shell of a post half a metre farther in does not pass for this one."""
    other = make((PLAIN + changed(PRINTS, "[1.5, 3.0]", "[1.5, 3.5]")).encode())
    files = {**evidence.files, "prints/post.stl": other.files["prints/post.stl"]}
    finding = next(f for f in print_faithful.run(replace(evidence, files=files)) if f.part == "post")
    assert finding.status == "fail"


def by_differences(relief: Relief, points: Array) -> float:
    """Return the largest singular value of the way back to the imagined room, by differences of a tenth of a micron."""
    step = 1e-4 * np.eye(3)
    return max(
        float(np.linalg.norm(np.array([relief.carry_back((at + ds)[None])[0] for ds in step])
        - relief.carry_back(at[None])[0], ord=2)) / 1e-4
        for at in points
    )  # fmt: skip


def test_an_imagined_step_is_stretched_as_the_way_back_does(evidence: Evidence) -> None:
    """At the corners of the points' box it is longest; on the apron and before it nothing is stretched."""
    relief = evidence.room.relief
    low, high = np.array([-60.0, relief.apron + 5, 10.0]), np.array([40.0, relief.apron + 45, 90.0])
    corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    expected = by_differences(relief, corners)
    assert print_faithful.stretch(relief, np.array([low, high])) == pytest.approx(expected, rel=1e-4)
    before = np.array([[500.0, relief.apron - 1.0, 900.0]])
    assert print_faithful.stretch(relief, np.concatenate([before, [low, high]])) == pytest.approx(expected, rel=1e-4)
    assert print_faithful.stretch(relief, before) == 1.0
    inner = low + (high - low) * np.random.default_rng(1).random((50, 3))
    assert by_differences(relief, inner) <= expected * (1 + 1e-4)


def test_the_limit_is_the_tolerance_as_the_relief_stretches_it(evidence: Evidence) -> None:
    """By differences over the corners of each print's box; what a file may be off, and single precision."""
    relief = evidence.room.relief
    for finding in print_faithful.run(evidence):
        points = evidence.shells_built[finding.part].reshape(-1, 3)
        behind = points[points[:, 1] >= relief.apron]
        low, high = behind.min(axis=0), behind.max(axis=0)
        corners = [np.array([x, y, z]) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
        longest = by_differences(relief, np.array(corners) + np.array([0, 1e-3, 0]))
        allowed = (evidence.scene.make.mesh_tolerance + print_faithful.SINGLE) * longest
        assert finding.limit == pytest.approx(allowed, rel=1e-3)
        assert (finding.id, finding.status, finding.unit) == ("print-faithful", "pass", "mm imagined")
        assert finding.message.startswith(f"the skin lies within {finding.value:.3f} mm")


def test_a_skin_made_ready_elsewhere_gives_the_same_figure(evidence: Evidence) -> None:
    """Its triangles as they lie on the bed, or as they stand in the box."""
    hall = evidence.room.hall.shape
    for part, finding in zip(evidence.prints, print_faithful.run(evidence), strict=True):
        shell = evidence.shells_built[part.id]
        figure = print_faithful.skin_distance(
            shell, (part,), relief=evidence.room.relief, hall=hall, fit=evidence.scene.make.fit
        )
        assert finding.value == pytest.approx(figure, rel=0.05)


def test_a_file_off_its_skin_says_by_how_much(evidence: Evidence) -> None:
    """Pushed aside by a millimetre, which the relief stretches."""
    finding = doctored(evidence, "post", shifted(1, 0, 0))
    assert finding.status == "fail"
    said = f"the skin lies {finding.value:.3f} mm off the imagined one, over {finding.limit:.3f}; do not print this"
    assert finding.message.startswith(said)


@pytest.mark.parametrize("fallen", [False, True], ids=["", "a triangle of the skin fell together"])
def test_what_stands_out_of_a_skin_fails(evidence: Evidence, fallen: bool) -> None:
    """A grain of 6 mm, 4 mm beside the post, in plain sight; all of the imagined skin is there, so only the way from
    the file to the skin shows it. A triangle without an area is near nothing but itself."""
    path = evidence.entries["post"]["files"]["stl"]
    mesh = weld(read_stl(evidence.files[path]))
    shell = evidence.shells_built["post"].reshape(-1, 3)
    beside = np.array([shell[:, 0].min() - 10, shell[:, 1].min(), shell[:, 2].mean()])
    corners = beside + 6.0 * np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    corners = frames.apply(frames.inverse(evidence.built_from_bed("post")), corners)
    grain = Mesh(vertices=corners, triangles=np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]))
    prints = []
    for part in evidence.prints:
        skin = part.skin_imagined
        if fallen and part.id == "post":
            skin = Mesh(vertices=skin.vertices, triangles=np.vstack([skin.triangles, [[0, 0, 1]]]))
        prints.append(replace(part, skin_imagined=skin))
    files = {**evidence.files, path: write_stl(join([mesh, grain]), "post")}
    findings = print_faithful.run(replace(evidence, files=files, prints=tuple(prints)))
    (post,) = (finding for finding in findings if finding.part == "post")
    assert post.status == "fail"
    assert post.value is not None
    assert post.value > 4.0
