"""What flaps, tabs and lugs must keep out of: other bodies in the box, other panels on a net."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.booleans import body_of
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.frames import moved
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import path_of
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Addition, Panel, Print
from pipeline.parts.seams import Seam
from pipeline.parts.unfolding import Unfolded

Array = NDArray[np.float64]
Bounds = tuple[float, ...]

COMMON_MM3 = 1e-4
"""mm^3; what only touches has less in common."""

COMMON_MM2 = 1e-3
"""mm^2; the same on a net."""

CHORD = 0.02
"""mm; curved edges on a net, whose flaps stand on straight ones."""


class Ground:
    """Room taken so far.

    Parameters
    ----------
    parts
        Everything made, without additions.
    box
        Planes ``(4,)`` of the box, inside on the positive side.
    unfolded
        Trees that panels are laid flat as.
    kept_free
        Bodies that are no parts, and that nothing may be glued in the way of: wires, a battery.
    """

    def __init__(
        self,
        parts: Iterable[Panel | BentPanel | Print],
        box: tuple[Array, ...],
        unfolded: Mapping[str, Unfolded],
        kept_free: Iterable[Mesh] = (),
    ) -> None:
        every = [part for part in parts if len(part.body.triangles)]
        self.box = box
        self._meshes = {part.id: part.body for part in every}
        self._taken: list[tuple[manifold3d.Manifold, Bounds]] = [
            (body, body.bounding_box()) for body in map(body_of, kept_free)
        ]
        self._net_of = {part: card for card, one in unfolded.items() for part in one.net_from_flat}
        self._from_flat = {part: matrix for one in unfolded.values() for part, matrix in one.net_from_flat.items()}
        self._hinges = {id_of(seam) for one in unfolded.values() for hinge in one.hinges for seam in hinge.seams}
        self._lying: dict[str, list[shapely.Polygon]] = {card: [] for card in unfolded}
        for part in every:
            if isinstance(part, Panel) and part.id in self._net_of:
                outline = shapely.Polygon(flatten_path(path_of(part.cut.outline), CHORD))
                self._lying[self._net_of[part.id]].append(moved(outline, self._from_flat[part.id]))

    def is_hinge(self, seam: Seam) -> bool:
        """Return whether a seam is folded, not cut."""
        return id_of(seam) in self._hinges

    def free(self, addition: Addition, part: str, through: str = "") -> bool:
        """Return whether a part's addition takes room of nothing else, built or on its net.

        A tab lies in a slot of the part it goes ``through``, which has none as yet.
        """
        return self._free_built(addition.body, through) and self._free_flat(addition, part)

    def take(self, addition: Addition, part: str) -> None:
        """Keep an addition's room from now on."""
        body = body_of(addition.body)
        self._taken.append((body, body.bounding_box()))
        if part in self._net_of:
            self._lying[self._net_of[part]].append(self._flat(addition, part))

    def _free_built(self, mesh: Mesh, through: str) -> bool:
        body = body_of(mesh)
        box = body.bounding_box()
        standing = [placed for part, placed in self._standing.items() if part != through]
        near = (other for other, bounds in (*standing, *self._taken) if _meet(box, bounds))
        return all((body ^ other).volume() < COMMON_MM3 for other in near)

    @cached_property
    def _standing(self) -> dict[str, tuple[manifold3d.Manifold, Bounds]]:
        """Every part's body and its bounds; made only where something is added."""
        bodies = {part: body_of(mesh) for part, mesh in self._meshes.items()}
        return {part: (body, body.bounding_box()) for part, body in bodies.items()}

    def _free_flat(self, addition: Addition, part: str) -> bool:
        if part not in self._net_of:
            return True
        shape = self._flat(addition, part)
        return all(shapely.intersection(shape, other).area < COMMON_MM2 for other in self._lying[self._net_of[part]])

    def _flat(self, addition: Addition, part: str) -> shapely.Polygon:
        return moved(shapely.Polygon(addition.chain), self._from_flat[part])


def id_of(seam: Seam) -> tuple[str, str, tuple[float, ...]]:
    """Return what tells a seam from others: its panels and its middle, to a micrometre."""
    return seam.first.part, seam.second.part, tuple(np.round(seam.ends.mean(axis=0), 3).tolist())


def _meet(a: Bounds, b: Bounds) -> bool:
    return all(a[i] < b[i + 3] and b[i] < a[i + 3] for i in range(3))
