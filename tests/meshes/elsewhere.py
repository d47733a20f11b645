"""Mesh files of any origin through ``foreshorten warp``, each judged from outside.

A file is either refused in one line, or made one closed body; where nothing had to be mended, that body is the one
which trimesh reads from the file, its corners moved by a formula of the relief that is not the program's.
"""

from __future__ import annotations

import io
import resource
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray

from pipeline.commands.model import InputError
from pipeline.commands.warp import Warped, warped
from pipeline.exports.stl import write_stl
from pipeline.meshfiles import MeshFileError, read_mesh_file
from pipeline.parts.bed import on_bed
from pipeline.parts.blocks import SIMPLE
from tests.prints.samples import point_triangle_distances

Array = NDArray[np.float64]
Outcome = Literal["not read", "not mended", "refused", "built", "mended and built", "wrong"]

SIZE, DEEP, HIGH, SCALE = 1.5, 6.0, 2.0, 48.0
"""Of every mesh in the imagined room: its longest side and where its middle stands, m; 2 m up it touches nothing."""
LOOKED_FOR = 24
"""Corners of a file that are looked for on the written surface."""
ROUNDED = 3.0**0.5 * 180 * 2.0**-24
"""mm; an STL's numbers are single: in a box 180 mm wide each of three is off by half a step of them at most."""
LEFT_OUT = SIMPLE + ROUNDED
"""mm; corners of facets less high than ``SIMPLE`` may be left out, so the surface is that far off at most."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What became of a file: the outcome, what was said of it, and what it took, s of the processor and MB."""

    outcome: Outcome
    said: str
    facets: int = 0
    seconds: float = 0.0
    megabytes: float = 0.0
    off: float | None = None
    """mm that corners and surface are off those which trimesh reads, at most; none where the mesh was mended."""


class WrongError(AssertionError):
    """The program's answer is not what it should be."""


def judge(path: Path, scene: Path) -> Verdict:
    """Return what becomes of a file in a scene like ``PLAIN``.

    Raises
    ------
    WrongError
        If what was written is no closed body, or not the one that it should be. Whatever else is raised is wrong too.
    """
    begun = time.process_time()
    try:
        where = placed(path.name, path.read_bytes())
    except MeshFileError as refusal:
        return _measured(begun, outcome="not read", said=str(refusal))
    try:
        made = warped(scene, (), path, where)
    except InputError as refusal:
        said = str(refusal)
        if said.count("\n"):
            raise WrongError(f"more than a line: {said}") from None
        return _measured(begun, outcome="not mended" if "cannot be printed" in said else "refused", said=said)
    written = trimesh.load(
        io.BytesIO(write_stl(on_bed(made.part.body, made.part.built_from_bed), "x")), file_type="stl"
    )
    if not (written.is_watertight and written.is_winding_consistent and written.volume > 0):
        raise WrongError("what is written is no closed body")
    repairs = "; ".join(fact.text for fact in made.said.facts[1:])
    off = None if repairs else compared(path, made, where, written)
    outcome: Outcome = "mended and built" if repairs else "built"
    return _measured(begun, outcome=outcome, said=repairs, facets=len(written.faces), off=off)


def _measured(begun: float, **told: Any) -> Verdict:
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    return Verdict(seconds=time.process_time() - begun, megabytes=held, **told)


def placed(name: str, data: bytes) -> Mapping[str, Any]:
    """Return the keys that set a file's mesh in the middle of the room, 2 m up: its origin may be anywhere."""
    read = read_mesh_file(name, data)
    corners = read.mesh.vertices[np.unique(read.mesh.triangles)]
    if read.up == "y":
        corners = corners[:, [0, 2, 1]] * [1, -1, 1]
    low, high = corners.min(axis=0), corners.max(axis=0)
    times = SIZE / max(float((high - low).max()), 1e-300)
    x, y = (-(low + high)[:2] / 2 * times).tolist()
    return {"at": [x, DEEP + y, HIGH - low[2] * times], "size": SIZE}


