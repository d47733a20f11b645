"""The whole relief of two scenes again, by fractions: from the scene's numbers to the lines and corners in the files.

Anger's form (1834) with the vanishing depth V and k = V + D, which is not the one the program works with:
x' = ex + k (x - ex) / (y + k), y' = V y / (y + k), z' as x'. Nothing is rounded before the last step.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cache
from typing import Any

import ezdxf
import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from sympy import QQ, Rational

from pipeline.build import make
from pipeline.checks.evidence import Evidence
from pipeline.geometry import frames
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel
from pipeline.report.manifest import relief_entry

from ..conftest import SCENES

Array = NDArray[np.float64]

PLAY = Rational(1, 2)


@dataclass(frozen=True, kw_only=True)
class Exact:
    """What a scene's file says of its relief, mm, as fractions; the eye stands before the middle."""

    stem: str
    eye_z: int
    distance: Rational
    built: Rational
    apparent: Rational
    guides: int
    """That it has at least."""

    @property
    def vanishing(self) -> Rational:
        return self.built * (self.apparent + self.distance) / (self.apparent - self.built)

    @property
    def k(self) -> Rational:
        return self.vanishing + self.distance


# scenes/tunnel.toml: the eye 300 mm before the opening and 58 mm up, the far end at 0.55 of its size. The box is 60 mm
# deep, of which the gap behind takes 6, the end wall as thick as the card 1.9 and the play behind it 0.5.
DEEP = 60 - 6 - Rational(19, 10) - PLAY
TUNNEL = Exact(
    stem="tunnel",
    eye_z=58,
    distance=Rational(300),
    built=DEEP,
    apparent=(300 + DEEP) / Rational(55, 100) - 300,
    guides=1500,
)
METRE = Rational(1000, 24)

# scenes/library.toml: 420 mm before the opening, 70 mm up, 10 m deep at 1:28. The box is 90 mm deep, its card 1.5.
LIBRARY = Exact(
    stem="library",
    eye_z=70,
    distance=Rational(420),
    built=90 - Rational(3, 2) - PLAY,
    apparent=Rational(10_000, 28),
    guides=800,
)
# Its barrel springs 3.4 m above the floor, which is as high as the card is thick, and rises 1.6 m over the hall's
# width, what 150 mm leave between card and play on both sides: a segmental arch has R = s^2 / 8 h + h / 2.
SPAN, RISE = 150 - 3 - 2 * PLAY, Rational(1_600, 28)
RADIUS = SPAN**2 / (8 * RISE) + RISE / 2
AXIS = Rational(3, 2) + Rational(3_400, 28) + RISE - RADIUS
BAY = LIBRARY.apparent / 4


def fractions(points: Array) -> list[list[Any]]:
    """Return floats ``(n, 3)`` as the fractions that they are."""
    return [[QQ(*float(x).as_integer_ratio()) for x in row] for row in points]


def built(exact: Exact, points: Array) -> Array:
    """Return built points ``(n, 3)`` of imagined ones, mm."""
    v, k = QQ.from_sympy(exact.vanishing), QQ.from_sympy(exact.k)
    rows = [
        (k * x / (y + k), v * y / (y + k), exact.eye_z + k * (z - exact.eye_z) / (y + k))
        for x, y, z in fractions(points)
    ]
    return np.array([[float(x) for x in row] for row in rows])


def imagined(exact: Exact, points: Array) -> list[list[Any]]:
    """Return imagined points of built ones ``(n, 3)``: y = k y' / (V - y'), and back along the ray."""
    v, k = QQ.from_sympy(exact.vanishing), QQ.from_sympy(exact.k)
    rows = []
    for x, y, z in fractions(points):
        deep = k * y / (v - y)
        rows.append([x * (deep + k) / k, deep, exact.eye_z + (z - exact.eye_z) * (deep + k) / k])
    return rows


@cache
def made(stem: str) -> Evidence:
    return make((SCENES / f"{stem}.toml").read_bytes())


@pytest.fixture(params=[TUNNEL, LIBRARY], ids=lambda exact: exact.stem)
def exact(request: pytest.FixtureRequest) -> Exact:
    """Each scene in turn."""
    taken: Exact = request.param
    return taken


def test_the_relief_is_the_one_the_scene_asks_for(exact: Exact) -> None:
    """Depths, vanishing depth and all sixteen numbers of the matrix, w = 1 at the opening."""
    relief = made(exact.stem).room.relief
    said = relief_entry(relief)
    assert said["built_depth"] == pytest.approx(float(exact.built), abs=1e-6)
    assert said["apparent_depth"] == pytest.approx(float(exact.apparent), abs=1e-6)
    assert said["vanishing_depth"] == pytest.approx(float(exact.vanishing), abs=1e-6)
    k = exact.k
    rows = [[1, 0, 0, 0], [0, exact.vanishing / k, 0, 0], [0, exact.eye_z / k, 1, 0], [0, 1 / k, 0, 1]]
    assert relief.built_from_imagined == pytest.approx(np.array(rows, dtype=np.float64), abs=1e-14)


