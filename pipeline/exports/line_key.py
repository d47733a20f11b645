"""What the kinds of lines on a page of the templates mean, told in its margin."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

SAMPLE, SPACE, ROW = 7.0, 3.0, 3.6
"""mm: of the sample of a line, between two of them, and from row to row."""
SIZE = 2.4
CROSSHAIRS = "+  pages meet"


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of line: how it is drawn (width mm, grey, dashes mm) and what it means; no width for words alone."""

    width: float
    grey: float
    dashes: tuple[float, ...]
    meaning: str


def draw_key(canvas: Canvas, kinds: Iterable[Kind], left: float, right: float, top: float) -> None:
    """Draw a sample of each kind with its meaning, in rows from the top, mm."""
    x, y = left, top
    canvas.setFont("Helvetica", SIZE)
    canvas.setFillGray(0.0)
    for kind in kinds:
        sample = SAMPLE if kind.width else 0.0
        size = sample + 1.0 + canvas.stringWidth(kind.meaning, "Helvetica", SIZE)
        if x > left and x + size > right:
            x, y = left, y - ROW
        if kind.width:
            canvas.setLineWidth(kind.width)
            canvas.setStrokeGray(kind.grey)
            canvas.setDash(list(kind.dashes))
            canvas.line(x, y + 0.3 * SIZE, x + sample, y + 0.3 * SIZE)
        canvas.drawString(x + sample + 1.0, y, kind.meaning)
        x += size + SPACE
    canvas.setDash([])
