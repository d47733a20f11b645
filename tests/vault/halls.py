"""A hall under a vault, its relief, and its built webs."""

from __future__ import annotations

import numpy as np

from pipeline.elements.hall_shape import Hall, SurfaceSheet
from pipeline.elements.model import Web
from pipeline.elements.vault.table import VaultTable
from pipeline.elements.vault.webs import imagine
from pipeline.parts.bent import BentPanel, make_bent
from pipeline.relief.collineation import Relief

WALLS = ("floor", "left-wall", "right-wall", "back-wall")
WARPED = Relief(eye=(12.0, -420.0, 78.0), apron=0.0, apparent_depth=250.0, built_depth=77.5)


def hall(width: float, depth: float, *, apron: float = 0.0, front: float = 0.0) -> Hall:
    """Return a hall at 1:1000, so that metres in tables are imagined mm."""
    card = SurfaceSheet(material="card", thickness=0.5, finish=0.0)
    return Hall(
        scale=1000.0, width=width, height=200.0, depth=depth, floor=3.0, apron=apron, front=front,
        materials={"card": 0.5}, surfaces=dict.fromkeys(WALLS, card),
    )  # fmt: skip


def identity(depth: float) -> Relief:
    """Return the relief that changes nothing."""
    return Relief(eye=(0.0, -400.0, 60.0), apron=0.0, apparent_depth=depth, built_depth=depth)


def webs(under: Hall, **keys: object) -> tuple[Web, ...]:
    """Return the webs of a vault; springing 60 and rise half the width where nothing else is asked."""
    table = VaultTable.model_validate({"form": "groin", "springing": 60.0, "rise": under.width / 2, **keys})
    return imagine(table, under, ("vault",)).webs


def bend_all(said: tuple[Web, ...], relief: Relief, bend_factor: float = 0.0) -> tuple[BentPanel, ...]:
    """Return every web as a bent panel without guides."""
    return tuple(make_bent(web, [], relief, bend_factor=bend_factor, bend_tolerance=0.1, min_guide=0.4) for web in said)


def fine_area(web: Web, matrix: np.ndarray[tuple[int, ...], np.dtype[np.float64]], count: int = 400) -> float:
    """Return the area of a web carried by a matrix, from a fine net of points pushed through it one by one."""
    from pipeline.geometry import curves, frames

    total = 0.0
    t, s = np.linspace(0, 1, count + 1), np.linspace(0, 1, 41)
    for near, far in zip(web.near, web.far, strict=True):
        a, b = curves.evaluate(near, t), curves.evaluate(far, t)
        net = a[:, None] + s[None, :, None] * (b - a)[:, None]
        points = frames.apply(matrix, net.reshape(-1, 3)).reshape(net.shape)
        one, other = points[1:, 1:] - points[:-1, :-1], points[1:, :-1] - points[:-1, 1:]
        total += float(np.linalg.norm(np.cross(one, other), axis=2).sum() / 2)
    return total
