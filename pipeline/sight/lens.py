"""What a lens shows sharp, from where to where, and how large.

A. R. Greenleaf, *Photographic Optics* (1950), with the hyperfocal distance H = f^2 / (N c) + f and focus at s:

    near = s (H - f) / (H + s - 2 f),        far = s (H - f) / (H - s)

so that 1/near + 1/far = 2/s and 1/near - 1/far = 2 (s - f) / (s (H - f)). With p = 1/f - 1/distance that reads

    p_far = q p_near,    p_s = p_near (q + 1) / 2,    q = H / (H - 2 f)

so n pictures, each beginning where the one before ends, reach as far as q^n; in the logarithm of p all of them are
equally deep, and that is how what they have in common is counted. The lens is taken to be thin, and
distances are counted from its entrance pupil; f is its focal length, N its f-number, c the blur that passes for a
point.
"""

from __future__ import annotations

import math

BLUR = 0.03
"""mm of blur that passes for a point on a picture of 24 by 36 mm (common practice)."""
GREEN = 555e-6
"""mm; the wavelength the eye sees best by day (CIE V(lambda))."""
AIRY = 2.44
"""Diameter of the Airy disc, to its first dark ring, in wavelengths times f-number (G. B. Airy, 1835)."""
OVERLAP = 0.2
"""Share of its depth that a picture is to have in common with the next (common practice): no focus is set exactly."""
ENOUGH = 1e-9
"""Share of a picture by which the last one may fall short: rounding."""


def hyperfocal(focal: float, number: float, blur: float = BLUR) -> float:
    """Return H, the nearest distance to focus at with everything behind it sharp, mm."""
    return focal**2 / (number * blur) + focal


def sharp(focal: float, number: float, s: float, blur: float = BLUR) -> tuple[float, float]:
    """Return the nearest and the farthest distance that are sharp with focus at s, mm; the farthest may be infinite.

    Raises
    ------
    ValueError
        If the lens cannot focus so near.
    """
    _reachable(focal, s)
    h = hyperfocal(focal, number, blur)
    return s * (h - focal) / (h + s - 2 * focal), s * (h - focal) / (h - s) if s < h else math.inf


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
    _reachable(focal, s)
    over = 2 * (s - focal) / (s * (1 / near - 1 / far))  # H - f
    return focal**2 / (over * blur)


def focal_alone(number: float, near: float, far: float, blur: float = BLUR) -> float:
    """Return the longest lens that at an f-number N shows all from near to far sharp in one picture, mm.

    It is the f whose `stop` is N: with s to focus at and d = s (1/near - 1/far), f^2 d + 2 N c f = 2 N c s.
    """
    s, least = focus(near, far), number * blur
    d = s * (1 / near - 1 / far)
    return 2 * least * s / (least + math.sqrt(least**2 + 2 * least * s * d))


def pictures(focal: float, number: float, near: float, far: float, blur: float = BLUR) -> int:
    """Return how many pictures, each focused elsewhere, are sharp from near to far together, and overlap.

    Raises
    ------
    ValueError
        If the lens cannot focus so near.
    """
    reach = _reach(focal, number, near, far, blur)
    if reach <= 1 + ENOUGH:
        return 1
    return math.ceil(reach / (1 - OVERLAP) - ENOUGH)


def leeway(focal: float, number: float, near: float, far: float, *, count: int, blur: float = BLUR) -> float:
    """Return how far each focus of some pictures may be missed, all of them either way, before something is lost, mm.

    ``count`` is at least that of `pictures`; infinite where nothing can be lost. With Q what q would be for just as
    much as the blur allows, a focus may be nearer by (Q + 1) q / (Q (q + 1)) in p, and farther by a little more.

    Raises
    ------
    ValueError
        If the lens cannot focus so near.
    """
    first, last = _ends(focal, near, far)
    h = hyperfocal(focal, number, blur)
    if h <= 2 * focal:
        return math.inf
    whole, used = h / (h - 2 * focal), math.exp(math.log(last / first) / count)
    spare = max(0.0, 1 - used * (whole + 1) / (whole * (used + 1)))
    return min(s - 1 / (1 / s + (1 / focal - 1 / s) * spare) for s in focus_steps(focal, near, far, count))


def focus_steps(focal: float, near: float, far: float, count: int) -> tuple[float, ...]:
    """Return where to focus for a number of pictures that are sharp from near to far together, nearest first, mm.

    All of them meet their neighbours and both ends with the same blur.

    Raises
    ------
    ValueError
        If the lens cannot focus so near.
    """
    first, last = _ends(focal, near, far)
    q = (last / first) ** (1 / count)
    return tuple(1 / (1 / focal - first * q**k * (q + 1) / 2) for k in range(count))


def image_distance(focal: float, s: float) -> float:
    """Return how far behind the lens the picture of what stands at s is sharp, mm: 1/f = 1/s + 1/v.

    Raises
    ------
    ValueError
        If the lens cannot focus so near.
    """
    _reachable(focal, s)
    return focal * s / (s - focal)


def focal_for(image: float, s: float) -> float:
    """Return the focal length whose picture of what stands at s is sharp at a distance behind the lens, mm."""
    return image * s / (image + s)


def airy_disc(focal: float, number: float, s: float) -> float:
    """Return the diameter of the disc that diffraction makes of a point at s, mm.

    The f-number that counts is that of the picture's distance, N v / f.
    """
    return AIRY * GREEN * number * image_distance(focal, s) / focal


def _reach(focal: float, number: float, near: float, far: float, blur: float) -> float:
    """Return the depth from near to far in pictures; 0 where the blur is so wide that one is sharp everywhere."""
    first, last = _ends(focal, near, far)
    h = hyperfocal(focal, number, blur)
    return math.log(last / first) / math.log(h / (h - 2 * focal)) if h > 2 * focal else 0.0


def _ends(focal: float, near: float, far: float) -> tuple[float, float]:
    """Return p of both ends, 1/mm."""
    _reachable(focal, near)
    return 1 / focal - 1 / near, 1 / focal - 1 / far


def _reachable(focal: float, s: float) -> None:
    if s <= focal:
        raise ValueError(f"a lens of {focal:g} mm does not focus at {s:g} mm")
