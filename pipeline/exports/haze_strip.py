"""The strip of aerial perspective at true size: what each paint comes to at each depth, to hold against the work.

Terms
-----
swatch
    A patch of colour for one step of depth; it runs out to the upper edge, where it is held against the paint.
gauge
    The built depth at 1:1, every millimetre in its own colour: laid into the room it shows what belongs where.
block
    One paint's swatches, or one length of its gauge, which stay on one page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pipeline.room.airing import Haze, HazeStep
from pipeline.sight.air import mixed

WIDE = 176.0
"""mm; fits every paper between its margins."""
SWATCH = (18.0, 20.0)
"""mm, widest and how high."""
GAUGE = 9.0
"""mm, how high."""
PIECE = 170.0
"""mm of built depth in one length of gauge."""
MOST_PIECES = 3
"""A deeper box is not gauged: such a strip would be no help."""
NAME, LABEL = 3.2, 2.3
"""mm, sizes of names and of figures."""
LINE = 3.1
"""mm from line to line of figures."""
APART = 7.0
"""mm between blocks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A rectangle of colour: lower left corner, width and height, mm."""

    at: tuple[float, float]
    size: tuple[float, float]
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A line of text: where its baseline begins, or its middle is, and its size, mm."""

    at: tuple[float, float]
    text: str
    size: float
    middle: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """What stays together: its height, and what is on it, y up from its lower edge, mm."""

    height: float
    patches: tuple[Patch, ...]
    words: tuple[Words, ...]
    ticks: tuple[tuple[float, float, float], ...] = ()
    """(x, lower y, upper y) of upright lines."""


def blocks_of(haze: Haze, paints: dict[str, str], colour: str) -> tuple[Block, ...]:
    """Return the blocks of every paint in turn; ``colour`` is the haze's."""
    return tuple(block for name, paint in paints.items() for block in _paint(haze, name, paint, colour))


def _paint(haze: Haze, name: str, paint: str, colour: str) -> Iterator[Block]:
    count = len(haze.steps)
    wide = min(SWATCH[0], WIDE / count)
    low = 4 * LINE
    middles = [wide * (k + 0.5) for k in range(count)]
    yield Block(
        height=low + SWATCH[1] + NAME + 2,
        patches=tuple(
            Patch(at=(wide * k, low), size=(wide, SWATCH[1]), colour=mixed(paint, colour, step.share))
            for k, step in enumerate(haze.steps)
        ),
        words=(
            Words(at=(0.0, low + SWATCH[1] + 1.5), text=f"{name}: cut along the upper edge and hold each swatch against it", size=NAME),
            *(
                Words(at=(x, low - LINE * (row + 0.9)), text=text, size=LABEL, middle=True)
                for x, step in zip(middles, haze.steps, strict=True)
                for row, text in enumerate(_figures(step))
            ),
            Words(at=(0.0, low - LINE * 3.9), text="seems, from the opening / built / haze", size=LABEL),
        ),
    )
    pieces = -(-len(haze.bands) // int(PIECE))
    if pieces > MOST_PIECES:
        return
    for piece in range(pieces):
        bands = haze.bands[piece * int(PIECE) : (piece + 1) * int(PIECE)]
        start = piece * PIECE
        marks = [step for step in haze.steps if start <= step.built <= start + len(bands) + 1]
        yield Block(
            height=2 * LINE + GAUGE + NAME + 2,
            patches=tuple(  # each runs on beneath the next, so that no seam shows
                Patch(at=(float(k), 2 * LINE), size=(len(bands) - k, GAUGE), colour=mixed(paint, colour, band.share))
                for k, band in enumerate(bands)
            ),
            words=(
                Words(
                    at=(0.0, 2 * LINE + GAUGE + 1.5),
                    text=f"{name}, {start:g} to {start + len(bands):g} mm behind the opening, at true size: lay it in,"
                    " level, square to the opening",
                    size=NAME,
                ),
                *(
                    Words(at=(step.built - start, LINE * 0.4), text=f"{step.imagined:.4g}", size=LABEL, middle=True)
                    for step in _apart(marks)
                ),
                Words(at=(len(bands) + 4.0, LINE * 0.4), text="m", size=LABEL),
            ),
            ticks=tuple((step.built - start, 2 * LINE - 2.4, 2 * LINE) for step in marks),
        )


def _figures(step: HazeStep) -> tuple[str, str, str]:
    return f"{step.imagined:.4g} m", f"{step.built:.1f} mm", f"{100 * step.share:.0f} %"


def _apart(marks: Iterable[HazeStep]) -> Iterator[HazeStep]:
    """Yield the marks whose figures do not run into one another."""
    last = -1e9
    for step in marks:
        if step.built - last >= 2.8 * LABEL:
            last = step.built
            yield step


def paged(blocks: Iterable[Block], high: float) -> tuple[tuple[Block, ...], ...]:
    """Return the blocks in pages of a height, mm."""
    pages: list[list[Block]] = [[]]
    left = high
    for block in blocks:
        if block.height > left and pages[-1]:
            pages.append([])
            left = high
        pages[-1].append(block)
        left -= block.height + APART
    return tuple(map(tuple, pages))
