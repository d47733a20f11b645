"""Flights of steps by the ray law, by counting, and as bodies."""

from __future__ import annotations

import itertools

import manifold3d
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.build import make
from pipeline.checks import bare_box, bodies_apart, in_box, panel_faithful, panel_outline, print_closed, print_faithful
from pipeline.checks.evidence import Evidence, as_manifold
from pipeline.parts.model import Panel

from .flight_text import ROOM, flight

Array = NDArray[np.float64]
CHECKED = (bare_box, bodies_apart, in_box, panel_faithful, panel_outline, print_closed, print_faithful)
EYE = np.array([0.0, -420.0, 78.0])
DEPTH, BUILT = 250.0, 78.5
"""12 m at 1:48; 85 - 4 - 2 - 0.5 mm."""


def panel(evidence: Evidence, part: str) -> Panel:
    return next(p for p in evidence.panels if p.id == part)


def built(points_imagined: Array) -> Array:
    """Return where the ray law puts points: y' = b u / (1 + a u) with D = 420, E + (P - E) / (1 + a u) across."""
    y = points_imagined[:, 1:2]
    a = (DEPTH - BUILT) / (DEPTH * (420 + BUILT))
    b = BUILT * (DEPTH + 420) / (DEPTH * (420 + BUILT))
    w = 1 + a * y
    out: Array = EYE + (points_imagined - EYE) / w
    out[:, 1:2] = b * y / w
    return out


def corners(evidence: Evidence, part: str) -> Array:
    """Return the built corners of a panel's visible face in the order of its region's outline."""
    found = panel(evidence, part)
    flat = np.array([curve.start for curve in (edge.curve for edge in found.region.outline)])
    lie = found.leaves[0]
    homogeneous = np.column_stack([flat, np.ones(len(flat))]) @ lie.flat_from_host.T
    points = np.column_stack([homogeneous[:, :2] / homogeneous[:, 2:], np.zeros(len(flat)), np.ones(len(flat))])
    out: Array = (points @ lie.built_from_flat.T)[:, :3]
    return out


def sorted_rows(points: Array) -> Array:
    rounded = np.round(points, 6) + 0.0
    return rounded[np.lexsort(rounded.T[::-1])]


def assert_corners(evidence: Evidence, part: str, imagined: list[tuple[float, float, float]]) -> None:
    expected = sorted_rows(built(np.array(imagined)))
    assert sorted_rows(corners(evidence, part)) == pytest.approx(expected, abs=2e-6)


UP = 1000 * 0.2 / 48
GO = 10.0
AT = 8000 / 48


def test_steps_across_stand_where_the_ray_law_puts_them() -> None:
    """Tread k lies k risers up and k - 1 goings in, from wall to wall; the floor behind starts at the last riser."""
    evidence = make((ROOM + flight()).encode())
    half, z = 87.5, 2.0
    assert_corners(
        evidence,
        "dais-tread-2",
        [(x, AT + y, z + 2 * UP) for x in (-half, half) for y in (GO, 2 * GO)],
    )
    assert_corners(evidence, "dais-riser-2", [(x, AT + GO, z + k * UP) for x in (-half, half) for k in (1, 2)])
    assert_corners(
        evidence, "floor-behind-dais", [(x, y, z + 3 * UP) for x in (-half, half) for y in (AT + 2 * GO, DEPTH)]
    )
    assert_corners(evidence, "floor", [(x, y, z) for x in (-half, half) for y in (0.0, AT)])
    profile = [(0, 0), (AT, 0), (AT, 1), (AT + GO, 1), (AT + GO, 2), (AT + 2 * GO, 2), (AT + 2 * GO, 3), (DEPTH, 3)]
    wall = [(half, y, z + k * UP) for y, k in profile] + [(half, y, 2 + 145.5) for y in (0, DEPTH)]
    assert_corners(evidence, "right-wall", wall)


