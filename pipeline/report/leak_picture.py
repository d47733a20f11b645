"""Where the bare box is seen, marked on the opening as the eye sees it through it."""

from __future__ import annotations

from html import escape

import numpy as np
from numpy.typing import NDArray

from pipeline.checks import bare_box
from pipeline.checks.evidence import Evidence
from pipeline.checks.leaks import Leaks, find_leaks
from pipeline.checks.model import Finding
from pipeline.elements.hall_shape import HOSTS
from pipeline.geometry import curves, frames

Array = NDArray[np.float64]

FILE = "pictures/leaks.svg"
FLATTENING = 0.1
"""mm; the holes are only drawn for finding one's way."""

STYLE = (
    "rect,path{fill:none;stroke:#777;stroke-width:.3}.hole{stroke:#0072B2}"
    ".eye{fill:#D55E00;stroke:none}.aside{fill:#E69F00;stroke:none}"
    "text{font:4px sans-serif;fill:#222}"
)


def leak_picture(evidence: Evidence, findings: list[Finding]) -> dict[str, bytes]:
    """Return the drawing under its path, or nothing where no ray ends on the bare box.

    The opening is drawn at 1:1 in mm, what stands behind it where the eye's rays pass the opening. Filled squares are
    rays from the eye, paler ones rays from beside it.
    """
    if all(finding.id != bare_box.ID or finding.status == "pass" for finding in findings):
        return {}
    leaks, room = find_leaks(evidence), evidence.room
    width, height, _ = room.box
    hall, eye = room.hall, np.array(room.relief.eye)
    shapes = [f'<rect x="{-width / 2:.3f}" y="{-height:.3f}" width="{width:.3f}" height="{height:.3f}"/>']
    for depth in (0.0, hall.depth):
        half, low, high = hall.width / 2, hall.floor, hall.floor + hall.height
        corners = [(-half, depth, low), (half, depth, low), (half, depth, high), (-half, depth, high)]
        shapes.append(_outline(np.array(corners), eye, "hall"))
    beside = {face.id: face.imagined_from_host for face in evidence.imagined.faces}  # floors that steps lift, say
    for cut in evidence.imagined.cuts:
        matrix = hall.imagined_from_host(cut.host) if cut.host in HOSTS else beside.get(cut.host)
        if matrix is not None:  # holes for wires go through bent panels too
            host = curves.flatten_path(cut.curve, FLATTENING)
            shapes.append(_outline(frames.apply(matrix, host), eye, "hole"))
    shapes += _marks(leaks)
    shapes.append(f'<text x="{-width / 2:.3f}" y="6">{escape(_words(evidence, leaks))}</text>')
    top, tall = -height - 2, height + 10
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width + 4:.3f}mm" height="{tall + 2:.3f}mm"'
    head += f' viewBox="{-width / 2 - 2:.3f} {top:.3f} {width + 4:.3f} {tall + 2:.3f}">'
    text = "\n".join([head, f"<title>Where the bare box is seen</title><style>{STYLE}</style>", *shapes, "</svg>", ""])
    return {FILE: text.encode()}


def _outline(points: Array, eye: Array, kind: str) -> str:
    """Return a closed path through imagined points ``(n, 3)``, drawn where their rays to the eye pass the opening."""
    seen = eye + (points - eye) * (-eye[1] / (points[:, 1] - eye[1]))[:, None]
    steps = "L".join(f"{x:.3f} {-z:.3f}" for x, _, z in seen)
    return f'<path class="{kind}" d="M{steps}Z"/>'


def _marks(leaks: Leaks) -> list[str]:
    """Return the leaks as squares of one pitch, those of the eye itself on top."""
    out = []
    for kind, rows in (("aside", leaks.eye != 0), ("eye", leaks.eye == 0)):
        half, size = leaks.pitch / 2, f"{leaks.pitch:.4g}"
        places = np.unique(np.round(leaks.targets[rows], 3), axis=0)
        out += [
            f'<rect class="{kind}" x="{x - half:.3f}" y="{-z - half:.3f}" width="{size}" height="{size}"/>'
            for x, z in places
        ]
    return out


def _words(evidence: Evidence, leaks: Leaks) -> str:
    names = [evidence.imagined.cuts[number].name for number in sorted(leaks.needed)]
    through = f"; out of {', '.join(names)}" if names else ""
    seen = int((leaks.eye == 0).sum())
    return f"{seen} rays of the eye and {len(leaks.eye) - seen} from beside it end on the bare box{through}"
