"""Guides of a cover: clipped to what is left of a face, thinned where too fine, and carried to the panel.

Terms
-----
evenness
    How often 2 divides a line's number; 0 is even for ever.
rank
    Of a line, 2 to its evenness: its nearest neighbours that are at least as even stand that many steps away.
spacing
    Built distance from a point of a line to the nearer of those two neighbours; of a perpend, no more than the
    height of its course there.

A line stops where its spacing falls below the least allowed. Of any two lines of a family the less even one keeps its
distance from all that are more even, and two equally even ones have a more even one between them, so no two lines
that are kept come closer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Family
from pipeline.geometry import frames
from pipeline.geometry.clip import LEAST_LENGTH, clip_lines
from pipeline.geometry.curves import Path
from pipeline.geometry.regions import Region
from pipeline.geometry.vectors import lengths
from pipeline.parts.model import Leaf

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
BuiltFromHost = Callable[[Array], Array]

HALVINGS = 52
"""Enough to place a stop to the last bit of a double."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thinning:
    """What thinning did: guides left out, guides shortened, and the nearest built depth y where it happened, mm."""

    dropped: int
    shortened: int
    begins: float | None


def clip_families(families: Sequence[Family], region: Region, excluded: Sequence[Region | Path] = ()) -> list[Family]:
    """Return the families clipped to a region, host coordinates, less what is excluded."""
    if not families:
        return []
    # All at once: going round the region takes longer than its lines do.
    lines, source = clip_lines(np.concatenate([family.lines for family in families]), region, excluded)
    firsts = np.cumsum([0] + [len(family.lines) for family in families])
    out = []
    for family, first, cuts in zip(families, firsts, pairwise(np.searchsorted(source, firsts)), strict=False):
        own = slice(*cuts)
        out.append(replace(family, lines=lines[own], numbers=family.numbers[source[own] - first]))
    return [family for family in out if len(family.lines)]


def split_families(families: Sequence[Family], imagined_from_host: Array, depth: float) -> list[Family]:
    """Return the families with every line parted where it passes an imagined depth y (the apron's end), mm."""
    out = []
    for family in families:
        lines, source = _part(family.lines, _depths(family.lines, imagined_from_host) - depth)
        out.append(replace(family, lines=lines, numbers=family.numbers[source]))
    return out


def thin(families: Sequence[Family], built_from_host: BuiltFromHost, min_guide: float) -> tuple[Array, Thinning]:
    """Return the guides that are nowhere too close, and what was left out.

    Perpends stay or go whole; other lines stop where they become too close.

    Parameters
    ----------
    families
        Host coordinates, imagined mm. No line passes a fold; see ``split_families``.
    built_from_host
        Takes ``(n, 2)`` host coordinates to ``(n, 3)`` built points, mm; also those somewhat beyond the face.
    min_guide
        Least distance of two guides, built mm.

    Returns
    -------
    lines, thinning
        ``(n, 2, 2)`` host coordinates; lines that are not too close anywhere come back bit for bit.
    """
    kept, lost = [np.empty((0, 2, 2))], [np.empty((0, 2))]
    shortened = 0
    for family in families:
        wide = _spacings(family, built_from_host) >= min_guide
        whole = wide[:, 0] & wide[:, 1]
        stays = whole if family.course is not None else wide[:, 0] | wide[:, 1]
        short = stays & ~whole
        lines = family.lines.copy()
        lines[short] = _shorten(_rows(family, short), wide[short], built_from_host, min_guide)
        kept.append(lines[stays])
        lost += [lines[~stays].reshape(-1, 2), lines[short][~wide[short]]]
        shortened += int(short.sum())
    points = np.concatenate(lost)
    return np.concatenate(kept), Thinning(
        dropped=sum(len(family.lines) for family in families) - sum(map(len, kept)),
        shortened=shortened,
        begins=float(built_from_host(points)[:, 1].min()) if len(points) else None,
    )


