"""Is there a stock scale in which every figure looks as tall as it should?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.room.figuring import Standing, stand, stock_depths
from pipeline.units import part_id

ID = "figure-scale"
MOST_OFF = 5.0
"""Per cent of the stature; of a grown person that is 9 cm, within which people differ anyway."""

LEAST = 3.0
"""mm; nobody models or paints a smaller one, and who asks for it means the height of the model itself."""


def run(evidence: Evidence) -> list[Finding]:
    """Return for each figure by how much one of the nearest stock scale reads too tall or too small."""
    room = evidence.room
    depths = stock_depths(room.hall, room.relief, MOST_OFF / 100)
    where = " or ".join(f"{near:.2f} to {far:.2f} m (1:{stock})" for stock, (near, far) in sorted(depths.items()))
    move = f"move it to y = {where}" if depths else "change space.scale: in this hall no stock scale ever fits"
    return [_finding(stand(figure, room.hall, room.relief), move) for figure in evidence.scene.figures]


def _finding(figure: Standing, move: str) -> Finding:
    off = 100 * figure.off
    good, small = abs(off) <= MOST_OFF or bool(figure.printed), figure.height < LEAST
    said = (
        f"stands at 1:{figure.scale:.1f}, {figure.height:.1f} mm tall; a stock figure of 1:{figure.nearest} reads as "
        f"{figure.reads_as(figure.nearest):.2f} m tall instead of {figure.stature:.2f} m"
    )
    if figure.printed:
        said = f"is printed at 1:{figure.scale:.1f}, {figure.height:.1f} mm tall"
    remedy = f"model it {figure.height:.1f} mm tall, or {move}"
    if small:
        said = f"would be {figure.height:.2g} mm tall"
        remedy = (
            f"give the height of the person in the imagined room, not of the model: {figure.stature:g} m stand at "
            f"1:{figure.scale:.1f}"
        )
    return Finding(
        id=ID,
        part=part_id(figure.name),
        status="pass" if good and not small else "warn",
        value=abs(off),
        limit=MOST_OFF,
        unit="%",
        message=said if good and not small else f"{said}; {remedy}",
    )


CHECK = Check(
    id=ID,
    title="Is there a stock scale in which every figure looks as tall as it should?",
    rationale="People are the ruler a viewer measures the room by: a giant at the back makes the hall a cupboard.",
    run=run,
)