@pytest.mark.parametrize(("side", "sign"), [("left", 1), ("right", -1)])
def test_a_flight_beside_a_wall_has_a_cheek_and_a_retaining_wall(side: str, sign: int) -> None:
    """Width 2.4 m = 50 mm against its wall; the lower floor goes on beside it up to the wall that holds the upper."""
    evidence = make((ROOM + flight(side=side, width=2.4)).encode())
    half, free, z = sign * 87.5, sign * -37.5, 2.0
    end = AT + 2 * GO
    cheek = [(AT, 0), (end, 0), (end, 2), (AT + GO, 2), (AT + GO, 1), (AT, 1)]
    assert_corners(evidence, "dais-cheek", [(free, y, z + k * UP) for y, k in cheek])
    held = [(free, 0), (half, 0), (half, 3), (-half, 3), (-half, 2), (free, 2)]
    assert_corners(evidence, "dais-retaining-wall", [(x, end, z + k * UP) for x, k in held])
    floor = [(-half, 0.0), (half, 0.0), (half, end), (free, end), (free, AT), (-half, AT)]
    assert_corners(evidence, "floor", [(x, y, z) for x, y in floor])


def test_steps_down_mirror_steps_up() -> None:
    """A negative rise: the lower floor lies behind, and the walls reach down to it."""
    evidence = make((ROOM + flight("pit", rise=-0.2, at=9.6)).encode())
    half, z, at = 87.5, 2.0, 200.0
    assert_corners(evidence, "pit-tread-1", [(x, at + y, z - 2 * UP) for x in (-half, half) for y in (GO, 2 * GO)])
    assert_corners(
        evidence, "floor-behind-pit", [(x, y, z - 3 * UP) for x in (-half, half) for y in (at + 2 * GO, DEPTH)]
    )
    assert_corners(evidence, "back-wall", [(x, DEPTH, h) for x in (-half, half) for h in (z - 3 * UP, 147.5)])
    riser = panel(evidence, "pit-riser-1")
    assert riser.leaves[0].built_from_flat[:3, 2] == pytest.approx([0, 1, 0])


LAYOUTS = {
    "across": flight(),
    "left": flight(side="left", width=2.4),
    "right": flight(side="right", width=2.4),
    "past the eye": flight(side="left", width=5.0),
    "print": flight(made="print"),
    "print beside": flight(side="right", width=2.4, made="print"),
    "down": flight(rise=-0.15, at=9.6),
    "down beside": flight(rise=-0.15, at=9.6, side="left", width=2.4),
    "down past the eye": flight(rise=-0.15, at=9.6, side="right", width=5.0),
    "down print": flight(rise=-0.15, at=9.6, side="left", width=2.4, made="print"),
    "one riser": flight(count=1),
    "one riser beside": flight(count=1, side="left", width=2.4),
    "up and down": flight("up", at=4.0, side="left", width=2.4) + flight("down", at=9.0, rise=-0.2),
}


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS.keys())
def test_parts_keep_apart_and_lie_in_the_box(text: str) -> None:
    """By manifold3d: every pair has no common volume, every corner is inside 180 x 150 x 85; no check fails."""
    evidence = make((ROOM + text).encode())
    bodies = {part.id: as_manifold(part.body) for part in evidence.parts}
    for name, body in bodies.items():
        assert body.status() == manifold3d.Error.NoError
        assert body.volume() > 0
        low, high = body.bounding_box()[:3], body.bounding_box()[3:]
        assert min(low[0] + 90, low[1], low[2], 90 - high[0], 85 - high[1], 150 - high[2]) >= -1e-9, name
    for a, b in itertools.combinations(bodies, 2):
        assert (bodies[a] ^ bodies[b]).volume() < 1e-6, (a, b)
    assert [f for check in CHECKED for f in check.run(evidence) if f.status == "fail"] == []


@pytest.mark.parametrize("count", [1, 2, 7])
def test_there_is_one_tread_fewer_than_risers(count: int) -> None:
    """The floor behind is the last tread."""
    evidence = make((ROOM + flight(count=count, rise=0.1)).encode())
    ids = [p.id for p in evidence.panels]
    assert [f"dais-riser-{k}" for k in range(1, count + 1)] == sorted(i for i in ids if "riser" in i)
    assert [f"dais-tread-{k}" for k in range(1, count)] == sorted(i for i in ids if "tread" in i)