def carry(lines_host: Array, imagined_from_host: Array, leaves: Sequence[Leaf]) -> tuple[Array, Array]:
    """Return ``(n, 2, 2)`` flat lines on a panel's leaves and the ``(n, 2, 2)`` host lines they show, one for one.

    Lines that pass the fold between two leaves are parted there.
    """
    folds = [leaf.far for leaf in leaves[:-1]]
    hosts = lines_host
    for fold in folds:
        hosts, _ = _part(hosts, _depths(hosts, imagined_from_host) - fold)
    owner = np.searchsorted(folds, _depths(hosts, imagined_from_host).mean(axis=1))
    flats = np.empty_like(hosts)
    for number, leaf in enumerate(leaves):
        mine = owner == number
        flats[mine] = frames.apply(leaf.flat_from_host, hosts[mine].reshape(-1, 2)).reshape(-1, 2, 2)
    return flats, hosts


def _spacings(family: Family, built_from_host: BuiltFromHost) -> Array:
    """Return the spacing ``(n, 2)`` at both ends of each line, built mm."""
    points = _build(family.lines, built_from_host)
    spacing = np.full(points.shape[:2], np.inf)
    for neighbour in _neighbours(family, built_from_host):
        spacing = np.minimum(spacing, _distances(points, neighbour))
    spacing[family.numbers == 0] = np.inf
    if family.course is not None:
        # The course's other bed, seen from the perpend's lower end and from its upper one.
        for end, way in ((0, family.course), (1, -family.course)):
            bed = family.lines[:, end, None] + np.array([way, way + family.step])
            height = _distances(points[:, end, None], _build(bed, built_from_host))[:, 0]
            spacing[:, end] = np.minimum(spacing[:, end], height)
    return spacing


def _neighbours(family: Family, built_from_host: BuiltFromHost) -> list[Array]:
    """Return the ``(n, 2, 3)`` built lines one rank before and one rank after each line."""
    ranks = family.numbers & -family.numbers
    shift = (ranks[:, None] * family.step)[:, None]
    return [_build(family.lines + shift, built_from_host), _build(family.lines - shift, built_from_host)]


def _shorten(family: Family, wide: NDArray[np.bool_], built_from_host: BuiltFromHost, min_guide: float) -> Array:
    """Return the lines moved in at the end that is not ``wide``, to where the spacing is just enough (bisection)."""
    if not len(family.lines):
        return family.lines
    neighbours = _neighbours(family, built_from_host)
    good, bad = np.where(wide[:, :1, None], family.lines, family.lines[:, ::-1]).transpose(1, 0, 2)
    for _ in range(HALVINGS):
        middle = (good + bad) / 2
        points = built_from_host(middle)[:, None]
        spacing = np.minimum(*(_distances(points, neighbour)[:, 0] for neighbour in neighbours))
        enough = (spacing >= min_guide)[:, None]
        good, bad = np.where(enough, middle, good), np.where(enough, bad, middle)
    return np.where(wide[:, :, None], family.lines, good[:, None])


def _distances(points: Array, lines: Array) -> Array:
    """Return the distances ``(n, k)`` of ``(n, k, 3)`` points from the infinite lines ``(n, 2, 3)``."""
    ways = lines[:, 1] - lines[:, 0]
    away = points - lines[:, :1]
    along = np.einsum("nki,ni->nk", away, ways) / np.einsum("ni,ni->n", ways, ways)[:, None]
    return lengths(away - along[..., None] * ways[:, None])


def _build(lines_host: Array, built_from_host: BuiltFromHost) -> Array:
    return built_from_host(lines_host.reshape(-1, 2)).reshape(-1, 2, 3)


def _rows(family: Family, rows: NDArray[np.bool_]) -> Family:
    return replace(family, lines=family.lines[rows], numbers=family.numbers[rows])


def _depths(lines_host: Array, imagined_from_host: Array) -> Array:
    out: Array = lines_host @ imagined_from_host[1, :2] + imagined_from_host[1, 2]
    return out


def _part(lines: Array, depths: Array) -> tuple[Array, Indices]:
    """Return lines parted where ``depths`` ``(n, 2)`` change sign between their ends, and the line each came from."""
    across = (depths.prod(axis=1) < 0) & (np.abs(depths).min(axis=1) > LEAST_LENGTH)
    source = np.repeat(np.arange(len(lines)), np.where(across, 2, 1))
    out = lines[source]
    first = np.searchsorted(source, np.flatnonzero(across))
    share = (depths[across, 0] / (depths[across, 0] - depths[across, 1]))[:, None]
    border = lines[across, 0] + share * (lines[across, 1] - lines[across, 0])
    out[first, 1] = border
    out[first + 1, 0] = border
    return out, source
