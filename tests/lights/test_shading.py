"""What built things stand in an LED's light: told, and kept out of it where the program itself puts them."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import shapely

from pipeline.build import shape
from pipeline.checks.evidence import Evidence
from pipeline.checks.light_places import run
from pipeline.geometry import curves, frames
from pipeline.geometry.booleans import mesh_of
from pipeline.parts.lighting.shading import cone_boxes, in_the_light
from pipeline.stages.lighting import gates_of

from ..scene_text import changed

WINDOW = """\
format = 1
box = { width = 180, height = 150, depth = 100, back_gap = 20 }
eye = { distance = 420, height = 78 }
space = { scale = 48, depth = 12.0 }
wiring = { battery = "LR03", cells = 2 }
materials.foam = { thickness = 3.0, process = "knife", sheet = [300, 200] }

[[openings]]
name = "window"
wall = "back"
at = 4.15
width = 1.6
sill = 1.0
height = 1.6
beyond = "light"

[[lights]]
name = "porch"
kind = "lamp"
at = [0.0, 15.0, 4.5]
"""
"""A lamp behind the back wall that shines in and down; between it and the window is the nearest room for a battery."""


def share_taken(evidence: Evidence, body: np.ndarray, inside: str = "window") -> float:
    """Return the share of points of a hole from which the straight line to the LED passes through a cuboid.

    The cuboid ``(2, 3)`` is met where the line's stretches within its three slabs have some in common.
    """
    gate = next(cut for cut in evidence.imagined.cuts if cut.name == inside)
    outline = curves.flatten_path(gate.curve, 0.01)
    (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
    u, v = (grid.ravel() for grid in np.meshgrid(np.linspace(x0, x1, 203)[1:-1], np.linspace(y0, y1, 203)[1:-1]))
    assert shapely.Polygon(outline).area == pytest.approx((x1 - x0) * (y1 - y0))
    hall, relief = evidence.room.hall, evidence.room.relief
    wall = relief.build_points(frames.apply(hall.imagined_from_host("back-wall"), np.column_stack([u, v])))
    way = np.array(evidence.leds[0].place.point) - wall
    with np.errstate(divide="ignore"):
        slabs = np.sort((body[:, None, :] - wall) / way, axis=0)
    near, far = slabs[0].max(axis=1), slabs[1].min(axis=1)
    return float(((near < far) & (far > 0) & (near < 1)).mean())


def test_the_battery_is_laid_beside_the_light() -> None:
    """It once took an eighth of it."""
    evidence = shape(WINDOW.encode())
    assert evidence.wiring is not None
    assert evidence.wiring.place is not None
    assert share_taken(evidence, evidence.wiring.place) == 0.0
    (finding,) = run(evidence)
    assert (finding.status, evidence.leds[0].usable) == ("pass", True)


def test_a_cone_of_light_lies_within_its_boxes() -> None:
    """Points all over random rays from the LED's surface to the pane, to the last of them."""
    rng = np.random.default_rng(3)
    pane = ((-20.0, 80.0, 30.0), (12.0, 80.0, 30.0), (12.0, 77.0, 61.0), (-20.0, 77.0, 61.0))
    boxes = cone_boxes((5.0, 97.0, 90.0), 3.0, pane)
    a, b, t = rng.random((3, 4000, 1))
    p, q, r, s = np.array(pane)
    far = (1 - a) * (1 - b) * p + a * (1 - b) * q + a * b * r + (1 - a) * b * s
    aside = rng.normal(size=(4000, 3))
    near = np.array([5.0, 97.0, 90.0]) + 1.5 * aside / np.linalg.norm(aside, axis=1)[:, None]
    points = near + t * (far - near)
    held = np.any([np.all((points >= low) & (points <= high), axis=1) for low, high in boxes], axis=0)
    assert held.all()
    volume = sum(float(np.prod(high - low)) for low, high in boxes)
    whole = np.vstack([*boxes])
    assert volume < 0.7 * float(np.prod(whole.max(axis=0) - whole.min(axis=0)))


def test_what_stands_in_the_light_is_told_with_its_share() -> None:
    """A block half-way to the window; its share by slabs, at seventy times as many points."""
    evidence = shape(WINDOW.encode())
    led = np.array(evidence.leds[0].place.point)
    middle = led + 0.5 * (np.array([0.0, 80.0, 45.0]) - led)
    block = middle + np.array([[-2.0, -2.0, -2.0], [2.5, 2.0, 2.0]])
    body = mesh_of(manifold3d.Manifold.cube((block[1] - block[0]).tolist()).translate(block[0].tolist()))
    (gate,) = gates_of(evidence.imagined, evidence.room.hall)
    spot = (float(led[0]), float(led[1]), float(led[2]))
    things = [
        ("block", body),
        (gate.host, body),
        ("window-pane", body),
    ]  # the wall and what fills the hole do not count
    taken = in_the_light(gate, gate.loops, (spot, 3.0), evidence.room.relief, things)
    assert list(taken) == ["block"]
    assert 0.05 < taken["block"] == pytest.approx(share_taken(evidence, block), abs=0.03)


def test_a_stand_in_is_not_set_behind_what_hides_its_opening() -> None:
    """Moonlight from high up behind the wall; a closet over the window reaches out into the way of its ray."""
    moon = changed(WINDOW, 'kind = "lamp"\nat = [0.0, 15.0, 4.5]', 'kind = "beam"\ndirection = [0.0, -0.5, -0.6]')
    closet = (
        '\n[[openings]]\nname = "closet"\nwall = "back"\nat = 4.15\nwidth = 2.6\nsill = 3.3\nheight = 0.8\n'
        'beyond = "niche"\nlength = 0.45\n'
    )
    free, hidden = (shape(text.encode()).leds[0].ways[0] for text in (moon, moon + closet))
    assert free.stand_in is not None
    assert hidden.stand_in is not None
    assert free.stand_in.place[2] > hidden.stand_in.place[2] + 3
    assert sum(share for _, share in hidden.shaded) < 0.5
