"""Light of real LEDs through the written files: drawings, meshes and manifest, followed by Embree itself.

Nothing here knows of the package: panels are the outlines and holes of their DXF, without thickness, as ezdxf reads
them, prints are their STL as trimesh reads it, both placed by the manifest, and rays run from points all over every
panel to the LED that the manifest places.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cache
from typing import Any

import ezdxf
import ezdxf.path
import numpy as np
import pytest
import shapely
import trimesh
from numpy.typing import NDArray

from pipeline.build import Build, build_scene

from .lamps import POST, ROOM, WINDOW, beam, lamp

rtcore_scene = pytest.importorskip("embreex.rtcore_scene", reason="no wheel of embreex for this machine")
mesh_construction = pytest.importorskip("embreex.mesh_construction", reason="no wheel of embreex for this machine")

Array = NDArray[np.float64]

WITHIN = 0.1
"""mm on the visible faces, as asked."""
RAYS = 12000
SPREAD = 0.3
"""mm that sheets are drawn out over their outlines, so that no ray slips between two that meet."""
LUNETTE = """
[[openings]]
name = "lunette"
wall = "back"
at = 3.0
width = 1.6
sill = 2.0
height = 2.2
head = "round"
"""
THINGS = WINDOW + LUNETTE + POST + "\n[make]\nfit = 0.0\n"
LIGHTS = (
    lamp(7.0, 6.5, 5.0, "street lamp")
    + lamp(-1.5, 16.0, 3.0, "yard lamp")
    + lamp(-1.0, 3.0, 3.0, "candle")
    + beam(-0.6, -0.5, -0.4, "moon")
    + beam(-0.8, 0.25, -0.5, "sun")
)
FALLS = {"street lamp": {"floor"}, "yard lamp": {"floor"}, "moon": {"floor"}, "sun": {"floor"}}
"""Where patches are looked for, by eye."""


@cache
def built() -> Build:
    return build_scene((ROOM + THINGS + LIGHTS).encode(), "lit")


@dataclass(frozen=True)
class Sheet:
    """A panel as drawn: its visible face and what is on PLACE, flat, and where it stands."""

    face: shapely.Geometry
    spread: shapely.Geometry
    places: tuple[shapely.LineString, ...]
    built_from_flat: Array


def _rings(document: Any, layer: str) -> list[Array]:
    found = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [np.array([(p.x, p.y) for p in ezdxf.path.make_path(one).flattening(0.002)]) for one in found]


@cache
def sheets() -> dict[str, Sheet]:
    out = {}
    for part in built().manifest["parts"]:
        if part["made_as"] == "panel":
            document = ezdxf.read(io.StringIO(built().files[part["files"]["dxf"]].decode()))
            (outline,) = _rings(document, "OUTLINE")
            holes = shapely.union_all([shapely.Polygon(ring) for ring in _rings(document, "HOLES")])
            out[part["id"]] = Sheet(
                face=shapely.Polygon(outline).difference(holes),
                spread=shapely.Polygon(outline).buffer(SPREAD, join_style="mitre").difference(holes),
                places=tuple(shapely.LineString(ring) for ring in _rings(document, "PLACE")),
                built_from_flat=np.array(part["built_from_flat"]),
            )
    return out


@cache
def scene() -> Any:
    """Return what stops light: all sheets, all prints, and a curtain before the hall, through which none shines."""
    soup = []
    for sheet in sheets().values():
        pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(sheet.spread))
        flat = np.array([np.array(one.exterior.coords)[:3] for one in pieces])
        soup.append(_placed(flat.reshape(-1, 2), sheet.built_from_flat).reshape(-1, 3, 3))
    for part in built().manifest["parts"]:
        if part["made_as"] == "print":
            mesh = trimesh.load_mesh(io.BytesIO(built().files[part["files"]["stl"]]), file_type="stl")
            corners = np.column_stack([mesh.triangles.reshape(-1, 3), np.ones(3 * len(mesh.triangles))])
            soup.append((corners @ np.array(part["built_from_bed"]).T)[:, :3].reshape(-1, 3, 3))
    soup.append(np.array([[[-500, 0, -500], [500, 0, -500], [0, 0, 900]]], dtype=float))
    out = rtcore_scene.EmbreeScene()
    mesh_construction.TriangleMesh(out, np.concatenate(soup).astype(np.float32))
    return out


def _placed(flat: Array, matrix: Array, lift: float = 0.0) -> Array:
    rows = np.column_stack([flat, np.full(len(flat), lift), np.ones(len(flat))])
    out: Array = (rows @ matrix.T)[:, :3]
    return out


def _shapes(light: dict[str, Any], kind: str, part: str) -> list[shapely.Polygon]:
    return [shapely.Polygon(one["outline"], one.get("holes", [])) for one in light[kind] if one["part"] == part]


def _over(shapes: list[shapely.Polygon], points: Array) -> NDArray[np.bool_]:
    out = np.zeros(len(points), dtype=bool)
    for shape in shapes:
        out |= shapely.contains_xy(shape, points[:, 0], points[:, 1])
    return out


@pytest.mark.parametrize("number", range(5))
def test_light_through_the_written_window_lands_on_the_written_marks(number: int) -> None:
    """To a tenth of a millimetre, on every panel: patches from outside, and the post's shadows of the candle inside."""
    light = built().manifest["lights"][number]
    rng = np.random.default_rng(number)
    inside = light["name"] == "candle"
    assert {one["part"] for one in light["patches"]} >= FALLS.get(light["name"], set())
    for part, sheet in sheets().items():
        x0, y0, x1, y1 = sheet.face.bounds
        points = rng.uniform((x0, y0), (x1, y1), (RAYS, 2))
        points = points[shapely.contains_xy(sheet.face.buffer(-0.3), points[:, 0], points[:, 1])]
        start = _placed(points, sheet.built_from_flat, 2e-3)
        toward = np.array(light["place"]) - start
        if light["rays"] == "converging":
            toward, far = -toward, np.full(len(start), np.inf)
        else:
            far = np.linalg.norm(toward, axis=1)
        toward /= np.linalg.norm(toward, axis=1)[:, None]
        hit = scene().run(start.astype(np.float32), toward.astype(np.float32), query="INTERSECT", output=1)
        lit = ((hit["primID"] < 0) | (hit["tfar"] > far)) & (toward @ sheet.built_from_flat[:3, 2] > 0)
        patches, shadows = _shapes(light, "patches", part), _shapes(light, "shadows", part)
        said = ~_over(shadows, points) if inside else _over(patches, points)
        lines = [shape.boundary for shape in (*patches, *shadows)]
        border = np.min([shapely.distance(line, shapely.points(points)) for line in lines], axis=0) if lines else np.inf
        assert not ((lit != said) & (border > WITHIN)).any(), part
        assert lit.any() == bool(patches or inside), part


def test_every_written_patch_is_drawn_on_place() -> None:
    """Its corners, of the manifest, lie on lines of that layer: arcs of the DXF stray by its curve tolerance."""
    count = 0
    for light in built().manifest["lights"]:
        for one in light["patches"]:
            places = shapely.union_all(sheets()[one["part"]].places)
            off = shapely.distance(places, shapely.points(one["outline"]))
            assert off.max() < 0.03
            count += len(off)
    assert count > 50
