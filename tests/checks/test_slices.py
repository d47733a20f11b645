"""How far steps of slices are seen off a rib, for a straight rib across the hall worked out by the relief's formula."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import rib_slices as check
from pipeline.checks.evidence import Evidence
from pipeline.elements.hall_shape import SurfaceSheet
from pipeline.elements.laminations import Lamination
from pipeline.geometry import curves, frames
from pipeline.geometry.regions import Region, loop_of
from pipeline.parts.model import Leaf, Panel
from pipeline.relief.collineation import Relief

from ..scene_text import PLAIN

Array = NDArray[np.float64]

EYE, DEEP, BUILT = (0.0, -420.0, 60.0), 250.0, 77.5
RELIEF = Relief(eye=EYE, apron=0.0, apparent_depth=DEEP, built_depth=BUILT)
A = (DEEP - BUILT) / (DEEP * (420 + BUILT))
B = BUILT * (DEEP + 420) / (DEEP * (420 + BUILT))
NEAR, FAR = 100.0, 130.0
"""Imagined y of the rib's flanks."""
HALF, LEVEL = 50.0, 85.0
"""Half its length, and the height of its soffit: 10 mm below the vault, which rises 35 mm from 60."""
ARCH = curves.arc((0.0, 0.0), 1.0, 0.0, math.pi)


def built_y(y: float) -> float:
    return B * y / (1 + A * y)


def w_at(built: float) -> float:
    """Return w = 1 + a y of the place built at a depth."""
    return 1 + A * built / (B - A * built)


def rib(**more: Any) -> Lamination:
    """Return a straight rib across the hall; its w runs toward the eye."""
    keys: dict[str, Any] = {
        "id": "rib",
        "imagined_from_track": frames.rigid([1.0, 0, 0], [0.0, 0, 1], [0.0, -1, 0], [0.0, 0, 0]),
        "flanks": (-FAR, -NEAR),
        "unit": (),
        "half_span": HALF,
        "rise": 35.0,
        "springing": 60.0,
        "depth": 10.0,
        "play": 0.0,
        "nearest": 0.0,
        "sheet": SurfaceSheet(material="foam", thickness=0.5, finish=0.0),
        "path": ("vault",),
    }
    return Lamination(**(keys | more))


@pytest.fixture(scope="module")
def room() -> Evidence:
    return make(PLAIN.encode())


def piece(room: Evidence, name: str, outline: curves.Path, thickness: float) -> Panel:
    """Return a slice whose front is the nearer flank, in host coordinates (s, z)."""
    wall = next(panel for panel in room.panels if panel.id == "back-wall")
    face = replace(wall.face, id=name, imagined_from_host=np.array([[1.0, 0, 0], [0, 0, NEAR], [0, 1, 0], [0, 0, 1]]))
    placed = frames.rigid([1.0, 0, 0], [0.0, 0, 1], [0.0, -1, 0], [0.0, built_y(NEAR), 0.0])
    leaf = Leaf(flat_from_host=np.eye(3), built_from_flat=placed, near=NEAR, far=NEAR)
    return replace(wall, face=face, region=Region(loop_of(outline)), leaves=(leaf,), thickness=thickness)


def bar(left: float = -HALF, right: float = HALF) -> curves.Path:
    """Return a straight rib's profile, soffit first."""
    return curves.polygon([(left, LEVEL), (right, LEVEL), (right, LEVEL + 9), (left, LEVEL + 9)])


@pytest.mark.parametrize("thickness", [0.5, 2.0])
def test_a_step_is_seen_as_far_off_as_the_soffit_leans_behind_a_slices_front(room: Evidence, thickness: float) -> None:
    """At its hidden face the edge is where it was in front, drawn in by 1 / w there; the soffit is drawn in by 1 / w of
    its own depth. Both are seen through the opening; past the soffit's end its corner is the nearest, and the last
    place looked at is a fiftieth of a chord before the edge's."""
    front = built_y(NEAR)
    back = front + thickness
    seen = 420 / (420 + back)
    drawn, own = 1 / w_at(front), 1 / w_at(back)
    up = (LEVEL - EYE[2]) * (drawn - own) * seen
    aside = HALF * ((1 - 2 * 0.02 / 32) * drawn - own) * seen
    expected = math.degrees(math.hypot(up, max(aside, 0.0)) / 420) * 60
    found = check._step_arcmin(rib(), piece(room, "rib-slice-1", bar(), thickness), RELIEF)
    assert found == pytest.approx(expected, rel=1e-9)
    assert w_at(front) == pytest.approx(1 + A * NEAR)


