"""Does the eye see every bent panel's lines where the imagined room has them?

The written DXF is read back and bent by the manifest's rulings, straight strip by straight strip; the imagined borders
and guides are seen from the same eye by the ray law alone, as for flat panels.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding
from pipeline.checks.panel_faithful import flat_outline, seen, two_way_arcmin, verdict
from pipeline.checks.written import WrittenDrawing
from pipeline.geometry import curves
from pipeline.parts.bent import BentPanel

Array = NDArray[np.float64]
Rulings = tuple[Array, Array]

ID = "bent-faithful"
CHORDS = 200
"""For each curve of an imagined border; the sag of each is far below a hundredth of a millimetre."""
PIECE_MM = 0.5
"""mm; as bent at the tightest crowns, a chord this long strays by some hundredths of a millimetre."""
PARALLEL = 1e-9
"""mm^2; a line runs along a ruling that it does not cross by more."""
ROUNDS = 30
"""Newton steps to find a flat point between two rulings; they double the digits."""


def run(evidence: Evidence) -> list[Finding]:
    """Return, for each bent panel, the largest distance between what is written and what is imagined."""
    eye = np.array(evidence.room.relief.eye)
    return [
        evidence.kept.given(
            (_bent, panel, evidence.drawings[panel.id], eye),  # its entry tells nothing that it does not
            partial(_bent, panel, evidence.drawings[panel.id], evidence.entries[panel.id], eye),
        )
        for panel in evidence.bents
    ]


def _rulings(entry: dict[str, Any]) -> Rulings:
    """Return the rulings of a manifest entry, flat ``(n, 2, 2)`` and built ``(n, 2, 3)``, mm."""
    flat, built = (np.array([ruling[frame] for ruling in entry["rulings"]]) for frame in ("flat", "built"))
    return flat, built


def _bent(panel: BentPanel, drawing: WrittenDrawing, entry: dict[str, Any], eye: Array) -> Finding:
    rulings = _rulings(entry)
    guides = drawing.layers["GUIDE"].lines if "GUIDE" in drawing.layers else np.zeros((0, 2, 2))
    pairs = (
        (seen(bend(_parted(flat_outline(drawing, False), rulings), rulings), eye), seen(_border(panel), eye)),
        (seen(bend(guides, rulings), eye), seen(panel.guides_imagined, eye)),
    )
    worst = max(two_way_arcmin(written, imagined, -float(eye[1])) for written, imagined in pairs)
    return verdict(ID, panel.id, "bent back, outline and guides", worst)


def _parted(lines_flat: Array, rulings: Rulings) -> Array:
    """Return lines ``(n, 2, 2)`` parted at the rulings and into pieces no longer than ``PIECE_MM``.

    Bent, a longer one is no chord, and one across the crown of a pointed head would cut its corner.
    """
    flat, _ = rulings
    ways, runs = flat[:, 1] - flat[:, 0], lines_flat[:, 1] - lines_flat[:, 0]
    away = lines_flat[:, None, 0] - flat[None, :, 0]
    sides = ways[:, 0] * away[..., 1] - ways[:, 1] * away[..., 0]
    rise = ways[:, 0] * runs[:, None, 1] - ways[:, 1] * runs[:, None, 0]
    met = -sides / np.where(np.abs(rise) < PARALLEL, np.inf, rise)
    counts = np.maximum(1, np.ceil(np.hypot(runs[:, 0], runs[:, 1]) / PIECE_MM)).astype(np.int64)
    # Marks on all lines as one list: even ones from 0 to 1, and where rulings cross; each once, line by line.
    even = np.repeat(np.arange(len(runs)), counts + 1)
    step = np.arange(len(even)) - np.repeat(np.cumsum(counts + 1) - counts - 1, counts + 1)
    shares = np.where(step == counts[even], 1.0, step * (1.0 / counts[even]))
    crossed = np.nonzero((met > 0) & (met < 1))
    owner, at = np.concatenate([even, crossed[0]]), np.concatenate([shares, met[crossed]])
    order = np.lexsort((at, owner))
    owner, at = owner[order], at[order]
    new = np.ones(len(at), dtype=bool)
    new[1:] = (owner[1:] != owner[:-1]) | (at[1:] != at[:-1])
    owner, at = owner[new], at[new]
    points = lines_flat[owner, 0] + at[:, None] * runs[owner]
    same = owner[1:] == owner[:-1]
    return np.stack([points[:-1][same], points[1:][same]], axis=1)


def bend(lines_flat: Array, rulings: Rulings) -> Array:
    """Return flat lines ``(n, 2, 2)`` bent by a manifest entry's rulings, ``(n, 2, 3)`` built mm.

    Between two rulings with feet A, B and unit ways a, b a flat point is (1 - s) (A + l a) + s (B + l b); the same s
    and l give the built one.
    """
    flat, built = rulings
    points = lines_flat.reshape(-1, 2)
    ways = flat[:, 1] - flat[:, 0]
    sizes = np.linalg.norm(ways, axis=1, keepdims=True)
    ways, ways_built = ways / sizes, (built[:, 1] - built[:, 0]) / sizes
    across = np.column_stack([-ways[:, 1], ways[:, 0]])
    sides = points @ across.T - (flat[:, 0] * across).sum(axis=1)
    onward = np.sign(ways[0, 0] * (flat[-1, 0] - flat[0, 0])[1] - ways[0, 1] * (flat[-1, 0] - flat[0, 0])[0])
    strip = np.clip((sides * onward > 0).sum(axis=1) - 1, 0, len(flat) - 2)
    share, along = _between(points, flat[strip, 0], flat[strip + 1, 0], ways[strip], ways[strip + 1])
    start = built[strip, 0] + along[:, None] * ways_built[strip]
    end = built[strip + 1, 0] + along[:, None] * ways_built[strip + 1]
    out: Array = ((1 - share)[:, None] * start + share[:, None] * end).reshape(*lines_flat.shape[:2], 3)
    return out


def _between(points: Array, a: Array, b: Array, way_a: Array, way_b: Array) -> tuple[Array, Array]:
    """Return s and l of flat points between two rulings, by Newton's method."""
    share = np.full(len(points), 0.5)
    along = np.einsum("ij,ij->i", points - (a + b) / 2, way_a)
    for _ in range(ROUNDS):
        one, other = a + along[:, None] * way_a, b + along[:, None] * way_b
        off = points - one - share[:, None] * (other - one)
        across, onward = other - one, way_a + share[:, None] * (way_b - way_a)
        cross = across[:, 0] * onward[:, 1] - across[:, 1] * onward[:, 0]
        step = (off[:, 0] * onward[:, 1] - off[:, 1] * onward[:, 0]) / cross
        reach = (across[:, 0] * off[:, 1] - across[:, 1] * off[:, 0]) / cross
        share, along = share + step, along + reach
        if max(np.abs(step).max(initial=0.0), np.abs(reach).max(initial=0.0)) < 1e-10:
            break
    return share, along


def _border(panel: BentPanel) -> Array:
    """Return the imagined border as chords ``(n, 2, 3)``, or where a sheet stands back from it, where that ends."""
    if panel.trimmed is not None:
        return panel.trimmed
    web, t = panel.web, np.linspace(0.0, 1.0, CHORDS + 1)
    chords = []
    for curve in (*web.near, *web.far):
        points = curves.evaluate(curve, t)
        chords.append(np.stack([points[:-1], points[1:]], axis=1))
    ends = [(web.near[0].start, web.far[0].start), (web.near[-1].end, web.far[-1].end)]
    chords += [np.array([[a, b]]) for a, b in ends if np.linalg.norm(b - a) > 1e-4]
    return np.concatenate(chords)


CHECK = Check(
    id=ID,
    title="Does the eye see every bent panel's lines where the imagined room has them?",
    rationale="A vault drawn as if it were flat opens at the groins, and its courses miss those of the next cell.",
    run=run,
)
