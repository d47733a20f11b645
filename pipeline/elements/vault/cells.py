"""The cells of a vault: which part of which barrel is seen where, every border exact.

Terms
-----
half
    The side of a section's crown: +1 where its first coordinate is above zero, else -1.
stretch
    Imagined y between which one relief holds: the apron, and what lies behind it. Cells end where stretches end.
along, cross
    Cells of the barrel along the hall, with rulings along y, and of the cross barrels, with rulings along x.

With k = length / width of a bay the groins stand over y = yc + k x and y = yc - k x. On a section given as (a, z),
a = x on the barrel and a = (y - yc) / k on a cross barrel, they are linear in a on either half, so they are conics at
the section's own parameters.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.elements.model import WebEnd
from pipeline.elements.vault.shape import TOUCH, VaultShape
from pipeline.geometry import curves
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.sections import halves, split


@dataclass(frozen=True, slots=True)
class Stretch:
    """Imagined y from near to far, with what ends the ids of its parts, and what stands before it.

    Cells along the hall run from ``along`` on: before ``near`` where they begin within the hole of a thick front frame.
    """

    near: float
    far: float
    suffix: str
    before: str
    along: float


@dataclass(frozen=True, slots=True, eq=False)
class Border:
    """One side of a cell on one piece of its section: offset + slope a, on an axis, and what stands there."""

    offset: float
    slope: float
    end: WebEnd

    def at(self, a: float) -> float:
        """Return the place of the ruling at ``a``."""
        return self.offset + self.slope * a


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cell:
    """A cell: its name, pieces of section, and near and far border of each; what ends it at both rulings."""

    id: str
    bay: int
    along: bool
    section: Path
    near: tuple[Border, ...]
    far: tuple[Border, ...]
    ends: tuple[WebEnd, WebEnd]


def middle(curve: Curve) -> float:
    """Return a at the middle of a curve of a section."""
    return float(curves.evaluate(curve, 0.5)[0, 0])


def cells(shape: VaultShape, stretches: tuple[Stretch, ...]) -> list[Cell]:
    """Return every cell, bay by bay, walls' neighbours named as if every wall were built."""
    out = []
    for bay in range(len(shape.bays)):
        for stretch in stretches:
            near, far = shape.bays[bay]
            if stretch.far <= near + TOUCH or stretch.near >= far - TOUCH:
                continue
            if shape.form == "barrel":
                found = [_along(shape, bay, stretch, stretches, "")]
            else:
                found = [_cross(shape, bay, stretch, stretches, side) for side in ("left", "right")]
                found += [_along(shape, bay, stretch, stretches, side) for side in ("front", "back")]
            out += [cell for cell in found if cell.section]
    return out


def cell_id(bay: int, side: str, suffix: str) -> str:
    """Return a cell's part id; bays count from 0."""
    return f"vault-bay-{bay + 1}-web{'-' * bool(side)}{side}{suffix}"


def _along(shape: VaultShape, bay: int, stretch: Stretch, stretches: tuple[Stretch, ...], side: str) -> Cell:
    """Return a cell of the barrel: before the groins, behind them, or of the whole width of a barrel vault."""
    (start, stop), k = shape.bays[bay], shape.length / shape.width
    centre = (start + stop) / 2
    low, high = max(start, stretch.along), min(stop, stretch.far)
    front, back = ("front", "back") if side else ("", "")
    before = _before(bay=bay, start=start, stretch=stretch, stretches=stretches, other=back, side=side)
    behind = _behind(shape=shape, bay=bay, stop=stop, stretch=stretch, stretches=stretches, other=front, side=side)
    flat_near = Border(low, 0.0, WebEnd(plane=(0.0, 1.0, 0.0, -low), against=before))
    flat_far = Border(high, 0.0, WebEnd(plane=(0.0, -1.0, 0.0, high), against=behind))
    breaks = [sign * abs(centre - y) / k for y in (low, high) for sign in (-1, 1) if (y < centre) == (side == "front")]
    breaks = [a for a in breaks if side and abs(a) < shape.width / 2 - TOUCH]
    kept, nears, fars = [], [], []
    for curve in split(halves(shape.barrel), breaks):
        a = middle(curve)
        half = 1.0 if a > 0 else -1.0
        beside = cell_id(bay, "right" if a > 0 else "left", stretch.suffix)
        near, far = flat_near, flat_far
        if side == "front":
            plane = (-k * half, -1.0, 0.0, centre)
            groin = Border(centre, -k * half, WebEnd(plane=plane, against=beside))
            far = min(groin, flat_far, key=lambda border: border.at(a))
        elif side == "back":
            plane = (-k * half, 1.0, 0.0, -centre)
            groin = Border(centre, k * half, WebEnd(plane=plane, against=beside))
            near = max(groin, flat_near, key=lambda border: border.at(a))
        if far.at(a) > near.at(a):
            kept.append(curve)
            nears.append(near)
            fars.append(far)
    half_width, springing = shape.width / 2, shape.springing
    if side:
        ends = tuple(WebEnd(plane=(sign, 0.0, 0.0, half_width), against="") for sign in (-1.0, 1.0))
    else:
        ends = tuple(WebEnd(plane=(0.0, 0.0, 1.0, -springing), against=f"{wall}-wall") for wall in ("right", "left"))
    return Cell(
        id=cell_id(bay, side, stretch.suffix), bay=bay, along=True,
        section=tuple(kept), near=tuple(nears), far=tuple(fars), ends=(ends[0], ends[1]),
    )  # fmt: skip


