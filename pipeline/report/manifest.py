"""The manifest: everything the other files mean, for programs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

import numpy as np

from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.geometry.curves import bounds
from pipeline.geometry.regions import path_of
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Addition, JointEdge, Panel, Print
from pipeline.parts.nets import Net
from pipeline.parts.order import Vector
from pipeline.relief.collineation import Relief
from pipeline.report.rounded import rounded, rounded_all, rounded_matrix, rounded_rows
from pipeline.room.surveying import adjustments
from pipeline.sheets.gaps import box_gaps
from pipeline.sheets.stock import Filled

FORMAT = 1


def panel_entry(panel: Panel, order: int, held_off: Vector | None) -> dict[str, Any]:
    """Return a panel's entry in the list of parts."""
    low, high = bounds(path_of(panel.cut.outline) + path_of(panel.hidden.outline))
    entry: dict[str, Any] = {
        "id": panel.id,
        "made_as": "panel",
        "material": panel.face.sheet.material,
        "thickness": panel.thickness,
        "finish": panel.finish,
        "files": {"dxf": f"panels/{panel.id}.dxf", "svg": f"panels/{panel.id}.svg"},
        "built_from_flat": rounded_matrix(panel.leaves[-1].built_from_flat),
        "size": [rounded(high[0] - low[0]), rounded(high[1] - low[1])],
        "area": rounded(panel.area),
        "edges": [_edge(edge) for edge in panel.edges],
        "guides": len(panel.guides),
        "order": order,
        "held_off": _held_off(held_off),
    }
    if panel.additions:
        entry["additions"] = [_addition(one) for one in panel.additions]
    if len(panel.leaves) == 2:
        near, far = panel.leaves
        entry["fold"] = {
            "line": rounded_rows(panel.folds[0]),
            "near_from_flat": rounded_matrix(near.built_from_flat),
            "angle_deg": rounded(180 - _between_deg(near.built_from_flat[:3, 2], far.built_from_flat[:3, 2])),
        }
    return entry


def _addition(one: Addition) -> dict[str, Any]:
    """Return what a panel has beside its visible outline: round it, its fold, its slot, flat mm."""
    out: dict[str, Any] = {"kind": one.kind, "against": one.against, "outline": rounded_rows(one.chain)}
    if one.fold is not None:
        out |= {"fold": rounded_rows(one.fold), "fold_deg": rounded(one.fold_deg)}
    if one.slot is not None:
        out["slot"] = rounded_rows(one.slot)
    if one.kind == "tab":
        out["ease"] = rounded(one.ease)
    return out


def net_entries(nets: tuple[Net, ...]) -> list[dict[str, Any]]:
    """Return what each net holds, where its panels lie on it, and how it is folded."""
    return [
        {
            "id": net.id,
            "material": net.material,
            "files": {"dxf": f"panels/{net.id}.dxf", "svg": f"panels/{net.id}.svg"},
            "parts": [
                {"id": panel.id, "net_from_flat": rounded_matrix(_in_space(net.net_from_flat[panel.id]))}
                for panel in net.panels
            ],
            "folds": [
                {"line": rounded_rows(crease.ends), "fold_deg": rounded(crease.angle_deg), "parts": list(crease.parts)}
                for crease in net.creases
            ],
        }
        for net in nets
    ]


def bent_entry(panel: BentPanel, order: int, held_off: Vector | None) -> dict[str, Any]:
    """Return a bent panel's entry in the list of parts.

    Each ruling is given flat and built (on the visible face); ``fold`` is its place in the order of bending.
    """
    low, high = bounds(path_of(panel.cut.outline))
    return {
        "id": panel.id,
        "made_as": "bent panel",
        "material": panel.material,
        "thickness": panel.thickness,
        "files": {"dxf": f"panels/{panel.id}.dxf", "svg": f"panels/{panel.id}.svg"},
        "size": [rounded(high[0] - low[0]), rounded(high[1] - low[1])],
        "area": rounded(panel.area),
        "edges": [_edge(edge) for edge in panel.edges],
        "guides": len(panel.guides),
        "smallest_radius": rounded(panel.radius),
        "rulings": [
            {
                "flat": rounded_rows(ruling.flat),
                "built": rounded_rows(ruling.built),
                "fold": ruling.fold,
            }
            for ruling in panel.rulings
        ],
        "order": order,
        "held_off": _held_off(held_off),
    }


