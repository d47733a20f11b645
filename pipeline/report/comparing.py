"""Which parts of an earlier build are still good for another one.

Terms
-----
version
    A part as one build has it: its entry in the manifest and the bytes of its drawing, or of its mesh.
verdict
    ``same``: to the byte; ``keep``: what was cut or printed fits within the tolerance; ``recut``: it does not;
    ``new`` and ``dropped``: only one of the two has it.
shift
    How far the worst place of the old lies from the new when it lies on it as well as it can, mm.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.panel_faithful import chords_of
from pipeline.checks.written import WrittenDrawing, read_dxf, read_stl
from pipeline.geometry import frames
from pipeline.geometry.apart import apart
from pipeline.geometry.meshes import weld
from pipeline.geometry.nearest import Chords, Corresponding, Skin
from pipeline.geometry.rigid_fit import Fit, Sight, best_fit

Array = NDArray[np.float64]
Verdict = Literal["new", "dropped", "same", "keep", "recut"]

TOLERANCE = 0.3
"""mm; what filing and glue make up for at the bench."""
CUT = ("OUTLINE", "HOLES")
SAMPLES = 2000
"""Places along an outline that the fit is sought by; the shift is then taken of all of it."""
REACH = 1.0
"""mm; places of meshes farther apart are looked for one by one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Version:
    """A part's entry in the manifest, and the bytes of its DXF or STL file."""

    entry: Mapping[str, Any]
    data: bytes

    @property
    def printed(self) -> bool:
        """Whether it comes from the printer."""
        return bool(self.entry["made_as"] == "print")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """What became of one part.

    Attributes
    ----------
    shift
        mm, 0 for the same; nothing where there is nothing to hold it against.
    reasons
        Why it must be made again, or what else is to be known.
    redraw
        Whether lines that are only drawn or scored on it have moved: guides, and places of other parts.
    as_cut
        Whether the old version is what was marked as cut.
    fit
        How the old lies on the new, where it was looked for.
    old, new
        The two versions.
    """

    id: str
    verdict: Verdict
    shift: float | None = None
    reasons: tuple[str, ...] = ()
    redraw: bool = False
    as_cut: bool = False
    fit: Fit | None = None
    old: Version | None = field(default=None, repr=False)
    new: Version | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    shift: float
    fit: Fit
    redraw: bool = False
    reasons: tuple[str, ...] = field(default=())


def versions(manifest: Mapping[str, Any], read: Callable[[str], bytes]) -> dict[str, Version]:
    """Return every part of a build by id; ``read`` returns the bytes of a relative path."""
    return {
        entry["id"]: Version(entry=entry, data=read(entry["files"]["stl" if entry["made_as"] == "print" else "dxf"]))
        for entry in manifest["parts"]
    }


def compare(
    old: Mapping[str, Version],
    new: Mapping[str, Version],
    tolerance: float = TOLERANCE,
    cut: frozenset[str] = frozenset(),
) -> tuple[Compared, ...]:
    """Return what became of every part, those of the new build first, in its order; ``cut`` are marked as cut.

    Raises
    ------
    ValueError
        If a file cannot be read.
    """
    out = [
        _compare(name, old[name], version, tolerance, as_cut=name in cut)
        if name in old
        else Compared(id=name, verdict="new", new=version)
        for name, version in new.items()
    ]
    gone = [
        Compared(id=name, verdict="dropped", old=version, as_cut=name in cut)
        for name, version in old.items()
        if name not in new
    ]
    return (*out, *gone)


def _compare(name: str, old: Version, new: Version, tolerance: float, *, as_cut: bool) -> Compared:
    other = tuple(_other_stock(old, new))
    if not other and old.data == new.data:
        return Compared(id=name, verdict="same", shift=0.0, as_cut=as_cut, old=old, new=new)
    if old.printed != new.printed:
        return Compared(id=name, verdict="recut", reasons=other, as_cut=as_cut, old=old, new=new)
    found = _meshes_apart(old, new) if new.printed else _drawings_apart(old, new, tolerance)
    reasons = (*other, *found.reasons)
    good = found.shift < tolerance and not reasons
    return Compared(
        id=name,
        verdict="keep" if good else "recut",
        shift=found.shift,
        reasons=reasons,
        redraw=good and found.redraw,
        as_cut=as_cut,
        fit=found.fit,
        old=old,
        new=new,
    )


def _other_stock(old: Version, new: Version) -> list[str]:
    """Return what makes the old unfit whatever its shape."""
    said = []
    for key, words in (
        ("made_as", "made as"),
        ("material", "material"),
        ("thickness", "thickness"),
        ("finish", "finish"),
    ):
        before, after = old.entry.get(key), new.entry.get(key)
        if before != after:
            said.append(f"{words} {_show(before)} becomes {_show(after)}")
    return said


def _show(value: object) -> str:
    return "none" if value is None else f"{value:g} mm" if isinstance(value, float | int) else str(value)


