"""Joints along curved edges: a web against a wall, point by point."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.build import shape
from pipeline.geometry.meshes import normals
from tests.conftest import SCENES


def test_the_angle_of_a_web_at_a_wall_is_told_as_a_range() -> None:
    """Held against the facets of the web's own visible mesh that reach the wall: within their chords' turn."""
    evidence = shape((SCENES / "cistern.toml").read_bytes())
    web = next(bent for bent in evidence.bents if bent.id == "vault-bay-1-web-left")
    (edge,) = (edge for edge in web.edges if edge.against == "left-wall")
    assert edge.angle_deg is not None
    wall = next(panel for panel in evidence.panels if panel.id == "left-wall").leaves[-1].built_from_flat
    away = (web.visible.vertices - wall[:3, 3]) @ wall[:3, 2]
    touching = (np.abs(away) < 1e-6)[web.visible.triangles].sum(axis=1) == 2
    facing = normals(web.visible)[touching]
    facing /= np.linalg.norm(facing, axis=1)[:, None]
    angles = np.degrees(np.arccos(-facing @ wall[:3, 2]))
    low, high = edge.angle_deg
    assert high - low > 5
    assert low == pytest.approx(angles.min(), abs=1.5)
    assert high == pytest.approx(angles.max(), abs=1.5)
