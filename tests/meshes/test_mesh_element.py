"""A mesh file in a scene: where it stands, what the relief makes of it, and what is refused."""

from __future__ import annotations

import hashlib
import json
import re

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from pipeline.build import build_scene, make
from pipeline.checks.evidence import Evidence
from pipeline.geometry.meshes import signed_volume
from pipeline.parts.model import Print
from pipeline.scene.problems import SceneFileError
from tests.meshes.samples import box, exported, l_shape
from tests.scene_text import PLAIN, changed

Array = NDArray[np.float64]
SCALE = 48.0
EYE = np.array([0.0, -420.0, 78.0])
FLOOR = 3.0
"""Height of the visible floor in the plain scene: its sheet's thickness."""
APPARENT = 12_000 / SCALE
BUILT = 85 - 4 - 3 - 0.5
"""The box's depth less gap, back wall and clearance."""


PAIR = trimesh.util.concatenate([box((0, 0, 0), (1, 1, 1)), box((3, 0, 0), (4, 1, 1))])
"""4 wide, 2 of it between them: 2000 / 48 mm where the unit is m; 500 / 48 mm where they are 1 m wide together."""


def table(file: str, **keys: object) -> str:
    """Return a table of ``[[meshes]]``."""
    rows = "".join(f"{key} = {json.dumps(value)}\n" for key, value in {"at": [0.0, 6.0], **keys}.items())
    return f'\n[[meshes]]\nname = "Thing"\nfile = "{file}"\n{rows}'


def made(form: str = "binary STL", thing: trimesh.Trimesh | None = None, text: str = PLAIN, **keys: object) -> Evidence:
    """Return a plain scene with one mesh, made."""
    name, data = exported(thing or l_shape(), form)
    return make((text + table(name, **keys)).encode(), (), {name: data})


def thing_of(evidence: Evidence) -> Print:
    """Return the one print."""
    (part,) = evidence.prints
    return part


def refusal(**keys: object) -> str:
    """Return the one problem a scene is refused for."""
    with pytest.raises(SceneFileError) as error:
        made(**keys)  # type: ignore[arg-type]
    (said,) = error.value.describe("a.toml")
    return said


def matched(expected: Array, points: Array) -> Array:
    """Return, for each expected point, the distance of the nearest of the points."""
    out: Array = np.linalg.norm(expected[:, None] - points, axis=2).min(axis=1)
    return out


def imagined_l(x: float, y: float, height: float) -> Array:
    """Return the L's corners at a place, imagined mm, straight from the scene file's words."""
    points: Array = np.unique(np.array(l_shape().vertices), axis=0)
    points += [x, y, height]
    points *= 1000 / SCALE
    points[:, 2] += FLOOR
    return points


def test_eye_imagined_and_built_corner_lie_on_one_line_at_the_harmonic_depth() -> None:
    """A collineation with centre E and a fixed plane at D maps 1/r by a line: r the distance along y from the eye.

    (1/r' - 1/D) / (1/r - 1/D) is the same for every point, so the same as for the back wall, D + L to D + d
    (Burmester, *Grundzuege der Reliefperspective*, 1883).
    """
    imagined = imagined_l(-1.0, 5.0, 2.0)
    distance = -EYE[1]
    r = imagined[:, 1] + distance
    share = (1 / (distance + BUILT) - 1 / distance) / (1 / (distance + APPARENT) - 1 / distance)
    r_built = 1 / (1 / distance + share * (1 / r - 1 / distance))
    expected = EYE + (imagined - EYE) * (r_built / r)[:, None]
    part = thing_of(made(at=[-1.0, 5.0, 2.0]))
    assert matched(expected, part.body.vertices).max() < 1e-9
    assert matched(part.body.vertices, expected).max() < 1e-9