def test_treads_and_floors_have_the_cover_of_the_floor_from_their_nosings_on() -> None:
    """Flags are 0.6 + 0.02 m deep: on the floor behind the first joint runs 0.61 m behind the nosing."""
    evidence = make((ROOM + flight()).encode())
    behind = panel(evidence, "floor-behind-dais")
    assert behind.face.cover == "flags"
    across = behind.guides_host[np.isclose(behind.guides_host[:, 0, 1], behind.guides_host[:, 1, 1])]
    assert across[:, 0, 1].min() == pytest.approx(610 / 48)
    assert panel(evidence, "dais-tread-1").face.cover == "flags"
    assert panel(evidence, "dais-riser-1").face.cover is None


def test_a_printed_flight_is_one_closed_body_under_its_treads() -> None:
    """With L = d = 78.5 mm the relief is the identity: its volume is the sum over the treads, less the play.

    Two treads of 10 mm going, 1 and 2 risers of 4.1667 mm high, 50 mm wide; 0.15 mm of play at floor, wall and head.
    """
    text = ROOM.replace("depth = 12.0", "depth = 3.768") + flight(at=1.2, side="left", width=2.4, made="print")
    evidence = make(text.encode())
    (made,) = evidence.prints
    body = as_manifold(made.body)
    heights = [UP - 0.15, 2 * UP - 0.15]
    assert body.volume() == pytest.approx((50 - 0.15) * (10 * heights[0] + (10 - 0.15) * heights[1]), rel=1e-9)
    assert (body.genus(), len(body.decompose())) == (0, 1)


@pytest.mark.parametrize("rise", [0.2, -0.15])
def test_columns_and_arches_stand_on_the_floor_behind(rise: float) -> None:
    """Their skin starts on that floor, the print 0.15 mm above it; the arch springs as high as without steps."""
    column = '[[columns]]\nname = "post"\nat = [[2.0, 10.5], [-4.0, 10.5]]\ndiameter = 0.5\nbase = 0.3\n'
    arch = '[[arches]]\nname = "arch"\nat = 11.2\nspringing = 2.0\nring = 0.4\ndepth = 0.4\n'
    evidence = make((ROOM + flight(rise=rise) + column + arch).encode())
    level = 2 + 3 * rise * 1000 / 48
    for part in evidence.prints:
        assert part.skin_imagined.vertices[:, 2].min() == pytest.approx(level, abs=1e-9), part.id
    top = max(part.skin_imagined.vertices[:, 2].max() for part in evidence.prints if part.id == "arch")
    assert top == pytest.approx(2 + (2.0 + 8.4 / 2) * 1000 / 48, abs=0.005)
    places = {p.id: len(p.places) for p in evidence.panels}
    assert (places["floor"], places["floor-behind-dais"]) == (0, 4)
    assert [f for check in CHECKED for f in check.run(evidence) if f.status == "fail"] == []


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(
    at=st.floats(6.0, 9.0),
    count=st.integers(1, 5),
    rise=st.sampled_from([-0.1, 0.08, 0.15, 0.3]),
    going=st.floats(0.2, 0.6),
    side=st.sampled_from(["across", "left", "right"]),
    made=st.sampled_from(["panels", "print"]),
    eye=st.floats(-60, 60),
)
def test_no_check_fails_on_any_flight(
    *, at: float, count: int, rise: float, going: float, side: str, made: str, eye: float
) -> None:
    """Whatever fits is built with no check failing."""
    keys: dict[str, float | str] = {"at": round(at, 3), "count": count, "rise": rise, "going": round(going, 3)}
    if side != "across":
        keys |= {"width": 3.0, "side": side}
    if count > 1:
        keys["made"] = made
    room = ROOM.replace("height = 78", f"height = 78\nright = {eye:.3f}")
    evidence = make((room + flight("any", **keys)).encode())
    assert [f for check in CHECKED for f in check.run(evidence) if f.status == "fail"] == []
