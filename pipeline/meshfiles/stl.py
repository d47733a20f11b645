"""STL, text and binary.

3D Systems, *StereoLithography Interface Specification* (1989). Normals are not looked at: the order of the corners
says the same, and many programs write nonsense or nothing in their place.
"""

from __future__ import annotations

from array import array

import numpy as np

from pipeline.meshfiles.kinds import STL_HEADER, STL_RECORD, TEXT_STL, is_binary_stl
from pipeline.meshfiles.model import MeshFile, MeshFileError, checked_mesh, refuse_too_many

RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def read_stl(data: bytes) -> MeshFile:
    """Return the facets of an STL file.

    Raises
    ------
    MeshFileError
        If it is cut off, or is neither form.
    """
    # The length decides, as many binary files begin with "solid", the mark of the text form.
    if is_binary_stl(data):
        return _binary(data)
    if TEXT_STL.match(data[:4096]):
        return _text(data)
    if len(data) < STL_HEADER:
        raise MeshFileError(f"it has {len(data)} bytes, too few for a binary STL, and is no text STL")
    said, held = int.from_bytes(data[80:84], "little"), (len(data) - STL_HEADER) / STL_RECORD
    raise MeshFileError(
        f"its header counts {said:,} facets, the file holds {held:.12g}: it is cut off, or its header is wrong"
    )


def _binary(data: bytes) -> MeshFile:
    refuse_too_many((len(data) - STL_HEADER) // STL_RECORD)
    corners = np.frombuffer(data, dtype=RECORD, offset=STL_HEADER)["corners"].astype(np.float64)
    count = len(corners)
    return MeshFile(mesh=checked_mesh(corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3)), up="z")


def _text(data: bytes) -> MeshFile:
    """Read facet by facet, so that memory follows the file and a fault can be named."""
    numbers, facet, at = array("d"), 0, 0
    low = data.lower()
    refuse_too_many(low.count(b"endfacet"))
    while (end := low.find(b"endfacet", at)) >= 0:
        facet += 1
        numbers.extend(_corners(low[at:end], facet))
        at = end + len(b"endfacet")
    rest = low[at:].split()
    if rest[:1] == [b"facet"]:
        raise MeshFileError(f"it ends in the middle of facet {facet + 1}: it is cut off")
    notes = () if b"endsolid" in rest else ("its last line, endsolid, is missing; all its facets are whole",)
    points = np.array(numbers).reshape(-1, 3)
    triangles = np.arange(len(points)).reshape(-1, 3)
    return MeshFile(mesh=checked_mesh(points, triangles), up="z", notes=notes)


def _corners(text: bytes, facet: int) -> list[float]:
    _, loop, inside = text.partition(b"loop")
    words = inside.partition(b"endloop")[0].split()
    corners = words.count(b"vertex")
    if not loop or b"endloop" not in inside or words[::4] != [b"vertex"] * corners or len(words) != 4 * corners:
        raise MeshFileError(f"facet {facet} is not written as an STL facet: outer loop, three vertices, endloop")
    if corners != 3:
        raise MeshFileError(f"facet {facet} has {corners} corners; a facet of an STL file has 3")
    try:
        return [float(words[n]) for n in (1, 2, 3, 5, 6, 7, 9, 10, 11)]
    except ValueError:
        raise MeshFileError(f"facet {facet} has a corner that is no number") from None
