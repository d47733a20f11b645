"""What two eyes see of a relief that one does not: its disparity against the depth it shows.

Everything is told by the distance p from the eyes to the built back and q to the imagined one, mm; for points on the
axis, eyes a apart see the two under angles that differ by

    delta = a / p - a / q = a (L - d) / ((D + d) (D + L)),    p = D + d,  q = D + L

(N. Dodgson, *Variation and extrema of human interpupillary distance*, SPIE 5291, 2004, gives a: 63 mm in the mean,
50 to 75 for most adults.)
"""

from __future__ import annotations

import math

PUPILS = 63.0
"""mm between the pupils of a mean adult (Dodgson 2004)."""


def disparity(built: float, imagined: float, pupils: float = PUPILS) -> float:
    """Return delta in rad for a back that is built at one distance from the eyes and imagined at another, mm."""
    return pupils * (imagined - built) / (built * imagined)


def unseen_beyond(apparent: float, built: float, threshold_rad: float, pupils: float = PUPILS) -> float:
    """Return the eye distance D beyond which a relief's disparity stays under a threshold, mm; 0 for any.

    D^2 + (d + L) D + d L - a (L - d) / t = 0, solved for D; L and d are the apparent and the built depth, mm.
    """
    square = (apparent - built) ** 2 + 4 * pupils * (apparent - built) / threshold_rad
    return max(0.0, (math.sqrt(square) - apparent - built) / 2)
