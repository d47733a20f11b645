"""Aerial perspective: what air does to contrast and colour.

With sigma the extinction of the air and d the distance,

    C = C0 exp(-sigma d),      L = L0 exp(-sigma d) + Lh (1 - exp(-sigma d))

(H. Koschmieder, 1924), Lh the luminance of the haze. Visibility v is where C / C0 has fallen to a threshold e, so that
sigma = -ln(e) / v: 2.996 / v for 5 % (CIE e-ILV 845-31-020), 3.912 / v for 2 % (Koschmieder). Colours are mixed as
light is, so in linear values; IEC 61966-2-1 (sRGB) gives those of a screen's and a printer's numbers.
"""

from __future__ import annotations

import math

LINEAR, TOE, GAMMA, OVER = 0.0031308, 12.92, 2.4, 0.055
"""Of the sRGB transfer (IEC 61966-2-1)."""


def extinction(visibility: float, threshold: float) -> float:
    """Return sigma for a visibility, one over the unit of the visibility."""
    return -math.log(threshold) / visibility


def contrast(sigma: float, distance: float) -> float:
    """Return C / C0 of what stands at a distance."""
    return math.exp(-sigma * distance)


def mixed(paint: str, haze: str, share: float) -> str:
    """Return a colour, ``"#rrggbb"``, of which a share of the light is the haze's."""
    channels = ((1 - share) * _light(paint[k : k + 2]) + share * _light(haze[k : k + 2]) for k in (1, 3, 5))
    return "#" + "".join(f"{round(255 * _coded(value)):02X}" for value in channels)


def _light(digits: str) -> float:
    coded = int(digits, 16) / 255
    return coded / TOE if coded <= LINEAR * TOE else ((coded + OVER) / (1 + OVER)) ** GAMMA


def _coded(light: float) -> float:
    return light * TOE if light <= LINEAR else (1 + OVER) * light ** (1 / GAMMA) - OVER