def _edge(edge: JointEdge) -> dict[str, Any]:
    return {
        "start": rounded_all(edge.start),
        "end": rounded_all(edge.end),
        "length": rounded(edge.length),
        "against": edge.against or None,
        "angle_deg": None if edge.angle_deg is None else rounded_all(edge.angle_deg),
        "bevel_deg": rounded_all(edge.bevel_deg),
        "gap": rounded_all(edge.gap),
        "back": rounded(edge.back),
    }


def print_entry(part: Print, order: int, held_off: Vector | None) -> dict[str, Any]:
    """Return a print's entry in the list of parts."""
    bed = part.body.vertices @ part.built_from_bed[:3, :3]
    size = bed.max(axis=0) - bed.min(axis=0)
    return {
        "id": part.id,
        "made_as": "print",
        "material": None,
        "thickness": None,
        "files": {"stl": f"prints/{part.id}.stl", "3mf": "prints.3mf", "walls": f"pictures/walls/{part.id}.png"},
        "built_from_bed": rounded_matrix(part.built_from_bed),
        "size": rounded_all(size),
        "volume": rounded(part.volume),
        "hollow": part.hollow,
        "drains": rounded_all(part.drains),
        "piece_of": part.solid.id if part.piece else None,
        "pegs": rounded_all(part.pegs),
        "min_wall": part.min_wall,
        "edges": [],
        "order": order,
        "held_off": _held_off(held_off),
    }


def _held_off(off: Vector | None) -> list[float] | None:
    """Return where a part is held off its place while it is pushed straight in, built mm; nothing: it has no way in."""
    return None if off is None else rounded_all(off)


def relief_entry(relief: Relief) -> dict[str, Any]:
    """Return the relief's figures."""
    vanishing = relief.vanishing_depth
    return {
        "eye": rounded_all(relief.eye),
        "apron": rounded(relief.apron),
        "eye_distance": rounded(-relief.eye[1]),
        "apparent_depth": rounded(relief.apparent_depth),
        "built_depth": rounded(relief.built_depth),
        "back_scale": round(relief.back_scale, 12),
        "vanishing_depth": None if vanishing is None else rounded(vanishing),
    }


def box_entry(evidence: Evidence) -> dict[str, Any] | None:
    """Return a measured box: its corners, what every measure is over the adjusted one, and the gaps left in it."""
    inside = evidence.room.inside
    if not inside.measured:
        return None
    return {
        "opening": rounded_rows(inside.opening),
        "back": rounded_rows(inside.back),
        "over": {
            name: {key: rounded(over) for key, over in measures.items()}
            for name, measures in adjustments(evidence.scene.box).items()
        },
        "gaps": [
            {"at": gap.at, "part": gap.part, "corner": gap.corner, "side": gap.side, "size": rounded(gap.size)}
            for gap in box_gaps(evidence.panels, inside)
        ],
    }


def sheet_entries(sheets: tuple[Filled, ...]) -> list[dict[str, Any]]:
    """Return what lies where on the stock."""
    return [
        {
            "file": f"{sheet.file}.dxf",
            "material": sheet.stock.name,
            "size": rounded_all(sheet.size),
            "kerf": rounded(sheet.stock.kerf),
            "area_used": round(sheet.used, 2),
            "density": round(sheet.density, 4),
            "parts": [
                {"id": name, "sheet_from_flat": rounded_matrix(_in_space(matrix))} for name, matrix in sheet.placed
            ],
        }
        for sheet in sheets
    ]


