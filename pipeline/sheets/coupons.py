"""Test pieces of a material: what its cut takes away, and how wide a slot holds its sheet. Kerf is not applied.

Terms
-----
comb
    A strip with slots of stepped widths round the sheet's thickness. An edge of the sheet is pushed into them: the
    slot that holds it without force is the one to draw.
gauge
    A row of equal blocks, cut apart. Pushed together again they are shorter than drawn by what the cuts took.

The gauge's ends and the lines between its blocks are drawn where the middle of the cut runs. An inner cut takes a whole
kerf from the row, an end cut half of one, so a row of n blocks of nominal length b measures n b - (n - 1) k - 2 k / 2,
and k = (n b - measured) / n.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.sheets.letters import letter_strokes, text_width

Array = NDArray[np.float64]

BLOCKS = 10
"""A reading to a hundredth of a millimetre tells the kerf to a thousandth."""
BELOW, ABOVE = 6, 4
"""Slots narrower and wider than the sheet is thick; more below, since a cut widens them."""
HEIGHT = 12.0
"""mm, of the gauge, and least height of the comb under its slots."""
LETTER, SMALL = 2.5, 1.8
"""mm, height of names and of the widths under the slots."""
APART = 4.0
"""mm between comb and gauge, and round lines of letters."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coupon:
    """A comb above a gauge, mm, the lower left corner of what is cut at 0.

    Attributes
    ----------
    widths
        Of the slots, rising.
    comb, gauge
        Corners ``(n, 2)`` of the two outlines, counter-clockwise.
    cuts
        ``(n, 2, 2)`` lines between the gauge's blocks.
    letters
        ``(n, 2, 2)`` strokes.
    block
        Nominal length of a block.
    size
        Width and height of all that is drawn.
    """

    widths: tuple[float, ...]
    comb: Array
    gauge: Array
    cuts: Array
    letters: Array
    block: float
    size: tuple[float, float]

    @property
    def length(self) -> float:
        """Nominal length of the gauge, mm."""
        return self.block * BLOCKS


def step_of(thickness: float) -> float:
    """Return by how much slots differ, mm: what a hand can tell apart in a sheet so thick."""
    return 0.05 if thickness < 1.5 else 0.1 if thickness < 6 else 0.2


def block_of(thickness: float) -> float:
    """Return the nominal length of a gauge block, mm: 5, or more where the sheet is so thick that blocks would tip."""
    return max(5.0, math.ceil(1.5 * thickness))


def slot_widths(thickness: float) -> tuple[float, ...]:
    """Return the widths of the comb's slots, mm, rising round the thickness; none under a step."""
    step = step_of(thickness)
    widths = (round(thickness + n * step, 3) for n in range(-BELOW, ABOVE + 1))
    return tuple(width for width in widths if width >= step)


def kerf_read(measured: float, thickness: float) -> float:
    """Return the kerf, mm, that a gauge so long was cut with; below zero if it is longer than drawn."""
    return (block_of(thickness) * BLOCKS - measured) / BLOCKS


def make_coupon(material: str, thickness: float) -> Coupon:
    """Return the test pieces of a material, its thickness in mm."""
    block = block_of(thickness)
    widths = slot_widths(thickness)
    gauge = np.array([[0, 0], [BLOCKS * block, 0], [BLOCKS * block, HEIGHT], [0, HEIGHT]], dtype=np.float64)
    at = np.arange(1, BLOCKS) * block
    cuts = np.stack(
        [np.column_stack([at, np.zeros(BLOCKS - 1)]), np.column_stack([at, np.full(BLOCKS - 1, HEIGHT)])], 1
    )
    said = f"gauge {BLOCKS} x {block:g} = {BLOCKS * block:g} mm"
    base = HEIGHT + APART + LETTER + APART
    letters = [_written(said, LETTER, 0, HEIGHT + APART / 2)]
    comb, labels = _comb(widths, thickness, base)
    name = f"{material} {thickness:g} mm"
    letters += [*labels, _written(name, LETTER, APART, base + APART / 2)]
    right = max(comb[:, 0].max(), gauge[:, 0].max(), text_width(said, LETTER), APART + text_width(name, LETTER))
    return Coupon(
        widths=widths,
        comb=comb,
        gauge=gauge,
        cuts=cuts,
        letters=np.concatenate(letters),
        block=block,
        size=(float(right), float(comb[:, 1].max())),
    )


def _comb(widths: tuple[float, ...], thickness: float, base: float) -> tuple[Array, list[Array]]:
    """Return the comb's corners, slots open at the top, and the widths written under them."""
    words = [f"{width:.2f}" for width in widths]
    tooth = max(
        3.0, 2 * thickness, *(text_width(word, SMALL) + 1.5 - width for word, width in zip(words, widths, strict=True))
    )
    deep = max(8.0, 3 * thickness)
    low = base + max(HEIGHT, APART + LETTER + APART + SMALL + 1.0)
    top = low + deep
    upper: list[tuple[float, float]] = [(0.0, top)]
    labels = []
    x = tooth
    for word, width in zip(words, widths, strict=True):
        upper += [(x, top), (x, low), (x + width, low), (x + width, top)]
        labels.append(_written(word, SMALL, x + (width - text_width(word, SMALL)) / 2, low - SMALL - 1.0))
        x += width + tooth
    upper.append((x, top))
    corners = [(0.0, base), (x, base), *reversed(upper)]
    return np.array(corners), labels


def _written(text: str, height: float, x: float, y: float) -> Array:
    strokes: Array = letter_strokes(text, height) + np.array([x, y])
    return strokes
