"""The list of parts as one buys, cuts and prints them: by what they are made of, those that are alike in one line."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

import numpy as np

from pipeline.checks.evidence import Evidence
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.regions import Region, path_of
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel
from pipeline.report.model import CutGroup, CutLine, PartRow
from pipeline.scene.materials import Material

HAIR = 0.02
"""mm to which two parts agree that are one and the same on the bench."""
FINE = 0.05
"""mm; how finely outlines are followed to be held against each other."""
WAYS = {"hand": "cut by hand from the paper templates", "knife": "cut by a drag knife", "laser": "cut by a laser"}


def cut_groups(parts: tuple[PartRow, ...], materials: dict[str, Material]) -> tuple[CutGroup, ...]:
    """Return the parts by what they are made of, sheets before prints, in the order of work within.

    Parameters
    ----------
    parts
        In the order of work.
    materials
        Of the scene, by name.
    """
    by_stock: dict[str, list[PartRow]] = {}
    for part in sorted(parts, key=lambda part: part.made_as == "print"):
        by_stock.setdefault(part.material, []).append(part)
    return tuple(
        CutGroup(
            material=material,
            work=_work(materials[some[0].stock]) if some[0].stock else "",
            lines=_lines(some),
            count=len(some),
            printed=some[0].made_as == "print",
        )
        for material, some in by_stock.items()
    )


def _lines(parts: list[PartRow]) -> tuple[CutLine, ...]:
    alike: dict[str, list[PartRow]] = {}
    for part in parts:
        alike.setdefault(part.alike or part.id, []).append(part)
    return tuple(
        CutLine(
            first=some[0],
            parts=tuple(part.id for part in some),
            orders=_runs([part.order for part in some]),
            cut_from=_places(some),
            notes=tuple(dict.fromkeys(note for part in some for note in part.notes)),
        )
        for some in alike.values()
    )


def _runs(numbers: Iterable[int]) -> str:
    """Return numbers as one writes them: 3-5, 9."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}\N{EN DASH}{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def _places(parts: list[PartRow]) -> str:
    """Return sheet and numbers on it, as the sheets' drawings have them."""
    on: dict[str, list[int]] = {}
    for part in parts:
        for sheet, number in part.lies:
            on.setdefault(sheet, []).append(number)
    return "; ".join(f"{sheet}, no. {_runs(numbers)}" for sheet, numbers in on.items())


def _work(material: Material) -> str:
    width, height = material.sheet
    kerf = f", kerf {material.kerf:g} mm" if material.kerf else ""
    grain = ", grain along its width" if material.grain else ""
    return f"{WAYS[material.process]}{kerf}; from {width:g} \N{MULTIPLICATION SIGN} {height:g} mm{grain}"


def lying(evidence: Evidence) -> dict[str, tuple[tuple[str, int], ...]]:
    """Return for each part of sheet, by id, the sheets it lies on and its number there; a net's panels lie with it."""
    inside = {net.id: tuple(panel.id for panel in net.panels) for net in evidence.nets}
    lies: dict[str, list[tuple[str, int]]] = {}
    for sheet in evidence.sheets:
        for number, (piece, _) in enumerate(sheet.placed, start=1):
            for name in inside.get(piece, (piece,)):
                lies.setdefault(name, []).append((f"{sheet.stock.name} {sheet.number}", number))
    return {name: tuple(some) for name, some in lies.items()}


def likeness(panel: Panel | BentPanel) -> str:
    """Return what panels have in common that are one and the same on the bench: material, both faces, and guides."""
    corner = flatten_path(path_of(panel.cut.outline), FINE).min(axis=0)
    regions: list[Region] = [panel.cut, *([panel.hidden] if isinstance(panel, Panel) else [])]
    points = [flatten_path(path_of(loop), FINE) for region in regions for loop in region.loops]
    points.append(panel.guides.reshape(-1, 2))
    told = [panel.material, f"{panel.thickness:g}", *(str(len(some)) for some in points)]
    digest = hashlib.sha256(" ".join(told).encode())
    for some in points:
        digest.update(np.rint((some - corner) / HAIR).astype("<i4").tobytes())
    return digest.hexdigest()