def _in_space(matrix: np.ndarray[Any, np.dtype[np.float64]]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return a rigid plane matrix ``(3, 3)`` as one of space ``(4, 4)``."""
    out = np.eye(4)
    out[:2, :2], out[:2, 3] = matrix[:2, :2], matrix[:2, 2]
    return out


def joint_entries(panels: tuple[Panel | BentPanel, ...]) -> list[dict[str, Any]]:
    """Return one entry for each pair of panels that meet, which of them runs through, and what is open out of sight."""
    seen: dict[tuple[str, str], dict[str, Any]] = {}
    for panel in panels:
        for edge in panel.edges:
            if edge.angle_deg is None:
                continue
            key = (min(panel.id, edge.against), max(panel.id, edge.against))
            new = {
                "parts": list(key),
                "through": edge.through or None,
                "angle_deg": None,
                "gap": 0.0,
                "wedge_deg": None,
            }
            entry = seen.setdefault(key, new)
            entry["angle_deg"] = _spanning(entry["angle_deg"], edge.angle_deg)
            entry["gap"] = max(entry["gap"], rounded(edge.gap[1]))
            if edge.wedge_deg is not None:
                entry["wedge_deg"] = _spanning(entry["wedge_deg"], edge.wedge_deg)
    return [seen[key] for key in sorted(seen)]


def _spanning(known: list[float] | None, more: tuple[float, float]) -> list[float]:
    """Return the range that spans one known so far and another."""
    low, high = rounded(more[0]), rounded(more[1])
    return [low, high] if known is None else [min(known[0], low), max(known[1], high)]


def manifest(
    *,
    title: str,
    scene_bytes: bytes,
    read: Mapping[str, bytes],
    relief: Relief,
    box: dict[str, Any] | None = None,
    parts: list[dict[str, Any]],
    joints: list[dict[str, Any]],
    findings: list[Finding],
    sheets: list[dict[str, Any]],
    nets: list[dict[str, Any]] | None = None,
    files: dict[str, bytes],
    unseen: tuple[str, ...] = (),
    forgives: dict[str, Any] | None = None,
    figures: list[dict[str, Any]] | None = None,
    lights: list[dict[str, Any]] | None = None,
    stencils: list[dict[str, Any]] | None = None,
    camera: dict[str, Any] | None = None,
    air: dict[str, Any] | None = None,
    casework: dict[str, Any] | None = None,
    takes: dict[str, Any] | None = None,
    wiring: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Return the whole manifest, format 1."""
    return {
        "title": title,
        "format": FORMAT,
        "units": "mm",
        "scene_sha256": hashlib.sha256(scene_bytes).hexdigest(),
        "read": {name: hashlib.sha256(data).hexdigest() for name, data in sorted(read.items())},
        "relief": relief_entry(relief),
        **({} if box is None else {"box": box}),
        "built_from_imagined": rounded_matrix(relief.built_from_imagined),
        "parts": parts,
        "sheets": sheets,
        **({"nets": nets} if nets else {}),
        "joints": joints,
        "unseen": list(unseen),
        "forgives": forgives,
        "figures": figures or [],
        "lights": lights or [],
        **({"stencils": stencils} if stencils else {}),
        **({"camera": camera} if camera else {}),
        **({"air": air} if air else {}),
        **({"casework": casework} if casework else {}),
        **(takes or {}),
        **({"wiring": wiring} if wiring else {}),
        "checks": [
            {
                "id": f.id,
                "part": f.part or None,
                "status": f.status,
                "value": None if f.value is None else rounded(f.value),
                "limit": None if f.limit is None else rounded(f.limit),
                "unit": f.unit,
                "message": f.message,
            }
            for f in findings
        ],
        "files": {path: hashlib.sha256(data).hexdigest() for path, data in sorted(files.items())},
    }


def encode(content: dict[str, Any]) -> bytes:
    """Return the manifest as bytes, a line for each part, check and file; refuses NaN."""
    lines = (f"{_json(key)}: {_in_lines(value)}" for key, value in content.items())
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def _in_lines(value: Any) -> str:
    """Return a list or a table with a line for each entry; the encoder's own indenting takes ten times as long."""
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return "[\n " + ",\n ".join(map(_json, value)) + "\n]"
    if isinstance(value, dict) and value:
        return "{\n " + ",\n ".join(f"{_json(key)}: {_json(item)}" for key, item in value.items()) + "\n}"
    return _json(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=True, allow_nan=False)


def _between_deg(a: np.ndarray[Any, np.dtype[np.float64]], b: np.ndarray[Any, np.dtype[np.float64]]) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))
