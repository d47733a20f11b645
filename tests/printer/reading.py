"""3MF files through the reader the 3MF Consortium publishes, and prints as other programs see them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadObject:
    """A named mesh of a 3MF file and where its build item puts it."""

    name: str
    number: str
    vertices: Array
    triangles: NDArray[np.int64]
    sound: bool
    place: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadPackage:
    """What lib3mf finds in a 3MF file, read in strict mode."""

    objects: tuple[ReadObject, ...]
    warnings: int
    millimetres: bool
    title: str


def read_strictly(data: bytes) -> ReadPackage:
    """Return the content of a 3MF file; lib3mf raises where strict mode finds fault."""
    lib3mf: Any = pytest.importorskip("lib3mf", reason="lib3mf has no wheel for this machine")
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    items, objects = model.GetBuildItems(), []
    while items.MoveNext():
        item = items.GetCurrent()
        mesh = model.GetMeshObjectByID(item.GetObjectResourceID())
        fields = np.array([list(row) for row in item.GetObjectTransform().Fields])
        assert fields[:3] == pytest.approx(np.eye(3), abs=0)
        objects.append(
            ReadObject(
                name=mesh.GetName(),
                number=mesh.GetPartNumber(),
                vertices=np.array([list(vertex.Coordinates) for vertex in mesh.GetVertices()]),
                triangles=np.array([list(triangle.Indices) for triangle in mesh.GetTriangleIndices()]),
                sound=mesh.IsManifoldAndOriented(),
                place=fields[3],
            )
        )
    return ReadPackage(
        objects=tuple(objects),
        warnings=reader.GetWarningCount(),
        millimetres=model.GetUnit() == lib3mf.ModelUnit.MilliMeter,
        title=model.GetMetaDataGroup().GetMetaDataByKey("", "Title").GetValue(),
    )
