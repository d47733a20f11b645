"""The box as a picture: glued shut with its saw line, and sawn apart with its lid open."""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.casework.boards import Casework
from pipeline.casework.bodies import board_body
from pipeline.casework.shell import Shell
from pipeline.exports.png import write_png
from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.frames import invert_rigid
from pipeline.geometry.meshes import Mesh, join
from pipeline.geometry.vectors import cross
from pipeline.sight.rays import EMBREE, caster, plane_of

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

WIDTH, HEIGHT = 560, 460
"""Of each of the two views, pixels."""
FINE = 2 if EMBREE else 1
"""Rays for each pixel, each way."""
MARGIN = 0.05
"""Of a view, left free on each side."""
OPEN_DEG = 115.0
TONES = ((0.80, 0.62, 0.42), (0.74, 0.55, 0.36), (0.88, 0.74, 0.55))
"""Bottom and top, left and right, back and lid: neighbours never alike."""
SAWN = (0.36, 0.20, 0.12)
"""What the saw takes out."""
PAPER, INK = np.array([0.985, 0.98, 0.965]), np.array([0.16, 0.12, 0.08])
LIGHT = np.array([0.3, -0.7, 0.85])


def box_picture(casework: Casework) -> bytes:
    """Return a PNG of the box glued shut, its saw line dark, and of box and lid sawn apart and open."""
    shell = casework.shell
    into_shell = invert_rigid(shell.built_from_shell)[:3].tolist()
    bodies = [body_of(board_body(board)).transform(into_shell) for board in casework.boards]
    toward = np.array([0.55, -1.0, 0.55]) if shell.make.hinge != "right" else np.array([-0.55, -1.0, 0.55])
    kerf = shell.make.saw
    shut = [*_pieces(bodies, -kerf, below=True), *_pieces(bodies, 0.0, below=False)]
    slab = [(_between(body, -kerf, 0.0), SAWN) for body in bodies]
    swing = _swing(shell)
    opened = [
        *((body.translate((0.0, kerf, 0.0)).transform(swing[:3].tolist()), tone) for body, tone in shut[: len(bodies)]),
        *shut[len(bodies) :],
    ]
    return write_png(np.hstack([_view([*shut, *slab], toward), _view(opened, toward)]))


Toned = tuple[manifold3d.Manifold, tuple[float, float, float]]


def _pieces(bodies: list[manifold3d.Manifold], y: float, *, below: bool) -> list[Toned]:
    """Return what of every board lies in front of a plane, or behind it, with the board's tone."""
    side = -1.0 if below else 1.0
    return [(body.trim_by_plane((0.0, side, 0.0), side * y), TONES[number // 2]) for number, body in enumerate(bodies)]


def _between(body: manifold3d.Manifold, low: float, high: float) -> manifold3d.Manifold:
    return body.trim_by_plane((0.0, 1.0, 0.0), low).trim_by_plane((0.0, -1.0, 0.0), -high)


def _swing(shell: Shell) -> Array:
    """Return the rigid ``(4, 4)`` that opens the lid about its hinge line, shell mm."""
    edge, board = shell.make.hinge, shell.make.board
    x = {"left": -1.0, "right": 1.0}.get(edge, 0.0) * (shell.width / 2 + board)
    z = {"bottom": -board, "top": shell.height + board}.get(edge, 0.0)
    turn = np.radians(OPEN_DEG if edge in ("right", "bottom") else -OPEN_DEG)
    cosine, sine = np.cos(turn), np.sin(turn)
    out = np.eye(4)
    if edge in ("left", "right"):
        out[:2, :2] = [[cosine, -sine], [sine, cosine]]
    else:
        out[1:3, 1:3] = [[cosine, -sine], [sine, cosine]]
    hinge = np.array([x, 0.0, z])
    out[:3, 3] = hinge - out[:3, :3] @ hinge
    return out


def _view(toned: list[Toned], toward: Array) -> Pixels:
    """Return a parallel view of bodies ``(HEIGHT, WIDTH, 3)``, with lines where boards and faces end."""
    meshes = [(mesh_of(body), tone) for body, tone in toned if not body.is_empty()]
    whole = join([mesh for mesh, _ in meshes])
    tones = np.concatenate([np.tile(tone, (len(mesh.triangles), 1)) for mesh, tone in meshes])
    owner = np.concatenate([np.full(len(mesh.triangles), k) for k, (mesh, _) in enumerate(meshes)])
    index = _seen(whole, toward)
    planes = plane_of(whole.corners)
    normals = planes[:, :3] / np.maximum(np.linalg.norm(planes[:, :3], axis=1), 1e-300)[:, None]
    light = 0.5 + 0.5 * np.clip(normals @ (LIGHT / np.linalg.norm(LIGHT)), 0.0, 1.0)
    # One row more, for what is no facet: index -1.
    shades = np.vstack([tones * light[:, None], PAPER])
    _, faces = np.unique(np.column_stack([np.round(100 * normals) + 0.0, owner]), axis=0, return_inverse=True)
    face = np.append(faces, -1)[index]
    line = np.zeros(index.shape, dtype=bool)
    line[1:] |= face[1:] != face[:-1]
    line[:, 1:] |= face[:, 1:] != face[:, :-1]
    painted = shades[index]
    painted[line] = INK
    fine = painted.reshape(HEIGHT, FINE, WIDTH, FINE, 3).mean(axis=(1, 3))
    return np.asarray(np.round(255 * fine), dtype=np.uint8)


def _seen(whole: Mesh, toward: Array) -> NDArray[np.int64]:
    """Return which facet each ray ``(FINE HEIGHT, FINE WIDTH)`` meets first, or -1."""
    toward = toward / np.linalg.norm(toward)
    right = cross(np.array([0.0, 0.0, 1.0]), toward)
    right /= np.linalg.norm(right)
    across = np.stack([right, cross(toward, right)], axis=1)
    flat = whole.vertices @ across
    low, high = flat.min(axis=0), flat.max(axis=0)
    middle = (low + high) / 2
    wide, tall = WIDTH * FINE, HEIGHT * FINE
    step = float(((high - low) / (np.array([wide, tall]) * (1 - 2 * MARGIN))).max())
    x = middle[0] + step * (np.arange(wide) - (wide - 1) / 2)
    y = middle[1] - step * (np.arange(tall) - (tall - 1) / 2)
    away = float((whole.vertices @ toward).max()) + 1.0
    starts = (
        x[None, :, None] * across[:, 0] + y[:, None, None] * across[:, 1] + away * toward
    ).reshape(-1, 3)  # fmt: skip
    hit = caster(whole)(starts, np.broadcast_to(-toward, starts.shape))
    return np.asarray(hit, dtype=np.int64).reshape(tall, wide)
