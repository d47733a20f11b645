"""The imagined webs: closed forms, groins, and borders that are one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.elements.model import Web
from pipeline.elements.vault.shape import find_problems, shape_of
from pipeline.elements.vault.table import VaultTable
from pipeline.elements.vault.webs import tops
from pipeline.geometry import curves, frames
from tests.vault.halls import WARPED, bend_all, fine_area, hall, identity, webs

RADIUS = 40.0


def height_under(web: Web, x: float, y: float) -> float:
    """Return z of a web over a point of its plan, from its exact section alone."""
    place = np.linalg.inv(web.imagined_from_section) @ np.array([x, y, 0.0, 1.0])
    line = np.array([1.0, 0.0, -place[0]])
    return max(float(curves.evaluate(c, t)[0, 1]) for c in web.barrel for t in curves.crossings(c, line))


def test_a_groin_vault_of_two_equal_half_cylinders_has_the_known_volume() -> None:
    """2 pi r^3 - 8 r^3 / 3 over the square 2r: both halves less what they share (the Steinmetz solid's half)."""
    cells = {web.id.rsplit("-", 1)[-1]: web for web in webs(hall(2 * RADIUS, 2 * RADIUS))}
    nodes, weights = np.polynomial.legendre.leggauss(48)
    total = 0.0
    # One eighth of the square, 0 <= v <= u <= r, is under one cell; v = u s maps it to a square.
    for u, wu in zip((nodes + 1) / 2 * RADIUS, weights * RADIUS / 2, strict=True):
        for s, ws in zip((nodes + 1) / 2, weights / 2, strict=True):
            point = (-u, RADIUS + u * s)
            total += 8 * wu * ws * u * (height_under(cells["left"], *point) - 63.0)
    assert total == pytest.approx((2 * math.pi - 8 / 3) * RADIUS**3, rel=2e-5)


def test_its_soffit_has_the_known_area() -> None:
    """4 pi r^2 - 8 r^2 = 4.56637 r^2; each cell is half a Steinmetz solid's complement: r^2 (pi - 2)."""
    panels = bend_all(webs(hall(2 * RADIUS, 2 * RADIUS)), identity(2 * RADIUS))
    assert [panel.area for panel in panels] == pytest.approx([(math.pi - 2) * RADIUS**2] * 4, rel=1e-9)


@pytest.mark.parametrize(
    ("keys", "bays"),
    [
        ({}, 3),
        ({"profile": "pointed", "rise": 80.0}, 2),
        ({"profile": "segmental", "rise": 30.0}, 2),
        ({"form": "barrel"}, 2),
    ],
)
def test_built_areas_agree_with_a_fine_net_pushed_through_the_relief(keys: dict[str, object], bays: int) -> None:
    said = webs(hall(140.0, 250.0), bays=bays, **keys)
    for web, panel in zip(said, bend_all(said, WARPED), strict=True):
        assert panel.area == pytest.approx(fine_area(web, WARPED.built_from_imagined), rel=5e-5), web.id


def test_groins_stand_in_vertical_planes_over_the_diagonals() -> None:
    """One profile, stretched, for both barrels: |x| / (width / 2) = |y - yc| / (length / 2) (G. G. Scott)."""
    for web in webs(hall(140.0, 250.0), bays=2):
        centre = 62.5 if "bay-1" in web.id else 187.5
        border = {"front": web.far, "back": web.near, "left": web.far, "right": web.near}[web.id.rsplit("-", 1)[-1]]
        for curve in border:
            points = curves.evaluate(curve, np.linspace(0, 1, 33))
            assert np.abs(points[:, 0]) / 70 == pytest.approx(np.abs(points[:, 1] - centre) / 62.5, abs=1e-12)


@pytest.mark.parametrize("apron", [0.0, 30.0])
def test_webs_close_against_each_other(apron: float) -> None:
    """Where one names another, that one has the same curve in its border and names it back."""
    said = webs(hall(140.0, 250.0, apron=apron, front=4.0), bays=2)
    borders = {
        web.id: [
            (end.against, np.sort(curves.evaluate(curve, [0.0, 0.5, 1.0]), axis=0))
            for path, ends in ((web.near, web.near_ends), (web.far, web.far_ends))
            for curve, end in zip(path, ends, strict=True)
        ]
        for web in said
    }
    pairs = 0
    for name, border in borders.items():
        for against, points in border:
            if against in borders:
                back = [other for named, other in borders[against] if named == name]
                assert min(float(np.abs(other - points).max()) for other in back) < 1e-9, (name, against)
                pairs += 1
    assert pairs >= 16


def test_walls_end_where_the_webs_begin() -> None:
    """Every curve of a wall's top is the border of the web it names, point for point."""
    under = hall(140.0, 250.0)
    table = VaultTable(form="groin", bays=2, springing=60.0, rise=70.0)
    said = {web.id: web for web in webs(under, bays=2)}
    for host, loop in tops(shape_of(table, under), under).items():
        if host == "front-frame":
            continue
        lift = under.imagined_from_host(host)
        for edge in loop:
            web = said[edge.against]
            points = frames.apply(lift, curves.evaluate(edge.curve, [0.0, 0.3, 0.5, 0.9, 1.0]))
            path = {"left-wall": web.near, "right-wall": web.far, "back-wall": web.far}[host]
            own = [curves.evaluate(curve, [0.0, 0.3, 0.5, 0.9, 1.0]) for curve in path]
            assert min(float(np.abs(points - one).max()) for one in own) < 1e-9, (host, edge.against)


def test_a_vault_says_what_it_cannot_have() -> None:
    def problems(**keys: object) -> list[str]:
        full = {"form": "groin", "springing": 60.0, "rise": 70.0, **keys}
        return [".".join(map(str, p.path)) for p in find_problems(VaultTable.model_validate(full), hall(140.0, 250.0))]

    assert problems() == []
    assert problems(profile="pointed", rise=69.0) == ["vault.rise"]
    assert problems(profile="segmental", rise=71.0) == ["vault.rise"]
    assert problems(bays=5, rib_width=50.0, rib_depth=1.0) == ["vault.rib_width"]
    assert problems(rib_width=5.0) == ["vault.rib_depth"]
