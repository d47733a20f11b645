"""What the page says of flaps, tabs and nets."""

from __future__ import annotations

from pipeline.checks.evidence import Evidence
from pipeline.parts.model import Panel
from pipeline.parts.nets import Net
from pipeline.report.model import Note

EASED = 0.05
"""mm; less needs no file."""


def net_notes(evidence: Evidence) -> tuple[Note, ...]:
    """Return what each net is folded from, and how far each of its folds is turned."""
    return tuple(Note(subject=net.id, text=_folded(net)) for net in evidence.nets)


def _folded(net: Net) -> str:
    folds = ", ".join(
        f"{' and '.join(crease.parts)} {_way(crease.angle_deg)} {abs(crease.angle_deg):.1f}\N{DEGREE SIGN}"
        for crease in net.creases
    )
    inside = ", ".join(panel.id for panel in net.panels)
    return f"panels/{net.id}.dxf holds {inside} in one piece. Score and fold, as seen on the visible face: {folds}."


def _way(angle_deg: float) -> str:
    return "valley" if angle_deg > 0 else "mountain"


def corner_words(panel: Panel) -> list[str]:
    """Return what is to be done with a panel's flaps, tabs and slots."""
    words = []
    flaps = [one for one in panel.additions if one.kind == "flap"]
    if flaps:
        folds = ", ".join(f"behind the {one.against} by {one.fold_deg:.1f}\N{DEGREE SIGN}" for one in flaps)
        words.append(f"Score its flaps and fold them toward the visible side: {folds}.")
    tabs: dict[str, list[float]] = {}
    for one in panel.additions:
        if one.kind == "tab":
            tabs.setdefault(one.against, []).append(one.ease)
    for against, eases in tabs.items():
        eased = f"; pare their visible arris by {eases[0]:.1f} mm at the tip" if eases[0] > EASED else ""
        words.append(f"{len(eases)} tabs go into slots of the {against}{eased}.")
    return words
