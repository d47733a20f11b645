"""Of eye distance, apparent depth and back scale any two give the third.

All depths and distances are measured from the fixed plane (the apron's end):

    s = (D + d) / (D + L)
"""

from __future__ import annotations


class UnsolvableError(ValueError):
    """No relief has these figures; the text says why, in mm."""


def back_scale(distance: float, apparent: float, built: float) -> float:
    """Return s from D, L and d, mm.

    Raises
    ------
    UnsolvableError
        If L < d: the imagined room would be shallower than the built one.
    """
    if apparent < built:
        raise UnsolvableError(
            f"the imagined room ({apparent:.4g} mm) would be shallower than the built one ({built:.4g} mm)"
        )
    return (distance + built) / (distance + apparent)


def apparent_depth(distance: float, scale: float, built: float) -> float:
    """Return L = (D + d) / s - D.

    Raises
    ------
    UnsolvableError
        If s is not above 0 and at most 1.
    """
    if not 0 < scale <= 1:
        raise UnsolvableError(f"a back scale of {scale:.4g} is not above 0 and at most 1")
    return (distance + built) / scale - distance


def eye_distance(apparent: float, scale: float, built: float) -> float:
    """Return D = (s L - d) / (1 - s).

    Raises
    ------
    UnsolvableError
        If s is not between 0 and 1, or s L <= d: no eye before the fixed plane sees it so.
    """
    if not 0 < scale < 1:
        raise UnsolvableError(f"a back scale of {scale:.4g} is not between 0 and 1")
    if scale * apparent <= built:
        raise UnsolvableError(
            f"back scale {scale:.4g} times the apparent depth {apparent:.4g} mm must be more than the built depth"
            f" {built:.4g} mm"
        )
    return (scale * apparent - built) / (1 - scale)