def test_every_corner_of_every_face_is_where_fractions_put_it(exact: Exact) -> None:
    """To a millionth of a micrometre; faces of bent sheets too."""
    scene = made(exact.stem)
    panels: tuple[Panel | BentPanel, ...] = (*scene.panels, *scene.bents)
    for panel in panels:
        known = built(exact, panel.visible_imagined.vertices)
        assert np.abs(known - panel.visible.vertices).max() < 1e-9, panel.id


def test_every_line_in_the_files_is_where_fractions_put_it(exact: Exact) -> None:
    """Every guide in a panel's DXF, laid where the manifest has the panel, is an exact one, and none is missing."""
    compared, scene = 0, made(exact.stem)
    for panel in scene.panels:
        entry = scene.entries[panel.id]
        host = panel.guides_host.reshape(-1, 2)
        if len(host) == 0:
            continue
        matrix = np.array(entry["built_from_flat"])
        known = frames.apply(np.linalg.inv(matrix), built(exact, frames.apply(panel.face.imagined_from_host, host)))
        assert np.abs(known[:, 2]).max() < 1e-6, panel.id  # on the visible face
        document = ezdxf.read(io.StringIO(scene.files[entry["files"]["dxf"]].decode()))
        drawn = np.array(
            [[line.dxf.start.vec2, line.dxf.end.vec2] for line in document.modelspace().query('LINE[layer=="GUIDE"]')]
        ).reshape(-1, 4)
        known = known[:, :2].reshape(-1, 4)
        turned = np.vstack([known, known[:, [2, 3, 0, 1]]])
        apart = np.abs(drawn[:, None] - turned[None]).max(axis=2)
        assert apart.min(axis=1).max() < 1e-4, panel.id
        assert np.minimum(*np.split(apart, 2, axis=1)).min(axis=0).max() < 1e-4, panel.id
        compared += len(drawn)
    assert compared > exact.guides


def test_the_barrel_taken_back_is_the_round_one_that_the_scene_has() -> None:
    """Every ruling of every bent sheet, built as the manifest has it, carried back by fractions, lies on the cylinder.

    The manifest rounds to 1e-6 mm. So deep the relief makes up to dy / dy' = k V / (V - y')^2, 6.2, times that of it,
    and along the slanting ray as much again sideways at most.
    """
    rulings = 0
    for entry in made("library").entries.values():
        if entry["made_as"] != "bent panel":
            continue
        ends = np.array([ruling["built"] for ruling in entry["rulings"]])
        back = imagined(LIBRARY, ends.reshape(-1, 3))
        off = [float(x**2 + (z - QQ.from_sympy(AXIS)) ** 2 - QQ.from_sympy(RADIUS) ** 2) for x, _, z in back]
        assert np.abs(off).max() / (2 * float(RADIUS)) < 1e-6 * 6.2, entry["id"]
        number = int(entry["id"].split("-")[2])
        for y, line in zip(
            np.array([float(y) for _, y, _ in back]).reshape(-1, 2).T, (number - 1, number), strict=True
        ):
            if line:  # the first stands back as far as the frame before it is thick
                assert np.abs(y - float(line * BAY)).max() < 1e-6 * 6.2, entry["id"]
        rulings += len(ends)
    assert rulings > 300


@pytest.mark.parametrize(
    ("part", "front", "back"),
    [
        ("flood-gate", Rational(18, 10), Rational(205, 100)),  # at = 1.8 m, depth = 25 cm
        ("rib-left-1", Rational(42, 10), Rational(46, 10)),  # 0.40 wide round 4.4 m
        ("rib-right-4", Rational(60, 10), Rational(64, 10)),
    ],
)
def test_prints_taken_back_stand_where_the_scene_has_them(part: str, front: Rational, back: Rational) -> None:
    """Every corner in the STL, carried back by fractions, lies between two planes of the scene, and some on each.

    STL has single floats: at 100 mm they are 8e-6 mm apart, and so deep the relief makes ten times that of it.
    """
    (entry,) = (one for one in made("tunnel").entries.values() if one["id"] == part)
    mesh = trimesh.load(io.BytesIO(made("tunnel").files[entry["files"]["stl"]]), file_type="stl")
    taken = imagined(TUNNEL, frames.apply(np.array(entry["built_from_bed"]), np.asarray(mesh.vertices)))
    y = np.array([float(y) for _, y, _ in taken])
    assert (y.min(), y.max()) == pytest.approx((float(front * METRE), float(back * METRE)), abs=1e-3)
