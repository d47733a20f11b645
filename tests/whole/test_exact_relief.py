"""The whole relief of one scene again, by fractions: from the scene's numbers to the lines and corners in the files.

Anger's form (1834) with the vanishing depth V and k = V + D, which is not the one the program works with:
x' = ex + k (x - ex) / (y + k), y' = V y / (y + k), z' as x'. Nothing is rounded before the last step.
"""

from __future__ import annotations

import io
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
from pipeline.report.manifest import relief_entry

from ..conftest import SCENES

Array = NDArray[np.float64]

# scenes/tunnel.toml: the eye 300 mm before the opening and 58 mm up, the far end at 0.55 of its size. The box is 60 mm
# deep, of which the gap behind takes 6, the end wall as thick as the card 1.9 and the play behind it 0.5.
EYE_X, EYE_Z, DISTANCE = 0, 58, Rational(300)
BUILT = 60 - 6 - Rational(19, 10) - Rational(1, 2)
APPARENT = (DISTANCE + BUILT) / Rational(55, 100) - DISTANCE
VANISHING = BUILT * (APPARENT + DISTANCE) / (APPARENT - BUILT)
K = VANISHING + DISTANCE
METRE = Rational(1000, 24)


def fractions(points: Array) -> list[list[Any]]:
    """Return floats ``(n, 3)`` as the fractions that they are."""
    return [[QQ(*float(x).as_integer_ratio()) for x in row] for row in points]


def built(points: Array) -> Array:
    """Return built points ``(n, 3)`` of imagined ones, mm."""
    v, k = QQ.from_sympy(VANISHING), QQ.from_sympy(K)
    rows = [
        (EYE_X + k * (x - EYE_X) / (y + k), v * y / (y + k), EYE_Z + k * (z - EYE_Z) / (y + k))
        for x, y, z in fractions(points)
    ]
    return np.array([[float(x) for x in row] for row in rows])


def imagined(points: Array) -> Array:
    """Return imagined points ``(n, 3)`` of built ones: y = k y' / (V - y'), and back along the ray."""
    v, k = QQ.from_sympy(VANISHING), QQ.from_sympy(K)
    rows = []
    for x, y, z in fractions(points):
        deep = k * y / (v - y)
        rows.append((EYE_X + (x - EYE_X) * (deep + k) / k, deep, EYE_Z + (z - EYE_Z) * (deep + k) / k))
    return np.array([[float(x) for x in row] for row in rows])


@cache
def tunnel() -> Evidence:
    return make((SCENES / "tunnel.toml").read_bytes())


def test_the_relief_is_the_one_the_scene_asks_for() -> None:
    """Depths, vanishing depth and all sixteen numbers of the matrix, w = 1 at the opening."""
    relief = tunnel().room.relief
    said = relief_entry(relief)
    assert said["built_depth"] == pytest.approx(float(BUILT), abs=1e-6)
    assert said["apparent_depth"] == pytest.approx(float(APPARENT), abs=1e-6)
    assert said["vanishing_depth"] == pytest.approx(float(VANISHING), abs=1e-6)
    exact = [[1, EYE_X / K, 0, 0], [0, VANISHING / K, 0, 0], [0, EYE_Z / K, 1, 0], [0, 1 / K, 0, 1]]
    assert relief.built_from_imagined == pytest.approx(np.array(exact, dtype=np.float64), abs=1e-14)


def test_every_corner_of_every_face_is_where_fractions_put_it() -> None:
    """To a millionth of a micrometre."""
    for panel in tunnel().panels:
        exact = built(panel.visible_imagined.vertices)
        assert np.abs(exact - panel.visible.vertices).max() < 1e-9, panel.id


def test_every_line_in_the_files_is_where_fractions_put_it() -> None:
    """Every guide in a panel's DXF, laid where the manifest has the panel, is an exact one, and none is missing."""
    compared = 0
    for panel in tunnel().panels:
        entry = tunnel().entries[panel.id]
        host = panel.guides_host.reshape(-1, 2)
        if len(host) == 0:
            continue
        matrix = np.array(entry["built_from_flat"])
        exact = frames.apply(np.linalg.inv(matrix), built(frames.apply(panel.face.imagined_from_host, host)))
        assert np.abs(exact[:, 2]).max() < 1e-6, panel.id  # on the visible face
        document = ezdxf.read(io.StringIO(tunnel().files[entry["files"]["dxf"]].decode()))
        drawn = np.array(
            [[line.dxf.start.vec2, line.dxf.end.vec2] for line in document.modelspace().query('LINE[layer=="GUIDE"]')]
        ).reshape(-1, 4)
        exact = exact[:, :2].reshape(-1, 4)
        turned = np.vstack([exact, exact[:, [2, 3, 0, 1]]])
        apart = np.abs(drawn[:, None] - turned[None]).max(axis=2)
        assert apart.min(axis=1).max() < 1e-4, panel.id
        assert np.minimum(*np.split(apart, 2, axis=1)).min(axis=0).max() < 1e-4, panel.id
        compared += len(drawn)
    assert compared > 1500


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
    (entry,) = (one for one in tunnel().entries.values() if one["id"] == part)
    mesh = trimesh.load(io.BytesIO(tunnel().files[entry["files"]["stl"]]), file_type="stl")
    y = imagined(frames.apply(np.array(entry["built_from_bed"]), np.asarray(mesh.vertices)))[:, 1]
    assert (y.min(), y.max()) == pytest.approx((float(front * METRE), float(back * METRE)), abs=1e-3)
