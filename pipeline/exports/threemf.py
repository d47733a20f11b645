"""All prints in one 3MF file, in millimetres, each lying on its side of the plate (3MF core specification 1.4).

Meshes are those of the STL files, vertex for vertex; only the build item's transform lays them side by side.
"""

from __future__ import annotations

import io
import zipfile
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from pipeline.exports.stl import as_written
from pipeline.geometry.meshes import Mesh

Array = NDArray[np.float64]

APART = 5.0
"""mm between prints on the plate: room for a brim, and for a hand."""
PLACE_DECIMALS = 3
"""Of a print's place on the plate, mm; the meshes themselves are written exactly."""
LEVEL = 6
"""Of zlib."""
DAWN = (1980, 1, 1, 0, 0, 0)
"""The date of every entry, the first a zip can hold: a file is to depend on its content only."""

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
MODEL_TYPE = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
CONTENT_TYPES = (
    XML + '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Default Extension="model" ContentType="{MODEL_TYPE}"/></Types>\n'
)
RELATIONSHIPS = (
    XML + '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="model" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>\n'
)


def write_3mf(prints: dict[str, Mesh], title: str, bed: tuple[float, float]) -> bytes:
    """Return the prints as one 3MF file.

    Parameters
    ----------
    prints
        By part id: closed outward meshes in their bed frames, mm, every coordinate from 0 up.
    title
        Of the scene.
    bed
        Width and depth of the printer's bed, mm. What finds no room on it lies beyond its far edge, for the slicer to
        move to another plate.

    Raises
    ------
    ValueError
        If a vertex is not finite in single precision.
    """
    meshes = {name: as_written(mesh) for name, mesh in prints.items()}
    sizes = np.array([mesh.vertices.max(axis=0)[:2] for mesh in meshes.values()]).reshape(-1, 2)
    places = side_by_side(sizes, bed[0])
    objects = [_object(number, name, mesh) for number, (name, mesh) in enumerate(meshes.items(), start=1)]
    items = [_item(number, place) for number, place in enumerate(places, start=1)]
    model = (
        f'{XML}<model unit="millimeter" xml:lang="en" xmlns="{CORE}">\n'
        f'<metadata name="Title">{escape(title)}</metadata>\n'
        f"<resources>\n{''.join(objects)}</resources>\n<build>\n{''.join(items)}</build>\n</model>\n"
    )
    return _packed(
        {"[Content_Types].xml": CONTENT_TYPES, "_rels/.rels": RELATIONSHIPS, "3D/3dmodel.model": model}
    )


def side_by_side(sizes: Array, width: float) -> Array:
    """Return the lower left corners ``(n, 2)``, mm, of rectangles ``(n, 2)`` set in rows no wider than ``width``.

    The deepest come first, so that the rows are shallow; a rectangle wider than that has a row of its own.
    """
    corners = np.zeros((len(sizes), 2))
    x, y, row = 0.0, 0.0, 0.0
    for k in np.lexsort((np.arange(len(sizes)), -np.round(sizes[:, 1], PLACE_DECIMALS))):
        if x > 0 and x + sizes[k, 0] > width:
            x, y, row = 0.0, y + row + APART, 0.0
        corners[k] = x, y
        x, row = x + float(sizes[k, 0]) + APART, max(row, float(sizes[k, 1]))
    return corners


def _object(number: int, name: str, mesh: Mesh) -> str:
    # Nine digits name every single-precision number.
    vertices = '<vertex x="%.9g" y="%.9g" z="%.9g"/>\n' * len(mesh.vertices) % tuple(mesh.vertices.ravel().tolist())
    triangles = '<triangle v1="%d" v2="%d" v3="%d"/>\n' * len(mesh.triangles) % tuple(mesh.triangles.ravel().tolist())
    called = quoteattr(name)
    return (
        f'<object id="{number}" type="model" name={called} partnumber={called}>\n<mesh>\n'
        f"<vertices>\n{vertices}</vertices>\n<triangles>\n{triangles}</triangles>\n</mesh>\n</object>\n"
    )


def _item(number: int, place: Array) -> str:
    x, y = (f"{value:.{PLACE_DECIMALS}f}" for value in np.round(place, PLACE_DECIMALS) + 0.0)
    return f'<item objectid="{number}" transform="1 0 0 0 1 0 0 0 1 {x} {y} 0"/>\n'


def _packed(texts: dict[str, str]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=LEVEL) as package:
        for path, text in texts.items():
            entry = zipfile.ZipInfo(path, DAWN)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 0  # else it tells the machine the file was made on
            package.writestr(entry, text.encode(), compresslevel=LEVEL)
    return buffer.getvalue()
