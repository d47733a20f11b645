"""A picture the plain way, for tests: every triangle in turn, each pixel kept by the nearest.

The program looks along rays through a tree of boxes. This draws instead (E. Catmull, *A Subdivision Algorithm for
Computer Display of Curved Surfaces*, 1974), from the built model's file as a stranger's program reads it.
"""

from __future__ import annotations

import io
import json
from dataclasses import dataclass

import numpy as np
import trimesh
from numpy.typing import NDArray

Array = NDArray[np.float64]

BUILT_FROM_GLTF = 1000 * np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
"""glTF 2.0, 3.4: metres, y up, z toward the viewer; built: mm, y into the box, z up."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Standing:
    """A part as the file has it: its id, triangles ``(m, 3, 3)`` built mm, and red green blue as on a screen."""

    part: str
    triangles: Array
    tone: Array


def read_model(glb: bytes) -> list[Standing]:
    """Return every body of a GLB file where it stands, by trimesh; lines are left out."""
    scene = trimesh.load(io.BytesIO(glb), file_type="glb", process=False)
    tones = _tones(glb)
    found = []
    for node in scene.graph.nodes_geometry:
        matrix, name = scene.graph[node]
        mesh = scene.geometry[name]
        if isinstance(mesh, trimesh.Trimesh):
            # A mesh with lines is two nodes to trimesh, each under that of the part.
            part = node if node in tones else scene.graph.transforms.parents[node]
            points = trimesh.transform_points(mesh.vertices, matrix) @ BUILT_FROM_GLTF.T
            found.append(Standing(part=part, triangles=points[mesh.faces], tone=tones[part]))
    assert sorted(tones) == sorted(one.part for one in found)
    return found


def _tones(glb: bytes) -> dict[str, Array]:
    """Return the colour of each mesh, which trimesh rounds to bytes: linear in the file, by IEC 61966-2-1."""
    content = json.loads(glb[20 : 20 + int.from_bytes(glb[12:16], "little")])
    materials = [one["pbrMetallicRoughness"]["baseColorFactor"][:3] for one in content["materials"]]
    linear = {mesh["name"]: np.array(materials[mesh["primitives"][0]["material"]]) for mesh in content["meshes"]}
    return {
        name: np.where(one <= 0.0031308, 12.92 * one, 1.055 * one ** (1 / 2.4) - 0.055) for name, one in linear.items()
    }


def draw(
    triangles: Array, at: Array, left: float, top: float, pixel: float, shape: tuple[int, int]
) -> tuple[NDArray[np.int64], Array]:
    """Return the nearest triangle ``(h, w)`` of each pixel, -1 for none, and its nearness 1 / t along the ray.

    Parameters
    ----------
    triangles
        ``(m, 3, 3)``, all behind the picture plane y = 0.
    at
        The pinhole, before the plane.
    left, top, pixel
        The picture's outer corner on the plane, and the size of a pixel, mm; a pixel is seen at its centre.
    shape
        Height and width, pixels.
    """
    height, width = shape
    nearest, nearness = np.full(shape, -1), np.zeros(shape)
    # 1 / t is linear in the picture along any plane, t counted from the pinhole in steps to the picture plane.
    near = -at[1] / (triangles[..., 1] - at[1])
    columns = (at[0] + (triangles[..., 0] - at[0]) * near - left) / pixel - 0.5
    rows = (top - at[2] - (triangles[..., 2] - at[2]) * near) / pixel - 0.5
    area = (columns[:, 1] - columns[:, 0]) * (rows[:, 2] - rows[:, 0])
    area -= (columns[:, 2] - columns[:, 0]) * (rows[:, 1] - rows[:, 0])
    c0, c1 = np.ceil(columns.min(axis=1)).clip(0), np.floor(columns.max(axis=1)).clip(None, width - 1)
    r0, r1 = np.ceil(rows.min(axis=1)).clip(0), np.floor(rows.max(axis=1)).clip(None, height - 1)
    covering = np.flatnonzero((c0 <= c1) & (r0 <= r1) & (np.abs(area) > 1e-12))
    for k, left_, right_, up, down in zip(
        covering.tolist(), *(edge[covering].astype(int).tolist() for edge in (c0, c1, r0, r1)), strict=True
    ):
        x, y, n = columns[k], rows[k], near[k]
        across, along = np.arange(left_, right_ + 1)[None, :], np.arange(up, down + 1)[:, None]
        one = ((across - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (along - y[0])) / area[k]
        two = ((x[1] - x[0]) * (along - y[0]) - (across - x[0]) * (y[1] - y[0])) / area[k]
        here = n[0] + one * (n[1] - n[0]) + two * (n[2] - n[0])
        part = np.s_[up : down + 1, left_ : right_ + 1]
        won = (one >= -1e-9) & (two >= -1e-9) & (one + two <= 1 + 1e-9) & (here > nearness[part])
        nearest[part][won], nearness[part][won] = k, here[won]
    return nearest, nearness
