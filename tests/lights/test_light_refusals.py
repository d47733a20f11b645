"""Lights that cannot be so are refused with what would fit."""

# ruff: noqa: E501 - each message stands whole, as it is printed

from __future__ import annotations

import pytest

from pipeline.build import make
from pipeline.scene.problems import SceneFileError

from .lamps import ROOM, beam, lamp


def refusal(text: str) -> str:
    with pytest.raises(SceneFileError) as caught:
        make(text.encode())
    return "\n".join(caught.value.describe("a.toml"))


REFUSED = [
    (lamp(0, -0.5, 2), "lights[1].at: 'lantern' hangs 0.5 m before the opening, on the viewer's side; allowed: y of 0 or more"),
    (lamp(0, 3, 0), "lights[1].at: 'lantern' lies on the floor; allowed: a height above 0 m"),
    (lamp(0, 3, -1), "lies under the floor"),
    (lamp(0, 3, 7.2), "lights[1].at: 'lantern' hangs 7.2 m up, the ceiling is at 6.888 m; allowed: a height below 6.888 m"),
    (beam(0, 0, 0), "lights[1].direction: [0, 0, 0] leads nowhere"),
    ('\n[[lights]]\nname = "a"\nkind = "lamp"\n', "lights[1].kind: 'a' is a lamp without at; allowed: at. Add at = [x, y, height] (m)"),
    ('\n[[lights]]\nname = "a"\nkind = "beam"\n', "lights[1].kind: 'a' is a beam without direction"),
    (lamp(0, 3, 2, more="direction = [0, -1, 0]"), "lights[1].direction: 'lantern' is a lamp, and direction is a beam's"),
    (beam(0, -1, 0, more="at = [0, 1, 1]"), "lights[1].at: 'moon' is a beam, and at is a lamp's"),
    ('\n[[lights]]\nname = "a"\nkind = "torch"\n', "lights[1].kind"),
    (lamp(0, 3, 2, more="supply = 9"), "lights[1].supply: 'lantern' has supply without forward and current; allowed: all three of supply, forward and current"),
    (lamp(0, 3, 2, more="supply = 3.0\nforward = 3.2\ncurrent = 0.02"), "lights[1].supply: 3 V do not light an LED that needs 3.2 V; allowed: a supply above 3.2 V"),
    (lamp(0, 3, 2, more="supply = 230.0\nforward = 3.2\ncurrent = 0.02"), "lights[1].supply"),
    (lamp(0, 3, 2) + lamp(1, 3, 2, "Lantern"), "gives the id lantern"),
]  # fmt: skip


@pytest.mark.parametrize(("more", "expected"), REFUSED)
def test_what_is_no_light_is_refused_in_words(more: str, expected: str) -> None:
    """Each message says what is there and what would fit; the hall is 8.304 x 12 x 6.888 m."""
    assert expected in refusal(ROOM + more)