def test_the_written_file_holds_the_same_corners() -> None:
    """The STL's single precision is 4e-6 mm at 50 mm; the bed's matrix takes it back to the box."""
    evidence = made(at=[-1.0, 5.0, 2.0])
    assert matched(thing_of(evidence).body.vertices, evidence.shells_built["thing"].reshape(-1, 3)).max() < 1e-5


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ({}, [(0, 0, 0), (3, 2, 1)]),
        ({"unit": "ft", "scale": 2.0}, [(0, 0, 0), (3 * 0.6096, 2 * 0.6096, 0.6096)]),
        ({"size": 1.5}, [(0, 0, 0), (1.5, 1, 0.5)]),
        ({"size": "75 cm", "unit": "in"}, [(0, 0, 0), (0.75, 0.5, 0.25)]),
        ({"turn": 90.0}, [(-2, 0, 0), (0, 3, 1)]),
        ({"turn": -180.0}, [(-3, -2, 0), (0, 0, 1)]),
        ({"up": "y"}, [(0, -1, 0), (3, 0, 2)]),
        ({"form": "GLB"}, [(0, -1, 0), (3, 0, 2)]),
        ({"form": "GLB", "up": "z"}, [(0, 0, 0), (3, 2, 1)]),
    ],
)
def test_a_mesh_stands_where_its_table_says(
    keys: dict[str, object], expected: list[tuple[float, float, float]]
) -> None:
    """The L reaches from its origin to (3, 2, 1); up = y puts y up and z toward the opening, as glTF has it."""
    vertices = made(at=[0.0, 6.0, 2.0], **keys).imagined.blocks[0].mesh.vertices  # type: ignore[arg-type]
    metres = (vertices - [0, 0, FLOOR]) * SCALE / 1000 - [0, 6, 2]
    assert np.array([metres.min(axis=0), metres.max(axis=0)]) == pytest.approx(
        np.array(expected, dtype=float), abs=1e-6
    )


def test_what_stands_on_the_floor_stands_off_by_the_play() -> None:
    """The print's underside is parallel to the built floor, ``make.fit`` = 0.15 mm above it."""
    evidence = made(at=[-1.0, 5.0])
    plane = evidence.room.relief.build_plane([0.0, 0.0, 1.0, -FLOOR])
    gaps = thing_of(evidence).body.vertices @ plane[:3] + plane[3]
    assert gaps.min() == pytest.approx(0.15, abs=1e-9)
    assert (np.abs(gaps - 0.15) < 1e-9).sum() == 6


def test_a_mesh_before_the_aprons_end_is_built_true() -> None:
    """On the apron nothing is foreshortened: the volume is the imagined one."""
    text = changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 25")
    part = thing_of(made(thing=box((0, 0, 0), (0.5, 0.5, 0.5)), text=text, at=[0.0, 0.3, 1.0]))
    assert signed_volume(part.body) == pytest.approx((500 / SCALE) ** 3, rel=1e-6)


def test_all_checks_that_look_at_a_mesh_pass_for_a_good_one() -> None:
    """Faithful, closed, in the box, apart from the rest, on the bed, thick enough; and the report says what it was."""
    name, data = exported(l_shape(), "OBJ")
    build = build_scene((PLAIN + table(name, at=[-1.0, 5.0])).encode(), "room", (), {name: data})
    mine = [check for check in build.manifest["checks"] if check["part"] == "thing"]
    assert {check["id"] for check in mine} >= {"print-closed", "print-faithful", "in-box", "print-bed", "print-wall"}
    assert [check for check in mine if check["status"] == "fail"] == []
    assert b"thing.obj: 20 facets, 3 x 2 x 1 m" in build.files["report.html"]


