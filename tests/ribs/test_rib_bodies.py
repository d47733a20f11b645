"""Ribs follow their conics, fill their volumes, and keep below the webs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from pipeline.elements.vault.rib_bodies import PLAY_ACROSS, PLAY_ALONG, arched, diagonal, transverse
from pipeline.geometry.booleans import mesh_of
from pipeline.geometry.meshes import signed_volume
from pipeline.parts.blocks import block_print
from pipeline.parts.thickness import thinnest_wall
from tests.prints.samples import point_triangle_distances
from tests.ribs.samples import CASES, HALL, IDENTITY, SQUARE, blocks, shared, vault_height

SEMICIRCLES = {"bays": 2, "rise": 4.0, "springing": 2.0, "rib_width": 0.6, "rib_depth": 0.5}
"""Over SQUARE: r = 80 mm both ways, ribs 12 mm wide and 10 mm deep."""

ROUNDING = 1e-5
"""mm; near the springing the profile is upright, and heights are roots of rounding."""


def test_the_diagonal_rib_of_a_square_bay_is_half_an_ellipse_in_an_upright_plane() -> None:
    """Over a bay of side 2 r a groin lies on the semi-ellipse of half span sqrt(2) r and rise r: the barrel
    x^2 + z^2 = r^2 met by the plane x = y (derived). Soffit and back have half span and rise reduced by their drops."""
    ribs = shared(SQUARE, **SEMICIRCLES)
    r, depth, springing = 80.0, 10.0, 3.0 + 40.0
    vertices = mesh_of(arched(ribs, diagonal(ribs.shape, (0.0, 160.0), 1))).vertices
    along = (vertices[:, 0] + (vertices[:, 1] - 80.0)) / math.sqrt(2)
    aside = (vertices[:, 0] - (vertices[:, 1] - 80.0)) / math.sqrt(2)
    up = vertices[:, 2] - springing
    np.testing.assert_allclose(np.abs(aside), 6.0, atol=1e-9)
    off = [
        np.abs((along / (math.sqrt(2) * r - drop)) ** 2 + (up / (r - drop)) ** 2 - 1) for drop in (depth, PLAY_ALONG)
    ]
    np.testing.assert_allclose(np.minimum(*off), 0.0, atol=1e-9)
    assert {int(np.argmin(pair)) for pair in zip(*off, strict=True)} == {0, 1}


@pytest.mark.parametrize("name", ["plain", "pointed", "segmental"])
def test_a_groin_lies_on_the_vault(name: str) -> None:
    """Without play the back of a diagonal rib's middle is the groin itself: the vault's height there."""
    ribs = shared(**CASES[name])
    track = replace(diagonal(ribs.shape, ribs.shape.bays[1], -1), play=0.0)
    vertices = mesh_of(arched(ribs, track)).vertices
    along = (vertices[:, :2] - track.middle) @ track.way
    middles = track.middle + along[:, None] * track.way
    below = vault_height(HALL, middles, **CASES[name]) - vertices[:, 2]
    backs = below < ribs.depth / 8
    assert backs.sum() >= 2 * len(ribs.unit)
    np.testing.assert_allclose(below[backs], 0.0, atol=ROUNDING)


@pytest.mark.parametrize("name", CASES)
def test_every_rib_stays_below_the_webs_and_in_the_hall(name: str) -> None:
    """The webs' visible face is the vault; no point of a rib's skin may lie above it, or outside the hall."""
    for block in blocks(**CASES[name]).values():
        corners = block.mesh.corners
        points = np.vstack([corners.reshape(-1, 3), corners.mean(axis=1), (corners[:, 0] + corners[:, 1]) / 2])
        room = vault_height(HALL, points[:, :2], **CASES[name]) - points[:, 2]
        high = points[:, 2] > HALL.floor + 3.0 * 1000 / 48 + 5
        assert room.min() > -1e-9, block.id
        assert room[high].min() > PLAY_ACROSS / 2, block.id
        assert np.abs(points[:, 0]).max() <= HALL.width / 2 + 1e-9
        assert points[:, 1].min() >= -1e-9
        assert points[:, 1].max() <= HALL.depth + 1e-9


def test_a_square_rib_has_the_volume_between_its_conics() -> None:
    """Half ellipses a b pi / 2 over the width; facets stray by no more than the tolerance from either curve."""
    whole = blocks(SQUARE, **SEMICIRCLES, form="barrel")["vault-rib-transverse-2"]
    body = block_print(
        replace(whole, contacts=(), seams=()), IDENTITY, SQUARE, fit=0.15, min_wall=1.0, min_cavity=2.0
    ).body
    outer, inner = 80.0 - PLAY_ACROSS, 70.0
    exact = 12.0 * math.pi / 2 * (outer**2 - inner**2)
    strip = 12.0 * math.pi * (outer + inner) * SQUARE.facet
    assert abs(signed_volume(body) - exact) < strip


def test_ribs_at_the_ends_are_halves() -> None:
    """Nothing leaves the hall: the ribs on the first and last bay line are half as wide."""
    ribs = blocks(form="barrel")
    first, middle, last = (ribs[f"vault-rib-transverse-{k}"].mesh for k in (1, 2, 4))
    half = 0.25 * 1000 / 48
    np.testing.assert_allclose([first.vertices[:, 1].min(), first.vertices[:, 1].max()], [0.0, half], atol=1e-9)
    np.testing.assert_allclose([last.vertices[:, 1].min(), last.vertices[:, 1].max()], [250.0 - half, 250.0], atol=1e-9)
    assert signed_volume(first) == pytest.approx(signed_volume(middle) / 2, rel=1e-9)
    assert signed_volume(last) == pytest.approx(signed_volume(middle) / 2, rel=1e-9)


def test_the_thinnest_place_of_a_rib_is_found_by_brute_force_too() -> None:
    """Of a semicircular ring the wall is the same all round: the depth less the play; both ways of measuring agree."""
    ribs = shared(SQUARE, **SEMICIRCLES)
    mesh = mesh_of(arched(ribs, transverse(ribs.shape, 160.0)))
    radius = np.hypot(mesh.corners[..., 0], mesh.corners[..., 2] - 43.0).mean(axis=1)
    level = np.ptp(mesh.corners[..., 1], axis=1) > 1e-9
    back = mesh.corners[level & (radius > 77.0)]
    soffit = mesh.corners[level & (radius < 73.0)].reshape(-1, 3)
    brute = point_triangle_distances(soffit, back).min()
    found = thinnest_wall(mesh)
    assert found is not None
    assert found.thickness == pytest.approx(brute, abs=2e-3)
    assert brute == pytest.approx(10.0 - PLAY_ACROSS, abs=SQUARE.facet)


def test_chamfer_and_roll_take_only_from_below() -> None:
    """A chamfer takes its triangles off the lower edges, a roll more; depth and width stay."""
    volumes, sizes = [], []
    for section in ("square", "chamfered", "roll"):
        ribs = shared(SQUARE, **SEMICIRCLES, section=section)
        mesh = mesh_of(arched(ribs, transverse(ribs.shape, 160.0)))
        volumes.append(signed_volume(mesh))
        sizes.append(np.ptp(mesh.vertices, axis=0))
    cut = 6.0 / 5
    exact = cut**2 * math.pi * (70.0 + cut / 3)
    assert volumes[0] - volumes[1] == pytest.approx(exact, rel=2e-3)
    assert volumes[2] < volumes[1]
    np.testing.assert_allclose(sizes, [sizes[0]] * 3, atol=1e-9)
