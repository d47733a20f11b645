"""OBJ: vertices and faces; all else in it is for other purposes.

Alias Wavefront, *Object Files*, appendix B1 of the Advanced Visualizer manual: indices count from 1, negative ones
back from the last vertex so far.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator

import numpy as np

from pipeline.geometry.polygons import cut_faces
from pipeline.meshfiles.model import FARTHEST, MeshFile, MeshFileError, checked_mesh, refuse_too_many

CURVED = (b"curv", b"curv2", b"surf")


def read_obj(data: bytes) -> MeshFile:
    """Return the faces of an OBJ file, cut into triangles.

    Raises
    ------
    MeshFileError
        If a line is broken or names a vertex that is not there, or there is no face.
    """
    numbers, corners, counts = array("d"), array("q"), array("q")
    curved = False
    for number, line in _lines(data):
        word, _, rest = line.partition(b" ")
        if word == b"v":
            numbers.extend(_vertex(rest.split(), number))
        elif word == b"f":
            face = _face(rest.split(), len(numbers) // 3, number)
            corners.extend(face)
            counts.append(len(face))
        curved = curved or word in CURVED
    if not counts:
        raise MeshFileError("it holds curved surfaces, but no faces" if curved else "it holds no faces")
    refuse_too_many(len(corners) - 2 * len(counts))
    points = np.array(numbers).reshape(-1, 3)
    triangles = cut_faces(points, np.array(corners, dtype=np.int64), np.array(counts, dtype=np.int64))
    return MeshFile(mesh=checked_mesh(points, triangles), up="z")


def _lines(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield number and content of every line, tabs made spaces, lines broken by a backslash made whole."""
    held, at, number = b"", 0, 0
    while at < len(data):
        end = data.find(b"\n", at)
        end = len(data) if end < 0 else end
        line = data[at:end].replace(b"\t", b" ").strip()
        number, at = number + 1, end + 1
        if line.endswith(b"\\"):
            held += line[:-1] + b" "
            continue
        yield number, held + line
        held = b""


def _vertex(words: list[bytes], line: int) -> list[float]:
    try:
        point = [float(word) for word in words[:3]]
    except ValueError:
        point = []
    if len(point) != 3:
        raise MeshFileError(f"line {line}: a vertex needs three numbers")
    if not all(abs(value) <= FARTHEST for value in point):
        raise MeshFileError(f"line {line}: a vertex that is no number, or farther out than {FARTHEST:g}")
    return point


def _face(words: list[bytes], vertices: int, line: int) -> list[int]:
    if len(words) < 3:
        raise MeshFileError(f"line {line}: a face of {len(words)} corners; it needs three or more")
    try:
        given = [int(word.partition(b"/")[0]) for word in words]
    except ValueError:
        raise MeshFileError(f"line {line}: a corner of a face is a number, or numbers with slashes") from None
    face = [index - 1 if index > 0 else vertices + index for index in given]
    if 0 in given or min(face) < 0 or max(face) >= vertices:
        raise MeshFileError(f"line {line}: a face names a vertex that is not there; {vertices:,} came before it")
    return face