def test_the_manifest_holds_the_hash_of_the_file() -> None:
    """sha256 of the bytes, as ``sha256sum`` prints it; another file of the same name is another build."""
    name, data = exported(l_shape(), "binary STL")
    build = build_scene((PLAIN + table(name)).encode(), "room", (), {name: data})
    assert build.manifest["read"] == {name: hashlib.sha256(data).hexdigest()}


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ({"at": [3.0, 6.0]}, "'Thing' reaches 1.848 m past the right wall; it is 3 x 2 x 1 m (width x depth x height)"),
        ({"at": [0.0, 11.0]}, "'Thing' reaches 1 m past the back wall"),
        ({"at": [0.0, 0.0], "turn": 180.0}, "'Thing' reaches 2 m past the opening"),
        ({"at": [0.0, 6.0, -0.5]}, "'Thing' reaches 0.5 m past the floor"),
        ({"at": [0.0, 6.0, -0.5]}, "Move it: at = [0, 6, 0] is the nearest place"),
        ({"at": [3.0, 11.0]}, "at = [1.152, 10, 0] is the nearest place"),
        ({"at": [0.0, 6.0, 6.0]}, "'Thing' reaches 0.112 m past the ceiling"),
        ({"unit": "ft", "scale": 99.0}, "give a smaller size, or another unit"),
        ({"unit": "mm"}, "no one body is left of thing in the relief"),
        ({"size": 1.0, "scale": 2.0}, "size and scale are both given; allowed: one of them"),
        ({"thing": box((0, 0, 0), (1, 1, 0))}, "thing.stl cannot be printed: it encloses no volume"),
        ({"thing": PAIR}, "bodies that do not touch, 2 (41.7 mm at the opening's scale) apart, about (0.5, "),
        ({"thing": PAIR, "unit": "cm", "scale": 10.0}, "2 (4.17 mm at the opening's scale) apart"),
        ({"thing": PAIR, "size": 1.0}, "2 (10.4 mm at the opening's scale) apart"),
    ],
)
def test_what_does_not_fit_or_print_is_refused_with_how_much(keys: dict[str, object], expected: str) -> None:
    """The hall is 8.304 x 12 x 6.888 m: the box less sheets and clearance, times 48."""
    assert expected.lower() in refusal(**keys).lower()


def test_the_nearest_place_told_is_one_that_fits() -> None:
    """Taken at its word, the refusal is gone."""
    said = refusal(at=[3.0, 11.5, -0.25], turn=30.0)
    told = re.search(r"at = (\[.*\]) is the nearest place", said)
    assert told is not None
    assert thing_of(made(at=json.loads(told[1]), turn=30.0)).volume > 0


def test_a_mesh_across_the_aprons_end_is_refused() -> None:
    """The relief breaks there, and a body would break with it."""
    text = changed(PLAIN, "depth = 12.0", "depth = 12.0\napron = 25")
    said = refusal(text=text, at=[0.0, 0.5])
    assert "it stands from 0.5 to 2.5 m, across the apron's end at 1.2 m, where the relief breaks" in said


def test_a_problem_stands_at_the_key_of_its_table() -> None:
    """Line and column of ``file`` in the second table."""
    name, data = exported(l_shape(), "binary STL")
    text = PLAIN + table(name) + table("torn.stl").replace("Thing", "Torn")
    with pytest.raises(SceneFileError) as error:
        make(text.encode(), (), {name: data, "torn.stl": data[:-30]})
    line = 1 + text[: text.index('file = "torn.stl"')].count("\n")
    (said,) = error.value.describe("a.toml")
    assert said.startswith(f"a.toml:{line}:1: meshes[2].file: torn.stl cannot be read: its header counts 20 facets")


def test_a_file_that_was_not_handed_in_is_said_to_be_missing() -> None:
    """The build itself reads nothing."""
    with pytest.raises(SceneFileError, match="it was not read"):
        make((PLAIN + table("gone.stl")).encode())


def test_a_grain_that_the_play_cuts_off_is_left_out() -> None:
    """A block of 1 m, and on a sheet 4 mm thick beside it, 0.08 built mm, a pin 2 mm wide, 0.04 built mm, 12 mm high.

    The play over the floor, 0.15 built mm, takes the sheet away and leaves the pin's tip: no printer would show it.
    """
    parts = [box((0, 0, 0), (1, 1, 1)), box((0.9, 0.4, 0), (2, 0.6, 0.004)), box((1.9, 0.5, 0), (1.902, 0.502, 0.012))]
    part = thing_of(made(thing=trimesh.util.concatenate(parts)))
    assert np.ptp(part.body.vertices[:, 0]) < 1000 / SCALE
    assert part.volume == pytest.approx(thing_of(made(thing=parts[0])).volume, rel=1e-9)
