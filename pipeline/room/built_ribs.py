"""A laminated rib in the built room: the planes of its slices.

A slice's front is a plane of the built room; the relief takes it to an upright plane of the imagined one. In a track's
frame that is w = a + b s, so every slice shows the rib's own profile (s, z), lifted by that:

    P = T (s, z, a + b s, 1)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.laminations import Lamination
from pipeline.geometry import frames
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

HALF, WHOLE = 0.5, 1.0
"""Share of a last slice that must lie within a free rib, and within one against a wall or level under a crown."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Built:
    """A lamination in the built room: planes ``(4,)``, n . x + c, of unit normals.

    Attributes
    ----------
    rib
        What it is.
    front, back
        Positive on the outer sides.
    within
        The other flank itself, positive inside the rib.
    share
        Of a last slice, that must lie within it.
    built_from_track
        ``(4, 4)``.
    """

    rib: Lamination
    front: Array
    back: Array
    within: Array
    share: float
    built_from_track: Array

    @property
    def thickness(self) -> float:
        """Of a slice, mm."""
        return self.rib.sheet.thickness

    def behind(self, depth: float) -> Array:
        """Return the plane ``depth`` mm behind the front, positive to the same side."""
        out: Array = self.front + np.array([0.0, 0.0, 0.0, depth])
        return out

    def track_from_host(self, depth: float) -> Array:
        """Return the ``(4, 3)`` matrix that lifts a profile (s, z) to that plane, in the track's frame."""
        plane = self.built_from_track.T @ self.behind(depth)
        lifted = -plane[[0, 1, 3]] / plane[2]
        return np.vstack([np.eye(2, 3), lifted, [0.0, 0.0, 1.0]])

    def built_from_host(self, depth: float) -> Array:
        """Return the ``(4, 3)`` matrix from a profile to that plane, built."""
        out: Array = self.built_from_track @ self.track_from_host(depth)
        return out

    def shifted(self, plane: Array, depth: float) -> Array:
        """Return the plane that a point of a front passes when what lies ``depth`` mm behind it passes another."""
        out: Array = plane - np.array([0.0, 0.0, 0.0, depth * float(plane[:3] @ self.front[:3])])
        return out


def carry(rib: Lamination, relief: Relief) -> Built:
    """Return a lamination as it is built; its front is the flank turned to the eye."""
    eye = frames.apply(frames.invert_rigid(rib.imagined_from_track), [relief.eye])[0]
    low, high = rib.flanks
    side = 1.0 if eye[2] > (low + high) / 2 else -1.0
    near, far = (high, low) if side > 0 else (low, high)
    to_track = frames.invert_rigid(rib.imagined_from_track).T
    front, within = (relief.build_plane(to_track @ np.array([0.0, 0.0, side, -side * w])) for w in (near, far))
    share = WHOLE if rib.wall or not rib.unit else HALF
    out = (1 - share) * rib.sheet.thickness * float(within[:3] @ front[:3])
    return Built(
        rib=rib,
        front=front,
        back=-within - np.array([0.0, 0.0, 0.0, out]),
        within=within,
        share=share,
        built_from_track=relief.built_from_imagined @ rib.imagined_from_track,
    )
