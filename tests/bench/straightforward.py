"""The straightforward way to what a build makes, with the same general libraries and no thought for speed.

One entity at a time in ezdxf, one trimesh for each print, one boolean after another in manifold3d, one try after
another on a grid with shapely. What goes in is taken from the build's own files beforehand, unmeasured: these ways
compute no relief, joint or guide, they only make the same files.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from pathlib import Path

import ezdxf
import manifold3d
import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray
from PIL import Image
from shapely import affinity

STEP = 5.0
"""mm; from one try to the next when a part looks for its place."""


def straightforward(folder: Path, suffixes: Iterable[str] = (".dxf", ".stl", ".png")) -> Callable[[], int]:
    """Return a function that makes the built folder's DXF, STL and PNG again, and tells how many bytes."""
    ways = {".dxf": _entities, ".stl": _solid, ".png": _picture}
    files = sorted(path for path in folder.rglob("*") if path.suffix in suffixes)
    writers = [ways[path.suffix](path) for path in files]
    return lambda: sum(writer() for writer in writers)


def _entities(path: Path) -> Callable[[], int]:
    """Return a writer of a drawing, one entity after another."""
    drawn = ezdxf.readfile(path)
    layers = [layer.dxf.name for layer in drawn.layers]
    lines = [(e.dxf.start, e.dxf.end, e.dxf.layer) for e in drawn.modelspace().query("LINE")]
    chains = [(e.get_points("xyb"), e.closed, e.dxf.layer) for e in drawn.modelspace().query("LWPOLYLINE")]
    words = [(e.dxf.text, e.dxf.insert, e.dxf.height, e.dxf.layer) for e in drawn.modelspace().query("TEXT")]

    def write() -> int:
        drawing = ezdxf.new("R2010")
        for name in layers:
            if name not in drawing.layers:
                drawing.layers.add(name)
        space = drawing.modelspace()
        for start, end, layer in lines:
            space.add_line(start, end, dxfattribs={"layer": layer})
        for points, closed, layer in chains:
            space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs={"layer": layer})
        for text, place, height, layer in words:
            space.add_text(text, height=height, dxfattribs={"layer": layer, "insert": place})
        stream = io.StringIO()
        drawing.write(stream)
        return len(stream.getvalue())

    return write


def _solid(path: Path) -> Callable[[], int]:
    """Return a writer of a print: its corners welded, moved and written by trimesh."""
    read = trimesh.load_mesh(path, process=False)
    corners, faces = np.asarray(read.vertices), np.asarray(read.faces)

    def write() -> int:
        mesh = trimesh.Trimesh(corners, faces, process=True)
        mesh.apply_transform(trimesh.transformations.translation_matrix((0.0, 0.0, 1.0)))
        return len(mesh.export(file_type="stl"))

    return write


def _picture(path: Path) -> Callable[[], int]:
    """Return a writer of a picture as Pillow writes one when told nothing."""
    picture = Image.open(path)
    picture.load()

    def write() -> int:
        stream = io.BytesIO()
        picture.save(stream, "PNG")
        return stream.tell()

    return write


def raised_one_by_one(count: int, relief: float, matrix: NDArray[np.float64]) -> int:
    """Join so many raised blocks to a plate one after another, then warp it point by point; return its triangles.

    Parameters
    ----------
    count
        How many blocks, in three times as many columns as rows.
    relief
        How far they stand out, mm.
    matrix
        ``(4, 4)`` the collineation that each point goes through.
    """
    rows = max(1, round((count / 3) ** 0.5))
    columns = -(-count // rows)
    wall = manifold3d.Manifold.cube((3.0 * columns, 1.0 * rows, 1.0))
    for number in range(count):
        block = manifold3d.Manifold.cube((2.8, 0.8, 2 * relief))
        wall += block.translate((3.0 * (number % columns) + 0.1, 1.0 * (number // columns) + 0.1, 1.0 - relief))
    mesh = wall.to_mesh()
    for corner in np.asarray(mesh.vert_properties, dtype=np.float64):
        moved = matrix @ np.append(corner[:3], 1.0)
        moved = moved[:3] / moved[3]
    return len(mesh.tri_verts)


def nested_one_by_one(parts: list[shapely.Polygon], stock: tuple[float, float], spacing: float) -> int:
    """Lay parts on sheets, largest first, each at the first free place of a grid; return how many sheets it takes.

    Parameters
    ----------
    parts
        Outlines, mm.
    stock, spacing
        Width and height of a sheet, and the least distance between parts, mm.
    """
    sheets: list[list[shapely.Polygon]] = []
    for part in sorted(parts, key=lambda part: -part.area):
        left, low, right, high = part.bounds
        placed = affinity.translate(part.buffer(spacing), -left, -low)
        for lying in sheets:
            place = _first_free(placed, lying, stock[0] - right + left, stock[1] - high + low)
            if place is not None:
                lying.append(place)
                break
        else:
            sheets.append([placed])
    return len(sheets)


def _first_free(
    part: shapely.Polygon, lying: list[shapely.Polygon], width: float, height: float
) -> shapely.Polygon | None:
    for x in np.arange(0.0, width + 1e-9, STEP):
        for y in np.arange(0.0, height + 1e-9, STEP):
            tried = affinity.translate(part, x, y)
            if not any(tried.intersects(other) for other in lying):
                return tried
    return None
