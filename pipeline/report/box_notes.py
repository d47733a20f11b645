"""What the page says of a box that was measured."""

from __future__ import annotations

from itertools import groupby

from pipeline.checks.evidence import Evidence
from pipeline.report.model import Note
from pipeline.room.surveying import adjustments
from pipeline.scene.measured import Border
from pipeline.sheets.gaps import WHERE, Gap, box_gaps


def box_notes(evidence: Evidence) -> tuple[Note, ...]:
    """Return how well the measures agree, how far the box is from square, and the gaps left in it."""
    measured = evidence.scene.box.measured
    if measured is None:
        return ()
    over = adjustments(evidence.scene.box)
    notes = [Note(subject="box", text=_agreement(name, getattr(measured, name), over[name])) for name in over]
    gaps = box_gaps(evidence.panels, evidence.room.inside)
    notes += [Note(subject="box", text=_gaps(at, tuple(some))) for at, some in groupby(gaps, lambda gap: gap.at)]
    return tuple(notes)


def _agreement(name: str, border: Border, over: dict[str, float]) -> str:
    if border.rising is None or border.falling is None:
        return f"The {name} is known by one diagonal alone, so nothing shows a slip: measure the other too."
    worst = max(over, key=lambda key: abs(over[key]))
    lean = border.rising - border.falling
    return (
        f"The {name}'s diagonals differ by {abs(lean):.1f} mm; its six measures agree, {abs(over[worst]):.2f} mm off"
        f" the adjusted ones at most (the {worst})."
    )


def _gaps(at: str, gaps: tuple[Gap, ...]) -> str:
    """Return one sentence of all gaps at the opening or at the back, side by side."""
    sides: dict[str, list[Gap]] = {}
    for gap in gaps:
        sides.setdefault(gap.side, []).append(gap)
    parts = [f"{side} " + ", ".join(f"{gap.size:.1f} mm {gap.corner}" for gap in some) for side, some in sides.items()]
    return f"From the {gaps[0].part} to the box, {WHERE[at]}: {'; '.join(parts)}."