def _drawings_apart(old: Version, new: Version, tolerance: float) -> _Found:
    before, after = read_dxf(old.data), read_dxf(new.data)
    pairs = [_Pair.of(chords_of(before, CUT), chords_of(after, CUT))]
    cut_before, cut_after = pairs[0].old, pairs[0].new
    for layer in ("BEVEL", *(("FOLD",) if new.entry["made_as"] == "panel" else ())):
        a, b = chords_of(before, (layer,)), chords_of(after, (layer,))
        if len(a) and len(b):
            pairs.append(_Pair.of(a, b))
        elif layer == "BEVEL" and (len(a) or len(b)):
            # Square on one of them: its hidden outline is the visible one.
            pairs.append(_Pair.of(a if len(a) else cut_before, b if len(b) else cut_after))
    folds = [len(chords_of(drawing, ("FOLD",))) for drawing in (before, after)]
    reasons = (
        ("its fold comes or goes",) if new.entry["made_as"] == "panel" and (folds[0] > 0) != (folds[1] > 0) else ()
    )
    start = _middle(cut_after) - _middle(cut_before)
    fit = best_fit([sight for pair in pairs for sight in pair.sights()], np.eye(2), start)
    shift, at = max((pair.apart(fit) for pair in pairs), key=lambda found: found[0])
    fit = Fit(turn=fit.turn, step=fit.step, deviation=shift, bound=min(fit.bound, shift), at=at)
    return _Found(shift=shift, fit=fit, redraw=_marks_moved(before, after, fit, tolerance), reasons=reasons)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pair:
    """Lines of the old ``(n, 2, 2)`` and the lines of the new they are held against, flat mm, each as targets too."""

    old: Array
    new: Array
    on_old: Chords
    on_new: Chords

    @classmethod
    def of(cls, old: Array, new: Array) -> _Pair:
        return cls(old=old, new=new, on_old=Chords.of(old), on_new=Chords.of(new))

    def sights(self) -> list[Sight]:
        return [
            Sight(points=_along(self.old), target=self.on_new, forward=True),
            Sight(points=_along(self.new), target=self.on_old, forward=False),
        ]

    def apart(self, fit: Fit) -> tuple[float, Array]:
        """Return how far the two lie apart at the worst place of either, and where on the new."""
        moved = fit.move(self.old.reshape(-1, 2)).reshape(-1, 2, 2)
        there = apart(moved, self.on_new)
        back = apart(self.new, Chords.of(moved))
        return max(there, back, key=lambda found: found[0])


def _along(lines: Array) -> Array:
    """Return about ``SAMPLES`` places along lines ``(n, 2, 2)``, every start among them, ``(k, 2)``."""
    lengths = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    counts = np.maximum(1, np.ceil(lengths / max(lengths.sum() / SAMPLES, 1e-9))).astype(np.int64)
    number = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (number / np.repeat(counts, counts))[:, None]
    start, end = (np.repeat(lines[:, k], counts, axis=0) for k in (0, 1))
    out: Array = start + share * (end - start)
    return out


def _middle(lines: Array) -> Array:
    """Return the middle of lines ``(n, 2, 2)``, each counted by its length, ``(2,)``."""
    lengths = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    out: Array = (lines.mean(axis=1) * lengths[:, None]).sum(axis=0) / lengths.sum()
    return out


def _marks_moved(before: WrittenDrawing, after: WrittenDrawing, fit: Fit, tolerance: float) -> bool:
    """Return whether anything drawn or scored lies elsewhere, or is more or less, when the old lies on the new."""
    for layer in ("GUIDE", "PLACE", "FOLD"):
        old, new = (chords_of(drawing, (layer,)) for drawing in (before, after))
        if len(old) == 0 and len(new) == 0:
            continue
        if len(old) == 0 or len(new) == 0:
            return True
        moved = fit.move(old.reshape(-1, 2)).reshape(-1, 2, 2)
        for lines, others in ((moved, new), (new, moved)):
            points = np.concatenate([lines[:, 0], lines.mean(axis=1), lines[:, 1]])
            places, _ = Chords.of(others).nearest(points)
            if float(np.linalg.norm(points - places, axis=1).max()) > tolerance:
                return True
    return False


def _meshes_apart(old: Version, new: Version) -> _Found:
    """Hold two prints against each other as they stand in the box, at their corners and the middles of their edges."""
    corners = [standing(version) for version in (old, new)]
    meshes = [weld(np.round(one, 6)) for one in corners]
    a, b = meshes
    if a.triangles.shape == b.triangles.shape and np.array_equal(a.triangles, b.triangles):
        sights = [Sight(points=a.vertices, target=Corresponding(places=b.vertices), forward=True)]
    else:
        points = [np.unique(np.concatenate([m.vertices, m.corners.mean(axis=1)]), axis=0) for m in meshes]
        targets = [Skin.of(one, REACH) for one in corners]
        sights = [
            Sight(points=points[0], target=targets[1], forward=True),
            Sight(points=points[1], target=targets[0], forward=False),
        ]
    start = corners[1].reshape(-1, 3).mean(axis=0) - corners[0].reshape(-1, 3).mean(axis=0)
    fit = best_fit(sights, np.eye(3), start)
    return _Found(shift=fit.deviation, fit=fit)


def standing(version: Version) -> Array:
    """Return a print's triangles ``(m, 3, 3)`` as they stand in the box, built mm."""
    corners = read_stl(version.data)
    placed = frames.apply(np.array(version.entry["built_from_bed"]), corners.reshape(-1, 3))
    return placed.reshape(-1, 3, 3)
