"""How far a lens must be stopped down to be sharp from one distance to another.

A. R. Greenleaf, *Photographic Optics* (1950), with the hyperfocal distance H = f^2 / (N c) + f and focus at s:

    near = s (H - f) / (H + s - 2 f),        far = s (H - f) / (H - s)

so that 1/near + 1/far = 2/s and 1/near - 1/far = 2 (s - f) / (s (H - f)).
"""

from __future__ import annotations

BLUR = 0.03
"""mm of blur that passes for a point on a picture of 24 by 36 mm (common practice)."""


def focus(near: float, far: float) -> float:
    """Return the distance s to focus at, so that both ends are equally sharp, mm."""
    return 2 * near * far / (near + far)


def stop(focal: float, near: float, far: float, blur: float = BLUR) -> float:
    """Return the f-number N at which a lens of a focal length is just sharp from near to far, mm.

    Raises
    ------
    ValueError
        If the lens cannot focus so near.
    """
    s = focus(near, far)
    if s <= focal:
        raise ValueError(f"a lens of {focal:g} mm does not focus at {s:g} mm")
    over = 2 * (s - focal) / (s * (1 / near - 1 / far))  # H - f
    return focal**2 / (over * blur)
