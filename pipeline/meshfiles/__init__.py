"""Mesh files read as bytes: one file for each format, named in one table."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pipeline.meshfiles.glb import read_glb
from pipeline.meshfiles.kinds import ending_of, kind_of
from pipeline.meshfiles.model import MOST_BYTES, MOST_TRIANGLES, MeshFile, MeshFileError
from pipeline.meshfiles.obj import read_obj
from pipeline.meshfiles.ply import read_ply
from pipeline.meshfiles.stl import read_stl

__all__ = ["MOST_BYTES", "MOST_TRIANGLES", "READERS", "MeshFile", "MeshFileError", "ending_of", "read_mesh_file"]

READERS: dict[str, Callable[[bytes], MeshFile]] = {"stl": read_stl, "obj": read_obj, "ply": read_ply, "glb": read_glb}
"""Ending of the file name, and its reader."""


def read_mesh_file(name: str, data: bytes) -> MeshFile:
    """Return the triangles of a file.

    Parameters
    ----------
    name
        File name or path; its ending says the format.
    data
        The file.

    Raises
    ------
    MeshFileError
        If it is no mesh, not what its ending says, broken or too large.
    """
    ending = ending_of(name)
    if ending not in READERS:
        raise MeshFileError(f"the ending .{ending} is none that is read: {', '.join(f'.{e}' for e in READERS)}")
    if not data:
        raise MeshFileError("the file is empty")
    if len(data) > MOST_BYTES:
        raise MeshFileError(f"the file has more than {MOST_BYTES:,} bytes; let a mesh editor decimate it")
    kind = kind_of(data)
    if kind and kind != ending.upper():
        raise MeshFileError(f"its ending says {ending.upper()}, its content is {kind}")
    # What is no number is looked for afterwards, to say where it stands.
    with np.errstate(invalid="ignore", over="ignore"):
        return READERS[ending](data)
