"""Panels larger than their stock, and where to part them."""

from __future__ import annotations

from dataclasses import replace

from pipeline.exports.cut_sheets import stock_of
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel
from pipeline.scene.model import Scene
from pipeline.sheets.parting import Parting, part
from pipeline.sheets.stock import Piece, footprint, too_large


def offer(panel: Panel | BentPanel, scene: Scene, kept: Kept = NOTHING_KEPT) -> Parting | None:
    """Return where to part a panel, or nothing where it fits a sheet."""
    stock = stock_of(panel.material, scene.materials[panel.material])
    shape = kept.of(footprint, Piece(id=panel.id, cut=panel.cut, hidden=panel.hidden))
    return part(shape, panel.guides, stock) if too_large(stock, shape) else None


def mark_partings(scene: Scene, panels: tuple[Panel, ...], kept: Kept) -> tuple[Panel, ...]:
    """Return the panels, those that fit no sheet with the lines to part them."""
    found = [(panel, offer(panel, scene, kept)) for panel in panels]
    return tuple(panel if parting is None else replace(panel, partings=parting.lines) for panel, parting in found)