def _cross(shape: VaultShape, bay: int, stretch: Stretch, stretches: tuple[Stretch, ...], side: str) -> Cell:
    """Return a cell of a cross barrel, beside the left or the right wall."""
    (start, stop), k, wall = shape.bays[bay], shape.length / shape.width, shape.width / 2
    centre = (start + stop) / 2
    low, high = max(start, stretch.near), min(stop, stretch.far)
    lowest, highest = (low - centre) / k, (high - centre) / k
    breaks = [a for a in (lowest, highest) if abs(a) < wall - TOUCH]
    kept, nears, fars = [], [], []
    for curve in split(halves(shape.barrel), breaks):
        a = middle(curve)
        if not lowest < a < highest:
            continue
        half = 1.0 if a > 0 else -1.0
        beside = cell_id(bay, "back" if a > 0 else "front", stretch.suffix)
        kept.append(curve)
        if side == "left":
            nears.append(Border(-wall, 0.0, WebEnd(plane=(1.0, 0.0, 0.0, wall), against="left-wall")))
            plane = (-1.0, -half / k, 0.0, half * centre / k)
            fars.append(Border(0.0, -half, WebEnd(plane=plane, against=beside)))
        else:
            plane = (1.0, -half / k, 0.0, half * centre / k)
            nears.append(Border(0.0, half, WebEnd(plane=plane, against=beside)))
            fars.append(Border(wall, 0.0, WebEnd(plane=(-1.0, 0.0, 0.0, wall), against="right-wall")))
    at_far = _next(stretch, stretches)
    before = stretch.before if stretch is stretches[0] else cell_id(bay, side, stretches[0].suffix)
    far_end = WebEnd(
        plane=(0.0, -1.0, 0.0, high),
        against="" if stretch.far >= stop - TOUCH or at_far is None else cell_id(bay, side, at_far.suffix),
    )
    near_end = WebEnd(plane=(0.0, 1.0, 0.0, -low), against="" if stretch.near <= start + TOUCH else before)
    return Cell(
        id=cell_id(bay, side, stretch.suffix), bay=bay, along=False,
        section=tuple(kept), near=tuple(nears), far=tuple(fars),
        ends=(far_end, near_end),
    )  # fmt: skip


def _before(*, bay: int, start: float, stretch: Stretch, stretches: tuple[Stretch, ...], other: str, side: str) -> str:
    """Return what stands before the near end of a cell along the hall."""
    if stretch.near > start + TOUCH:
        return stretch.before if stretch is stretches[0] else cell_id(bay, side, stretches[0].suffix)
    if bay == 0:
        return stretch.before
    return cell_id(bay - 1, other, stretch.suffix if stretch.near < start - TOUCH else stretches[0].suffix)


def _behind(
    *, shape: VaultShape, bay: int, stop: float, stretch: Stretch, stretches: tuple[Stretch, ...], other: str, side: str
) -> str:
    """Return what stands behind the far end of a cell along the hall."""
    following = _next(stretch, stretches)
    if stretch.far < stop - TOUCH and following is not None:
        return cell_id(bay, side, following.suffix)
    if bay == len(shape.bays) - 1:
        return "back-wall"
    return cell_id(bay + 1, other, stretch.suffix if stretch.far > stop + TOUCH else stretches[-1].suffix)


def _next(stretch: Stretch, stretches: tuple[Stretch, ...]) -> Stretch | None:
    index = stretches.index(stretch) + 1
    return stretches[index] if index < len(stretches) else None
