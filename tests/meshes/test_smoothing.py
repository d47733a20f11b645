"""Meshes asked to follow the curve their facets were cut from."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from pipeline.geometry.booleans import body_of
from pipeline.geometry.meshes import normals
from pipeline.geometry.smoothing import TooFineError, follow_curve
from pipeline.scene.problems import SceneFileError
from tests.meshes.samples import l_shape, mesh_of
from tests.meshes.test_mesh_element import made, thing_of

TOLERANCE, MOST = 0.02, 200_000
SHARP = 40.0


@pytest.mark.parametrize("cuts", [1, 2])
def test_a_coarse_ball_becomes_round(cuts: int) -> None:
    """A ball of radius 10 cut into 80 or 320 facets: its facets' middles lay 0.7 or 0.17 mm too deep, now within 0.03.

    The tolerance is to the patches; these lie within 0.02 of the ball. Its corners are where they were.
    """
    ball = trimesh.creation.icosphere(cuts, 10.0)
    smooth = follow_curve(mesh_of(ball), SHARP, TOLERANCE, MOST)
    radii = np.linalg.norm(np.concatenate([smooth.vertices, smooth.corners.mean(axis=1)]), axis=1)
    assert np.abs(10 - np.linalg.norm(ball.triangles_center, axis=1)).max() > 0.15
    assert np.abs(10 - radii).max() < 0.03
    np.testing.assert_array_equal(smooth.vertices[: len(ball.vertices)], ball.vertices)
    assert body_of(smooth).genus() == 0


@pytest.mark.parametrize("sides", [12, 24])
def test_a_drum_becomes_round_and_keeps_its_rims_sharp(sides: int) -> None:
    """Radius 10, height 30: all rim points on the circle within a hundredth, both ends level to the last bit.

    Its volume nears pi r^2 h from below by what chords within the tolerance cut off: 2/3 of 2 tolerance / r at most.
    """
    drum = trimesh.creation.cylinder(10.0, 30.0, sections=sides)
    smooth = follow_curve(mesh_of(drum), SHARP, TOLERANCE, MOST)
    z = smooth.vertices[:, 2]
    assert set(np.unique(z[np.abs(z) > 14.99])) == {-15.0, 15.0}
    body = body_of(smooth)
    whole = np.pi * 100 * 30
    assert whole * (1 - 4 / 3 * TOLERANCE / 10) < body.volume() < whole * 1.0005
    crossed = normals(smooth)
    upright = np.abs(crossed[:, 2]) < 1e-9 * np.linalg.norm(crossed, axis=1)
    sides_points = smooth.corners[upright].reshape(-1, 3)
    assert np.abs(np.hypot(sides_points[:, 0], sides_points[:, 1]) - 10).max() < 0.01


def test_a_ring_stays_a_ring() -> None:
    """Genus 1, and three quarters of what its volume lacked of 2 pi^2 R r^2 are made up."""
    ring = mesh_of(trimesh.creation.torus(10, 4, 16, 10))
    smooth = body_of(follow_curve(ring, SHARP, TOLERANCE, MOST))
    whole = 2 * np.pi**2 * 10 * 16
    assert smooth.genus() == 1
    assert abs(whole - smooth.volume()) < (whole - body_of(ring).volume()) / 4


def test_what_has_flat_sides_and_sharp_edges_only_is_left_as_it_is() -> None:
    """An L of right angles has no curve in it."""
    shape = mesh_of(l_shape())
    smooth = follow_curve(shape, SHARP, TOLERANCE, MOST)
    np.testing.assert_array_equal(smooth.vertices, shape.vertices)
    np.testing.assert_array_equal(smooth.triangles, shape.triangles)


def test_too_many_facets_are_refused() -> None:
    """Before they are made."""
    with pytest.raises(TooFineError, match="more than 1,000 facets"):
        follow_curve(mesh_of(trimesh.creation.icosphere(1, 10.0)), SHARP, 1e-3, 1000)


def test_a_smooth_mesh_of_a_scene_follows_the_imagined_ball() -> None:
    """Placed and put through the relief, every corner of the print goes back to the ball within the tolerance."""
    ball = trimesh.creation.icosphere(1, 1.0)
    keys = {"size": 1.0, "at": [0.0, 6.0, 1.0]}
    coarse, smooth = made(thing=ball, **keys), made(thing=ball, smooth=SHARP, **keys)  # type: ignore[arg-type]
    middle = np.array([0.0, 6000 / 48, 1000 / 48 + 3.0])
    for evidence, least, most in ((coarse, 0.3, 2.0), (smooth, 0.0, 0.03)):
        corners = thing_of(evidence).body.corners
        middles = evidence.room.relief.imagine_points(corners.mean(axis=1))
        worst = np.abs(np.linalg.norm(middles - middle, axis=1) - 500 / 48).max()
        assert least <= worst < most
    assert any("split into" in fact.text for fact in smooth.imagined.facts)


def test_a_smooth_mesh_that_would_be_too_fine_is_refused_with_the_reason() -> None:
    """A rough ball of 80,000 facets, each edge a wave."""
    ball = trimesh.creation.icosphere(6, 1.0)
    rough = trimesh.Trimesh(
        ball.vertices * (1 + 0.01 * np.random.default_rng(3).standard_normal(len(ball.vertices)))[:, None], ball.faces
    )
    with pytest.raises(SceneFileError) as error:
        made(thing=rough, size=5.0, smooth=170.0, at=[0.0, 6.0, 2.6])
    (said,) = error.value.describe("a.toml")
    assert "split to follow its curves" in said