def test_a_slice_without_a_soffit_has_no_step(room: Evidence) -> None:
    """Where it is cut to what lies above."""
    high = curves.polygon([(-9, LEVEL + 2), (9, LEVEL + 2), (9, LEVEL + 9), (-9, LEVEL + 9)])
    assert len(check._soffit(rib(), piece(room, "rib-slice-1", high, 0.5))) == 0
    assert check._step_arcmin(rib(), piece(room, "rib-slice-1", high, 0.5), RELIEF) == 0.0


def test_the_soffit_of_a_straight_rib_is_its_level_edge(room: Evidence) -> None:
    """33 points of it, in order."""
    found = check._soffit(rib(), piece(room, "rib-slice-1", bar(-20.0, 30.0), 0.5))
    assert found == pytest.approx(np.column_stack([np.linspace(-20, 30, 33), np.full(33, LEVEL)]))


@pytest.mark.parametrize("foot", [0.0, 4.0])
def test_the_soffit_of_an_arch_is_its_lower_curve_alone(room: Evidence, foot: float) -> None:
    """A half ellipse of 40 by 25 over the springing, below the vault's 50 by 35; neither the back, 2 mm below the
    vault, nor the feet, nor what joins them."""
    arched = rib(unit=ARCH)
    found = check._soffit(arched, piece(room, "rib-slice-1", arched.outline(2.0, foot), 0.5))
    across, up = found[:, 0] / 40, (found[:, 1] - 60) / 25
    assert across**2 + up**2 == pytest.approx(1.0, abs=1e-9)
    reach = 40 * math.sqrt(1 - (foot / 25) ** 2)
    assert (found[:, 0].min(), found[:, 0].max()) == pytest.approx((-reach, reach), abs=1e-6)
    assert len(found) % 33 == 0
    assert check._arch(arched, 0.6) == pytest.approx(0.8)
    assert check._arch(arched, 1.5) == 0.0


WIDE = built_y(FAR) - built_y(NEAR)


@pytest.mark.parametrize(("count", "share"), [(2, 0.45), (2, 0.5), (2, 0.6), (3, 0.3)])
def test_all_slices_together_are_narrower_or_wider_than_the_rib(room: Evidence, count: int, share: float) -> None:
    """The rib lies between planes y = const, which stay so: it is as wide as the built depths of its flanks differ."""
    thickness = share * WIDE
    slices = [piece(room, f"rib-slice-{n + 1}", bar(), thickness) for n in range(count)]
    short, over = check._width_off(rib(), slices, RELIEF)
    assert short == pytest.approx(max(0.0, WIDE - count * thickness), abs=1e-9)
    assert over == pytest.approx(max(0.0, count * thickness - WIDE), abs=1e-9)
    turned = check._width_off(rib(flanks=(-NEAR, -FAR)), slices, RELIEF)
    assert turned == pytest.approx((short, over), abs=1e-9)


def test_a_slice_that_stops_short_counts_where_it_is(room: Evidence) -> None:
    """Looked at over the middle half of the first, -25 to 25: the second ends at 10, or at 30, which is out of it."""
    thickness = 0.5 * WIDE
    first = piece(room, "rib-slice-1", bar(), thickness)
    for end, short in ((10.0, thickness), (30.0, 0.0)):
        slices = [first, piece(room, "rib-slice-2", bar(-HALF, end), thickness)]
        assert check._width_off(rib(), slices, RELIEF) == pytest.approx((short, 0.0), abs=1e-9)


@pytest.mark.parametrize("thickness", [0.2, 4.0])
def test_a_rib_is_told_with_its_worst_step_and_its_width(room: Evidence, thickness: float) -> None:
    """A warning from LIMIT_ARCMIN on; a rib without slices has none."""
    slices = (piece(room, "rib-slice-1", bar(), thickness), piece(room, "rib-slice-2", bar(-30.0, 30.0), thickness))
    steps = [check._step_arcmin(rib(), one, RELIEF) for one in slices]
    evidence = replace(
        room,
        panels=(*room.panels, *slices),
        imagined=replace(room.imagined, laminations=(rib(id="ri"), rib())),
        room=replace(room.room, relief=RELIEF),
    )
    (finding,) = check.run(evidence)
    fine = max(steps) <= check.LIMIT_ARCMIN
    assert fine == (thickness == 0.2)
    assert (finding.id, finding.part, finding.status) == ("rib-slices", "rib", "pass" if fine else "warn")
    assert (finding.value, finding.limit, finding.unit) == (max(steps), check.LIMIT_ARCMIN, "arcmin")
    short, over = max(0.0, WIDE - 2 * thickness), max(0.0, 2 * thickness - WIDE)
    said = (
        f"2 slices of {thickness:g} mm; their square edges are seen within {max(steps):.1f} arc minutes of the soffit, "
        f"all of them together are up to {short:.2f} mm narrower and {over:.2f} mm wider than the rib"
    )
    assert finding.message == said + ("" if fine else "; bevel the lower edges with a file, or take a thinner sheet")
