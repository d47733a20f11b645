"""What cuts leave beside a body: flakes and grains that nobody could print, and hollows no larger.

Terms
-----
crumb
    A piece of a body, or a hollow in it, whose mean thickness is below what any printer lays or cures. Of a flake, two
    broad sides of the area A / 2 each, volume V over A / 2 is its thickness; of anything thicker it is less than that.
"""

from __future__ import annotations

from collections.abc import Sequence

from manifold3d import Manifold

from pipeline.geometry.booleans import body_of, mesh_of
from pipeline.geometry.meshes import join

CRUMB = 0.02
"""mm; the thinnest layers of resin are as thick."""


def is_crumb(piece: Manifold) -> bool:
    """Return whether one connected surface encloses a crumb."""
    return abs(float(piece.volume())) < CRUMB * float(piece.surface_area()) / 2


def without_crumbs(body: Manifold) -> Manifold:
    """Return a body without its crumbs; as it is where it has none, or nothing else."""
    pieces = body.decompose()
    whole = [piece for piece in pieces if not is_crumb(piece)]
    if len(whole) == len(pieces) or not any(piece.volume() > 0 for piece in whole):
        return body
    return together(whole)


def together(pieces: Sequence[Manifold]) -> Manifold:
    """Return bodies and the hollows in them, each a connected surface, as one."""
    # `Manifold.compose` unites what it is given, and of a hollow nothing is left.
    return pieces[0] if len(pieces) == 1 else body_of(join([mesh_of(piece) for piece in pieces]))
