"""Whether a camera can photograph the room from where it is to stand."""

from __future__ import annotations

import math

from pipeline.elements.problems import Problem
from pipeline.relief.collineation import Relief
from pipeline.scene.camera import CameraTable
from pipeline.sight.lens import BLUR

FULL = math.hypot(36.0, 24.0)
"""mm, the diagonal of the format that ``BLUR`` is told for."""


def pupil_of(camera: CameraTable, relief: Relief) -> tuple[float, float, float]:
    """Return where the entrance pupil is, built mm: on the eye point but for what the table says."""
    x, y, z = relief.eye
    return (
        x if camera.right is None else camera.right,
        y if camera.distance is None else -camera.distance,
        z if camera.height is None else camera.height,
    )


def blur_of(camera: CameraTable) -> float:
    """Return the widest blur that passes for a point on the sensor, mm."""
    return camera.blur if camera.blur is not None else BLUR * math.hypot(*camera.sensor) / FULL


def camera_problems(camera: CameraTable | None, relief: Relief) -> tuple[Problem, ...]:
    """Return what is wrong with a camera: a lens cannot focus nearer than its own focal length."""
    if camera is None:
        return ()
    distance = -pupil_of(camera, relief)[1]
    if camera.lens < distance:
        return ()
    return (
        Problem(
            path=("camera", "lens"),
            found=f"a lens of {camera.lens:g} mm cannot focus on an opening {distance:.4g} mm before it",
            allowed=f"less than {distance:.4g} mm; a good deal less, unless it is made for close-ups",
            remedy="take a shorter lens, or "
            + ("let the scene's eye stand farther away" if camera.distance is None else "give camera.distance more"),
        ),
    )