def compared(path: Path, made: Warped, where: Mapping[str, Any], written: trimesh.Trimesh) -> float:
    """Return how far the written body is from the one trimesh reads from the file, mm.

    Raises
    ------
    WrongError
        If it is farther than single numbers and facets left out for them allow, or their volumes differ by more than a
        surface moved so far takes in.
    """
    known = known_built(path, made, where)
    corners = np.unique(np.asarray(written.vertices), axis=0)
    off = float(nearest(corners, known.reshape(-1, 3)).max())
    if off > ROUNDED:
        raise WrongError(f"a corner is {off:.2g} mm off all of the file's")
    some = np.unique(known.reshape(-1, 3), axis=0)
    some = some[np.linspace(0, len(some) - 1, LOOKED_FOR).astype(int)]
    gap = float(point_triangle_distances(some, np.asarray(written.triangles)).max())
    if gap > LEFT_OUT:
        raise WrongError(f"a corner of the file is {gap:.2g} mm off the written surface")
    volume = float(np.linalg.det(known - known.mean(axis=(0, 1))).sum() / 6)
    if abs(abs(volume) - written.volume) > LEFT_OUT * written.area + bent(path, made, where):
        raise WrongError(f"its volume is {written.volume:.6g} mm3, not {abs(volume):.6g}")
    return max(off, gap)


def bent(path: Path, made: Warped, where: Mapping[str, Any]) -> float:
    """Return how much volume the faces of four corners leave open: by which diagonal they part is the reader's choice.

    Between both choices lies the tetrahedron of the four corners; an OBJ file of other faces leaves nothing open here.
    """
    if path.suffix.lower() != ".obj":
        return 0.0
    lines = [line.split() for line in path.read_text("utf-8", "replace").splitlines()]
    points = np.array([[float(word) for word in line[1:4]] for line in lines if line[:1] == ["v"]])
    faces = [[int(word.split("/")[0]) for word in line[1:]] for line in lines if line[:1] == ["f"] and len(line) == 5]
    rows = np.array(faces, dtype=np.int64).reshape(-1, 4)
    corners = points[np.where(rows > 0, rows - 1, rows)]
    built = carried(corners.reshape(-1, 3), float(np.ptp(points, axis=0).max()), made, where).reshape(-1, 4, 3)
    return float(np.abs(np.linalg.det(built[:, 1:] - built[:, :1])).sum() / 6)


def known_built(path: Path, made: Warped, where: Mapping[str, Any]) -> Array:
    """Return the triangles ``(m, 3, 3)`` of a file as trimesh reads them, built, mm, as they lie on the bed."""
    corners = np.asarray(trimesh.load(path, force="mesh", process=False).triangles, dtype=np.float64).reshape(-1, 3)
    if path.suffix.lower() == ".glb":
        corners = corners[:, [0, 2, 1]] * [1, -1, 1]
    return carried(corners, float(np.ptp(corners, axis=0).max()), made, where).reshape(-1, 3, 3)


def carried(points: Array, longest: float, made: Warped, where: Mapping[str, Any]) -> Array:
    """Return points ``(n, 3)`` of a file, z up and ``longest`` along its longest side, built, mm, lying on the bed.

    The relief is Anger's: with depths from the apron's end, V that of the vanishing points, and k = V + D,
    x' = ex + k (x - ex) / (y + k), y' = V y / (y + k).
    """
    imagined = (points * (SIZE / longest) + where["at"]) * 1000 / SCALE + [0, 0, made.room.hall.shape.floor]
    relief = made.room.relief
    eye, front = np.array(relief.eye), relief.apron
    deep, far, distance = relief.built_depth - front, relief.apparent_depth - front, front - relief.eye[1]
    vanishing = deep * (far + distance) / (far - deep)
    k = vanishing + distance
    y = imagined[:, 1] - front
    built = eye + k * (imagined - eye) / (y + k)[:, None]
    built[:, 1] = front + vanishing * y / (y + k)
    matrix = made.part.built_from_bed
    lying: Array = (built - matrix[:3, 3]) @ matrix[:3, :3]
    return lying


def nearest(points: Array, others: Array) -> Array:
    """Return how far ``(n,)`` each of some points is from the nearest of others; infinite where none is near."""
    which, near = shapely.STRtree(shapely.points(others[:, :2])).query(
        shapely.points(points[:, :2]), predicate="dwithin", distance=2 * ROUNDED
    )
    best = np.full(len(points), np.inf)
    np.minimum.at(best, which, np.linalg.norm(points[which] - others[near], axis=1))
    return best
